"""The beam: one paraxial trace from the sky to the sensor, and what an opening anywhere takes of it.

Two rays are followed from the entrance pupil, height y and slope u at each element: the one at the aperture's
edge (y = 1, u = 0) and the chief ray of an off-axis star (Y = 0, U = 1). Between two elements both are
straight, so that at a distance x before the sensor a star's light is a disc of half-width |y(x)| D / 2 whose
middle lies at h Y(x) / F, h the star's height in the image. Whatever cuts there is seen in the entrance pupil
(taken as a disc of radius 1) at ((x0 - h Y / F) / half, y0 / half). No exit pupil is needed: behind most
reducers it lies beyond infinity, so that only its inverse distance is kept.

Not modelled: aberrations of the pupil, thickness of the objective. Against real rays of conic mirrors
the light is right to 0.3 % at f/8 and 0.7 % at f/4.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

from server.optics.discs import disc_overlap_area_mm2
from server.optics.ranges import checked, checked_focal_ratio, checked_length_mm, checked_obstruction
from server.optics.roots import bisect
from server.optics.two_mirror import TwoMirrors

_DIAMETER_TOLERANCE_MM = 1e-4
_SMALLEST_FACTOR, _LARGEST_FACTOR = 0.05, 20.0


@dataclass(frozen=True)
class Stretch:
    """The light between two elements, by straight lines over the distance x before the sensor, mm in air.

    beyond_mm: it begins there and goes on towards the sky. half_mm, half_per_mm: half of a star's beam is
    half_mm + half_per_mm x wide. middle, middle_per_mm: its middle lies at h (middle + middle_per_mm x).
    """

    beyond_mm: float
    half_mm: float
    half_per_mm: float
    middle: float
    middle_per_mm: float


@dataclass(frozen=True)
class Beam:
    """The light of a rig, from before its correctors to the sensor.

    stretches: sensor first. obstruction: linear, its shadow in the middle of the pupil, which holds where it
    is the pupil or near it. focal_mm: of the whole rig; None for a cone that was given as such.
    """

    stretches: tuple[Stretch, ...]
    obstruction: float = 0.0
    focal_mm: float | None = None

    @cached_property
    def focal_ratio(self) -> float:
        """N at the sensor; infinite for light that comes together nowhere, which `trace` refuses."""
        slope = self.stretches[0].half_per_mm
        return 0.5 / slope if slope else math.inf

    @property
    def per_pupil(self) -> float:
        """The inverse of the exit pupil's distance before the sensor, 1/mm: 0 far away, negative beyond."""
        return -self.stretches[0].middle_per_mm

    def stretch_at(self, distance_mm: float) -> Stretch:
        """The stretch in which a distance before the sensor lies, mm in air, 0 or more."""
        x = checked_length_mm("The distance before the sensor", distance_mm)
        for one in self.stretches[:0:-1]:
            if one.beyond_mm <= x:
                return one
        return self.stretches[0]  # It begins at the sensor.

    def half_mm(self, distance_mm: float) -> float:
        """Half the width of one star's beam, mm, at a distance before the sensor, mm in air."""
        one = self.stretch_at(distance_mm)
        return one.half_mm + one.half_per_mm * distance_mm

    def middle(self, distance_mm: float) -> float:
        """Where the middle of a star's beam lies there, per mm of its height in the image."""
        one = self.stretch_at(distance_mm)
        return one.middle + one.middle_per_mm * distance_mm


def cone(focal_ratio: float, pupil_distance_mm: float = math.inf, obstruction: float = 0.0) -> Beam:
    """Return the beam of a bare cone. focal_ratio: 0.5 to 1000. pupil_distance_mm: exit pupil before the
    sensor, of either sign, not 0. Raises ValueError outside. Source: similar triangles.
    """
    n = checked_focal_ratio(focal_ratio)
    return Beam(
        (Stretch(0.0, 0.0, 0.5 / n, 1.0, -1.0 / pupil_distance_mm),), checked_obstruction(obstruction)
    )


@dataclass(frozen=True)
class Tube:
    """A tube by itself: lengths mm, obstruction linear, per_pupil the inverse of its exit pupil's distance
    before its focus (1/mm). Raises ValueError for figures outside their range.
    """

    focal_mm: float
    aperture_mm: float
    obstruction: float
    per_pupil: float

    def __post_init__(self) -> None:
        """Refuse figures that give no such tube."""
        checked_length_mm("The focal length", self.focal_mm, above_zero=True)
        checked_length_mm("The aperture", self.aperture_mm, above_zero=True)
        checked_obstruction(self.obstruction)
        checked("The exit pupil's inverse distance", self.per_pupil, -1.0, 1.0, "1/mm", "Check the figure.")


def two_mirror_per_pupil(mirrors: TwoMirrors, stop_mm: float = 0.0) -> float:
    """Return the inverse distance of a two-mirror tube's exit pupil before its focus, 1/mm.

    stop_mm: how far before the primary the aperture stop stands (a corrector plate at the front), 0 for the
    primary itself. Source: the chief ray traced; for 0 it is f1 m^2 k / (m + k - 1), k = 1 - separation / f1
    (Schroeder, Astronomical Optics, on pupils of two-mirror telescopes, from memory).
    """
    chief, slope = checked_length_mm("The stop's distance", stop_mm), 1.0
    edge, falls = 1.0, 0.0
    for power, gap in (
        (1.0 / mirrors.primary_focal_mm, mirrors.separation_mm),
        (-1.0 / mirrors.secondary_focal_mm, 0.0),
    ):
        slope -= chief * power
        falls -= edge * power
        chief += slope * gap
        edge += falls * gap
    height = chief + slope * (-edge / falls)  # The chief ray in the focal plane.
    return slope / height


