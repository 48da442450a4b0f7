"""Tubes, correctors, cameras and mounts, and the rig that any four of them make."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from server.domain.checks.reach import work_reach
from server.domain.measure import Measure, Money, nominal
from server.domain.parts import STANDING_IN, Camera, CataloguedPart, Corrector, Mount, OpticalTube, SpacerRing
from server.domain.rig import Gear, Rig, Rules
from server.domain.train import Place, Train
from server.domain.workings.case import Case
from server.domain.workings.worked import Spacing, lengthened

MOST_COMBINATIONS = 5_000_000
"""More are asked to be narrowed."""
NO_CORRECTOR = 0
BESIDE = ("off_axis_guider", "guide_scope", "filter_wheel")
"""Kinds of part that a combination may carry as well."""
MOST_BESIDE = 2
"""A guider, and a filter wheel or drawer."""


@dataclass(frozen=True)
class Candidate:
    """One combination, by catalogue numbers; corrector NO_CORRECTOR for none, mount 0 for none. beside: what
    all of them carry as well, a guider or a filter wheel.
    """

    tube: int
    corrector: int
    camera: int
    mount: int
    beside: tuple[int, ...] = ()

    @property
    def key(self) -> str:
        """What an address names it by."""
        return "-".join(map(str, (self.tube, self.corrector, self.camera, self.mount, *self.beside)))


def read_key(text: str) -> Candidate | None:
    """The combination that an address names, None for none."""
    pieces = text.split("-")
    many = 4 <= len(pieces) <= 4 + MOST_BESIDE
    if not many or not all(one.isascii() and one.isdigit() and len(one) < 16 for one in pieces):
        return None
    tube, corrector, camera, mount, *beside = map(int, pieces)
    return Candidate(tube, corrector, camera, mount, tuple(beside))


@dataclass(frozen=True)
class Choice:
    """All that is chosen from.

    Attributes:
        correctors: the first is None, for no corrector. mounts: one None where nobody has any.
        owned: catalogue numbers of which at least one is owned, kept, or may be borrowed: they cost nothing
            more; borrowed: those of which there are but the club's.
        beside: what each combination carries as well, from the sky to the sensor; lacking: kinds of part that
            it is to carry, and that nobody has entered.
    """

    tubes: tuple[CataloguedPart[OpticalTube], ...]
    correctors: tuple[CataloguedPart[Corrector] | None, ...]
    cameras: tuple[CataloguedPart[Camera], ...]
    mounts: tuple[CataloguedPart[Mount] | None, ...]
    owned: frozenset[int]
    beside: tuple[CataloguedPart, ...] = ()
    lacking: tuple[str, ...] = ()
    borrowed: frozenset[int] = frozenset()

    @property
    def combinations(self) -> int:
        """How many there are, suited or not."""
        return len(self.tubes) * len(self.correctors) * len(self.cameras) * len(self.mounts)

    @property
    def by_number(self) -> Mapping[int, CataloguedPart]:
        """Every part by its number."""
        every = (*self.tubes, *self.correctors, *self.cameras, *self.mounts, *self.beside)
        return {one.id: one for one in every if one is not None}

    def of(self, candidate: Candidate) -> Rig | None:
        """The rig that a combination makes, None where a part of it is not among these."""
        parts = self.parts_of(candidate)
        return closed(bare_rig(parts))[0] if parts else None

    def parts_of(self, candidate: Candidate) -> tuple[CataloguedPart, ...]:
        """Its parts from the sky to the mount and beside it, each of its kind; empty where one is not among
        these.
        """
        found: list[CataloguedPart] = []
        kinds: tuple[tuple[int, Sequence[CataloguedPart | None]], ...] = (
            (candidate.tube, self.tubes),
            (candidate.corrector, self.correctors),
            (candidate.camera, self.cameras),
            (candidate.mount, self.mounts),
        )
        for number, some in kinds:
            item = next((one for one in some if one is not None and one.id == number), None)
            if item is not None:
                found.append(item)
            elif number or some in (self.tubes, self.cameras):
                return ()
        besides = tuple(item for number in candidate.beside for item in self.beside if item.id == number)
        return with_beside(found, besides) if len(besides) == len(candidate.beside) else ()

    def price_of(self, item: CataloguedPart | None) -> Money | None:
        """What a part costs yet: nothing where it is owned; None where nobody has said."""
        if item is None or item.id in self.owned:
            return Money(hundredths=0, currency="EUR")
        return item.part.price


def suits(tube: OpticalTube, corrector: Corrector | None) -> bool:
    """Whether a corrector is meant for a tube, so far as anybody has said."""
    if corrector is None:
        return True
    if corrector.for_designs and tube.design is not None and tube.design not in corrector.for_designs:
        return False
    ratio = tube.focal_ratio
    fastest, slowest = nominal(corrector.fastest_ratio), nominal(corrector.slowest_ratio)
    if ratio is not None and ((fastest and ratio < fastest) or (slowest and ratio > slowest)):
        return False
    return not (corrector.corrector_type == "coma_corrector" and tube.design not in ("newtonian", None))


def with_beside(
    parts: Sequence[CataloguedPart], beside: Sequence[CataloguedPart]
) -> tuple[CataloguedPart, ...]:
    """Tube, corrector, camera and mount with what they carry as well: what stands in the light's path before
    the camera, the rest at the end.
    """
    camera = next(at for at, item in enumerate(parts) if isinstance(item.part, Camera))
    within = (item for item in beside if item.part.on_path)
    rest = (item for item in beside if not item.part.on_path)
    return (*parts[:camera], *within, *parts[camera:], *rest)


def bare_rig(parts: Sequence[CataloguedPart], name: str = "") -> Rig:
    """A combination's parts as they are, nothing between them yet."""
    places = tuple(Place(nth + 1, item) for nth, item in enumerate(one for one in parts if one.part.on_path))
    return Rig(name, Train(places), tuple(Gear(item) for item in parts if not item.part.on_path), Rules())


