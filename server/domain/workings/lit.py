"""The light over a rig's sensor, worked out for check, pictures and stars."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, partial

from server.arrays import Floats
from server.domain.guarded import worked_or_none
from server.domain.missing import lacks_sensor
from server.domain.said import Missing, Said, said
from server.domain.workings.beam import Opening, openings_of
from server.domain.workings.case import Case
from server.domain.workings.prism import Prism, prism_of
from server.optics.beam import Beam, share_through
from server.optics.openings import Opening as Seen

COLUMNS, ROWS = 12, 8
"""Points of one quarter of the sensor, edges and axis among them: the whole map has 23 by 15."""
FULL = 0.9995
"""A share that a sentence shows as all of the light."""


@dataclass(frozen=True)
class Quarter:
    """The light over one quarter of the sensor (x and y from the axis to the edge), row by row along x.

    through: share of the cone that passes everything; light: that times the natural fall-off; limiting: the
    number of the opening that alone takes most, -1 where none takes any. All by `row * columns + column`.
    """

    x_mm: tuple[float, ...]
    y_mm: tuple[float, ...]
    through: tuple[float, ...]
    light: tuple[float, ...]
    limiting: tuple[int, ...]

    def at(self, column: int, row: int) -> int:
        """The number of a point."""
        return row * len(self.x_mm) + column

    @property
    def points(self) -> dict[str, int]:
        """The centre, the middles of the edges and the corner."""
        right, top = len(self.x_mm) - 1, len(self.y_mm) - 1
        return {
            "centre": self.at(0, 0),
            "end": self.at(right, 0),
            "side": self.at(0, top),
            "corner": self.at(right, top),
        }


@dataclass(frozen=True)
class Lit:
    """A rig's light, worked out: what check and picture both show.

    `quarter` is the one on whose side the prism stands, `unshaded` the same without it.
    """

    openings: tuple[Opening, ...]
    at_mm: tuple[float, ...]
    prism: Prism | None
    quarter: Quarter
    unshaded: Quarter
    beam: Beam
    width_mm: float
    height_mm: float
    lacking: tuple[Missing, ...]

    @property
    def corner_mm(self) -> float:
        """Half the sensor's diagonal."""
        return math.hypot(self.width_mm, self.height_mm) / 2.0

    @property
    def seen(self) -> tuple[Seen, ...]:
        """The openings in the beam."""
        return tuple(one.seen_at(at) for one, at in zip(self.openings, self.at_mm, strict=True))

    def share(self, point: str) -> float:
        """The share of its cone that a point of the quarter gets."""
        return self.quarter.through[self.quarter.points[point]]

    def opening(self, number: int) -> Said | None:
        """The part that an opening's number stands for; None for none."""
        if number < 0:
            return None
        if number >= len(self.openings):
            return None if self.prism is None else said("opening.prism", part=self.prism.place)
        return self.openings[number].says


def lacking_for(case: Case) -> list[Missing]:
    """What to enter before any light can be worked out."""
    camera = case.train.camera
    missing = list(case.optics.missing)
    if camera is not None and camera.part.sensor_mm is None:
        missing.append(lacks_sensor(camera))
    return missing


def light_of(case: Case) -> Lit | None:
    """The light over the sensor by the beam that is drawn; None where focal ratio, sensor or every opening is
    unknown. Raises ValueError for figures beyond what the formulas hold for.
    """
    traced = case.traced
    return None if traced is None else _by_beam(case, traced.beam)


def lights_of(case: Case) -> list[Lit]:
    """`light_of`, and where the beam is not wholly known the light at both ends of what it may be."""
    traced = case.traced
    if traced is None:
        return []
    beams = (traced.beam, *(() if traced.known else traced.ends))
    return [lit for beam in beams if (lit := _by_beam(case, beam)) is not None]


_Way = tuple[Beam, tuple[Seen, ...]]


