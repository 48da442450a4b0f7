"""Do the counterweights at hand balance the load about the polar axis, and where do they go?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from server.domain.checks.case import Case, listed
from server.domain.checks.payload import loads_of
from server.domain.load.sheet import BarAnswer, WeightAt
from server.domain.measure import nominal
from server.domain.missing import lacks, mass_of
from server.domain.parts import Accessory, CataloguedPart, Counterweight, Mount
from server.mechanics.counterweights import (
    BarBalance,
    BarWeights,
    balance_on_bar,
    rod_length_mm,
    single_weight_kg,
)
from server.mechanics.statics import torque_nm

NEEDS_BAR = ("equatorial",)
"""Mounts that are balanced by a bar. A strain-wave mount bears the imbalance, up to its maker's rating."""

EDGE_MM = 1e-6
"""Rounding of inches must not keep a weight off its bar."""
LOOSE_MM = 2.0
"""A bore wider than the bar by more may not be gripped. A choice of ours, no source."""
SHORTEST_BAR_MM = 10.0
"""Nobody has a shorter bar. A choice of ours, no source."""
MOST_OWNED = 6
"""How many sorts of weights on the shelf are tried."""
LOOSE = "A bore a good deal wider than the bar may not hold and slide off; use a sleeve made for it:"
MORE = (
    "Not counted: {} on the bar; with it the weights sit nearer to the axis: enter where it sits, from the "
    "polar axis along the bar."
)
TAKEN = "Taken to slide on the bar, and not known yet: enter"
NOT_ALL = "There are too many ways to hang them to look at all of them."


