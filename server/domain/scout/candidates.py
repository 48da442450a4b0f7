"""Tubes, correctors, cameras and mounts, and the rig that any four of them make."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from server.domain.measure import Measure, Money, nominal
from server.domain.parts import Camera, CataloguedPart, Corrector, Mount, OpticalTube, SpacerRing
from server.domain.rig import Gear, Rig, Rules
from server.domain.train import Place, Train
from server.domain.workings.case import Case

MOST_COMBINATIONS = 5_000_000
"""More are asked to be narrowed."""
IDEAL_RING = -1
"""The catalogue number that the ring of just the right length has, which closes a candidate's back focus."""
NO_CORRECTOR = 0


@dataclass(frozen=True)
class Candidate:
    """One combination, by catalogue numbers; corrector NO_CORRECTOR for none, mount 0 for none."""

    tube: int
    corrector: int
    camera: int
    mount: int

    @property
    def key(self) -> str:
        """What an address names it by."""
        return f"{self.tube}-{self.corrector}-{self.camera}-{self.mount}"


def read_key(text: str) -> Candidate | None:
    """The combination that an address names, None for none."""
    pieces = text.split("-")
    if len(pieces) != 4 or not all(one.isascii() and one.isdigit() and len(one) < 16 for one in pieces):
        return None
    return Candidate(*map(int, pieces))


@dataclass(frozen=True)
class Choice:
    """All that is chosen from.

    Attributes:
        correctors: the first is None, for no corrector. mounts: one None where nobody has any.
        owned: catalogue numbers of which at least one is owned: they cost nothing more.
    """

    tubes: tuple[CataloguedPart[OpticalTube], ...]
    correctors: tuple[CataloguedPart[Corrector] | None, ...]
    cameras: tuple[CataloguedPart[Camera], ...]
    mounts: tuple[CataloguedPart[Mount] | None, ...]
    owned: frozenset[int]

    @property
    def combinations(self) -> int:
        """How many there are, suited or not."""
        return len(self.tubes) * len(self.correctors) * len(self.cameras) * len(self.mounts)

    @property
    def by_number(self) -> Mapping[int, CataloguedPart]:
        """Every part by its number."""
        every = (*self.tubes, *self.correctors, *self.cameras, *self.mounts)
        return {one.id: one for one in every if one is not None}

    def of(self, candidate: Candidate) -> Rig | None:
        """The rig that a combination makes, None where a part of it is not among these."""
        parts = self.parts_of(candidate)
        if not parts:
            return None
        chain = [item for item in parts if item.id != candidate.mount]
        return rig_of(chain, next((item for item in parts if item.id == candidate.mount), None))

    def parts_of(self, candidate: Candidate) -> tuple[CataloguedPart, ...]:
        """Its parts from the sky to the mount, each of its kind; empty where one is not among these."""
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
        return tuple(found)

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


def bare_rig(chain: Sequence[CataloguedPart], mount: CataloguedPart | None, name: str = "") -> Rig:
    """Tube, corrector and camera as they are, nothing between them yet."""
    places = tuple(Place(nth + 1, item) for nth, item in enumerate(chain))
    return Rig(name, Train(places), () if mount is None else (Gear(mount),), Rules())


def rig_of(chain: Sequence[CataloguedPart], mount: CataloguedPart | None) -> Rig:
    """The rig of tube, corrector and camera, with a ring of the length that the corrector asks for.

    Which rings that takes, and what they cost, the Bridge says; here the back focus is closed.
    """
    bare = bare_rig(chain, mount)
    places = bare.train.places
    spacing = Case(bare).spacing
    short = None if spacing is None or spacing.error_mm is None else -spacing.error_mm
    if short is None or short <= 0.0:
        return bare
    ring = SpacerRing(
        model="a ring that closes the back focus",
        length_mm=Measure(nominal=short),
        mass_kg=Measure(nominal=0.0),
    )
    ideal = Place(len(chain) + 1, CataloguedPart(IDEAL_RING, 0, "", 1, ring))
    return Rig("", Train((*places[:-1], ideal, places[-1])), bare.gear, Rules())
