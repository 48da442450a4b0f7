"""What rides on the saddle, each with the figure that its mass is taken from."""

from __future__ import annotations

from server.domain.measure import Measure
from server.domain.parts import CataloguedPart, PlateAndRings
from server.domain.workings.case import Case
from server.frozen import frozen


@frozen
class Load:
    """Something that rides on the saddle: the part, the figure its mass is taken from, how many of it.

    assumed: whether that figure is taken where nobody said that it is the one.
    """

    item: CataloguedPart
    measure: Measure | None
    quantity: int = 1
    label: str = "mass"
    assumed: bool = False

    @property
    def mass_kg(self) -> float | None:
        """The mass of all of them, kg, None while unknown."""
        return None if self.measure is None else self.measure.nominal * self.quantity


def loads_of(case: Case) -> list[Load]:
    """Everything that rides on the saddle.

    A tube comes with its rings where its maker says what that weighs. Whether plates and rings beside the
    train are those rings nobody says (a plate for a guide scope is not), so that they count besides: the
    heavier reading, which is assumed.
    """
    return case.rig.once(Load, lambda: _loads_of(case))


def _loads_of(case: Case) -> list[Load]:
    found: list[Load] = []
    plated = bool(plates_of(case))
    for place in case.train:
        for item in (place.item, *place.inside):
            part = item.part
            mass, label = part.on_saddle
            # Without a bare mass there is no other figure to take.
            assumed = plated and mass is not part.mass_kg and part.mass_kg is not None
            found.append(Load(item, mass, label=label, assumed=assumed))
    found += [Load(place.item, place.part.mass_kg) for place in case.rig.branch]
    for gear in case.rig.gear:
        if gear.item.part.rides_at in ("tube", "saddle"):
            found.append(Load(gear.item, gear.item.part.mass_kg, gear.quantity))
    return found


def plates_of(case: Case) -> list[CataloguedPart]:
    """The plates and rings beside the train."""
    return [gear.item for gear in case.rig.gear if isinstance(gear.item.part, PlateAndRings)]
