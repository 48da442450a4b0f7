"""Do the counterweights at hand balance the load about the polar axis, and where do they go?"""

from __future__ import annotations

from server.domain.checks.case import Case
from server.domain.checks.payload import loads_of
from server.domain.load.sheet import BarAnswer, WeightAt
from server.domain.measure import nominal
from server.domain.parts import CataloguedPart, Counterweight, Mount
from server.mechanics.counterweights import BarBalance, BarWeights, balance_on_bar
from server.mechanics.statics import torque_nm

NEEDS_BAR = ("equatorial",)
"""Mounts that are balanced by a bar. A strain-wave mount bears the imbalance, up to its maker's rating."""

NOT_ALL = "There are too many ways to hang them to look at all of them."


def work_bar(case: Case, moment_arm_mm: float | None) -> BarAnswer | None:
    """How the rig's weights balance it; None for a mount that has no bar to speak of.

    The mount's own head is taken to balance by itself. Raises ValueError for figures outside the range of
    server.mechanics.counterweights.
    """
    item = case.rig.mount
    if item is None or not isinstance(item.part, Mount):
        return None
    mount = item.part
    sorts = [gear for gear in case.rig.gear if isinstance(gear.item.part, Counterweight)]
    if mount.mount_type not in NEEDS_BAR and not sorts:
        return None
    masses = [(load.item.name, load.mass_kg) for load in loads_of(case)]
    load_kg = sum(mass for _, mass in masses if mass is not None)
    start, length = nominal(mount.bar_start_mm), nominal(mount.bar_length_mm)
    missing = [f"the mass of {name}" for name, mass in masses if mass is None]
    if mount.saddle_height_mm is None:
        missing.append(f"how high the saddle of {item.name} sits above the polar axis")
    elif moment_arm_mm is None:
        missing.append("how far the tube's axis, and what else rides there, lies above the saddle")
    missing += [
        f"the {words} of {item.name}"
        for words, value in (
            ("bar's beginning", start),
            ("bar's length", length),
            ("bar's mass", mount.bar_mass_kg),
        )
        if value is None
    ]
    for gear in sorts:
        part = gear.item.part
        assert isinstance(part, Counterweight)
        missing += [
            f"the {words} of {gear.item.name}"
            for words, value in (("mass", part.mass_kg), ("thickness", part.thickness_mm))
            if value is None
        ]
    end = None if start is None or length is None else start + length
    if missing or moment_arm_mm is None or start is None or length is None or end is None or not masses:
        return BarAnswer(bar_start_mm=start, bar_end_mm=end, missing=tuple(dict.fromkeys(missing)))
    fitting = [(gear.item, gear.quantity) for gear in sorts if _slides_on(mount, gear.item)]
    bar_kg_mm = (nominal(mount.bar_mass_kg) or 0.0) * (start + length / 2)
    asked_kg_mm = load_kg * moment_arm_mm - bar_kg_mm
    load_moment_nm = torque_nm(load_kg, moment_arm_mm)
    if asked_kg_mm <= 0:
        return BarAnswer(
            load_moment_nm=load_moment_nm,
            bar_start_mm=start,
            bar_end_mm=end,
            sentence="The bar alone outweighs the load: no weight is needed, and the bar is too heavy.",
        )
    weights = [BarWeights(_mass(one), _thickness(one), quantity) for one, quantity in fitting]
    found = balance_on_bar(asked_kg_mm, weights, start, end)
    return BarAnswer(
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
        load_moment_nm=load_moment_nm,
        bar_start_mm=start,
        bar_end_mm=end,
        sentence=_sentence(found, len(fitting) < len(sorts)),
        short_kg=found.short_kg_mm / end if found.short_kg_mm > 0 else None,
        longer_mm=found.longer_mm,
        over_kg_mm=found.over_kg_mm,
        complete=found.complete,
        lighter_kg=asked_kg_mm / (start + min(one.thickness_mm for one in weights) / 2)
        if weights and found.over_kg_mm > 0
        else None,
    )


def _slides_on(mount: Mount, item: CataloguedPart) -> bool:
    """Whether a weight's bore takes the bar; where one of the two is not known it is taken to."""
    part = item.part
    assert isinstance(part, Counterweight)
    if part.bore_mm is None or mount.bar_diameter_mm is None:
        return True
    return part.bore_mm.nominal >= mount.bar_diameter_mm.nominal


def _mass(item: CataloguedPart) -> float:
    return nominal(item.part.mass_kg) or 0.0


def _thickness(item: CataloguedPart) -> float:
    part = item.part
    return (nominal(part.thickness_mm) or 0.0) if isinstance(part, Counterweight) else 0.0


def _sentence(found: BarBalance, too_narrow: bool) -> str:
    """What to do, without its numbers."""
    narrow = " A weight whose bore is narrower than the bar is left out." if too_narrow else ""
    if found.places and not found.complete:
        return f"The weights at hand balance the load. {NOT_ALL} Fewer may do.{narrow}"
    if found.places:
        return "The weights at hand balance the load." + narrow
    if found.short_kg_mm > 0 and found.over_kg_mm == 0:
        return "All weights that fit, at the bar's end, do not balance the load." + narrow
    if found.over_kg_mm > 0:
        return "The lightest weight is too much even next to the axis." + narrow
    if not found.complete:
        return f"Whether the weights at hand balance the load is not known. {NOT_ALL}{narrow}"
    return "One choice of weights is too little and the next too much." + narrow
