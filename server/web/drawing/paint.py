"""Paints one part of the section, each kind in its own way, upper and lower wall alike."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from server.domain.measure import nominal
from server.domain.parts import (
    Adapter,
    BaseCamera,
    Filter,
    FilterWheel,
    OffAxisGuider,
    PathPart,
)
from server.web.drawing.bodies import HOLDER_MM, Body, diameter_of, sane
from server.web.drawing.labels import LINE_PX, text_width
from server.web.drawing.svg import Svg


@dataclass(frozen=True)
class Frame:
    """Where millimetres lie on the drawing: one scale along and across the axis.

    Attributes:
        left: x of the first shoulder drawn.
        axis: y of the optical axis.
        scale: drawing units in one mm.
        prefix: begins every id, so that two drawings can stand on one page.
        prism_edge_mm: how near the axis the prism's edge stands; None draws it as far in as it reaches.
    """

    left: float
    axis: float
    scale: float
    prefix: str
    prism_edge_mm: float | None = None

    def x(self, along_mm: float) -> float:
        """Return the x of a distance from the first shoulder."""
        return self.left + along_mm * self.scale

    def y(self, off_mm: float) -> float:
        """Return the y of a distance off the axis, up positive."""
        return self.axis - off_mm * self.scale


LENGTH_WORDS = "length not known yet"

FILLS = {
    "corrector": "dw-body-2",
    "filter": "dw-body-1",
    "filter_wheel": "dw-body-3",
    "off_axis_guider": "dw-body-3",
    "rotator": "dw-body-2",
    "tilt_adjuster": "dw-body-1",
    "focuser": "dw-body-2",
    "camera": "dw-body-3",
    "guide_camera": "dw-body-3",
}


def hatches(svg: Svg, prefix: str, *, lost: bool = False) -> None:
    """Write the hatchings: rings lean one way, adapters the other; `lost` light is hatched upright."""
    svg.open("defs")
    hatchings = [("ring", "M0 7 7 0", "dw-hatch"), ("adapter", "M0 0 7 7", "dw-hatch")]
    if lost:
        hatchings.append(("lost", "M2 0V7M5.5 0V7", "dw-lost-hatch"))
    for name, d, class_ in hatchings:
        svg.open(
            "pattern",
            id=f"{prefix}-{name}",
            width=7,
            height=7,
            patternUnits="userSpaceOnUse",
            class_="dw-pattern",
        )
        svg.rect(0, 0, 7, 7, "dw-hatch-ground")
        svg.path(d, class_)
        svg.close()
    svg.close()


def upright(svg: Svg, x: float, y: float, text: str, room: float) -> None:
    """Write words that read upwards, centred at a point, if they fit `room`; the tooltip says them anyway."""
    if text_width(text) <= room:
        place = f"rotate(-90 {x + 4.5:.2f} {y:.2f})"
        svg.text(x + 4.5, y, text, "dw-text dw-inside", text_anchor="middle", transform=place)


def holds_words(body: Body, scale: float) -> bool:
    """Return whether a part of no known length is drawn large enough to hold the words that say so."""
    return body.length_mm * scale > LINE_PX and 2.0 * body.bore_mm * scale > text_width(LENGTH_WORDS)


def _both(svg: Svg, frame: Frame, pairs: list[tuple[float, float]], body: Body) -> None:
    """Write one closed shape above the axis and its mirror image below, given in mm."""
    fill = None
    class_ = f"dw-body {FILLS.get(body.kind, '')}".strip()
    if body.kind in ("spacer_ring", "shim", "adapter"):
        fill = f"url(#{frame.prefix}-{'adapter' if body.kind == 'adapter' else 'ring'})"
    for side in (1.0, -1.0):
        svg.polygon([(frame.x(a), frame.y(side * r)) for a, r in pairs], class_, fill=fill)


def _wall(svg: Svg, frame: Frame, body: Body) -> None:
    a, b, r = body.start_mm, body.end_mm, body.bore_mm
    if isinstance(body.place.part, Adapter) and abs(body.sky_radius_mm - body.camera_radius_mm) > 0.5:
        step = (a + b) / 2.0
        outline = [
            (a, r),
            (a, body.sky_radius_mm),
            (step, body.sky_radius_mm),
            (step, body.camera_radius_mm),
            (b, body.camera_radius_mm),
            (b, r),
        ]
    else:
        outline = [(a, r), (a, body.radius_mm), (b, body.radius_mm), (b, r)]
    _both(svg, frame, outline, body)
    if not body.bore_known:
        for side in (1.0, -1.0):
            svg.line(frame.x(a), frame.y(side * r), frame.x(b), frame.y(side * r), "dw-bore-unknown")


def _stop(svg: Svg, frame: Frame, body: Body) -> None:
    """Write a tick on both walls where the smallest aperture sits, if that is known."""
    part = body.place.part
    at = sane(nominal(part.aperture_at_mm)) if isinstance(part, PathPart) else None
    if at is None or not body.known or at > body.length_mm or not body.bore_known:
        return
    along = body.end_mm - at if body.place.flipped else body.start_mm + at
    for side in (1.0, -1.0):
        edge = frame.y(side * body.bore_mm)
        svg.line(frame.x(along), edge, frame.x(along), edge - side * 5.0, "dw-stop-edge")


def _plate(svg: Svg, frame: Frame, centre_mm: float, radius_mm: float, thickness_mm: float | None) -> None:
    """Write a plane-parallel glass across the axis; one of no known thickness as a thin, dashed one."""
    thick = thickness_mm if thickness_mm else 1.5
    x, width = frame.x(centre_mm - thick / 2.0), max(1.2, thick * frame.scale)
    class_ = "dw-glass" if thickness_mm else "dw-glass dw-dashed"
    svg.rect(x, frame.y(radius_mm), width, 2.0 * radius_mm * frame.scale, class_)


def _lens(svg: Svg, frame: Frame, centre_mm: float, radius_mm: float, half_mm: float) -> None:
    x, top, bottom = frame.x(centre_mm), frame.y(radius_mm), frame.y(-radius_mm)
    bulge = max(2.0, half_mm * frame.scale * 2.0)
    d = f"M{x:.2f} {top:.2f}Q{x + bulge:.2f} {frame.axis:.2f} {x:.2f} {bottom:.2f}"
    svg.path(d + f"Q{x - bulge:.2f} {frame.axis:.2f} {x:.2f} {top:.2f}Z", "dw-glass")


def _meniscus(svg: Svg, frame: Frame, centre_mm: float, radius_mm: float, half_mm: float) -> None:
    x, top, bottom = frame.x(centre_mm), frame.y(radius_mm), frame.y(-radius_mm)
    bulge, thick = max(2.0, half_mm * frame.scale * 1.4), max(1.5, half_mm * frame.scale * 0.8)
    d = f"M{x:.2f} {top:.2f}Q{x - bulge:.2f} {frame.axis:.2f} {x:.2f} {bottom:.2f}H{x + thick:.2f}"
    svg.path(d + f"Q{x + thick - bulge * 0.6:.2f} {frame.axis:.2f} {x + thick:.2f} {top:.2f}Z", "dw-glass")


def rear_glass_mm(body: Body) -> float:
    """Return where a corrector's last element is drawn, along the train; its true place is hardly known."""
    return body.start_mm + 0.75 * body.length_mm


