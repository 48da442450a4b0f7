"""What the mount carries against its rating and the usual derating for imaging."""

from __future__ import annotations

from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.missing import lacks, mass_of
from server.domain.parts import CataloguedPart, Counterweight
from server.domain.workings.case import (
    COMMON_PRACTICE,
    EDGE_KG,
    Case,
    amount,
    digits_apart,
    input_of,
    listed,
    literal,
    mass_to_take_off,
    rule_input,
    say,
    worked_input,
)
from server.domain.workings.loads import Load, loads_of, plates_of
from server.mechanics.payload import load_fraction, total_mass, usable_capacity_kg

FORMULA = (
    "load = sum of masses on the saddle; usable = rating x share for imaging; rating wanted = load / share"
)
SOURCE = (
    "Sum of masses. The share of a rating that is usable for imaging, half to two thirds for counterweighted "
    f"equatorial mounts: {COMMON_PRACTICE}"
)
STRAIN_WAVE: dict[str | None, str] = {
    "without": " It is rated without a counterweight: with the load far from the axis it carries less.",
    "with_counterweight": " It is rated with a counterweight: without one it carries less.",
    None: " Strain-wave mounts carry less without a counterweight: enter which way it is rated.",
}
"""Common practice, no source."""
A_LITTLE_OVER = 1.1
"""Up to so many times the usual load is only a little over it, and reaches the two thirds of a rating with
which others still image (common practice, no source)."""


def judge_payload(case: Case) -> tuple[Finding, ...]:
    """Sum what rides on the saddle, counterweights not counted, and compare it with the mount's rating."""
    loads = loads_of(case)
    if not loads:
        return ()
    unplaced = tuple(
        lacks(gear.item, "place", "where {} rides")
        for gear in case.rig.gear
        if gear.item.part.rides_at is None
    )
    without_mass = dict.fromkeys(mass_of(x.item.id, x.item.name) for x in loads if x.mass_kg is None)
    total = total_mass((load.item.name, load.mass_kg) for load in loads)
    missing: tuple[str, ...] = (*without_mass, *unplaced)
    mount = case.rig.mount
    amounts = {"load": amount(total.known_kg, "mass", 1)}
    at_least = "at least " if missing else ""
    nothing = all(load.mass_kg is None for load in loads)
    inputs = mass_inputs(loads)
    if mount is None or mount.part.rated_kg is None:
        what = "a mount, beside the train" if mount is None else f"the rated capacity of {mount.name}"
        verb = "add" if mount is None else "enter"
        return (
            Finding(
                code="payload.no_rating",
                weight="unknown",
                title="Load",
                phrase=say(
                    ("" if nothing else f"The mount has to carry {at_least}{{load}}. ")
                    + literal(f"Not known yet: {verb} {what}.")
                    + _assumed(case, loads)
                    + (literal(f" Nor what it has to carry: enter {listed(missing)}.") if nothing else ""),
                    **amounts,
                ),
                figure=None
                if nothing
                else Figure(label="load", amount=amounts["load"], at_least=bool(missing)),
                inputs=inputs,
                formula=FORMULA,
                source=SOURCE,
                missing=(what, *missing),
            ),
        )
    share = case.rig.rules.payload_share
    rated = mount.part.rated_kg.nominal
    usable = usable_capacity_kg(rated, share)
    load_kg = total.known_kg
    digits = max(digits_apart(load_kg, usable), digits_apart(load_kg, rated))
    off = mass_to_take_off(load_kg - usable) if load_kg > usable + EDGE_KG else None
    amounts = {
        "load": amount(load_kg, "mass", digits),
        "rated": amount(rated, "mass", digits_apart(load_kg, rated)),
        "usable": amount(usable, "mass", digits_apart(load_kg, usable)),
        "share": amount(share, "fraction"),
        "taken": amount(load_fraction(load_kg, rated), "fraction"),
        **({} if off is None else {"over": amount(load_kg - usable, "mass", off.digits)}),
    }
    name = literal(mount.name)
    remedies: tuple[Remedy, ...] = ()
    wind = ""
    if total.known_kg > rated + EDGE_KG:
        weight, code = "stop", "payload.over_rating"
        sentence = (
            f"The load is {at_least}{{load}}, more than the {{rated}} that {name} is rated for. "
            "Do not hang it on."
        )
    elif total.known_kg > usable + EDGE_KG:
        weight, code = "watch", "payload.over_usable"
        sentence = (
            f"The load is {at_least}{{load}}; of the {{rated}} that {name} is rated for, {{share}} or "
            "{usable} is usual for imaging. "
        )
        if load_kg <= A_LITTLE_OVER * usable + EDGE_KG:
            wind = "In wind: "
            sentence += (
                "It is {over} over that, at {taken} of the rating only a little over: calm nights bear it."
            )
        else:
            sentence += (
                "It is {over} over that, at {taken} of the rating: expect wind and guiding to cost frames."
            )
    else:
        weight, code = "sound", "payload.sound"
        sentence = (
            f"The load is {at_least}{{load}} of the {{usable}} that is usual for imaging on {name} "
            "({share} of {rated})."
        )
        if missing:
            weight, code = "unknown", "payload.part_unknown"
        if nothing:
            sentence = f"{{usable}} is usual for imaging on {name} ({{share}} of {{rated}})."
    if off is not None:
        take = "take" if wind else "Take"
        remedies = (
            Remedy(
                phrase=say(
                    f"{wind}{take} at least {{off}} off, or choose a mount that is rated for {{wanted}} or "
                    "more.",
                    off=off,
                    wanted=mass_to_take_off(load_kg / share),
                )
            ),
        )
    uncounted = missing
    if mount.part.mount_type == "strain_wave":
        sentence += STRAIN_WAVE[mount.part.rated_with]
        asked = _rating_asked(case, mount, mount.part.rated_with)
        if asked and weight == "sound":
            weight, code = "unknown", "payload.rating_unknown"
            missing = (*missing, asked)
    sentence += _assumed(case, loads)
    if uncounted:
        sentence += literal(f" Not counted, not known yet: enter {listed(uncounted)}.")
    return (
        Finding(
            code=code,
            weight=weight,
            title="Load",
            phrase=say(sentence, **amounts),
            figure=None if nothing else Figure(label="load", amount=amounts["load"], at_least=bool(at_least)),
            remedies=remedies,
            inputs=(
                *inputs,
                input_of("rated capacity", mount, mount.part.rated_kg, "mass"),
                rule_input(
                    case,
                    "payload_share",
                    "share of the rating usable for imaging (common practice, no source)",
                    "fraction",
                ),
                worked_input("usable for imaging", usable, "mass", 1),
            ),
            formula=FORMULA,
            source=SOURCE,
            missing=missing,
        ),
    )


