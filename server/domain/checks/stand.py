"""Can the tripod or pier carry the mount with all that is on it?"""

from __future__ import annotations

from server.domain.checks.case import Case, amount, input_of, listed, literal, say, worked_input
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.load.places import sum_places
from server.domain.load.sheet import PlaceSum
from server.domain.measure import Measure
from server.domain.parts import CataloguedPart, Support

FORMULA = "load = mount + all that is on the saddle + all that is on the bar"
SOURCE = "Sum of masses, against the stand's own rating."
EDGE_KG = 1e-9
"""A microgram of float rounding must not turn a verdict."""


def check_stand(case: Case) -> tuple[Finding, ...]:
    """Compare each stand's rating with what stands on it; silent where no rating is known."""
    rated = [
        (gear.item, gear.item.part.capacity_kg)
        for gear in case.rig.gear
        if isinstance(gear.item.part, Support) and gear.item.part.capacity_kg is not None
    ]
    if not rated:
        return ()
    carried = next((place for place in sum_places(case) if place.place == "stand"), None)
    return () if carried is None else tuple(_judged(carried, *one) for one in rated)


def _judged(carried: PlaceSum, item: CataloguedPart, rated: Measure) -> Finding:
    load, missing = carried.known_kg, carried.missing
    if all(piece.kind_words != "mount" for piece in carried.pieces):
        missing = ("a mount, beside the train", *missing)
    amounts = {
        "load": amount(load, "mass", 1),
        "rated": amount(rated.nominal, "mass", 1),
        "over": amount(load - rated.nominal, "mass", 1),
    }
    name = literal(item.name)
    at_least = "at least " if missing else ""
    remedies: tuple[Remedy, ...] = ()
    if load > rated.nominal + EDGE_KG:
        weight, code = "stop", "stand.over"
        sentence = f"{name} is rated for {{rated}} and would carry {at_least}{{load}}, {{over}} too much."
        remedies = (
            Remedy(
                phrase=say("Take {over} off, or choose a stand with a higher rating.", over=amounts["over"])
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
        inputs=(input_of("rating", item, rated, "mass", 1), *_inputs(carried)),
        formula=FORMULA,
        source=SOURCE,
        missing=missing,
    )


def _inputs(carried: PlaceSum) -> tuple[Input, ...]:
    pieces = tuple(
        Input(
            label=piece.label if piece.quantity == 1 else f"mass of {piece.quantity}",
            amount=None if piece.mass_kg is None else amount(piece.mass_kg, "mass", 2),
            basis=piece.basis,
            of=piece.name,
            text="not known" if piece.mass_kg is None else "",
        )
        for piece in carried.pieces
    )
    return (*pieces, worked_input("load", carried.known_kg, "mass", 2))
