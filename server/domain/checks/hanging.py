"""Can each focuser, rotator and tilt adjuster carry what hangs behind it?"""

from __future__ import annotations

from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.measure import Measure
from server.domain.missing import mass_of
from server.domain.parts import (
    CataloguedPart,
    GuideCamera,
    GuideScope,
    OffAxisGuider,
)
from server.domain.train import Place
from server.domain.workings.case import (
    EDGE_KG,
    Case,
    amount,
    digits_apart,
    input_of,
    listed,
    literal,
    mass_to_take_off,
    say,
    worked_input,
)
from server.mechanics.payload import total_mass

FORMULA = "load = sum of the masses between the part and the sensor, the camera with it"
SOURCE = "Sum of masses, against the part's own rating. How far behind it they sit is not judged."


def check_hanging(case: Case) -> tuple[Finding, ...]:
    """Compare each rating in the train with the summed mass behind it; silent for parts without a rating.

    A guide camera hangs on the train's off-axis guider where the rig has no guide scope for it.
    """
    return tuple(
        _judged(case, place, *rated)
        for place in case.train
        if (rated := _rating(place)) is not None and case.train.after(place)
    )


def _rating(place: Place) -> tuple[str, Measure] | None:
    """What a place's part can carry, with words for the part; None where no rating is known."""
    part = place.part
    rated = part.figure("carries")
    if rated is None:
        return None
    return (f"the {part.carrier_words} of {place.name}" if part.carrier_words else place.name), rated


def _behind(case: Case, place: Place) -> list[tuple[CataloguedPart, int]]:
    """Everything that hangs on a place, with how many of it."""
    places = case.train.after(place)
    found = [(item, 1) for one in places for item in (one.item, *one.inside)]
    gear = case.rig.gear
    guided = any(isinstance(one.part, OffAxisGuider) for one in places)
    if guided and not any(isinstance(one.item.part, GuideScope) for one in gear):
        found += [(one.item, one.quantity) for one in gear if isinstance(one.item.part, GuideCamera)]
    if guided:
        found += [(one.item, 1) for one in case.rig.branch]
    return found


def _judged(case: Case, place: Place, carrier: str, rated: Measure) -> Finding:
    hung = _behind(case, place)
    total = total_mass(
        (item.name, None if item.part.mass_kg is None else item.part.mass_kg.nominal * number)
        for item, number in hung
    )
    missing = tuple(
        dict.fromkeys(mass_of(item.id, item.name) for item, _ in hung if item.part.mass_kg is None)
    )
    digits = digits_apart(total.known_kg, rated.nominal)
    amounts = {
        "load": amount(total.known_kg, "mass", digits),
        "rated": amount(rated.nominal, "mass", digits),
    }
    remedies: tuple[Remedy, ...] = ()
    name = literal(carrier)
    start = name[:1].upper() + name[1:] if name.startswith("the ") else name
    at_least = "at least " if missing else ""
    if total.known_kg > rated.nominal + EDGE_KG:
        weight, code = "stop", "hanging.over"
        off = mass_to_take_off(total.known_kg - rated.nominal)
        amounts["over"] = amount(total.known_kg - rated.nominal, "mass", off.digits)
        sentence = (
            f"{start} is rated for {{rated}} and would carry {at_least}{{load}}, {{over}} too much: "
            "it may slip or sag, and a camera that slides out can fall. Do not hang it on."
        )
        other = place.part.carrier_words or place.part.kind_words
        remedies = (
            Remedy(
                phrase=say(
                    f"Take at least {{off}} off {name}, or use a {other} that is rated for more.",
                    off=off,
                )
            ),
        )
    elif missing:
        weight, code = "unknown", "hanging.unknown"
        known = "carries at least {load} of the {rated}" if total.known_kg else "may carry {rated}"
        sentence = f"{start} {known}{' it is rated for' if total.known_kg else ''}."
    else:
        weight, code = "sound", "hanging.sound"
        sentence = f"{start} carries {{load}} of the {{rated}} it is rated for."
    if missing:
        sentence += literal(f" Not counted, not known yet: enter {listed(missing)}.")
    return Finding(
        code=code,
        weight=weight,
        title="Load behind",
        phrase=say(sentence, **amounts),
        figure=Figure(label="load", amount=amounts["load"], at_least=bool(missing))
        if total.known_kg
        else None,
        remedies=remedies,
        inputs=(
            input_of("rating", place.item, rated, "mass", 2),
            *(_input(item, number) for item, number in hung),
            *((worked_input("load", total.known_kg, "mass", 2),) if total.known_kg and len(hung) > 1 else ()),
        ),
        formula=FORMULA,
        source=SOURCE,
        place=place.key,
        missing=missing,
    )


def _input(item: CataloguedPart, number: int) -> Input:
    mass = item.part.mass_kg
    said = input_of("mass" if number == 1 else f"mass of {number}", item, mass, "mass", 2)
    if mass is None or number == 1:
        return said
    return said.model_copy(update={"amount": amount(mass.nominal * number, "mass", 2)})
