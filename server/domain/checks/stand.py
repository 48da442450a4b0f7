"""Can the tripod or pier carry the mount with all that is on it?"""

from __future__ import annotations

from server.domain.findings import Figure, Weight
from server.domain.load.places import basis_of, sum_places
from server.domain.load.sheet import PlaceName, PlaceSum
from server.domain.measure import Measure
from server.domain.missing import wants
from server.domain.parts import CataloguedPart
from server.domain.said import said
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import (
    EDGE_KG,
    Case,
    amount,
    digits_apart,
    input_of,
    mass_to_take_off,
    over_and_off,
    worked_input,
)


def check_stand(case: Case) -> tuple[Verdict, ...]:
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
) -> Verdict:
    load, missing = carried.known_kg, carried.missing
    if case.rig.mount is None:
        missing = (wants("mount"), *missing)
    digits = digits_apart(load, rated.nominal)
    amounts = {"load": amount(load, "mass", digits), "rated": amount(rated.nominal, "mass", digits)}
    remedies: tuple[Advice, ...] = ()
    weight: Weight
    if load > rated.nominal + EDGE_KG:
        weight, code = "stop", "stand.over"
        amounts["over"], off = over_and_off(load - rated.nominal)
        remedies = (Advice((said("stand.take_off", off=off, wanted=mass_to_take_off(load)),)),)
    else:
        weight, code = ("unknown", "stand.unknown") if missing else ("sound", "stand.sound")
    says = [said(code, stand=item, missing=missing, **amounts)]
    if missing:
        says.append(said("stand.not_counted", missing=missing))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=Figure(label="load", amount=amounts["load"], at_least=bool(missing)),
        remedies=remedies,
        inputs=Later(lambda: (input_of("rating", item, rated, "mass", 1), *_inputs(case, carried, sums))),
        missing=missing,
    )


def _inputs(case: Case, carried: PlaceSum, sums: dict[PlaceName, PlaceSum]) -> tuple[Given, ...]:
    """The mount's mass, and the sums of saddle and bar, whose pieces the finding of the load tells."""
    mount = case.rig.mount
    return (
        *(() if mount is None else (input_of("mass", mount, mount.part.mass_kg, "mass", 1),)),
        *(
            Given(said(f"stand.{name}"), amount(one.known_kg, "mass", 2), basis_of(one.pieces))
            for name in ("saddle", "bar")
            if (one := sums.get(name)) is not None
        ),
        worked_input("load", carried.known_kg, "mass", 2),
    )