def closed(bare: Rig) -> tuple[Rig, float | None]:
    """The rig with a ring of the length that its corrector asks for before the camera, and how much room
    there was for it, mm: below 0 so much too little, None where not known. Without a corrector the room is
    what the focuser can still move in.

    Which rings that takes, and what they cost, the Bridge says; here the back focus is closed.
    """
    case = Case(bare)
    places, spacing = bare.train.places, case.spacing
    if spacing is None:
        return bare, _focuser_room_mm(case)
    room = None if spacing.error_mm is None or spacing.free else -spacing.error_mm
    short = None if spacing.error_mm is None else -spacing.error_mm
    if short is None or short <= 0.0:
        return bare, room
    ideal = Place(len(places) + 1, _ideal_ring(short))
    rig = Rig(bare.name, Train((*places[:-1], ideal, places[-1])), bare.gear, bare.rules)
    # Of all that the spacing is made of, only the ring is new.
    rig.once(Spacing, lambda: lengthened(spacing, ideal))
    return rig, room


@lru_cache(4096)
def _ideal_ring(length_mm: float) -> CataloguedPart:
    ring = SpacerRing(
        model="a ring that closes the back focus",
        length_mm=Measure(nominal=length_mm),
        mass_kg=Measure(nominal=0.0),
    )
    return CataloguedPart(STANDING_IN, 0, "", 1, ring)


def _focuser_room_mm(case: Case) -> float | None:
    """How far the drawtube can go in from where this train is in focus; None where nobody can tell."""
    found = work_reach(case)
    if found.reach is None or found.missing_lengths:
        return None
    # Travel that nobody has said only adds to what is there.
    least = found.reach.margin_in_mm
    return least if found.inwards_mm is not None or least >= 0.0 else None
