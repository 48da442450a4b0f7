"""The whole rig in one strip at its own, smaller scale: the tube with its light, and the train behind it."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.measure import nominal
from server.domain.parts import OpticalTube
from server.domain.train import Place
from server.web.drawing.bodies import Body, sane
from server.web.drawing.svg import Svg

UNKNOWN_APERTURE_MM = 100.0
FOLDED_LENGTH = 0.32
"""A two-mirror tube's length over its focal length while its length is not known; a stand-in."""

_MIRRORS = ("schmidt_cassegrain", "maksutov", "ritchey_chretien", "classical_cassegrain", "dall_kirkham")


@dataclass(frozen=True)
class TubeSize:
    """A tube as the strip draws it, in mm; `known` tells whether both length and diameter are the maker's."""

    length_mm: float
    outer_mm: float
    aperture_mm: float
    known: bool
    design: str


def tube_size(tube: OpticalTube) -> TubeSize:
    """Return the size to draw a tube at, with stand-ins where figures are missing."""
    aperture = sane(nominal(tube.aperture_mm)) or UNKNOWN_APERTURE_MM
    outer = sane(nominal(tube.outer_diameter_mm))
    length = sane(nominal(tube.tube_length_mm))
    design = tube.design or ""
    if length is None or length == 0.0:
        focal = sane(nominal(tube.focal_length_mm)) or 6.0 * aperture
        stand_in = max(focal * (FOLDED_LENGTH if design in _MIRRORS else 0.9), aperture * 0.5)
    else:
        stand_in = length
    known = bool(length) and bool(outer)
    return TubeSize(stand_in, max(outer or aperture * 1.12, aperture), aperture, known, design)


@dataclass(frozen=True)
class Strip:
    """Where the strip lies: its scale (drawing units in one mm), its height and the train's box in it."""

    scale: float
    height: float
    box: tuple[float, float, float, float]


def plan(size: TubeSize, train_mm: float, radius_mm: float, width: float, tallest: float) -> float:
    """Return the strip's scale: the largest at which everything fits `width` and `tallest`."""
    if size.design == "newtonian":
        along, across = size.length_mm, size.outer_mm + train_mm
    else:
        along, across = size.length_mm + train_mm, max(size.outer_mm, 2.0 * radius_mm)
    return min(width / max(along, 1.0), tallest / max(across, 1.0))


def strip_height(tube: Place[OpticalTube], bodies: tuple[Body, ...], width: float, tallest: float) -> float:
    """Return the height that `draw_strip` will take."""
    size = tube_size(tube.part)
    radius, end = _train_size(bodies)
    k = plan(size, end, radius, width, tallest)
    across = size.outer_mm + end if size.design == "newtonian" else max(size.outer_mm, 2.0 * radius)
    return max(across * k, 26.0)


def _train_size(bodies: tuple[Body, ...]) -> tuple[float, float]:
    """Return the train's largest radius and its length, in mm."""
    radius = max((b.radius_mm for b in bodies), default=20.0)
    return radius, bodies[-1].end_mm + bodies[-1].back_mm if bodies else 0.0


def _glass(svg: Svg, x: float, y: float, half: float) -> None:
    bulge = max(3.0, half * 0.22)
    d = f"M{x:.2f} {y - half:.2f}Q{x + bulge:.2f} {y:.2f} {x:.2f} {y + half:.2f}"
    svg.path(d + f"Q{x - bulge:.2f} {y:.2f} {x:.2f} {y - half:.2f}Z", "dw-glass")


def _mirror(svg: Svg, x: float, y: float, half: float, bend: float) -> None:
    svg.path(f"M{x:.2f} {y - half:.2f}Q{x + bend:.2f} {y:.2f} {x:.2f} {y + half:.2f}", "dw-mirror")


