"""What of the tube's opening lets light through: the clear ring, spider vanes, clips, a mask, the train's
stops.

Import this lazily: it brings numpy. Places in the pupil are in units of the aperture's radius, x to the
right and y upwards on the sensor's picture; angles count from +x, anticlockwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from server.optics.ranges import checked, checked_length_mm, checked_obstruction
from server.out_of_range import OutOfRangeError

Floats = npt.NDArray[np.float64]

MOST_VANES = 12
LEAST_SAMPLES, MOST_SAMPLES = 16, 2048
#: A curved vane is drawn as so many straight pieces where its diffraction is summed; each then turns little.
ARC_PIECES = 24


@dataclass(frozen=True)
class Vanes:
    """A spider's vanes, evenly spread: how many, how wide (mm), the first one's angle (degrees).

    A curved vane is an arc from the hub to the rim that turns by 180 degrees over the number of vanes, so
    that all of them together face every direction once (common practice, no source).
    """

    count: int
    width_mm: float
    angle_deg: float = 0.0
    curved: bool = False


@dataclass(frozen=True)
class Clips:
    """Mirror clips, evenly spread: how many, how wide along the rim and how far in they reach, mm."""

    count: int
    width_mm: float
    reach_mm: float
    angle_deg: float = 90.0


@dataclass(frozen=True)
class PupilStop:
    """An opening of the train that the light must pass as well: a disc or an oval.

    rows: three times three figures; a place (x, y), in units of the aperture's radius, lies inside where
    w = rows (x, y, 1) has w0^2 + w1^2 <= w2^2. `disc` gives them for a disc.
    """

    rows: tuple[tuple[float, float, float], ...]

    @staticmethod
    def disc(x: float, y: float, radius: float) -> PupilStop:
        """A disc about (x, y)."""
        return PupilStop(((1.0, 0.0, -x), (0.0, 1.0, -y), (0.0, 0.0, radius)))

    def depth(self, x: Floats, y: Floats) -> Floats:
        """How far inside its rim places lie, in units of the aperture's radius; negative outside."""
        (a, b, c), (d, e, f), (g, h, i) = self.rows
        across, up, edge = a * x + b * y + c, d * x + e * y + f, g * x + h * y + i
        away = np.maximum(np.hypot(across, up), 1e-12)
        # The distance to the rim, to first order: the value over its slope.
        slope_x, slope_y = (
            g - (across * a + up * d) / away,
            h - (across * b + up * e) / away,
        )
        found: Floats = (edge - away) / np.maximum(np.hypot(slope_x, slope_y), 1e-12)
        return found