def _rating_asked(case: Case, mount: CataloguedPart, rated_with: str | None) -> str:
    """What to enter of a strain-wave mount's rating where no counterweight is there; "" for nothing."""
    if rated_with == "without" or any(isinstance(g.item.part, Counterweight) for g in case.rig.gear):
        return ""
    if rated_with is None:
        return f"which way {mount.name} is rated: with a counterweight or without"
    return f"what {mount.name} carries without a counterweight, or put one beside the train"


def _assumed(case: Case, loads: list[Load]) -> str:
    """A sentence for the template on a tube that is taken to come with rings besides those of the rig."""
    tube = next((load.item for load in loads if load.assumed), None)
    if tube is None:
        return ""
    plates = literal(listed([item.name for item in plates_of(case)]))
    return (
        f" Assumed: {literal(tube.name)} comes with its own rings, and {plates} count besides, which is the "
        "heavier reading. If those are its rings, clear its mass with rings on the Shelf."
    )


def mass_inputs(loads: list[Load]) -> tuple[Input, ...]:
    """The masses of some loads as inputs of a working, each with its own basis."""
    return tuple(
        Input(
            label=load.label if load.quantity == 1 else f"mass of {load.quantity}",
            amount=None if load.mass_kg is None else amount(load.mass_kg, "mass", 2),
            basis=_basis(load),
            of=load.item.name,
            text="not known" if load.mass_kg is None else "",
        )
        for load in loads
    )


def _basis(load: Load) -> str:
    if load.measure is None:
        return ""
    return "assumed" if load.assumed else load.item.part.basis_of(load.measure)
