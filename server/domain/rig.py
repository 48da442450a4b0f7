"""A rig: a train with the mount and the gear that go with it, and the rules its owner judges it by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Self, TypeVar, cast

from pydantic import Field, model_validator

from server.domain.load_plan import LoadPlan
from server.domain.measure import Frozen
from server.domain.parts import CataloguedPart, GuideCamera, Mount, OffAxisGuider, is_a
from server.domain.train import Place, Train, holds

PLAN_SCHEMA = 1
MOST_LEFT_OPEN = 500
_Worked = TypeVar("_Worked")


class Rules(Frozen):
    """What the owner judges by. The defaults are common practice, no source; each can be changed on the rig.

    Attributes:
        seeing_arcsec: full width at half maximum of a star through the site's air.
        guiding_arcsec: how far the star wanders while the shutter is open, RMS of both axes together.
        wavelength_nm: the light that diffraction and focus are worked out for.
        payload_share: the share of the mount's rating that an imaging load should keep to.
        spacing_mm: how far off the asked back focus the owner lets the sensor be, where the corrector's own
            figure has no tolerance.
        corner_light: the share of the centre's light that the extreme corner should keep.
        pixels_least, pixels_most: how many pixels the seeing's full width should lie across.
        ratio_per_um: the slowest focal ratio still liked, per micrometre of pixel.
        joint_arcmin: how far from square one joint of the train may be, arcmin.
        night_fall_k: how far the air's temperature falls between focusing and the end of the night, K.
        galactic_latitude_deg: of the target, without its sign, for the stars that a guide camera may find.
    """

    seeing_arcsec: float = Field(default=3.0, ge=0.3, le=20.0)
    guiding_arcsec: float = Field(default=0.7, ge=0.0, le=20.0)
    wavelength_nm: float = Field(default=550.0, ge=300.0, le=1100.0)
    payload_share: float = Field(default=0.6, ge=0.1, le=1.0)
    spacing_mm: float = Field(default=0.5, ge=0.01, le=5.0)
    corner_light: float = Field(default=0.8, ge=0.05, le=1.0)
    joint_arcmin: float = Field(default=1.0, ge=0.0, le=120.0)
    night_fall_k: float = Field(default=10.0, ge=0.0, le=60.0)
    galactic_latitude_deg: float = Field(default=45.0, ge=0.0, le=90.0)
    pixels_least: float = Field(default=2.0, ge=0.5, le=20.0)
    pixels_most: float = Field(default=3.0, ge=0.5, le=20.0)
    ratio_per_um: float = Field(default=1.5, ge=0.2, le=20.0)

    @model_validator(mode="after")
    def _least_first(self) -> Self:
        if self.pixels_least > self.pixels_most:
            raise ValueError(
                f"pixels_most: {self.pixels_most:g} pixels at most is fewer than the {self.pixels_least:g} "
                "asked for at least"
            )
        return self

    def is_delivered(self, name: str) -> bool:
        """Whether a rule stands as this program delivers it."""
        return bool(getattr(self, name) == type(self).model_fields[name].default)


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


class LeftOpen(Frozen):
    """A figure of a part that the owner cannot find out: it is not asked for again."""

    part_id: int
    field: str = Field(max_length=60)


class FieldSeen(Frozen):
    """The field as frames of this rig showed it, which its stars are drawn by in place of what is taken for
    granted.

    Attributes:
        on: the day of the frames. curvature_um, astigmatism_um: as the stars' wishes have them.
        spacing_mm, focal_ratio: the train that they were taken with; it holds for no other. None: no
            corrector.
    """

    on: date
    curvature_um: float = Field(ge=-2000, le=2000)
    astigmatism_um: float = Field(ge=-2000, le=2000)
    spacing_mm: float | None = Field(default=None, ge=0, le=2000)
    focal_ratio: float = Field(gt=0, le=1000)


class RigPlan(Frozen):
    """One state of a rig as it is stored: what undo and redo step through.

    `branch` are the parts between the off-axis guider's side port and the guide camera, in that order; their
    keys and those of `places` are all different. `load` may name parts that the rig no longer holds: what it
    says of them waits until they come back. So do those of `left_open`.
    """

    schema_version: int = PLAN_SCHEMA
    places: tuple[PlacePlan, ...] = ()
    gear: tuple[GearPlan, ...] = ()
    rules: Rules = Rules()
    branch: tuple[PlacePlan, ...] = ()
    load: LoadPlan = LoadPlan()
    left_open: tuple[LeftOpen, ...] = Field(default=(), max_length=MOST_LEFT_OPEN)
    seen: FieldSeen | None = None

    @property
    def part_ids(self) -> frozenset[int]:
        """Every catalogue number that the plan needs."""
        return frozenset(
            [p.part_id for p in (*self.places, *self.branch)]
            + [i for p in self.places for i in p.inside]
            + [g.part_id for g in self.gear]
        )

    @property
    def next_key(self) -> int:
        """A key for a new place."""
        return max((p.key for p in (*self.places, *self.branch)), default=0) + 1


@dataclass(frozen=True)
class Gear:
    """Gear beside the train, with its part."""

    item: CataloguedPart
    quantity: int = 1


@dataclass(frozen=True)
class Rig:
    """A rig with its parts in hand, ready to be checked and drawn.

    `branch` are the places between the off-axis guider's side port and the guide camera, in that order.
    """

    name: str
    train: Train = field(default_factory=Train)
    gear: tuple[Gear, ...] = ()
    rules: Rules = field(default_factory=Rules)
    branch: tuple[Place, ...] = ()
    load: LoadPlan = field(default_factory=LoadPlan)
    seen: FieldSeen | None = None
    _worked: dict[object, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    def once(self, what: object, work: Callable[[], _Worked]) -> _Worked:
        """What `work` makes of this rig alone, kept by the name `what`: checks and pictures read the same."""
        if what not in self._worked:
            self._worked[what] = work()
        return cast(_Worked, self._worked[what])

    @property
    def guider(self) -> Place[OffAxisGuider] | None:
        """The train's off-axis guider, the first of them."""
        return next((p for p in self.train if holds(p, OffAxisGuider)), None)

    @property
    def guide_camera(self) -> CataloguedPart[GuideCamera] | None:
        """The guide camera that goes with the rig, the first of them."""
        return next((g.item for g in self.gear if is_a(g.item, GuideCamera)), None)

    @property
    def items(self) -> tuple[CataloguedPart, ...]:
        """Every part of the rig, each once: of the train, its branch, their filters, and beside them."""
        standing = [item for place in (*self.train, *self.branch) for item in (place.item, *place.inside)]
        return tuple({item.id: item for item in (*standing, *(gear.item for gear in self.gear))}.values())

    @property
    def mount(self) -> CataloguedPart[Mount] | None:
        """The mount, if the rig has one."""
        return next((g.item for g in self.gear if is_a(g.item, Mount)), None)


def build_rig(name: str, plan: RigPlan, parts: dict[int, CataloguedPart]) -> Rig:
    """Put the parts of the catalogue into a plan. Raises KeyError where a part is missing."""
    places, branch = (
        tuple(
            Place(p.key, parts[p.part_id], p.flipped, tuple(parts[i] for i in p.inside), p.set_length_mm)
            for p in planned
        )
        for planned in (plan.places, plan.branch)
    )
    gear = tuple(Gear(parts[g.part_id], g.quantity) for g in plan.gear)
    return Rig(name, Train(places), gear, plan.rules, branch, plan.load, plan.seen)
