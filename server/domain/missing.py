"""What to enter: a figure of a part, or what no one field says."""

from __future__ import annotations

from typing import Any

from server.domain.parts import AnyCamera, CataloguedPart
from server.domain.said import Missing, Named, said
from server.domain.train import Place

SENSOR = ("width_px", "height_px", "pixel_um")


def lacks(of: CataloguedPart | Place, field: str, what: str = "", **facts: Any) -> Missing:
    """A part's figure that is not known.

    It is called as the phrasebook has it under "lacks." with `what`, or with the field's own name.
    """
    item = of.item if isinstance(of, Place) else of
    return Missing(said(f"lacks.{what or field}", part=item, **facts), item.id, field)


def lacks_sensor(of: CataloguedPart[AnyCamera] | Place[AnyCamera], what: str = "sensor") -> Missing:
    """A sensor whose size is not known: at the first of its three figures that is not there."""
    part = of.part
    return lacks(of, next((f for f in SENSOR if getattr(part, f) is None), SENSOR[0]), what)


def mass_of(part_id: int, name: str) -> Missing:
    """A part's mass that is not known."""
    return Missing(said("lacks.mass_kg", part=Named(part_id, name)), part_id, "mass_kg")


def wants(what: str, **facts: Any) -> Missing:
    """What no one field says: the phrasebook has it under "wants."."""
    return Missing(said(f"wants.{what}", **facts))
