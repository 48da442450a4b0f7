"""The light that reaches the sensor, as lines in the section: the axial beam and the beams to the corners."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from server.domain.measure import nominal
from server.domain.parts import BaseCamera, Corrector, OpticalTube
from server.domain.train import Train
from server.web.drawing.bodies import Body, last_glass, sane
from server.web.drawing.paint import Frame, rear_glass_mm
from server.web.drawing.svg import Svg


def effective_ratio(train: Train) -> float | None:
    """Return the tube's focal ratio times every corrector's factor, None while one of them is unknown."""
    tube = train.tube
    if tube is None or not isinstance(tube.part, OpticalTube):
        return None
    aperture, ratio = nominal(tube.part.aperture_mm), None
    if aperture and nominal(tube.part.focal_length_mm):
        ratio = tube.part.focal_ratio
    for place in train:
        if isinstance(place.part, Corrector):
            factor = nominal(place.part.factor)
            ratio = None if ratio is None or factor is None else ratio * factor
    return ratio if ratio is not None and 0.05 < ratio < 1000.0 and isfinite(ratio) else None


@dataclass(frozen=True)
class Cone:
    """The beams from `from_mm` before the sensor (and before the last lens `lens_mm`, if it is drawn).

    Attributes:
        from_mm: distance before the sensor where the beams begin.
        ratio: focal ratio of the beams.
        corner_mm: half the sensor's diagonal, None while unknown.
        pupil_mm: distance of the exit pupil, None for far away.
        begins: what they begin at, in words.
        limit: as the options have it.
    """

    from_mm: float
    ratio: float
    corner_mm: float | None
    pupil_mm: float | None
    begins: str
    limit: tuple[float, float] | None = None

    def half(self, distance_mm: float) -> float:
        """Return half the beam's diameter at a distance before the sensor, in mm: x / 2N."""
        return distance_mm / (2.0 * self.ratio)

    def centre(self, distance_mm: float) -> float:
        """Return the corner beam's height off the axis `distance_mm` before the sensor: h (1 - x / L)."""
        if self.corner_mm is None:
            return 0.0
        return self.corner_mm * (1.0 - (distance_mm / self.pupil_mm if self.pupil_mm else 0.0))


def cone_of(
    train: Train, bodies: tuple[Body, ...], ratio: float | None, pupil_mm: float | None, stub_mm: float
) -> Cone | None:
    """Return the beams to draw, None where the focal ratio is not known or no sensor ends the train.

    They begin at the last corrector, else at the tube; where a length on the way is not known they begin
    behind it, for before it the drawing's lengths are stand-ins.
    """
    ratio = effective_ratio(train) if ratio is None else ratio
    if ratio is None or not 0.05 < ratio < 1000.0 or not bodies or bodies[-1].place is not train.camera:
        return None
    part = bodies[-1].place.part
    diagonal = sane(part.diagonal_mm) if isinstance(part, BaseCamera) else None
    sensor = bodies[-1].end_mm
    glass = last_glass(bodies)
    start, begins = (-stub_mm, "the tube")
    if glass is not None:
        start, begins = rear_glass_mm(glass), glass.place.name
    known_from = None
    for body in reversed(bodies):
        if not body.known:
            break
        known_from = body.start_mm
    if known_from is None:
        return None
    if known_from > bodies[0].start_mm and known_from > start:
        start, begins = known_from, "the last part of no known length"
    if sensor - start <= 0.0:
        return None
    return Cone(sensor - start, ratio, diagonal / 2.0 if diagonal else None, pupil_mm, begins)


def _beam(cone: Cone, frame: Frame, sensor_mm: float, sign: float) -> list[tuple[float, float]]:
    far, half = frame.x(sensor_mm - cone.from_mm), cone.half(cone.from_mm)
    middle, tip = sign * cone.centre(cone.from_mm), sign * cone.centre(0.0)
    return [
        (far, frame.y(middle + half)),
        (frame.x(sensor_mm), frame.y(tip)),
        (far, frame.y(middle - half)),
    ]


def paint_light(svg: Svg, cone: Cone, frame: Frame, sensor_mm: float, *, fill: bool) -> None:
    """Write the beams: their surfaces (`fill`), which lie under the parts, or their edges, which lie over."""
    corner = cone.corner_mm is not None
    if fill:
        for sign in (1.0, -1.0) if corner else ():
            svg.polygon(_beam(cone, frame, sensor_mm, sign), "dw-light-corner")
        limit = _limit(cone)
        for sign in (1.0, -1.0) if limit is not None else ():
            _paint_lost(svg, cone, limit, frame, sensor_mm, sign)
        svg.polygon(_beam(cone, frame, sensor_mm, 0.0), "dw-light-axis")
        return
    for sign in (1.0, -1.0) if corner else ():
        svg.polyline(_beam(cone, frame, sensor_mm, sign), "dw-edge-corner")
    svg.polyline(_beam(cone, frame, sensor_mm, 0.0), "dw-edge-axis")
    limit = _limit(cone)
    if limit is not None:
        _paint_limit(svg, cone, limit, frame, sensor_mm)


def _limit(cone: Cone) -> tuple[float, float] | None:
    """The limiting opening, if it stands within what is drawn: distance before the sensor, half its width."""
    if cone.limit is None or cone.corner_mm is None or not 0.0 < cone.limit[0] <= cone.from_mm:
        return None
    return cone.limit


def _paint_lost(
    svg: Svg, cone: Cone, limit: tuple[float, float] | None, frame: Frame, sensor_mm: float, sign: float
) -> None:
    """What the limiting opening takes of a corner's beam: the light that falls on its lip, and its shadow."""
    assert limit is not None
    at, half = limit
    tip = cone.centre(0.0)
    outer, inner = cone.centre(at) + cone.half(at), cone.centre(at) - cone.half(at)
    lip = max(half, inner)
    if lip >= outer:
        return
    # The ray that just passes the lip runs straight on to the corner; light beyond it is lost.
    start = cone.from_mm
    passing = tip + (lip - tip) * start / at

    def point(before_mm: float, height_mm: float) -> tuple[float, float]:
        return frame.x(sensor_mm - before_mm), frame.y(sign * height_mm)

    first = point(start, cone.centre(start) + cone.half(start))
    svg.polygon([first, point(at, outer), point(at, lip), point(start, passing)], "dw-light-lost")
    svg.polygon([point(at, outer), point(0.0, tip), point(at, lip)], "dw-light-shadow")


def _paint_limit(svg: Svg, cone: Cone, limit: tuple[float, float], frame: Frame, sensor_mm: float) -> None:
    """The two lips of the opening that limits, and the corner beams' outer rays behind it, which it cuts."""
    at, half = limit
    x = frame.x(sensor_mm - at)
    for sign in (1.0, -1.0):
        outer = cone.centre(at) + cone.half(at)
        svg.line(x, frame.y(sign * half), x, frame.y(sign * max(outer, half)), "dw-limit")
        ray = [(x, frame.y(sign * outer)), (frame.x(sensor_mm), frame.y(sign * cone.centre(0.0)))]
        svg.polyline(ray, "dw-light-cut")
