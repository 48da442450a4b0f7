"""Can each focuser, rotator and tilt adjuster carry what hangs behind it?"""

from __future__ import annotations

from server.domain.findings import Figure, Weight
from server.domain.measure import Measure
from server.domain.missing import mass_of
from server.domain.parts import (
    CataloguedPart,
    GuideCamera,
    GuideScope,
    OffAxisGuider,
)
from server.domain.said import said
from server.domain.train import Place
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import (
    EDGE_KG,
    Case,
    amount,
    digits_apart,
    input_of,
    over_and_off,
    worked_input,
)
from server.mechanics.payload import total_mass


def check_hanging(case: Case) -> tuple[Verdict, ...]:
    """Compare each rating in the train with the summed mass behind it; silent for parts without a rating.

    A guide camera hangs on the train's off-axis guider where the rig has no guide scope for it.
    """
    return tuple(
        _judged(case, place, rated)
        for place in case.train
        if (rated := _rating(place)) is not None and case.train.after(place)
    )


def _rating(place: Place) -> Measure | None:
    """What a place's part can carry; None where no rating is known."""
    return place.part.figure("carries")


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


def _judged(case: Case, place: Place, rated: Measure) -> Verdict:
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
    carrier = {"part": place, "by": place.part.carrier_words}
    remedies: tuple[Advice, ...] = ()
    weight: Weight
    if total.known_kg > rated.nominal + EDGE_KG:
        weight, code = "stop", "hanging.over"
        amounts["over"], off = over_and_off(total.known_kg - rated.nominal)
        other = place.part.carrier_words or place.part.kind_words
        remedies = (Advice((said("hanging.take_off", **carrier, other=other, off=off),)),)
    elif missing:
        weight, code = "unknown", "hanging.unknown"
    else:
        weight, code = "sound", "hanging.sound"
    says = [said(code, **carrier, some=total.known_kg > 0.0, missing=missing, **amounts)]
    if missing:
        says.append(said("not_counted", missing=missing))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=Figure(label="load", amount=amounts["load"], at_least=bool(missing))
        if total.known_kg
        else None,
        remedies=remedies,
        inputs=Later(
            lambda: (
                input_of("rating", place.item, rated, "mass", 2),
                *(_input(item, number) for item, number in hung),
                *(
                    (worked_input("load", total.known_kg, "mass", 2),)
                    if total.known_kg and len(hung) > 1
                    else ()
                ),
            )
        ),
        place=place.key,
        missing=missing,
    )


def _input(item: CataloguedPart, number: int) -> Given:
    mass = item.part.mass_kg
    if number == 1:
        return input_of("mass", item, mass, "mass", 2)
    several = None if mass is None else amount(mass.nominal * number, "mass", 2)
    basis = "" if mass is None else item.part.basis_of(mass)
    return Given(said("input.mass_of", count=number), several, basis, item.name)