def work_bar(case: Case, moment_arm_mm: float | None, lacking: tuple[str, ...] = ()) -> BarAnswer | None:
    """How the rig's weights balance it; None for a mount that has no bar to speak of.

    lacking: what to enter before `moment_arm_mm` is known. The mount's own head is taken to balance by
    itself. Raises ValueError for figures outside the range of server.mechanics.counterweights.
    """
    item = case.rig.mount
    if item is None or not isinstance(item.part, Mount):
        return None
    mount = item.part
    sorts = [gear for gear in case.rig.gear if isinstance(gear.item.part, Counterweight)]
    if mount.mount_type is None and not sorts:
        return BarAnswer(missing=(lacks(item, "mount_type", "the type"),))
    if mount.mount_type not in NEEDS_BAR and not sorts:
        return None
    loads = loads_of(case)
    load_kg = sum(load.mass_kg for load in loads if load.mass_kg is not None)
    start, length = nominal(mount.bar_start_mm), nominal(mount.bar_length_mm)
    missing: list[str] = [mass_of(one.item.id, one.item.name) for one in loads if one.mass_kg is None]
    if mount.saddle_height_mm is None:
        missing.append(lacks(item, "saddle_height_mm", "how high the saddle of {} sits above the polar axis"))
    if moment_arm_mm is None:
        missing += lacking
    missing += [
        lacks(item, field, words)
        for field, words, value in (
            ("bar_start_mm", "the bar's beginning", start),
            ("bar_length_mm", "the bar's length", length),
            ("bar_mass_kg", "the bar's mass", mount.bar_mass_kg),
        )
        if value is None
    ]
    for gear in sorts:
        part = gear.item.part
        assert isinstance(part, Counterweight)
        missing += [
            lacks(gear.item, field, words)
            for field, words, value in (
                ("mass_kg", "the mass", part.mass_kg),
                ("thickness_mm", "the thickness", part.thickness_mm),
            )
            if value is None
        ]
    riders, uncounted = _riders(case, missing)
    end = None if start is None or length is None else start + length
    if end is not None:
        missing += [
            f"where {one.name} sits on the bar, which ends {end:g} mm from the polar axis"
            for one in riders
            if not 0.0 <= one.at_mm <= end
        ]
    if moment_arm_mm is None and not missing:
        missing.append("what rides on the saddle, with its mass")
    if missing or moment_arm_mm is None or start is None or length is None or end is None or not loads:
        return BarAnswer(bar_start_mm=start, bar_end_mm=end, missing=tuple(dict.fromkeys(missing)))
    slacks = [(gear, slack_mm(mount, gear.item)) for gear in sorts]
    fitting = [(gear.item, gear.quantity) for gear, slack in slacks if slack is None or slack >= -EDGE_MM]
    narrow = _names(gear.item for gear, slack in slacks if slack is not None and slack < -EDGE_MM)
    bar_kg = nominal(mount.bar_mass_kg) or 0.0
    # All but the bar and the weights: what those two have to balance.
    left_kg_mm = load_kg * moment_arm_mm - sum(one.mass_kg * one.at_mm for one in riders)
    asked_kg_mm = left_kg_mm - bar_kg * (start + length / 2)
    known = BarAnswer(
        load_moment_nm=torque_nm(load_kg, moment_arm_mm),
        bar_start_mm=start,
        bar_end_mm=end,
        uncounted=uncounted,
        riders=riders,
    )
    if asked_kg_mm <= 0.0:
        what = "The bar and what rides on it outweigh" if riders else "The bar alone outweighs"
        shorter, lighter = _smaller(left_kg_mm, bar_kg, length, start, 0.0)
        return replace(
            known,
            sentence=f"{what} the load: no weight is needed, and the bar is too heavy.",
            bar_over_kg_mm=-asked_kg_mm,
            shorter_mm=shorter,
            lighter_bar_kg=lighter,
        )
    weights = [BarWeights(_mass(one), _thickness(one), quantity) for one, quantity in fitting]
    found = balance_on_bar(asked_kg_mm, weights, start, end)
    hung = {place.kind for place in found.places} or set(range(len(fitting)))
    used = [one for index, (one, _) in enumerate(fitting) if index in hung]
    loose = _names(one for one in used if found.places and (slack_mm(mount, one) or 0.0) > LOOSE_MM)
    fits = [lacks(one, "bore_mm", "the bore") for one in used if _bore(one) is None]
    if used and mount.bar_diameter_mm is None:
        fits.append(lacks(item, "bar_diameter_mm", "the bar's diameter"))
    fits = list(dict.fromkeys(fits))
    answer = replace(
        known,
        weights=tuple(
            WeightAt(
                part_id=fitting[place.kind][0].id,
                name=fitting[place.kind][0].name,
                mass_kg=weights[place.kind].mass_kg,
                at_mm=place.at_mm,
                thickness_mm=weights[place.kind].thickness_mm,
            )
            for place in found.places
        ),
        sentence=_sentence(found) + _notes(narrow, loose, uncounted, fits),
        short_kg=found.short_kg_mm / end if found.short_kg_mm > 0 else None,
        longer_mm=found.longer_mm,
        over_kg_mm=found.over_kg_mm,
        complete=found.complete,
        narrow=narrow,
        loose=loose,
        fits=tuple(fits),
        asked_kg_mm=asked_kg_mm,
    )
    if found.places:
        return answer
    thick_mm = min((one.thickness_mm for one in weights), default=0.0)
    answer = replace(
        answer,
        single_kg=single_weight_kg(asked_kg_mm, thick_mm, start, end),
        single_thick_mm=thick_mm,
        owned=_owned(case, mount, asked_kg_mm, weights, start, end),
    )
    if found.over_kg_mm > 0.0:
        least = min(weights, key=lambda one: one.mass_kg * (start + one.thickness_mm / 2))
        against = left_kg_mm - least.mass_kg * (start + least.thickness_mm / 2)
        shorter, lighter = _smaller(against, bar_kg, length, start, least.thickness_mm)
        return replace(answer, shorter_mm=shorter, lighter_bar_kg=lighter)
    return answer


def _riders(case: Case, missing: list[str]) -> tuple[tuple[WeightAt, ...], tuple[str, ...]]:
    """What else rides on the bar: at the places that the plan gives, and the names of the rest."""
    spots = {spot.part_id: spot for spot in case.rig.load.spots}
    found: list[WeightAt] = []
    uncounted: list[CataloguedPart] = []
    for gear in case.rig.gear:
        part = gear.item.part
        if not isinstance(part, Accessory) or part.place != "bar":
            continue
        spot = spots.get(gear.item.id)
        if spot is None:
            uncounted.append(gear.item)
        elif part.mass_kg is None:
            missing.append(mass_of(gear.item.id, gear.item.name))
        else:
            mass = part.mass_kg.nominal * gear.quantity
            found.append(WeightAt(gear.item.id, gear.item.name, mass, spot.along_mm, 0.0))
    return tuple(found), _names(uncounted)