@dataclass(frozen=True)
class Pupil:
    """The tube's opening as one star sees it.

    aperture_mm: above 0. obstruction: linear, 0 to below 1. mask_mm: the opening of a mask before the tube.
    Raises ValueError, with what to do, for an obstruction of 1 or more, for vanes or clips wider than what
    they stand in, and where nothing is left open.
    """

    aperture_mm: float
    obstruction: float = 0.0
    vanes: Vanes | None = None
    clips: Clips | None = None
    mask_mm: float | None = None
    stops: tuple[PupilStop, ...] = ()

    def __post_init__(self) -> None:
        """Refuse an opening that no tube has."""
        aperture = checked_length_mm("The aperture", self.aperture_mm, above_zero=True)
        checked_obstruction(self.obstruction)
        ring = self.edge - self.obstruction
        if self.mask_mm is not None:
            checked(
                "The mask's opening",
                self.mask_mm,
                self.obstruction * aperture,
                aperture,
                "mm",
                "It lies between the central obstruction and the aperture.",
                above_low=True,
            )
        if self.vanes is not None and self.vanes.count:
            checked("The number of vanes", self.vanes.count, 1, MOST_VANES, "", "Give 1 to 12.")
            checked(
                "The vanes' thickness",
                self.vanes.width_mm,
                0.0,
                ring * aperture / 2.0,
                "mm",
                "A vane is thinner than the clear ring that it crosses is wide.",
                above_low=True,
                below_high=True,
            )
        if self.clips is not None and self.clips.count:
            checked("The number of clips", self.clips.count, 1, MOST_VANES, "", "Give 1 to 12.")
            checked(
                "A clip's width",
                self.clips.width_mm,
                0.0,
                aperture / 2.0,
                "mm",
                "A clip covers a small piece of the rim.",
                above_low=True,
                below_high=True,
            )
            checked(
                "A clip's reach",
                self.clips.reach_mm,
                0.0,
                ring * aperture / 2.0,
                "mm",
                "It reaches over the edge, not across the clear ring.",
                above_low=True,
                below_high=True,
            )

    @property
    def edge(self) -> float:
        """The radius of the clear opening, in units of the aperture's radius: 1, or a mask's."""
        return 1.0 if self.mask_mm is None else min(1.0, self.mask_mm / self.aperture_mm)

    @property
    def clear_area(self) -> float:
        """What is clear before any stop of the train, in units of the aperture's radius squared.

        Vanes and clips that overlap one another are counted once for each.
        """
        ring = math.pi * (self.edge**2 - self.obstruction**2)
        return ring * (1.0 - self.vane_share - self.clip_share)

    @property
    def vane_share(self) -> float:
        """What the vanes take of the clear ring."""
        if self.vanes is None or not self.vanes.count:
            return 0.0
        length = sum(math.hypot(x1 - x0, y1 - y0) for x0, y0, x1, y1 in vane_pieces(self))
        ring = math.pi * (self.edge**2 - self.obstruction**2)
        return length * (2.0 * self.vanes.width_mm / self.aperture_mm) / ring

    @property
    def clip_share(self) -> float:
        """What the clips take of the clear ring."""
        if self.clips is None or not self.clips.count:
            return 0.0
        per_mm = 2.0 / self.aperture_mm
        area = self.clips.count * self.clips.width_mm * self.clips.reach_mm * per_mm**2
        return area / (math.pi * (self.edge**2 - self.obstruction**2))


@dataclass(frozen=True)
class LightLost:
    """Shares of the light that falls on the whole aperture, and what gathers as much without obstruction.

    Attributes:
        obstruction, mask, vanes, clips: what each of them takes.
        clear: what is left.
        equal_aperture_mm: the aperture of an unobstructed tube (a refractor) that gathers as much.
    """

    obstruction: float
    mask: float
    vanes: float
    clips: float
    clear: float
    equal_aperture_mm: float


def light_lost(pupil: Pupil) -> LightLost:
    """Return what obstruction, mask, vanes and clips take of the light, stops of the train not counted.

    Source: areas. Not modelled: what mirrors and lenses absorb.
    """
    ring = pupil.edge**2 - pupil.obstruction**2
    clear = pupil.clear_area / math.pi
    return LightLost(
        obstruction=pupil.obstruction**2,
        mask=1.0 - pupil.edge**2,
        vanes=ring * pupil.vane_share,
        clips=ring * pupil.clip_share,
        clear=clear,
        equal_aperture_mm=pupil.aperture_mm * math.sqrt(clear),
    )


def vane_pieces(pupil: Pupil) -> list[tuple[float, float, float, float]]:
    """Return the vanes as straight pieces (x0, y0, x1, y1), from the hub to the rim, in pupil radii.

    One piece a straight vane, `ARC_PIECES` a curved one. Source: plane geometry.
    """
    vanes = pupil.vanes
    if vanes is None or not vanes.count:
        return []
    found: list[tuple[float, float, float, float]] = []
    for number in range(vanes.count):
        angle = math.radians(vanes.angle_deg) + 2.0 * math.pi * number / vanes.count
        ways = _arc(pupil.obstruction, pupil.edge, math.pi / vanes.count) if vanes.curved else None
        points = ways or [(pupil.obstruction, 0.0), (pupil.edge, 0.0)]
        turned = [
            (x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle))
            for x, y in points
        ]
        found += [(*a, *b) for a, b in pairwise(turned)]
    return found


def _arc(hub: float, rim: float, turn: float) -> list[tuple[float, float]]:
    """Points of an arc along +x from hub to rim whose direction turns by `turn` (radians) from end to end."""
    radius = (rim - hub) / (2.0 * math.sin(turn / 2.0))
    middle = (hub + rim) / 2.0
    drop = radius * math.cos(turn / 2.0)
    steps = [-turn / 2.0 + turn * i / ARC_PIECES for i in range(ARC_PIECES + 1)]
    return [(middle + radius * math.sin(t), radius * math.cos(t) - drop) for t in steps]


