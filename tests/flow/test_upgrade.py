"""What would better a rig: every change held against all others of one or two parts."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from server.domain.rig import Rig
from server.domain.scout.candidates import Candidate
from server.domain.scout.needs import MeasureName
from server.flow.scout import Answer, stepped
from server.flow.upgrade import PLACES, Upgrade, candidate_of, upgrades_of
from tests.flow.test_scout import answer, passing
from tests.search.scout.plainly import beats

MEASURES: tuple[MeasureName, ...] = ("hours", "load", "star")


@pytest.fixture(params=[(2, 0), (4, 1), (8, 0)])
def found(request: pytest.FixtureRequest) -> Answer:
    return answer(*request.param)


def starts(found: Answer) -> list[Candidate]:
    return [found.table.candidate(number) for number in range(0, found.table.count, 29)]


def changed(one: Candidate, other: Candidate) -> list[str]:
    return [place for place in PLACES if getattr(one, place) != getattr(other, place)]


def left_without(now: Candidate, then: Candidate) -> bool:
    return changed(now, then)[0] != "tube" and then.corrector == 0 != now.corrector


def is_more(found: Answer, now: Candidate, name: MeasureName, one: int, other: int) -> bool:
    """Whether one change is another and a part more, and comes to the same."""
    then = found.table.candidate(one), found.table.candidate(other)
    few, many = changed(now, then[1]), changed(now, then[0])
    same = all(getattr(then[0], place) == getattr(then[1], place) for place in few)
    alike = np.array_equal(figures(found, name, one), figures(found, name, other))
    return same and len(few) < len(many) and alike


def figures(found: Answer, name: MeasureName, number: int) -> np.ndarray:
    cost = found.table.measures["value"]["cost"][number]
    return np.array([cost, np.rint(stepped(found.table, name)[number])])


@pytest.mark.parametrize("name", MEASURES)
def test_changes_are_those_of_one_or_two_parts_that_no_other_beats(found, name):
    counted = np.rint(stepped(found.table, name))
    told = 0
    for now in starts(found):
        start = found.table.number_of(now)
        near = [
            number
            for number in passing(found)
            if len(changed(now, found.table.candidate(number))) <= 2
            and counted[number] < counted[start]
            and not left_without(now, found.table.candidate(number))
        ]
        known = [number for number in near if not np.isnan(figures(found, name, number)).any()]
        least = [
            number
            for number in known
            if not any(beats(figures(found, name, other), figures(found, name, number)) for other in known)
        ]
        upgrades = upgrades_of(found, now, name)
        wanted = {one for one in least if not any(is_more(found, now, name, one, other) for other in least)}
        assert {one.number for one in upgrades} == wanted
        assert [one.cost for one in upgrades] == sorted(one.cost for one in upgrades)
        told += len(upgrades)
    assert told


def test_of_two_parts_that_comes_first_which_betters_more_by_itself(found):
    pairs = 0
    for now, name in product(starts(found), MEASURES):
        for one in upgrades_of(found, now, name):
            assert set(one.swaps) == swaps_of(found, now, one)
            if len(one.swaps) == 2:
                pairs += one.first is not None
                # What goes for nothing comes last.
                then = found.table.candidate(one.number)
                ways = [place for place in places_of(found, now, one) if getattr(then, place)]
                assert [come is None for _, come in one.swaps] == [False, len(ways) < 2]
                alone = [with_one(found, now, one, place) for place in ways]
                known = [value for value in alone if value is not None and not np.isnan(value)]
                assert one.first == (min(known) if known else None)
    assert pairs


def places_of(found: Answer, now: Candidate, one: Upgrade) -> list[str]:
    return changed(now, found.table.candidate(one.number))


def swaps_of(found: Answer, now: Candidate, one: Upgrade) -> set:
    parts, then = found.table.choice.by_number, found.table.candidate(one.number)
    return {
        (parts.get(getattr(now, place)), parts.get(getattr(then, place)))
        for place in places_of(found, now, one)
    }


def with_one(found: Answer, now: Candidate, one: Upgrade, place: str) -> float | None:
    name = next(m for m in MEASURES if found.table.measures["value"][m][one.number] == one.value)
    then = found.table.candidate(one.number)
    mixed = Candidate(*(getattr(then if at == place else now, at) for at in PLACES))
    number = found.table.number_of(mixed)
    return None if number is None else float(found.table.measures["value"][name][number])


def test_a_rig_without_a_camera_is_no_combination():
    assert candidate_of(Rig("empty")) is None


def test_what_is_not_among_the_choice_has_no_path(found):
    assert upgrades_of(found, Candidate(999_999, 0, 1, 0), "hours") == ()


def test_every_combination_is_found_again_by_its_parts(found):
    for number in range(0, found.table.count, 7):
        assert found.table.number_of(found.table.candidate(number)) == number