def draw_strip(
    svg: Svg,
    tube: Place[OpticalTube],
    bodies: tuple[Body, ...],
    x: float,
    top: float,
    width: float,
    tallest: float,
) -> Strip:
    """Write the strip, its upper left corner at `x` and `top`; return where things came to lie."""
    part = tube.part
    size = tube_size(part)
    radius, end = _train_size(bodies)
    k = plan(size, end, radius, width, tallest)
    length, outer, half = size.length_mm * k, size.outer_mm * k, size.aperture_mm * k / 2.0
    sideways = size.design == "newtonian"
    height = (size.outer_mm + end) * k if sideways else max(outer, 2.0 * radius * k)
    axis = top + height - outer / 2.0 if sideways else top + height / 2.0
    svg.open("g", class_="dw-strip")
    svg.rect(
        x,
        axis - outer / 2.0,
        length,
        outer,
        "dw-tube" if size.known else "dw-tube dw-dashed",
        data_mm=size.length_mm,
    )
    if sideways:
        box = _newtonian(svg, bodies, x, axis, k, length, outer, half, radius)
    else:
        _straight(svg, size, x, axis, length, half, end * k)
        for b in bodies:
            r = b.radius_mm * k
            back = (b.length_mm + b.back_mm) * k
            svg.rect(x + length + b.start_mm * k, axis - r, back, 2.0 * r, "dw-mini")
        box = (x + length, axis - radius * k, end * k, 2.0 * radius * k)
    svg.close()
    return Strip(k, height, box)


def _straight(
    svg: Svg, size: TubeSize, x: float, axis: float, length: float, half: float, behind: float
) -> None:
    rear = x + length
    focus = rear + behind
    if size.design in _MIRRORS:
        front, back = x + length * 0.12, x + length * 0.94
        small = half * 0.32
        for side in (-1.0, 1.0):
            ray = [(x - 8.0, axis + side * half * 0.92), (back, axis + side * half * 0.92)]
            svg.polyline([*ray, (front, axis + side * small * 0.85), (focus, axis)], "dw-ray")
            svg.line(back, axis + side * half, back, axis + side * half * 0.3, "dw-mirror")
        _mirror(svg, front, axis, small, 4.0)
        if size.design in ("schmidt_cassegrain", "maksutov"):
            svg.line(x + length * 0.08, axis - half, x + length * 0.08, axis + half, "dw-plate")
        return
    lens = x + min(length * 0.08, 14.0)
    for side in (-1.0, 1.0):
        svg.polyline([(x - 8.0, axis + side * half), (lens, axis + side * half), (focus, axis)], "dw-ray")
    _glass(svg, lens, axis, half)


def _newtonian(
    svg: Svg,
    bodies: tuple[Body, ...],
    x: float,
    axis: float,
    k: float,
    length: float,
    outer: float,
    half: float,
    radius: float,
) -> tuple[float, float, float, float]:
    """Write mirror, flat and the train at the tube's side; return the train's box."""
    flat, back = x + length * 0.16 + radius * k, x + length * 0.95
    wall = axis - outer / 2.0
    end = (bodies[-1].end_mm + bodies[-1].back_mm) * k if bodies else 0.0
    sensor = wall - (bodies[-1].end_mm * k if bodies else 0.0)
    for side in (-1.0, 1.0):
        start = [(x - 8.0, axis + side * half * 0.94), (back - 2.0, axis + side * half * 0.94)]
        svg.polyline([*start, (flat + side * half * 0.2, axis + side * half * 0.2), (flat, sensor)], "dw-ray")
    _mirror(svg, back, axis, half, 5.0)
    svg.line(flat - half * 0.26, axis - half * 0.26, flat + half * 0.26, axis + half * 0.26, "dw-mirror")
    for b in bodies:
        r, height = b.radius_mm * k, (b.length_mm + b.back_mm) * k
        svg.rect(flat - r, wall - b.start_mm * k - height, 2.0 * r, height, "dw-mini")
    return (flat - radius * k, wall - end, 2.0 * radius * k, end)