def coordinates(samples: int) -> Floats:
    """Return the middles of the cells of a grid across the pupil, -1 to 1. Source: none needed (a grid)."""
    found: Floats = (np.arange(samples, dtype=np.float64) - (samples - 1) / 2.0) * (2.0 / samples)
    return found


def pupil_mask(pupil: Pupil, samples: int) -> Floats:
    """Return how much of each cell lets light through, 0 to 1; shape (samples, samples), rows along y
    upwards.

    samples: 16 to 2048 across the aperture. Cells at an edge count by the part of them that is clear, taken
    across the edge: the whole clear area is right to some 1e-3, a vane thinner than a cell keeps its own. The
    array may be shared: do not write to it. Raises ValueError outside, and where nothing is left clear.
    Source: plane geometry.
    """
    n = int(checked("The grid", samples, LEAST_SAMPLES, MOST_SAMPLES, "samples", "Give 16 to 2048."))
    mask = _tube_mask(replace(pupil, stops=()), n)
    axis = coordinates(n)
    for stop in pupil.stops:
        mask = mask * _inside(stop.depth(axis[None, :], axis[:, None]), 2.0 / n)
    if not mask.any():
        raise OutOfRangeError(
            "Nothing of the aperture is left clear. Check obstruction, vanes and the train's openings."
        )
    return mask


@lru_cache(16)
def _tube_mask(pupil: Pupil, n: int) -> Floats:
    """The mask before the train's stops: nine stars of one tube share it."""
    cell, axis = 2.0 / n, coordinates(n)
    x, y = axis[None, :], axis[:, None]
    radius = np.hypot(x, y)
    mask = _inside(pupil.edge - radius, cell)
    if pupil.obstruction > 0.0:
        mask = mask * (1.0 - _inside(pupil.obstruction - radius, cell))
    per_mm = 2.0 / pupil.aperture_mm
    if pupil.vanes is not None and pupil.vanes.count:
        covered = np.zeros_like(mask)
        for piece in vane_pieces(pupil):
            covered += _bar(x, y, piece, pupil.vanes.width_mm * per_mm, cell)
        mask = mask * (1.0 - np.minimum(covered, 1.0))
    if pupil.clips is not None and pupil.clips.count:
        far, near = pupil.edge, pupil.edge - pupil.clips.reach_mm * per_mm
        for number in range(pupil.clips.count):
            angle = math.radians(pupil.clips.angle_deg) + 2.0 * math.pi * number / pupil.clips.count
            piece = (
                near * math.cos(angle),
                near * math.sin(angle),
                far * math.cos(angle),
                far * math.sin(angle),
            )
            mask = mask * (1.0 - _bar(x, y, piece, pupil.clips.width_mm * per_mm, cell))
    mask.flags.writeable = False
    return mask


def _inside(depth: Floats, cell: float) -> Floats:
    """How much of a cell lies inside a border that passes it at `depth` (positive inside)."""
    return np.clip(0.5 + depth / cell, 0.0, 1.0)


def _bar(x: Floats, y: Floats, piece: tuple[float, float, float, float], width: float, cell: float) -> Floats:
    """How much of each cell a bar covers that runs along a piece (x0, y0, x1, y1)."""
    x0, y0, x1, y1 = piece
    length = math.hypot(x1 - x0, y1 - y0)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    along = (x - x0) * ux + (y - y0) * uy
    across = np.abs((y - y0) * ux - (x - x0) * uy)
    # So far apart lie the rows of cells across the bar: taken so wide, they cover it once and without a gap.
    row = cell * max(abs(ux), abs(uy))
    share = (np.minimum(across + row / 2.0, width / 2.0) - np.maximum(across - row / 2.0, -width / 2.0)) / row
    ends = np.clip(0.5 + np.minimum(along, length - along) / cell, 0.0, 1.0)
    return np.clip(share, 0.0, 1.0) * ends