def _smaller(
    most_kg_mm: float, bar_kg: float, length_mm: float, start_mm: float, room_mm: float
) -> tuple[float | None, float | None]:
    """How long at most a bar of the same rod may be, and its mass at most at this length, for it to have no
    more than a moment; None where no bar, or none with room for the weight, has.
    """
    if most_kg_mm <= 0.0 or bar_kg <= 0.0:
        return None, None
    shorter = rod_length_mm(most_kg_mm, bar_kg, length_mm, start_mm)
    if shorter is not None and shorter < max(room_mm, SHORTEST_BAR_MM):
        shorter = None
    return shorter, most_kg_mm / (start_mm + length_mm / 2)


def _owned(
    case: Case,
    mount: Mount,
    asked_kg_mm: float,
    beside: list[BarWeights],
    start_mm: float,
    end_mm: float,
) -> tuple[str, ...]:
    """Weights on the shelf with which it balances: the first one alone that does, else all of them."""
    shelf: list[tuple[CataloguedPart, BarWeights]] = []
    for item, quantity in case.weights[:MOST_OWNED]:
        part = item.part
        if not isinstance(part, Counterweight) or not part.mass_kg or not part.thickness_mm:
            continue
        slack = slack_mm(mount, item)
        if slack is None or -EDGE_MM <= slack <= LOOSE_MM:
            shelf.append((item, BarWeights(_mass(item), _thickness(item), quantity)))
    tries = [[one] for one in shelf]
    if len(shelf) > 1:
        tries.append(shelf)
    for some in tries:
        sorts = [*beside, *(one for _, one in some)]
        found = balance_on_bar(asked_kg_mm, sorts, start_mm, end_mm)
        taken = {place.kind - len(beside) for place in found.places if place.kind >= len(beside)}
        if taken:
            return _names(some[index][0] for index in sorted(taken))
    return ()


def slack_mm(mount: Mount, item: CataloguedPart) -> float | None:
    """By how much a weight's bore is wider than the bar; None where one of the two is not known."""
    bore = _bore(item)
    if bore is None or mount.bar_diameter_mm is None:
        return None
    return bore - mount.bar_diameter_mm.nominal


def _bore(item: CataloguedPart) -> float | None:
    return nominal(item.part.bore_mm) if isinstance(item.part, Counterweight) else None


def _names(items: Iterable[CataloguedPart]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(item.name for item in items))


def _mass(item: CataloguedPart) -> float:
    return nominal(item.part.mass_kg) or 0.0


def _thickness(item: CataloguedPart) -> float:
    part = item.part
    return (nominal(part.thickness_mm) or 0.0) if isinstance(part, Counterweight) else 0.0


def _sentence(found: BarBalance) -> str:
    """What to do, without its numbers."""
    if found.places:
        return "The weights at hand balance the load." + (
            "" if found.complete else f" {NOT_ALL} Fewer may do."
        )
    if found.short_kg_mm > 0 and found.over_kg_mm == 0:
        return "All weights that fit, at the bar's end, do not balance the load."
    if found.over_kg_mm > 0:
        return "The lightest weight is too much even next to the axis."
    if not found.complete:
        return f"Whether the weights at hand balance the load is not known. {NOT_ALL}"
    return "One choice of weights is too little and the next too much."


def _notes(narrow: Sequence[str], loose: Sequence[str], uncounted: Sequence[str], fits: Sequence[str]) -> str:
    """What else is to be said, each sentence with a space before it."""
    said = ""
    if narrow:
        said += f" Left out, its bore is narrower than the bar: {listed(list(narrow))}."
    if loose:
        said += f" {LOOSE} {listed(list(loose))}."
    if uncounted:
        said += " " + MORE.format(listed(list(uncounted)))
    if fits:
        said += f" {TAKEN} {listed(list(fits))}."
    return said