@dataclass(frozen=True)
class Corrector:
    """A thin lens between tube and sensor.

    focal_mm: above 0 reduces, below 0 extends; None for a flattener, which has no power. at_mm: its rear
    principal plane before the sensor, in air, above 0. planes_mm: its front principal plane stands so much
    further out, of either sign.
    """

    focal_mm: float | None
    at_mm: float
    planes_mm: float = 0.0

    @property
    def power(self) -> float:
        """1/f, 1/mm."""
        return 0.0 if self.focal_mm is None else 1.0 / self.focal_mm


def trace(tube: Tube, correctors: Sequence[Corrector] = ()) -> Beam:
    """Return the beam behind a tube and its correctors (sky first), the sensor in focus.

    The tube is taken to stand so that it is; the trace begins in its rear space. Raises ValueError for a
    corrector that forms no image at its distance. Source: paraxial ray trace (any text on Gaussian optics),
    y + u t between elements, u - y / f at one.
    """
    # Backwards: where before the sensor the bare tube's focus would lie (behind it where that is negative).
    focus_mm = 0.0
    for one in reversed(correctors):
        at = checked_length_mm("The corrector's distance before the sensor", one.at_mm, above_zero=True)
        factor = checked(
            "The corrector's factor at this distance",
            1.0 - (at - focus_mm) * one.power,
            _SMALLEST_FACTOR,
            _LARGEST_FACTOR,
            "",
            "A reducer forms no image further away than its focal length. Check factor and distance.",
        )
        focus_mm = at + one.planes_mm - (at - focus_mm) / factor
    # Forwards: the edge ray and the chief ray of a star 1 mm off the axis in that focus, as lines over x.
    edge = _Line(focus_mm, 0.0, tube.aperture_mm / (2.0 * tube.focal_mm))
    chief = _Line(focus_mm, 1.0, -tube.per_pupil)
    lines = []
    for one in correctors:
        front = one.at_mm + one.planes_mm
        lines.append((front, edge, chief))
        edge, chief = edge.behind(one), chief.behind(one)
    lines.append((0.0, edge, chief))
    factor = chief.at(0.0)
    stretches = tuple(
        Stretch(begin, e.at(0.0), e.slope, c.at(0.0) / factor, c.slope / factor)
        for begin, e, c in reversed(lines)
    )
    found = Beam(stretches, tube.obstruction, tube.focal_mm * factor)
    checked_focal_ratio(found.focal_ratio)
    return found


@dataclass(frozen=True)
class _Line:
    """A ray between two elements: its height at a place before the sensor, and its slope over that
    distance.
    """

    place_mm: float
    height: float
    slope: float

    def at(self, distance_mm: float) -> float:
        return self.height + self.slope * (distance_mm - self.place_mm)

    def behind(self, lens: Corrector) -> _Line:
        """The same ray behind a lens: y stays, u - y / f towards the sensor, that is, + y / f over x."""
        height = self.at(lens.at_mm + lens.planes_mm)
        return _Line(lens.at_mm, height, self.slope + height * lens.power)


def share_through(beam: Beam, distance_mm: float, diameter_mm: float, height_mm: float) -> float:
    """Return the share (0 to 1) of one star's light that a centred round opening lets through.

    distance_mm: before the sensor, in air, 0 to 100 000 mm. diameter_mm: 0 to 100 000 mm. height_mm: of the
    star in the image, same range. Raises ValueError outside. Source: the area common to two discs, less the
    obstruction's shadow (plane geometry).
    """
    half, away = _disc_of(beam, distance_mm, height_mm)
    radius = checked_length_mm("The opening's clear diameter", diameter_mm) / 2.0
    return _share(half, away, beam.obstruction, radius)


def _disc_of(beam: Beam, distance_mm: float, height_mm: float) -> tuple[float, float]:
    """Half the width of a star's beam at a place, and how far off the axis its middle lies, mm."""
    one = beam.stretch_at(distance_mm)
    middle = one.middle + one.middle_per_mm * distance_mm
    return one.half_mm + one.half_per_mm * distance_mm, abs(middle) * height_mm


def _share(half: float, away: float, hole: float, radius: float) -> float:
    if half <= 0.0:
        return 1.0 if away <= radius else 0.0
    if away + half <= radius:
        return 1.0
    r, d = radius / half, away / half
    lit = disc_overlap_area_mm2(r, 1.0, d)
    if hole:
        lit -= disc_overlap_area_mm2(r, hole, d)
    return min(1.0, max(0.0, lit / (math.pi * (1.0 - hole * hole))))


def diameter_for_share_mm(beam: Beam, distance_mm: float, share: float, height_mm: float) -> float:
    """Return the smallest diameter, mm, of a centred round opening that keeps a share of a star's light.

    share: above 0, to 1. The others as `share_through`. Too large by 1e-4 mm at most.
    Source: `share_through`, by bisection.
    """
    wanted = checked("The share of light", share, 0.0, 1.0, "", "Give a share such as 0.9.", above_low=True)
    half, away = _disc_of(beam, distance_mm, height_mm)
    full = 2.0 * (away + half)
    if wanted == 1.0 or half <= 0.0:
        return full
    checked_length_mm("The clear diameter of all its light", full)
    return _diameter_for_share_mm(half, away, beam.obstruction, wanted, full)


@lru_cache(1024)  # When one part is moved, most of the others stay where they are.
def _diameter_for_share_mm(half: float, away: float, hole: float, wanted: float, full: float) -> float:
    def surplus(diameter: float) -> float:
        return _share(half, away, hole, diameter / 2.0) - wanted

    return bisect(surplus, 0.0, full, _DIAMETER_TOLERANCE_MM) + _DIAMETER_TOLERANCE_MM