def corner_lights(cases: Sequence[Case]) -> tuple[Floats, Floats]:
    """The light in the sensor's corner of each rig: `Quarter.through` and `Quarter.light` of them all at
    once, (rigs,) each, nan where no light can be worked out. A guider's prism is not counted.
    """
    import numpy as np

    from server.optics.light_map import lights_at

    through = np.full(len(cases), np.nan)
    light = through.copy()
    light_of_all = said("work.light")
    ways = [worked_or_none(light_of_all, partial(_way, case)) for case in cases]
    found = [(row, way) for row, way in enumerate(ways) if way is not None]
    if found:
        rows, known = map(list, zip(*found, strict=True))
        corners = np.array([_sensor_mm(cases[row]) for row in rows]) / 2.0
        shares, falloff = lights_at(known, corners[:, :1], corners[:, 1:])
        through[rows] = shares[:, 0]
        light[rows] = shares[:, 0] * falloff[:, 0]
    return through, light


def _sensor_mm(case: Case) -> tuple[float, float]:
    camera = case.train.camera
    return (math.nan, math.nan) if camera is None else camera.part.sensor_mm or (math.nan, math.nan)


def _way(case: Case) -> _Way | None:
    """The rig's beam with its openings; None where no light can be worked out."""
    height, traced, own = math.hypot(*_sensor_mm(case)) / 2.0, case.traced, openings_of(case)[0]
    if math.isnan(height) or traced is None or not own:
        return None
    placed = (one.seen_at(_worse_end(one, traced.beam, height)) for one in own)
    return traced.beam, tuple(placed)


def _by_beam(case: Case, beam: Beam) -> Lit | None:
    return case.rig.once((Lit, beam), lambda: _lit(case, beam))


def _lit(case: Case, beam: Beam) -> Lit | None:
    camera = case.train.camera
    if camera is None:
        return None
    size = camera.part.sensor_mm
    if size is None:
        return None
    openings, lacking = openings_of(case)
    if not openings:
        return None
    height = math.hypot(*size) / 2.0
    at = tuple(_worse_end(one, beam, height) for one in openings)
    prism = prism_of(case, beam, *size)
    seen: list[Seen] = [one.seen_at(x) for one, x in zip(openings, at, strict=True)]
    if prism is not None:
        seen += prism.in_the_beam
    shades = prism is not None and prism.shades
    unshaded = _quarter(beam, size[0], size[1], tuple(seen[: len(openings)]))
    quarter = _quarter(beam, size[0], size[1], tuple(seen)) if shades else unshaded
    return Lit(openings, at, prism, quarter, unshaded, beam, size[0], size[1], lacking)


def share_alone(one: Opening, at_mm: float, beam: Beam, height: float) -> float:
    """The share that a round opening so large lets through by itself."""
    return share_through(beam, max(0.0, at_mm), one.diameter_mm, height)


def share_without(lit: Lit, numbers: list[int]) -> float:
    """The corner's share of light if these openings took none."""
    seen = tuple(one for i, one in enumerate(lit.seen) if i not in numbers)
    quarter = _quarter(lit.beam, lit.width_mm, lit.height_mm, seen)
    return quarter.through[quarter.points["corner"]]


def _worse_end(one: Opening, beam: Beam, height: float) -> float:
    """Where its opening lies, or of two ends the one that takes more of the corner, then of the centre."""
    near, far = one.near_mm, one.far_mm
    if far == near:
        return far
    corner = {x: share_alone(one, x, beam, height) for x in (near, far)}
    # An end that takes nothing of the corner takes nothing of the centre.
    if corner[near] == corner[far] == 1.0:
        return near
    return min(corner, key=lambda x: (corner[x], share_alone(one, x, beam, 0.0)))


@lru_cache(64)
def _quarter(beam: Beam, width: float, height: float, seen: tuple[Seen, ...]) -> Quarter:
    import numpy as np

    from server.optics.light_map import light_at

    x = np.linspace(0.0, width / 2.0, COLUMNS)
    y = np.linspace(0.0, height / 2.0, ROWS)
    across, up = np.meshgrid(x, y)
    found = light_at(beam, seen, across.ravel(), up.ravel())
    return Quarter(
        tuple(x.tolist()),
        tuple(y.tolist()),
        tuple(found.through.tolist()),
        tuple(found.light.tolist()),
        tuple(found.limiting.tolist()),
    )
