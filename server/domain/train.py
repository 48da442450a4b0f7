"""The optical train: parts in order from sky to sensor, and where each shoulder lies.

Light travels to +z, from sky to sensor. Distances from the sensor are positive towards the sky.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Generic

from typing_extensions import TypeIs

from server.domain.connections import Connection, Mating, mate
from server.domain.measure import Measure
from server.domain.parts import (
    KINDS,
    BaseCamera,
    BasePart,
    Camera,
    CataloguedPart,
    Corrector,
    Filter,
    Focuser,
    K,
    OpticalTube,
    P_co,
    Part,
    PathPart,
    Shim,
    is_a,
)
from server.frozen import frozen

TRAIN_KINDS: tuple[str, ...] = tuple(kind for kind, cls in KINDS.items() if cls.on_path)
"""The kinds that can stand in a train."""
BRANCH_KINDS: tuple[str, ...] = tuple(kind for kind, cls in KINDS.items() if cls.only_joins)
"""The kinds that can stand between an off-axis guider's side port and the guide camera."""


def rides_beside(part: Part) -> bool:
    """Whether a part goes with the rig as gear: no part of the light path, or over the front of the tube."""
    return not part.on_path or (isinstance(part, Filter) and part.slips_over_tube)


@frozen
class Place(Generic[P_co]):
    """One part's place in a train; in a `Place[Filter]` a filter is known to stand.

    Attributes:
        key: number that stays with the place while it is moved; unique in the train.
        item: the catalogued part.
        flipped: turned round, so that its sky side faces the camera.
        inside: filters that sit in a wheel or drawer; the first one is in the beam.
        set_length_mm: the length an adjustable part is set to, None for its shortest.
    """

    key: int
    item: CataloguedPart[P_co]
    flipped: bool = False
    inside: tuple[CataloguedPart, ...] = ()
    set_length_mm: float | None = None

    @property
    def part(self) -> P_co:
        """The part itself."""
        return self.item.part

    @property
    def name(self) -> str:
        """Maker and model."""
        return self.item.name

    @property
    def sky_connection(self) -> Connection | None:
        """What it offers towards the sky, as it is turned."""
        part = self.part
        if isinstance(part, PathPart):
            return part.camera_side if self.flipped else part.sky_side
        return part.sky_side if isinstance(part, BaseCamera) else None

    @property
    def camera_connection(self) -> Connection | None:
        """What it offers towards the camera, as it is turned."""
        part = self.part
        if isinstance(part, PathPart):
            return part.sky_side if self.flipped else part.camera_side
        return part.camera_side if isinstance(part, OpticalTube) else None

    def side_field(self, side: str) -> str:
        """The field that holds the connection at a side as the part is turned, "camera side" or "sky
        side".
        """
        return "sky_side" if (side == "sky side") != self.flipped else "camera_side"

    @cached_property
    def length(self) -> Measure | None:
        """What it adds between its two shoulders, for a camera its flange distance.

        None for a tube and where it is not known.
        """
        part = self.part
        if isinstance(part, OpticalTube):
            return None
        if isinstance(part, BaseCamera):
            return part.flange_mm
        if not isinstance(part, PathPart | Shim):
            return None
        if self.set_length_mm is not None and part.length_mm is not None:
            return part.length_mm.model_copy(update={"nominal": self.set_length_mm})
        return part.length_mm

    @property
    def adjustable_to_mm(self) -> float | None:
        """The longest length of an adjustable ring or adapter, None where it is fixed."""
        lengths = self.part.settable
        return None if lengths is None else lengths.longest_mm

    @property
    def can_flip(self) -> bool:
        """Whether the part may be turned round."""
        return isinstance(self.part, PathPart) and bool(self.part.reversible)

    @property
    def filter_in_beam(self) -> CataloguedPart | None:
        """The filter whose glass the light passes here: the part itself, or the first one inside it."""
        if is_a(self.item, Filter):
            return self.item
        return self.inside[0] if self.inside else None


def holds(place: Place[BasePart], kind: type[K]) -> TypeIs[Place[K]]:
    """Whether a part of a class stands in a place."""
    return isinstance(place.part, kind)


@frozen
class Joint:
    """Where two neighbours meet: `upper` (towards the sky), `lower`, shims between them, and the verdict."""

    index: int
    upper: Place
    lower: Place
    shims: tuple[Place[Shim], ...]
    mating: Mating


@frozen
class Shoulders:
    """Distances of a place's two shoulders from the sensor, mm, positive towards the sky; None: not known."""

    sky_mm: float | None
    camera_mm: float | None


@dataclass(frozen=True)
class Train:
    """Places in order, sky first."""

    places: tuple[Place, ...] = ()

    def __iter__(self) -> Iterator[Place]:
        return iter(self.places)

    def __len__(self) -> int:
        return len(self.places)

    @cached_property
    def tube(self) -> Place[OpticalTube] | None:
        """The first optical tube."""
        return next((p for p in self.places if holds(p, OpticalTube)), None)

    @cached_property
    def corrector(self) -> Place[Corrector] | None:
        """The last corrector: the one whose back focus the sensor must meet."""
        return next((p for p in reversed(self.places) if holds(p, Corrector)), None)

    @cached_property
    def correctors(self) -> tuple[Place[Corrector], ...]:
        """All correctors, sky first."""
        return tuple(p for p in self.places if holds(p, Corrector))

    @cached_property
    def camera(self) -> Place[Camera] | None:
        """The imaging camera that ends the train."""
        return next((p for p in reversed(self.places) if holds(p, Camera)), None)

    @cached_property
    def joints(self) -> tuple[Joint, ...]:
        """Every joint between neighbours; shims lie in a joint and are not neighbours themselves.

        `index` is the position in `places` at which a part added to this joint goes.
        """
        found: list[Joint] = []
        upper: Place | None = None
        shims: list[Place[Shim]] = []
        for position, place in enumerate(self.places):
            if holds(place, Shim):
                shims.append(place)
                continue
            if upper is not None:
                mating = mate(upper.camera_connection, place.sky_connection)
                found.append(Joint(position - len(shims), upper, place, tuple(shims), mating))
            upper, shims = place, []
        return tuple(found)

    @property
    def lines(self) -> Iterator[tuple[Place, Shoulders, Joint | None]]:
        """Each place with its shoulders and the joint above it, None for the first part and for a shim."""
        above = {joint.lower.key: joint for joint in self.joints}
        for place, shoulders in zip(self.places, self.shoulders, strict=True):
            yield place, shoulders, above.get(place.key)

    @cached_property
    def shoulders(self) -> tuple[Shoulders, ...]:
        """Where each place's shoulders lie, counted from the sensor: known from the camera to the first gap.

        Without a camera at the end nothing is known.
        """
        found: list[Shoulders] = []
        distance: float | None = 0.0
        if self.camera is None or not self.places or self.places[-1] is not self.camera:
            distance = None
        for place in reversed(self.places):
            below = distance
            length = place.length
            if isinstance(place.part, OpticalTube) or length is None or distance is None:
                distance = None
            else:
                distance += length.nominal
            found.append(Shoulders(distance, below))
        return tuple(reversed(found))

    def index_of(self, place: Place) -> int:
        """The position of a place in the train."""
        return self.places.index(place)

    def after(self, place: Place) -> tuple[Place, ...]:
        """The places between this one and the sensor, this one not counted."""
        return self.places[self.index_of(place) + 1 :]

    @cached_property
    def focusers(self) -> tuple[Place[Focuser], ...]:
        """Focusers that were added to the train."""
        return tuple(p for p in self.places if holds(p, Focuser))
