"""What the mount carries against its rating and the usual derating for imaging."""

from __future__ import annotations

from server.domain.checks.case import (
    COMMON_PRACTICE,
    Case,
    amount,
    input_of,
    listed,
    literal,
    rule_input,
    say,
    worked_input,
)
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.parts import Accessory, CataloguedPart, Mount, OpticalTube, PlateAndRings
from server.mechanics.payload import total_mass, usable_capacity_kg

FORMULA = "load = sum of masses on the saddle; usable = rating x share for imaging"
SOURCE = f"Sum of masses. The share of a rating that is usable for imaging: {COMMON_PRACTICE}"
RIDING_KINDS = ("guide_scope", "guide_camera", "plate_rings")
"""Gear that always rides on the saddle.

Accessories say where they ride; all else stands on the ground or on the bar.
"""


def check_payload(case: Case) -> tuple[Finding, ...]:
    """Sum what rides on the saddle, counterweights not counted, and compare it with the mount's rating."""
    loads = loads_of(case)
    if not loads:
        return ()
    unplaced = tuple(
        f"where {gear.item.name} rides"
        for gear in case.rig.gear
        if isinstance(gear.item.part, Accessory) and gear.item.part.place is None
    )
    total = total_mass((item.name, mass) for item, mass, _ in loads)
    missing = tuple(f"the mass of {name}" for name in dict.fromkeys(total.missing)) + unplaced
    mount = case.rig.mount
    amounts = {"load": amount(total.known_kg, "mass", 1)}
    at_least = "at least " if missing else ""
    inputs = _inputs(loads)
    if mount is None or not isinstance(mount.part, Mount) or mount.part.rated_kg is None:
        what = "a mount, beside the train" if mount is None else f"the rated capacity of {mount.name}"
        verb = "add" if mount is None else "enter"
        return (
            Finding(
                code="payload.no_rating",
                weight="unknown",
                title="Load",
                phrase=say(
                    f"The mount has to carry {at_least}{{load}}. "
                    + literal(f"Not known yet: {verb} {what}."),
                    **amounts,
                ),
                figure=Figure(label="load", amount=amounts["load"]),
                inputs=inputs,
                formula=FORMULA,
                source=SOURCE,
                missing=(what, *missing),
            ),
        )
    share = case.rig.rules.payload_share
    rated = mount.part.rated_kg.nominal
    usable = usable_capacity_kg(rated, share)
    amounts |= {
        "rated": amount(rated, "mass", 1),
        "usable": amount(usable, "mass", 1),
        "share": amount(share, "fraction"),
        "over": amount(total.known_kg - usable, "mass", 1),
        "left": amount(usable - total.known_kg, "mass", 1),
    }
    name = literal(mount.name)
    remedies: tuple[Remedy, ...] = ()
    if total.known_kg > rated:
        weight, code = "stop", "payload.over_rating"
        sentence = (
            f"The load is {at_least}{{load}}, more than the {{rated}} that {name} is rated for. "
            "Do not hang it on."
        )
    elif total.known_kg > usable + 1e-9:
        weight, code = "watch", "payload.over_usable"
        sentence = (
            f"The load is {at_least}{{load}}; of the {{rated}} that {name} is rated for, {{share}} or "
            "{usable} is usual for imaging. It is {over} over that: expect wind and guiding to cost frames."
        )
    else:
        weight, code = "sound", "payload.sound"
        sentence = (
            f"The load is {at_least}{{load}} of the {{usable}} that is usual for imaging on {name} "
            "({share} of {rated})."
        )
        if missing:
            weight, code = "unknown", "payload.part_unknown"
    if weight in ("stop", "watch"):
        remedies = (
            Remedy(
                phrase=say("Take {over} off, or choose a mount with a higher rating.", over=amounts["over"])
            ),
        )
    if missing:
        sentence += literal(f" Not counted, not known yet: enter {listed(missing)}.")
    return (
        Finding(
            code=code,
            weight=weight,
            title="Load",
            phrase=say(sentence, **amounts),
            figure=Figure(label="load", amount=amounts["load"]),
            remedies=remedies,
            inputs=(
                *inputs,
                input_of("rated capacity", mount, mount.part.rated_kg, "mass"),
                rule_input(
                    "share of the rating usable for imaging (common practice, no source)", share, "fraction"
                ),
                worked_input("usable for imaging", usable, "mass", 1),
            ),
            formula=FORMULA,
            source=SOURCE,
            missing=missing,
        ),
    )


_Load = tuple[CataloguedPart, float | None, int]


def loads_of(case: Case) -> list[_Load]:
    """(part, mass of all of them in kg or None, how many) for everything that rides on the saddle.

    A tube comes with its rings where its maker says what that weighs and the rig has no rings of its own.
    """
    found: list[_Load] = []
    own_rings = any(isinstance(gear.item.part, PlateAndRings) for gear in case.rig.gear)
    for place in case.train:
        for item in (place.item, *place.inside):
            mass = item.part.mass_kg
            if (
                isinstance(item.part, OpticalTube)
                and item.part.mass_with_rings_kg is not None
                and (not own_rings or mass is None)
            ):
                mass = item.part.mass_with_rings_kg
            found.append((item, None if mass is None else mass.nominal, 1))
    for gear in case.rig.gear:
        part = gear.item.part
        rides = part.kind in RIDING_KINDS or (
            isinstance(part, Accessory) and part.place in ("tube", "saddle")
        )
        if rides:
            found.append(
                (
                    gear.item,
                    None if part.mass_kg is None else part.mass_kg.nominal * gear.quantity,
                    gear.quantity,
                )
            )
    return found


def _inputs(loads: list[_Load]) -> tuple[Input, ...]:
    return tuple(
        Input(
            label="mass" if quantity == 1 else f"mass of {quantity}",
            amount=None if mass is None else amount(mass, "mass", 2),
            basis=item.part.basis_of(item.part.mass_kg),
            of=item.name,
        )
        for item, mass, quantity in loads
    )
