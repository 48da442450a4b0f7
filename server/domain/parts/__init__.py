"""The kinds of part: one frozen, validated class per kind, told apart by `kind`."""

from __future__ import annotations

from functools import cache, cached_property
from typing import Annotated, Generic

from pydantic import Field, TypeAdapter
from typing_extensions import TypeIs, TypeVar

from server.domain.fields import FieldSpec
from server.domain.parts.base import BasePart, PathPart
from server.domain.parts.between import (
    Adapter,
    FilterWheel,
    Focuser,
    OffAxisGuider,
    Rotator,
    Shim,
    SpacerRing,
    TiltAdjuster,
)
from server.domain.parts.cameras import BaseCamera, Camera, GuideCamera
from server.domain.parts.carried import (
    Accessory,
    Counterweight,
    GuideScope,
    Mount,
    PlateAndRings,
    PowerSource,
    Support,
)
from server.domain.parts.filters import Filter
from server.domain.parts.optical import Corrector, OpticalTube
from server.frozen import frozen

Part = Annotated[
    OpticalTube
    | Corrector
    | SpacerRing
    | Shim
    | Adapter
    | Filter
    | FilterWheel
    | OffAxisGuider
    | Rotator
    | TiltAdjuster
    | Focuser
    | Camera
    | GuideScope
    | GuideCamera
    | Mount
    | Support
    | Counterweight
    | PlateAndRings
    | PowerSource
    | Accessory,
    Field(discriminator="kind"),
]

AnyCamera = Camera | GuideCamera

KINDS: dict[str, type[BasePart]] = {
    cls.model_fields["kind"].default: cls
    for cls in (
        OpticalTube,
        Corrector,
        SpacerRing,
        Shim,
        Adapter,
        Filter,
        FilterWheel,
        OffAxisGuider,
        Rotator,
        TiltAdjuster,
        Focuser,
        Camera,
        GuideScope,
        GuideCamera,
        Mount,
        Support,
        Counterweight,
        PlateAndRings,
        PowerSource,
        Accessory,
    )
}
"""Every kind by its name, in the order in which the shelf lists them."""

PART: TypeAdapter[Part] = TypeAdapter(Part)
"""Reads and writes any part's document."""


@cache
def specs_of(kind: str) -> tuple[FieldSpec, ...]:
    """The fields of a kind, in the order of its form. Raises KeyError for an unknown kind."""
    return KINDS[kind].specs()


P_co = TypeVar("P_co", bound=BasePart, covariant=True, default=Part)
K = TypeVar("K", bound=BasePart)


STANDING_IN = -1
"""The number that a part has which stands in for one that is yet to be found."""


@frozen
class CataloguedPart(Generic[P_co]):
    """A part as this install's catalogue holds it; `CataloguedPart[Filter]` is known to be a filter.

    Attributes:
        id: number in the catalogue.
        entered_by: observer who entered it, and alone may change it.
        entered_by_name: that observer's name.
        revision: 1 when entered, one more with each change.
        part: the part itself.
    """

    id: int
    entered_by: int
    entered_by_name: str
    revision: int
    part: P_co

    @cached_property
    def name(self) -> str:
        """Maker and model."""
        return self.part.name

    @property
    def kind(self) -> str:
        """The kind's short name."""
        return self.part.kind

    @property
    def stands_in(self) -> bool:
        """Whether it is no part that anybody has, but stands in for one that is yet to be found."""
        return self.id == STANDING_IN


def is_a(item: CataloguedPart[BasePart], kind: type[K]) -> TypeIs[CataloguedPart[K]]:
    """Whether a catalogued part is of a class."""
    return isinstance(item.part, kind)


__all__ = [
    "KINDS",
    "PART",
    "STANDING_IN",
    "Accessory",
    "Adapter",
    "AnyCamera",
    "BaseCamera",
    "BasePart",
    "Camera",
    "CataloguedPart",
    "Corrector",
    "Counterweight",
    "Filter",
    "FilterWheel",
    "Focuser",
    "GuideCamera",
    "GuideScope",
    "Mount",
    "OffAxisGuider",
    "OpticalTube",
    "Part",
    "PathPart",
    "PlateAndRings",
    "PowerSource",
    "Rotator",
    "Shim",
    "SpacerRing",
    "Support",
    "TiltAdjuster",
    "is_a",
    "specs_of",
]
