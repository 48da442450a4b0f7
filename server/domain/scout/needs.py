"""What one wants to photograph, spend and carry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from pydantic import Field

from server.domain.measure import Frozen
from server.domain.rig import Rules
from server.domain.sky.focal import LEAST_FILL, MOST_FILL

MeasureName = Literal[
    "cost", "load", "share", "lift", "hours", "star", "corner", "corner_px", "light", "fill_least",
    "fill_most", "room", "power",
]  # fmt: skip
"""What is measured of every combination; all but light, least fill and room are the better the less."""
FrontMeasure = Literal["cost", "hours", "load", "lift", "corner", "star"]
"""Of these one ticks what the front is over. The share of a mount's rating is a need, no measure."""
FRONT_MEASURES: tuple[FrontMeasure, ...] = get_args(FrontMeasure)
USUAL_FRONT: tuple[FrontMeasure, ...] = ("cost", "hours", "load")


USUAL_LIKES = ("fill_least", "fill_most")
"""A list of large and small targets is rarely framed by one tube."""


USUAL_SHARE = Rules().payload_share
"""Of a mount's rating, as on the bench: half to two thirds for photographs (common practice, no source)."""


Guiding = Literal["off_axis_guider", "guide_scope"]
"""By a star beside the frame, or through a scope of its own: the kind of part that it takes."""


class Needs(Frozen):
    """One's needs; each may be left open, which is None or empty.

    Attributes:
        targets: keys of the observer's list, and of kinds of target; empty: all of the list.
        site_id: where, None as the observer's first.
        cameras, mounts: catalogue numbers of what is kept; empty: open.
        considered: parts of the whole catalogue are looked at too, not only those of one's shelf.
        budget: in whole units of the currency, all in: what one must also buy; currency: its code.
        lift_kg: the heaviest single piece that one lifts.
        payload_share: of the mount's rating.
        hours: for all targets together, each to the signal to noise that is usual.
        corner_arcsec: the largest star in the corner, its RMS diameter by optics alone.
        corner_light: the least share of the centre's light in the corner.
        collimate: whether one will collimate; False leaves out what asks for it in the field.
        spikes: whether one minds them not; False leaves out what draws them.
        fill_least, fill_most: how much of the frame a target takes.
        guiding: how it is guided; filters: whether a filter wheel or drawer is to go in. Every combination
            carries what that takes.
        like: needs that one would like met and does not insist on, by name.
        front: what the front is over.
    """

    targets: tuple[str, ...] = Field(default=(), max_length=20)
    site_id: int | None = None
    cameras: tuple[int, ...] = Field(default=(), max_length=50)
    mounts: tuple[int, ...] = Field(default=(), max_length=50)
    considered: bool = False
    budget: float | None = Field(default=None, ge=0, le=10_000_000)
    currency: str = Field(default="EUR", min_length=3, max_length=3)
    lift_kg: float | None = Field(default=None, gt=0, le=200)
    payload_share: float | None = Field(default=USUAL_SHARE, gt=0, le=1)
    hours: float | None = Field(default=None, gt=0, le=10_000)
    corner_arcsec: float | None = Field(default=None, gt=0, le=120)
    corner_light: float | None = Field(default=None, gt=0, le=1)
    collimate: bool | None = None
    spikes: bool | None = None
    fill_least: float | None = Field(default=LEAST_FILL, gt=0, le=1)
    fill_most: float | None = Field(default=MOST_FILL, gt=0, le=10)
    guiding: Guiding | None = None
    filters: bool | None = None
    like: tuple[str, ...] = Field(default=USUAL_LIKES, max_length=20)
    front: tuple[FrontMeasure, ...] = Field(default=USUAL_FRONT, min_length=1, max_length=6)

    @property
    def beside(self) -> tuple[str, ...]:
        """Kinds of part that every combination is to carry, from the sky to the sensor."""
        return (*((self.guiding,) if self.guiding else ()), *(("filter_wheel",) if self.filters else ()))


@dataclass(frozen=True)
class StoredNeeds:
    """Needs that an observer has kept by a name."""

    id: int
    observer_id: int
    name: str
    needs: Needs


LIMITS: tuple[tuple[str, MeasureName, bool], ...] = (
    ("budget", "cost", True),
    ("lift_kg", "lift", True),
    ("payload_share", "share", True),
    ("hours", "hours", True),
    ("corner_arcsec", "corner", True),
    ("corner_light", "light", False),
    ("fill_least", "fill_least", False),
    ("fill_most", "fill_most", True),
)
"""Each need that is a limit: its name, the measure that it limits, and whether that must be at most it."""
STEPS: dict[MeasureName, float] = {
    "cost": 100.0,
    "load": 1.0,
    "lift": 1.0,
    "share": 0.05,
    "star": 0.25,
    "corner": 0.25,
    "light": 0.05,
    "fill_least": 0.1,
    "fill_most": 0.1,
    "room": 1.0,
}
"""Steps in which a person counts (a choice of ours); hours go by shares of themselves."""
HOURS_STEP = 0.1