def _corrector(svg: Svg, frame: Frame, body: Body) -> None:
    _wall(svg, frame, body)
    half = min(3.0, body.length_mm * 0.09)
    _lens(svg, frame, body.start_mm + 0.3 * body.length_mm, body.bore_mm, half)
    _meniscus(svg, frame, rear_glass_mm(body), body.bore_mm, half)


def _filter(svg: Svg, frame: Frame, body: Body) -> None:
    part = body.place.part
    if body.place.sky_connection is not None or body.place.camera_connection is not None:
        _wall(svg, frame, body)
    if isinstance(part, Filter):
        _plate(
            svg, frame, (body.start_mm + body.end_mm) / 2.0, body.bore_mm, sane(nominal(part.thickness_mm))
        )


def _wheel(svg: Svg, frame: Frame, body: Body) -> None:
    part = body.place.part
    if not isinstance(part, FilterWheel):
        return
    a, b = body.start_mm, body.end_mm
    xa, xb = frame.x(a), frame.x(b)
    top, bottom, bore = frame.y(body.above_mm), frame.y(-body.below_mm), body.bore_mm
    svg.rect(xa, top, xb - xa, frame.y(bore) - top, "dw-body dw-body-3")
    svg.rect(xa, frame.y(-bore), xb - xa, bottom - frame.y(-bore), "dw-body dw-body-3")
    at = sane(nominal(part.filter_at_mm))
    if at is not None and at <= body.length_mm:
        along = b - at if body.place.flipped else a + at
    else:
        along = (a + b) / 2.0
    carrier = min(2.5, 0.3 * body.length_mm)
    hole = min(bore, HOLDER_MM.get(part.format or "", 2.0 * bore) / 2.0)
    x, width = frame.x(along - carrier / 2.0), carrier * frame.scale
    svg.rect(x, top + 3.0, width, frame.y(hole) - top - 3.0, "dw-carrier")
    svg.rect(x, frame.y(-hole), width, bottom - frame.y(-hole), "dw-carrier")
    if (part.positions or 5) >= 3:
        svg.line(xa - 2.0, bottom, xb + 2.0, bottom, "dw-break-clear")
        svg.polyline(_torn(xa, xb, bottom), "dw-break")
    inside = body.place.filter_in_beam
    if inside is not None and isinstance(inside.part, Filter):
        _plate(svg, frame, along, hole, sane(nominal(inside.part.thickness_mm)))


