"""Do the counterweights at hand balance the load about the polar axis, and where do they go?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from server.domain.load.sheet import BarAnswer, WeightAt
from server.domain.measure import nominal
from server.domain.missing import lacks, mass_of, wants
from server.domain.parts import CataloguedPart, Counterweight, Mount
from server.domain.rig import Gear
from server.domain.said import Missing, Said, said
from server.domain.workings.case import Case, amount
from server.domain.workings.loads import loads_of
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


@dataclass(frozen=True)
class _Bar:
    """A bar of which everything is known, from the polar axis; `left_kg_mm` is what it balances together with
    its weights: the load's moment less that of what else rides on the bar.
    """

    mount: Mount
    mount_item: CataloguedPart
    mass_kg: float
    start_mm: float
    length_mm: float
    left_kg_mm: float

    @property
    def end_mm(self) -> float:
        return self.start_mm + self.length_mm

    @property
    def asked_kg_mm(self) -> float:
        """What is left for the weights; not above 0 where the bar alone does too much."""
        return self.left_kg_mm - self.mass_kg * (self.start_mm + self.length_mm / 2)


def work_bar(case: Case, moment_arm_mm: float | None, lacking: tuple[Missing, ...] = ()) -> BarAnswer | None:
    """How the rig's weights balance it; None for a mount that has no bar to speak of.

    lacking: what to enter before `moment_arm_mm` is known. The mount's own head is taken to balance by
    itself. Raises ValueError for figures outside the range of server.mechanics.counterweights.
    """
    item = case.rig.mount
    if item is None or not isinstance(item.part, Mount):
        return None
    mount = item.part
    sorts = [gear for gear in case.rig.gear if isinstance(gear.item.part, Counterweight)]
    if mount.mount_type not in NEEDS_BAR and not sorts:
        return BarAnswer(missing=(lacks(item, "mount_type"),)) if mount.mount_type is None else None
    loads = loads_of(case)
    missing: list[Missing] = [mass_of(one.item.id, one.item.name) for one in loads if one.mass_kg is None]
    if mount.saddle_height_mm is None:
        missing.append(lacks(item, "saddle_height_mm"))
    if moment_arm_mm is None:
        missing += lacking
    missing += _lacking(item, sorts)
    riders, uncounted = _riders(case, missing)
    start, length = nominal(mount.bar_start_mm), nominal(mount.bar_length_mm)
    end = None if start is None or length is None else start + length
    if end is not None:
        missing += [wants("on_bar", name=one.name) for one in riders if not 0.0 <= one.at_mm <= end]
    if moment_arm_mm is None and not missing:
        missing.append(wants("riding"))
    if missing or moment_arm_mm is None or start is None or length is None or not loads:
        return BarAnswer(bar_start_mm=start, bar_end_mm=end, missing=tuple(dict.fromkeys(missing)))
    load_kg = sum(one.mass_kg for one in loads if one.mass_kg is not None)
    left_kg_mm = load_kg * moment_arm_mm - sum(one.mass_kg * one.at_mm for one in riders)
    bar = _Bar(mount, item, nominal(mount.bar_mass_kg) or 0.0, start, length, left_kg_mm)
    known = BarAnswer(
        load_moment_nm=torque_nm(load_kg, moment_arm_mm),
        bar_start_mm=start,
        bar_end_mm=end,
        uncounted=uncounted,
        riders=riders,
    )
    return _hang(case, known, bar, sorts) if bar.asked_kg_mm > 0.0 else _outweighed(known, bar)


def _lacking(mount: CataloguedPart, sorts: Sequence[Gear]) -> list[Missing]:
    """What to enter of the bar and of the weights."""
    asked = (
        *((mount, field, "") for field in ("bar_start_mm", "bar_length_mm", "bar_mass_kg")),
        *(
            (gear.item, *field)
            for gear in sorts
            for field in (("mass_kg", ""), ("thickness_mm", "thickness"))
        ),
    )
    return [lacks(item, name, what) for item, name, what in asked if getattr(item.part, name) is None]


def _outweighed(known: BarAnswer, bar: _Bar) -> BarAnswer:
    """The answer where no weight is needed."""
    shorter, lighter = _smaller(bar, bar.left_kg_mm, 0.0)
    return replace(
        known,
        outcome=said("bar.outweighs", riders=bool(known.riders)),
        bar_over_kg_mm=-bar.asked_kg_mm,
        shorter_mm=shorter,
        lighter_bar_kg=lighter,
    )


def _hang(case: Case, known: BarAnswer, bar: _Bar, sorts: Sequence[Gear]) -> BarAnswer:
    """The answer with the weights beside the rig on the bar, and how surely they slide on it."""
    mount = bar.mount
    slacks = [(gear, slack_mm(mount, gear.item)) for gear in sorts]
    fitting = [gear for gear, slack in slacks if slack is None or slack >= -EDGE_MM]
    fitted = [(gear.item, slack) for gear, slack in slacks if slack is not None and slack < -EDGE_MM]
    narrow = _names(item for item, _ in fitted)
    weights = [_sort(gear.item, gear.quantity) for gear in fitting]
    found = balance_on_bar(bar.asked_kg_mm, weights, bar.start_mm, bar.end_mm)
    hung = {place.kind for place in found.places} or set(range(len(fitting)))
    used = [gear.item for index, gear in enumerate(fitting) if index in hung]
    loose = _names(one for one in used if found.places and (slack_mm(mount, one) or 0.0) > LOOSE_MM)
    fits = [lacks(one, "bore_mm") for one in used if _bore(one) is None]
    if used and mount.bar_diameter_mm is None:
        fits.append(lacks(bar.mount_item, "bar_diameter_mm"))
    fits = list(dict.fromkeys(fits))
    answer = replace(
        known,
        weights=tuple(
            WeightAt(
                part_id=fitting[place.kind].item.id,
                name=fitting[place.kind].item.name,
                mass_kg=weights[place.kind].mass_kg,
                at_mm=place.at_mm,
                thickness_mm=weights[place.kind].thickness_mm,
            )
            for place in found.places
        ),
        outcome=_outcome(found) if sorts else said("bar.none"),
        notes=_notes(fitted, loose, known.uncounted, fits),
        short_kg=found.short_kg_mm / bar.end_mm if found.short_kg_mm > 0 else None,
        longer_mm=found.longer_mm,
        over_kg_mm=found.over_kg_mm,
        complete=found.complete,
        narrow=narrow,
        loose=loose,
        fits=tuple(fits),
        asked_kg_mm=bar.asked_kg_mm,
    )
    return answer if found.places else _with_remedies(case, answer, bar, weights)


def _with_remedies(case: Case, answer: BarAnswer, bar: _Bar, weights: list[BarWeights]) -> BarAnswer:
    """The answer with what would balance the load, where the weights beside the rig do not."""
    thick_mm = min((one.thickness_mm for one in weights), default=0.0)
    answer = replace(
        answer,
        single_kg=single_weight_kg(bar.asked_kg_mm, thick_mm, bar.start_mm, bar.end_mm),
        single_thick_mm=thick_mm,
        owned=_owned(case, bar, weights),
    )
    if answer.over_kg_mm <= 0.0:
        return answer
    least = min(weights, key=lambda one: one.mass_kg * (bar.start_mm + one.thickness_mm / 2))
    against = bar.left_kg_mm - least.mass_kg * (bar.start_mm + least.thickness_mm / 2)
    shorter, lighter = _smaller(bar, against, least.thickness_mm)
    return replace(answer, shorter_mm=shorter, lighter_bar_kg=lighter)


def _riders(case: Case, missing: list[Missing]) -> tuple[tuple[WeightAt, ...], tuple[str, ...]]:
    """What else rides on the bar: at the places that the plan gives, and the names of the rest."""
    spots = {spot.part_id: spot for spot in case.rig.load.spots}
    found: list[WeightAt] = []
    uncounted: list[CataloguedPart] = []
    for gear in case.rig.gear:
        part = gear.item.part
        if part.rides_at != "bar" or isinstance(part, Counterweight):
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


def _smaller(bar: _Bar, most_kg_mm: float, room_mm: float) -> tuple[float | None, float | None]:
    """How long at most a bar of the same rod may be, and its mass at most at this length, for it to have no
    more than a moment; None where no bar, or none with room for the weight, has.
    """
    if most_kg_mm <= 0.0 or bar.mass_kg <= 0.0:
        return None, None
    shorter = rod_length_mm(most_kg_mm, bar.mass_kg, bar.length_mm, bar.start_mm)
    if shorter is not None and shorter < max(room_mm, SHORTEST_BAR_MM):
        shorter = None
    return shorter, most_kg_mm / (bar.start_mm + bar.length_mm / 2)


def _owned(case: Case, bar: _Bar, beside: list[BarWeights]) -> tuple[str, ...]:
    """Weights on the shelf with which it balances: the first one alone that does, else all of them."""
    shelf: list[tuple[CataloguedPart, BarWeights]] = []
    for item, quantity in case.weights[:MOST_OWNED]:
        part = item.part
        if not isinstance(part, Counterweight) or not part.mass_kg or not part.thickness_mm:
            continue
        slack = slack_mm(bar.mount, item)
        if slack is None or -EDGE_MM <= slack <= LOOSE_MM:
            shelf.append((item, _sort(item, quantity)))
    tries = [[one] for one in shelf]
    if len(shelf) > 1:
        tries.append(shelf)
    for some in tries:
        sorts = [*beside, *(one for _, one in some)]
        found = balance_on_bar(bar.asked_kg_mm, sorts, bar.start_mm, bar.end_mm)
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


def _sort(item: CataloguedPart, quantity: int) -> BarWeights:
    part = item.part
    thick_mm = nominal(part.thickness_mm) if isinstance(part, Counterweight) else None
    return BarWeights(nominal(part.mass_kg) or 0.0, thick_mm or 0.0, quantity)


def _outcome(found: BarBalance) -> Said:
    """What becomes of it."""
    if found.places:
        return said("bar.balances", complete=found.complete)
    if found.short_kg_mm > 0 and found.over_kg_mm == 0:
        return said("bar.short")
    if found.over_kg_mm > 0:
        return said("bar.over")
    return said("bar.between" if found.complete else "bar.not_all")


def _notes(
    narrow: Sequence[tuple[CataloguedPart, float]],
    loose: Sequence[str],
    uncounted: Sequence[str],
    fits: Sequence[Missing],
) -> tuple[Said, ...]:
    """What is to be said of bores, and of what was not counted; `narrow` with the slack, mm."""
    found = [
        said("bar.narrow", weight=item, narrow=amount(-slack, "length", 1))
        for item, slack in {item.id: (item, slack) for item, slack in narrow}.values()
    ]
    for key, names in (("bar.loose", loose), ("bar.more", uncounted)):
        if names:
            found.append(said(key, names=names))
    if fits:
        found.append(said("bar.fits", names=fits))
    return tuple(found)
