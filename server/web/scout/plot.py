"""All combinations as points: two measures across and up, a third as size; the beaten ones faint."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from server.web.drawing.svg import Svg

WIDTH, HEIGHT = 720.0, 380.0
LEFT, RIGHT, TOP, BOTTOM = 76.0, 20.0, 16.0, 44.0
SMALLEST, LARGEST = 4.0, 13.0
MOST_FAINT = 600


@dataclass(frozen=True)
class Point:
    """A combination: its figures, what it is called, where its page is; the latter two of the front alone."""

    x: float
    y: float
    size: float
    name: str = ""
    url: str = ""


@dataclass(frozen=True)
class Axis:
    """An axis: what it shows, its ends, and its ticks with their texts; log where figures span wide."""

    name: str
    low: float
    high: float
    log: bool
    ticks: tuple[tuple[float, str], ...]

    def share(self, value: float) -> float:
        """Where a figure lies, 0 to 1."""
        if self.high <= self.low:
            return 0.5
        if self.log:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)


def scatter_svg(across: Axis, up: Axis, faint: Sequence[Point], front: Sequence[Point], words: str) -> Markup:
    """The plot. Each point of the front is a link with its name."""
    svg = Svg()
    svg.head(WIDTH, HEIGHT, "dw scout-plot", "scout", "Combinations by two measures", words, held=True)

    def place(point: Point) -> tuple[float, float]:
        x = LEFT + across.share(point.x) * (WIDTH - LEFT - RIGHT)
        return x, HEIGHT - BOTTOM - up.share(point.y) * (HEIGHT - TOP - BOTTOM)

    for value, text in across.ticks:
        x = LEFT + across.share(value) * (WIDTH - LEFT - RIGHT)
        svg.line(x, TOP, x, HEIGHT - BOTTOM, "dw-grid")
        svg.text(x, HEIGHT - BOTTOM + 18.0, text, text_anchor="middle")
    for value, text in up.ticks:
        y = HEIGHT - BOTTOM - up.share(value) * (HEIGHT - TOP - BOTTOM)
        svg.line(LEFT, y, WIDTH - RIGHT, y, "dw-grid")
        svg.text(LEFT - 8.0, y + 4.0, text, text_anchor="end")
    svg.text((LEFT + WIDTH - RIGHT) / 2.0, HEIGHT - 6.0, across.name, text_anchor="middle")
    svg.text(4.0, TOP - 4.0, up.name)
    for point in faint[:MOST_FAINT]:
        svg.circle(*place(point), 2.0, "faint")
    svg.close()
    sizes = [point.size for point in front if not math.isnan(point.size)]
    least, most = min(sizes, default=0.0), max(sizes, default=1.0)
    for number, point in enumerate(front, start=1):
        share = 0.5 if math.isnan(point.size) or most <= least else (point.size - least) / (most - least)
        x, y = place(point)
        svg.open("a", href=point.url)
        svg.words("title", point.name)
        svg.circle(x, y, SMALLEST + share * (LARGEST - SMALLEST), "on-front")
        svg.text(x, y - LARGEST - 2.0, str(number), text_anchor="middle")
        svg.close()
    svg.close()
    return Markup(str(svg))


def axis_of(name: str, values: Sequence[float], write: Callable[[float], str]) -> Axis:
    """An axis that holds all values, with three to six round ticks."""
    known = [one for one in values if not math.isnan(one)] or [0.0, 1.0]
    low, high = min(known), max(known)
    log = low > 0.0 and high > 20.0 * low
    if log:
        ticks = [
            step * 10.0**power
            for power in range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
            for step in (1.0, 3.0)
            if low <= step * 10.0**power <= high
        ]
    else:
        pad = 0.06 * (high - low) or max(1.0, abs(high) * 0.1)
        low, high = (max(0.0, low - pad) if low >= 0.0 else low - pad), high + pad
        step = _round_step(high - low)
        first = math.ceil(low / step)
        ticks = [step * nth for nth in range(first, first + 8) if step * nth <= high]
    return Axis(name, low, high, log, tuple((tick, write(tick)) for tick in ticks))


def _round_step(span: float) -> float:
    """A step of 1, 2 or 5 times a power of ten that makes three to seven of them."""
    power = 10.0 ** math.floor(math.log10(span))
    return next(power * part for part in (0.2, 0.5, 1.0, 2.0) if span / (power * part) <= 7.0)