def _torn(xa: float, xb: float, y: float) -> list[tuple[float, float]]:
    """Return a break line from left to right: the body goes on beyond it."""
    count = max(2, round((xb - xa) / 8.0))
    step = (xb - xa) / count
    middle = [(xa + step * (i + 0.5), y + (3.0 if i % 2 else -3.0)) for i in range(count)]
    return [(xa - 3.0, y), *middle, (xb + 3.0, y)]


def _guider(svg: Svg, frame: Frame, body: Body) -> None:
    part = body.place.part
    _wall(svg, frame, body)
    if not isinstance(part, OffAxisGuider):
        return
    size = sane(nominal(part.prism_mm)) or min(8.0, max(3.0, body.length_mm * 0.5))
    at = sane(nominal(part.prism_at_mm))
    if at is None or at > body.length_mm:
        at = body.length_mm / 2.0
    along = body.end_mm - at if body.place.flipped else body.start_mm + at
    edge = sane(nominal(part.reach_from_mm)) if frame.prism_edge_mm is None else frame.prism_edge_mm
    low = body.bore_mm - size * 0.6 if edge is None else edge
    half = min(size, max(body.length_mm, 2.0)) / 2.0
    port = min((diameter_of(part.side_port) or 2.0 * size) / 2.0 + 2.0, max(body.length_mm / 2.0, half))
    x, top, wall = frame.x(along), frame.y(body.above_mm), frame.y(body.radius_mm)
    for side in (-1.0, 1.0):
        outer = x + side * port * frame.scale
        inner = x + side * half * 0.9 * frame.scale
        svg.polygon([(outer, wall), (outer, top), (inner, top), (inner, wall)], "dw-body dw-body-3")
    svg.polyline([(x, top - 4.0), (x, frame.y(low + size / 2.0))], "dw-guide-ray")
    corner = [(along - half, low), (along + half, low + size), (along - half, low + size)]
    svg.polygon([(frame.x(u), frame.y(v)) for u, v in corner], "dw-glass")


def _rotator(svg: Svg, frame: Frame, body: Body) -> None:
    _wall(svg, frame, body)
    middle = frame.x((body.start_mm + body.end_mm) / 2.0)
    ball = min(3.5, max(1.0, body.length_mm * frame.scale * 0.2))
    for side in (1.0, -1.0):
        svg.line(middle, frame.y(side * body.bore_mm), middle, frame.y(side * body.radius_mm), "dw-detail")
        svg.circle(middle, frame.y(side * (body.radius_mm + body.bore_mm) / 2.0), ball, "dw-ball")


def _tilter(svg: Svg, frame: Frame, body: Body) -> None:
    _wall(svg, frame, body)
    middle = (body.start_mm + body.end_mm) / 2.0
    lean = min(0.8, body.length_mm * 0.12)
    svg.line(
        frame.x(middle - lean),
        frame.y(body.radius_mm),
        frame.x(middle - lean),
        frame.y(body.bore_mm),
        "dw-gap",
    )
    svg.line(
        frame.x(middle + lean),
        frame.y(-body.bore_mm),
        frame.x(middle + lean),
        frame.y(-body.radius_mm),
        "dw-gap",
    )
    for side in (1.0, -1.0):
        y = frame.y(side * (body.radius_mm + body.bore_mm) / 2.0)
        svg.line(frame.x(body.start_mm), y, frame.x(body.end_mm), y, "dw-detail")


def _focuser(svg: Svg, frame: Frame, body: Body) -> None:
    _wall(svg, frame, body)
    middle = frame.x((body.start_mm + body.end_mm) / 2.0)
    r = min(6.0 * frame.scale, max(3.0, body.length_mm * frame.scale * 0.4))
    svg.circle(middle, frame.y(-body.radius_mm) + r * 0.6, r, "dw-body dw-body-2")
    svg.circle(middle, frame.y(-body.radius_mm) + r * 0.6, r * 0.3, "dw-detail")


