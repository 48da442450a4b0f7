"""What each part looks like in the section: its size in mm, before anything is drawn.

Lengths are the parts' own. Outer diameters are hardly ever known: they are taken from the connections and the
clear aperture, with a wall, and the drawing says so.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from math import pi, sin

from server.domain.connections import Barrel, BoltPattern, Connection, InchThread, MetricThread
from server.domain.measure import nominal
from server.domain.parts import (
    BaseCamera,
    Corrector,
    Filter,
    FilterWheel,
    Focuser,
    OffAxisGuider,
    OpticalTube,
    PathPart,
    Rotator,
    Shim,
)
from server.domain.train import Place, Train
from server.frozen import frozen

MM_PER_INCH = 25.4
WALL_MM = 3.0
UNKNOWN_LENGTH_MM = 12.0
UNKNOWN_RADIUS_MM = 27.0
CAMERA_BACK_MM = 22.0
OFF_AXIS_MM = 16.0
"""How far beyond the tallest body a wheel's disc or a guider's port is drawn before it is broken off."""

LARGEST_MM = 1.0e5

HOLDER_MM = {
    "mounted_1_25": 31.75,
    "mounted_2": 50.8,
    "round_31": 31.0,
    "round_36": 36.0,
    "round_50": 50.0,
    "square_50": 50.0,
    "square_65": 65.0,
}


@frozen
class Body:
    """One part, drawn from `start_mm` (from the first shoulder drawn) over `length_mm`.

    Attributes:
        number: its number in the run, from 1.
        known: whether the length is the part's own; else it is a stand-in.
        sky_radius_mm, camera_radius_mm: outer radii at its two ends, indicative.
        bore_mm: radius of the clear aperture.
        bore_known: whether that radius is the part's own figure.
        above_mm, below_mm: how far it reaches off the axis, upwards and downwards.
        back_mm: how much of a camera's body lies behind its sensor.
    """

    number: int
    place: Place
    start_mm: float
    length_mm: float
    known: bool
    sky_radius_mm: float
    camera_radius_mm: float
    bore_mm: float
    bore_known: bool
    above_mm: float
    below_mm: float
    back_mm: float = 0.0

    @cached_property
    def kind(self) -> str:
        """The part's kind."""
        return self.place.item.kind

    @cached_property
    def end_mm(self) -> float:
        """Where it ends: its camera-side shoulder, for a camera its sensor."""
        return self.start_mm + self.length_mm

    @cached_property
    def radius_mm(self) -> float:
        """The larger of its outer radii."""
        return max(self.sky_radius_mm, self.camera_radius_mm)


def sane(value: float | None) -> float | None:
    """Return a length that can be drawn: None where it is unknown or no length at all."""
    if value is None or not 0.0 <= value <= LARGEST_MM:
        return None
    return value


def diameter_of(connection: Connection | None) -> float | None:
    """Return a connection's diameter in mm, None where its name does not tell."""
    match connection:
        case MetricThread() | Barrel():
            return connection.diameter_mm
        case InchThread():
            return connection.diameter_in * MM_PER_INCH
        case BoltPattern():
            return connection.circle_mm
    return None


def _holder(part: FilterWheel) -> float:
    return HOLDER_MM.get(part.format or "", 36.0)


def wheel_reach(part: FilterWheel) -> float:
    """Return how far a wheel's disc reaches off the axis on its far side, in mm; indicative.

    Positions are taken to stand 1.25 diameters apart on their circle (common practice, no source).
    """
    holder = _holder(part)
    count = part.positions or 5
    if count < 3:
        return 0.65 * holder + 14.0
    circle = 1.25 * holder / (2.0 * sin(pi / count))  # Chord of a circle divided into `count`.
    return 2.0 * circle + 0.65 * holder + 4.0


def _outer(sky: float | None, camera: float | None, bore: float) -> tuple[float, float]:
    """Return outer radii at both ends from the connections' diameters and the bore's radius."""
    fallback = max([d / 2.0 for d in (sky, camera) if d is not None], default=0.0) + WALL_MM
    if sky is None and camera is None:
        fallback = max(UNKNOWN_RADIUS_MM, bore + WALL_MM)
    ends = [fallback if d is None else d / 2.0 + WALL_MM for d in (sky, camera)]
    return max(ends[0], bore + WALL_MM / 2.0), max(ends[1], bore + WALL_MM / 2.0)


