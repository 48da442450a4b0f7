"""The upgrade path of a rig: which one part, or which two in which order, better it most for the money."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.domain.parts import CataloguedPart
from server.domain.rig import Rig
from server.domain.scout.candidates import Candidate
from server.domain.scout.measures import Pass
from server.domain.scout.needs import MeasureName
from server.flow.scout import Answer, stepped

MOST_CHANGED = 2
PLACES = ("tube", "corrector", "camera", "mount")


@dataclass(frozen=True)
class Upgrade:
    """A change of one or two parts.

    Attributes:
        number: the combination that it leads to.
        swaps: what goes and what comes, that first which betters more by itself, and what goes for nothing
            last; None: nothing there.
        value, cost: the measure afterwards, and what is to be bought.
        first: the measure after the first of two; None for one.
    """

    number: int
    swaps: tuple[tuple[CataloguedPart | None, CataloguedPart | None], ...]
    value: float
    cost: float
    first: float | None = None


def candidate_of(rig: Rig) -> Candidate | None:
    """The combination that a rig is, None where it lacks tube or camera."""
    train, mount = rig.train, rig.mount
    if train.tube is None or train.camera is None:
        return None
    corrector = 0 if train.corrector is None else train.corrector.item.id
    return Candidate(train.tube.item.id, corrector, train.camera.item.id, 0 if mount is None else mount.id)


def upgrades_of(answer: Answer, now: Candidate, name: MeasureName) -> tuple[Upgrade, ...]:
    """Changes of one or two parts that no other of these beats in cost and the measure, cheapest first; where
    several come to the same, none with a part more than another of them.

    Each meets the needs and is better by a step, in which a person counts. Empty where the measure is not
    known of the rig as it is.
    """
    import numpy as np

    from server.search.scout.fronts_of_many import front

    table, start = answer.table, answer.table.number_of(now)
    if start is None:
        return ()
    counted = np.rint(stepped(table, name))
    better = [int(one) for one in answer.passing if counted[one] < counted[start]]
    near = [
        one
        for one in better
        if len(_changed(now, table.candidate(one))) <= MOST_CHANGED
        and not _goes_without(now, table.candidate(one))
    ]
    if not near:
        return ()
    figures = np.stack([table.measures["value"]["cost"][near], counted[near]], axis=1)
    fewest: dict[tuple[float, ...], list[int]] = {}
    for row in map(int, front(figures)):
        fewest.setdefault(tuple(figures[row]), []).append(near[row])
    chosen = [one for alike in fewest.values() for one in _without_more(now, table, alike)]
    chosen.sort(key=lambda one: float(table.measures["value"]["cost"][one]))
    return tuple(_upgrade(answer, now, one, name) for one in chosen)


def _changed(one: Candidate, other: Candidate) -> tuple[str, ...]:
    return tuple(place for place in PLACES if getattr(one, place) != getattr(other, place))


def _without_more(now: Candidate, table: Pass, alike: Sequence[int]) -> list[int]:
    """Of changes that come to the same those to which another part, changed as well, brings nothing."""
    swaps = {
        one: {(at, getattr(table.candidate(one), at)) for at in _changed(now, table.candidate(one))}
        for one in alike
    }
    return [one for one in alike if not any(swaps[other] < swaps[one] for other in alike)]


def _goes_without(now: Candidate, then: Candidate) -> bool:
    """Whether a tube is left without its corrector: that is no upgrade, whatever it betters."""
    return bool(then.tube == now.tube and now.corrector and not then.corrector)


def _upgrade(answer: Answer, now: Candidate, number: int, name: MeasureName) -> Upgrade:
    table, parts = answer.table, answer.table.choice.by_number
    values, then = table.measures["value"], table.candidate(number)
    changed = _changed(now, then)
    alone = {place: _value_with(answer, now, then, place, name) for place in changed}
    # What cannot be told, or does not go together, by itself comes last; what goes for nothing, after it.
    order = sorted(changed, key=lambda place: (not getattr(then, place), alone[place] is None, alone[place]))
    swaps = tuple((parts.get(getattr(now, place)), parts.get(getattr(then, place))) for place in order)
    first = alone[order[0]] if len(order) > 1 else None
    return Upgrade(number, swaps, float(values[name][number]), float(values["cost"][number]), first)


def _value_with(
    answer: Answer, now: Candidate, then: Candidate, place: str, name: MeasureName
) -> float | None:
    """The measure with one of the changed parts alone; None where these do not suit or nobody can tell."""
    mixed = {one: getattr(then if one == place else now, one) for one in PLACES}
    number = answer.table.number_of(Candidate(**mixed))
    value = None if number is None else float(answer.table.measures["value"][name][number])
    return None if value is None or value != value else value
