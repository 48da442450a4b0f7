"""Can the tripod or pier carry the mount with all that is on it?"""

from __future__ import annotations

from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.load.places import basis_of, sum_places
from server.domain.load.sheet import PlaceName, PlaceSum
from server.domain.measure import Measure
from server.domain.parts import CataloguedPart
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

FORMULA = "load = mount + all that is on the saddle + all that is on the bar"
SOURCE = "Sum of masses, against the stand's own rating."


def check_stand(case: Case) -> tuple[Finding, ...]:
    """Compare each stand's rating with what stands on it; silent where no rating is known."""
    rated = [
        (gear.item, rating)
        for gear in case.rig.gear
        if (rating := gear.item.part.figure("bears")) is not None
    ]
    if not rated:
        return ()
    sums = {place.place: place for place in sum_places(case)}
    carried = sums.get("stand")
    return () if carried is None else tuple(_judged(case, carried, sums, *one) for one in rated)


def _judged(
    case: Case, carried: PlaceSum, sums: dict[PlaceName, PlaceSum], item: CataloguedPart, rated: Measure
) -> Finding:
    load, missing = carried.known_kg, carried.missing
    if case.rig.mount is None:
        missing = ("a mount, beside the train", *missing)
    digits = digits_apart(load, rated.nominal)
    amounts = {"load": amount(load, "mass", digits), "rated": amount(rated.nominal, "mass", digits)}
    name = literal(item.name)
    at_least = "at least " if missing else ""
    remedies: tuple[Remedy, ...] = ()
    if load > rated.nominal + EDGE_KG:
        weight, code = "stop", "stand.over"
        off = mass_to_take_off(load - rated.nominal)
        amounts["over"] = amount(load - rated.nominal, "mass", off.digits)
        sentence = f"{name} is rated for {{rated}} and would carry {at_least}{{load}}, {{over}} too much."
        remedies = (
            Remedy(
                phrase=say(
                    "Take at least {off} off, or choose a stand that is rated for {wanted} or more.",
                    off=off,
                    wanted=mass_to_take_off(load),
                )
            ),
        )
    elif missing:
        weight, code = "unknown", "stand.unknown"
        sentence = f"{name} carries at least {{load}} of the {{rated}} it is rated for."
    else:
        weight, code = "sound", "stand.sound"
        sentence = f"{name} carries {{load}} of the {{rated}} it is rated for, counterweights included."
    if missing:
        sentence += literal(f" Not counted, not known yet: {listed(missing)}.")
    return Finding(
        code=code,
        weight=weight,
        title="Stand",
        phrase=say(sentence, **amounts),
        figure=Figure(label="load", amount=amounts["load"], at_least=bool(missing)),
        remedies=remedies,
        inputs=(input_of("rating", item, rated, "mass", 1), *_inputs(case, carried, sums)),
        formula=FORMULA,
        source=SOURCE,
        missing=missing,
    )


def _inputs(case: Case, carried: PlaceSum, sums: dict[PlaceName, PlaceSum]) -> tuple[Input, ...]:
    """The mount's mass, and the sums of saddle and bar, whose pieces the finding of the load tells."""
    mount = case.rig.mount
    return (
        *(() if mount is None else (input_of("mass", mount, mount.part.mass_kg, "mass", 1),)),
        *(
            worked_input(f"what is {one.words}", one.known_kg, "mass", 2).model_copy(
                update={"basis": basis_of(one.pieces)}
            )
            for name in ("saddle", "bar")
            if (one := sums.get(name)) is not None
        ),
        worked_input("load", carried.known_kg, "mass", 2),
    )