def _camera(svg: Svg, frame: Frame, body: Body) -> None:
    part = body.place.part
    if not isinstance(part, BaseCamera):
        return
    a, b, r = body.start_mm, body.end_mm, body.radius_mm
    rear = b + body.back_mm
    chamber = max(body.bore_mm, (sane(part.diagonal_mm) or 0.0) / 2.0 + 4.0)
    chamber = min(chamber, r - 1.5) if r > 3.0 else r
    front = a + min(2.5, body.length_mm * 0.2)
    floor = b + min(1.5, body.back_mm)
    bore = body.bore_mm
    # One ring: down the outside from the upper lip of the throat, and back up along the chamber.
    outline = [
        (a, bore),
        (a, r),
        (rear, r),
        (rear, -r),
        (a, -r),
        (a, -bore),
        (front, -bore),
        (front, -chamber),
    ]
    outline += [(floor, -chamber), (floor, chamber), (front, chamber), (front, bore)]
    svg.polygon([(frame.x(u), frame.y(v)) for u, v in outline], "dw-body dw-body-3")
    if body.back_mm:
        for i in range(1, 6):
            fin = frame.x(rear) - i * min(2.2, body.back_mm * 0.1) * frame.scale
            for side in (1.0, -1.0):
                svg.line(fin, frame.y(side * r), fin, frame.y(side * r * 0.72), "dw-detail")
        svg.torn(frame.x(rear), frame.y(r) - 3.0, frame.y(-r) + 3.0)
    window = sane(nominal(part.window_thickness_mm))
    if window:
        centre = max(a + window / 2.0, min(front + window, b - window))
        _plate(svg, frame, centre, chamber, window)
    diagonal = sane(part.diagonal_mm)
    x = frame.x(b)
    if diagonal:
        svg.rect(x, frame.y(diagonal / 2.0), 3.0, diagonal * frame.scale, "dw-sensor", data_part="sensor")
    else:
        svg.line(x, frame.y(chamber), x, frame.y(-chamber), "dw-sensor-unknown")


def _unknown(svg: Svg, frame: Frame, body: Body) -> None:
    """Write a part of no known length: its stand-in, dashed, so that nobody takes it for a measure."""
    for side in (1.0, -1.0):
        top = frame.y(body.radius_mm) if side > 0 else frame.y(-body.bore_mm)
        height = (body.radius_mm - body.bore_mm) * frame.scale
        svg.rect(frame.x(body.start_mm), top, body.length_mm * frame.scale, height, "dw-body-unknown")
    if isinstance(body.place.part, Filter):
        _filter(svg, frame, body)


PAINTERS: dict[str, Callable[[Svg, Frame, Body], None]] = {
    "corrector": _corrector,
    "filter": _filter,
    "filter_wheel": _wheel,
    "off_axis_guider": _guider,
    "rotator": _rotator,
    "tilt_adjuster": _tilter,
    "focuser": _focuser,
    "camera": _camera,
    "guide_camera": _camera,
}


def paint(svg: Svg, frame: Frame, body: Body, title: str, marks: str = "") -> None:
    """Write one part with its tooltip. `data-mm` holds the length it was drawn from, `marks` more classes."""
    class_ = f"dw-part dw-kind-{body.kind.replace('_', '-')}{marks}"
    svg.open("g", class_=class_, data_place=str(body.place.key))
    svg.words("title", title)
    top = frame.y(body.above_mm)
    svg.rect(
        frame.x(body.start_mm),
        top,
        body.length_mm * frame.scale,
        frame.y(-body.below_mm) - top,
        "dw-hit",
        data_mm=body.length_mm,
        data_known="yes" if body.known else "no",
    )
    if body.known or body.kind in ("camera", "guide_camera"):
        PAINTERS.get(body.kind, _wall)(svg, frame, body)
        _stop(svg, frame, body)
    else:
        _unknown(svg, frame, body)
    if not body.known:
        svg.rect(
            frame.x(body.start_mm),
            frame.y(body.radius_mm),
            body.length_mm * frame.scale,
            2.0 * body.radius_mm * frame.scale,
            "dw-outline-unknown",
        )
        if holds_words(body, frame.scale):
            middle = frame.x((body.start_mm + body.end_mm) / 2.0)
            upright(svg, middle, frame.axis, LENGTH_WORDS, text_width(LENGTH_WORDS))
    svg.close()
