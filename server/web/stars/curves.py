"""Curves on two axes, as SVG: lines are told apart by their dashes and named at the side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.domain.measure import percent
from server.web.drawing.labels import text_width
from server.web.drawing.svg import Svg

WIDTH, HEIGHT = 360.0, 230.0
LEFT, RIGHT, TOP, BOTTOM = 48.0, 10.0, 12.0, 34.0
KEY = HEIGHT + 10.0
"""Where the names of the curves begin."""
DASHES = ("dw-curve-1", "dw-curve-2", "dw-curve-3")


@dataclass(frozen=True)
class Curve:
    """Points of a line (x, y) and its name."""

    name: str
    points: Sequence[tuple[float, float]]


def curves_svg(
    title: str, words: str, across: str, curves: Sequence[Curve], largest_x: float, *, id_prefix: str
) -> str:
    """Return a plot of shares (0 to 1 upwards) against x from 0 to `largest_x`, its axis named `across`."""
    svg = Svg()
    wide, high = WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM
    total = KEY + 18.0 * len(curves) + 4.0

    def at(x: float, y: float) -> tuple[float, float]:
        return LEFT + min(1.0, x / largest_x) * wide, TOP + (1.0 - min(1.0, max(0.0, y))) * high

    svg.head(WIDTH, total, "dw", id_prefix, title, words)
    for share in (0.0, 0.5, 1.0):
        x0, y = at(0.0, share)
        svg.line(x0, y, x0 + wide, y, "dw-grid")
        svg.text(LEFT - 6.0, y + 4.0, percent(share), text_anchor="end")
    step = _round_step(largest_x)
    x = 0.0
    while x <= largest_x * 1.0001:
        x0, y0 = at(x, 0.0)
        svg.line(x0, y0, x0, y0 + 4.0, "dw-grid")
        svg.text(x0, y0 + 16.0, f"{x:g}", text_anchor="middle")
        x += step
    # A long name keeps within the picture.
    half = text_width(across) / 2.0 + 2.0
    svg.text(max(half, min(WIDTH - half, LEFT + wide / 2.0)), HEIGHT - 2.0, across, text_anchor="middle")
    for number, curve in enumerate(curves):
        points = [at(x, y) for x, y in curve.points if x <= largest_x]
        svg.polyline(points, DASHES[number % len(DASHES)])
        y = KEY + 18.0 * number + 10.0
        svg.line(LEFT, y - 4.0, LEFT + 34.0, y - 4.0, DASHES[number % len(DASHES)])
        svg.text(LEFT + 42.0, y, curve.name)
    svg.close()
    return str(svg)


def _round_step(largest: float) -> float:
    """A step of 1, 2 or 5 times a power of ten that makes three to seven of them."""
    step = 10.0 ** len(str(int(largest)))
    while largest / step < 3.0:
        for part in (2.0, 2.5, 2.0):
            step /= part
            if largest / step >= 3.0:
                break
    return step
