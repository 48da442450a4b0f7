"""A rig: a train with the mount and the gear that go with it, and the rules its owner judges it by."""

from __future__ import annotations

from dataclasses import dataclass, field

from pydantic import Field

from server.domain.measure import Frozen
from server.domain.parts import CataloguedPart, Mount
from server.domain.train import Place, Train

PLAN_SCHEMA = 1


class Rules(Frozen):
    """What the owner judges by. The defaults are common practice, no source; each can be changed on the rig.

    Attributes:
        seeing_arcsec: full width at half maximum of a star through the site's air.
        wavelength_nm: the light that diffraction and focus are worked out for.
        payload_share: the share of the mount's rating that an imaging load should keep to.
        spacing_mm: how far off the asked back focus the owner lets the sensor be, where the corrector's own
            figure has no tolerance.
        corner_light: the share of the centre's light that the extreme corner should keep.
        joint_arcmin: how far from square one joint of the train may be, arcmin.
        night_fall_k: how far the air's temperature falls between focusing and the end of the night, K.
        galactic_latitude_deg: of the target, without its sign, for the stars that a guide camera may find.
    """

    seeing_arcsec: float = Field(default=3.0, ge=0.3, le=20.0)
    wavelength_nm: float = Field(default=550.0, ge=300.0, le=1100.0)
    payload_share: float = Field(default=0.6, ge=0.1, le=1.0)
    spacing_mm: float = Field(default=0.5, ge=0.01, le=5.0)
    corner_light: float = Field(default=0.8, ge=0.05, le=1.0)
    joint_arcmin: float = Field(default=1.0, ge=0.0, le=120.0)
    night_fall_k: float = Field(default=10.0, ge=0.0, le=60.0)
    galactic_latitude_deg: float = Field(default=45.0, ge=0.0, le=90.0)


class PlacePlan(Frozen):
    """A place as it is stored: parts by number."""

    key: int
    part_id: int
    flipped: bool = False
    inside: tuple[int, ...] = ()
    set_length_mm: float | None = Field(default=None, gt=0, le=500)


class GearPlan(Frozen):
    """Gear beside the train: how many of one part."""

    part_id: int
    quantity: int = Field(default=1, ge=1, le=99)


class RigPlan(Frozen):
    """One state of a rig as it is stored: what undo and redo step through."""

    schema_version: int = PLAN_SCHEMA
    places: tuple[PlacePlan, ...] = ()
    gear: tuple[GearPlan, ...] = ()
    rules: Rules = Rules()

    @property
    def part_ids(self) -> frozenset[int]:
        """Every catalogue number that the plan needs."""
        return frozenset(
            [p.part_id for p in self.places]
            + [i for p in self.places for i in p.inside]
            + [g.part_id for g in self.gear]
        )

    @property
    def next_key(self) -> int:
        """A key for a new place."""
        return max((p.key for p in self.places), default=0) + 1


@dataclass(frozen=True)
class Gear:
    """Gear beside the train, with its part."""

    item: CataloguedPart
    quantity: int = 1


@dataclass(frozen=True)
class Rig:
    """A rig with its parts in hand, ready to be checked and drawn."""

    name: str
    train: Train = field(default_factory=Train)
    gear: tuple[Gear, ...] = ()
    rules: Rules = field(default_factory=Rules)

    @property
    def mount(self) -> CataloguedPart | None:
        """The mount, if the rig has one."""
        return next((g.item for g in self.gear if isinstance(g.item.part, Mount)), None)


def build_rig(name: str, plan: RigPlan, parts: dict[int, CataloguedPart]) -> Rig:
    """Put the parts of the catalogue into a plan. Raises KeyError where a part is missing."""
    places = tuple(
        Place(p.key, parts[p.part_id], p.flipped, tuple(parts[i] for i in p.inside), p.set_length_mm)
        for p in plan.places
    )
    return Rig(name, Train(places), tuple(Gear(parts[g.part_id], g.quantity) for g in plan.gear), plan.rules)
