"""The light that reaches the sensor, drawn in the section: the beam to its centre, and a beam to each side.

Below the axis runs the beam to the sensor's corner, and above it as well, as long as no guider's prism stands
there: then the upper half is cut through prism and axis, and shows the beam to the middle of that side. What
an opening or the prism takes of a beam is hatched.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from server.domain.parts import BaseCamera
from server.domain.train import Train
from server.domain.workings.traced import Traced
from server.web.drawing.bodies import Body, last_glass, sane
from server.web.drawing.options import LimitMark, PrismMark
from server.web.drawing.paint import Frame, rear_glass_mm
from server.web.drawing.svg import Svg

Pair = tuple[float, float]


@dataclass(frozen=True)
class Side:
    """The beam to one side of the axis.

    Attributes:
        sign: 1 above the axis, -1 below it.
        height_mm: how far off the axis it meets the sensor.
        edge: what cuts most of it: its distance before the sensor, and how far off the axis light still
            passes there; None where all of the beam arrives.
    """

    sign: float
    height_mm: float
    edge: Pair | None = None


@dataclass(frozen=True)
class Cone:
    """The beams from `from_mm` before the sensor.

    Attributes:
        from_mm: distance before the sensor where the beams begin.
        traced: the rig's beam.
        corner_mm: half the sensor's diagonal, None while unknown.
        begins: what they begin at, in words.
        limit, prism: as the options have them.
    """

    from_mm: float
    traced: Traced
    corner_mm: float | None
    begins: str
    limit: LimitMark | None = None
    prism: PrismMark | None = None

    def half(self, distance_mm: float) -> float:
        """Return half a beam's diameter at a distance before the sensor, in mm."""
        return self.traced.beam.half_mm(distance_mm)

    def centre(self, distance_mm: float, height_mm: float) -> float:
        """Return how far off the axis a beam's middle runs `distance_mm` before the sensor."""
        return height_mm * self.traced.beam.middle(distance_mm)

    @cached_property
    def sides(self) -> tuple[Side, ...]:
        """The beam above the axis and the one below it; none while the sensor's size is not known."""
        if self.corner_mm is None:
            return ()
        round_edge = [] if self.limit is None else [(self.limit.at_mm, self.limit.half_mm)]
        corner = self._edge(self.corner_mm, round_edge)
        below = Side(-1.0, self.corner_mm, corner)
        if self.prism is None:
            return Side(1.0, self.corner_mm, corner), below
        faces = (self.prism.far_mm, self.prism.near_mm) if self.prism.shades else ()
        edges = [*round_edge, *((face, self.prism.edge_mm) for face in faces)]
        return Side(1.0, self.prism.height_mm, self._edge(self.prism.height_mm, edges)), below

    def _edge(self, height_mm: float, edges: list[Pair]) -> Pair | None:
        """The edge that takes most of a beam, if it stands within what is drawn."""
        least, found = 1.0, None
        for at, lip in edges:
            if 0.0 < at <= self.from_mm:
                # The ray that just passes, from the beam's inner border (-1) to its outer one (1).
                passing = max(-1.0, (lip - self.centre(at, height_mm)) / self.half(at))
                if passing < least:
                    least, found = passing, (at, self.centre(at, height_mm) + passing * self.half(at))
        return found


def cone_of(
    train: Train,
    bodies: tuple[Body, ...],
    traced: Traced | None,
    stub_mm: float,
    *,
    limit: LimitMark | None = None,
    prism: PrismMark | None = None,
) -> Cone | None:
    """Return the beams to draw, None where no beam is traced or no sensor ends the train.

    They begin at the last corrector, else at the tube; where a length on the way is not known they begin
    behind it, for before it the drawing's lengths are stand-ins.
    """
    if traced is None or not bodies or bodies[-1].place is not train.camera:
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
    corner = diagonal / 2.0 if diagonal else None
    return Cone(sensor - start, traced, corner, begins, limit, prism)


def _beam(cone: Cone, frame: Frame, sensor_mm: float, sign: float, height_mm: float) -> list[Pair]:
    far, half = frame.x(sensor_mm - cone.from_mm), cone.half(cone.from_mm)
    middle, tip = sign * cone.centre(cone.from_mm, height_mm), sign * height_mm
    return [
        (far, frame.y(middle + half)),
        (frame.x(sensor_mm), frame.y(tip)),
        (far, frame.y(middle - half)),
    ]


def paint_light(svg: Svg, cone: Cone, frame: Frame, sensor_mm: float, *, fill: bool) -> None:
    """Write the beams: their surfaces (`fill`), which lie under the parts, or their edges, which lie over."""
    kind = "dw-light-corner" if fill else "dw-edge-corner"
    write: Callable[[list[Pair], str], None] = svg.polygon if fill else svg.polyline
    for side in cone.sides:
        write(_beam(cone, frame, sensor_mm, side.sign, side.height_mm), kind)
    for side in cone.sides:
        if side.edge is not None:
            _paint_lost(svg, cone, side, side.edge, frame, sensor_mm, fill=fill)
    write(_beam(cone, frame, sensor_mm, 0.0, 0.0), "dw-light-axis" if fill else "dw-edge-axis")


def _paint_lost(
    svg: Svg, cone: Cone, side: Side, edge: Pair, frame: Frame, sensor_mm: float, *, fill: bool
) -> None:
    """What an edge takes of a beam: the light that falls on it, its shadow behind it, and the edge itself."""
    (at, lip), tip = edge, side.height_mm

    def point(before_mm: float, height_mm: float) -> Pair:
        return frame.x(sensor_mm - before_mm), frame.y(side.sign * height_mm)

    outer = cone.centre(at, tip) + cone.half(at)
    if not fill:
        (x, y), (_, end) = point(at, lip), point(at, outer)
        svg.line(x, y, x, end, "dw-limit")
        return
    # The ray that just passes the edge runs straight on to the sensor; the light beyond it is lost.
    start = cone.from_mm
    passing = tip + (lip - tip) * start / at
    hatch = f"url(#{frame.prefix}-lost)"
    first = point(start, cone.centre(start, tip) + cone.half(start))
    svg.polygon([first, point(at, outer), point(at, lip), point(start, passing)], "dw-light-lost", fill=hatch)
    svg.polygon([point(at, outer), point(0.0, tip), point(at, lip)], "dw-light-shadow", fill=hatch)