def _bore(place: Place, sky: float | None, camera: float | None) -> tuple[float, bool]:
    part = place.part
    clear = sane(nominal(part.clear_aperture_mm)) if isinstance(part, PathPart | BaseCamera) else None
    if clear:
        return clear / 2.0, True
    smallest = min([d for d in (sky, camera) if d is not None], default=2.0 * UNKNOWN_RADIUS_MM)
    return max(1.0, smallest / 2.0 - 2.0), False


def body_of(place: Place, number: int, start_mm: float, neighbour_mm: float | None) -> Body:
    """Return how one place is drawn. `neighbour_mm` is the radius beside it, for a shim of no known size."""
    part = place.part
    length = None if isinstance(part, OpticalTube) else sane(nominal(place.length))
    drawn = UNKNOWN_LENGTH_MM if length is None else length
    sky, camera = diameter_of(place.sky_connection), diameter_of(place.camera_connection)
    bore, bore_known = _bore(place, sky, camera)
    back = 0.0
    if isinstance(part, Shim):
        inner, outer = sane(nominal(part.fits_from_mm)), sane(nominal(part.fits_to_mm))
        reach = neighbour_mm or UNKNOWN_RADIUS_MM
        bore, bore_known = (inner / 2.0, True) if inner else (reach - WALL_MM, False)
        ends = (max(outer / 2.0 if outer else reach, bore + 1.0),) * 2
    elif isinstance(part, BaseCamera):
        half = (sane(part.diagonal_mm) or 0.0) / 2.0
        if not bore_known and sky is None:
            bore = max(half + 6.0, UNKNOWN_RADIUS_MM - 2.0 * WALL_MM)
        # The body of a cooled camera is wider than its sensor by its frame and its chamber (indicative).
        ends = (max((sky or 0.0) / 2.0 + 5.0, half + 14.0, bore + WALL_MM),) * 2
        back = CAMERA_BACK_MM
    elif isinstance(part, Filter) and sky is None and camera is None:
        ends = (bore + 1.0, bore + 1.0)
    else:
        ends = _outer(sky, camera, bore)
        if isinstance(part, Rotator | Focuser):
            ends = (max(ends) + 5.0, max(ends) + 5.0)
    ends = (max(ends[0], 2.0), max(ends[1], 2.0))
    above = below = max(ends)
    if isinstance(part, FilterWheel):
        above = max(above, 0.65 * _holder(part) + 8.0)
        below = max(below, wheel_reach(part))
    elif isinstance(part, OffAxisGuider):
        edge = sane(nominal(part.reach_from_mm)) or bore
        above = max(above + 8.0, edge + (sane(nominal(part.side_path_mm)) or 0.0))
    elif isinstance(part, Focuser):
        below += 9.0
    return Body(
        number,
        place,
        start_mm,
        drawn,
        length is not None,
        *ends,
        bore,
        bore_known,
        above,
        below,
        back_mm=back,
    )


def bodies_of(train: Train) -> tuple[Body, ...]:
    """Return the bodies from the first part behind the tube to the end, in order.

    A tube at the head of the train is not among them: it has its own, smaller picture. What reaches far off
    the axis is cut to a little more than the tallest body.
    """
    places = train.places
    skip = 1 if places and isinstance(places[0].part, OpticalTube) else 0
    found: list[Body] = []
    start = 0.0
    for number, place in enumerate(places[skip:], start=skip + 1):
        body = body_of(place, number, start, found[-1].camera_radius_mm if found else None)
        if number < len(places) and body.back_mm:
            body = replace(body, back_mm=0.0)
        found.append(body)
        start = body.end_mm
    limit = max((body.radius_mm for body in found), default=UNKNOWN_RADIUS_MM) + OFF_AXIS_MM
    return tuple(
        replace(b, above_mm=min(b.above_mm, limit), below_mm=min(b.below_mm, limit))
        if max(b.above_mm, b.below_mm) > limit
        else b
        for b in found
    )


def last_glass(bodies: tuple[Body, ...]) -> Body | None:
    """Return the last corrector: behind it nothing bends the light again."""
    return next((b for b in reversed(bodies) if isinstance(b.place.part, Corrector)), None)
