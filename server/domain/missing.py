"""What a part lacks, as a reference to its field."""

from __future__ import annotations

from typing import Any

from server.domain.parts import CataloguedPart
from server.domain.reference import Missing
from server.domain.train import Place

SENSOR = ("width_px", "height_px", "pixel_um")


def lacks(of: CataloguedPart | Place, field: str, words: str, note: str = "") -> Missing:
    """A part's figure that is not known: "the focal length" of it; a note such as " afresh (0 is none)"
    behind.

    Where the words hold {} the part's name goes there.
    """
    item: Any = getattr(of, "item", of)
    said = words.format(item.name) if "{}" in words else f"{words} of {item.name}"
    return Missing(said + note, item.id, field)


def lacks_sensor(of: CataloguedPart | Place, words: str = "sensor pixels and pixel size") -> Missing:
    """A sensor whose size is not known: at the first of its three figures that is not there."""
    part: Any = of.part
    return lacks(of, next((f for f in SENSOR if getattr(part, f) is None), SENSOR[0]), words)


def mass_of(part_id: int, name: str) -> Missing:
    """A part's mass that is not known."""
    return Missing(f"the mass of {name}", part_id, "mass_kg")
