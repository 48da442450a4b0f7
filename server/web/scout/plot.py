"""All combinations as points: two measures across and up, a third as size; the beaten ones faint."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from server.web.drawing.svg import Svg

WIDTH, HEIGHT = 1120.0, 440.0
LEFT, RIGHT, TOP, BOTTOM = 92.0, 20.0, 28.0, 52.0
SMALLEST, LARGEST = 4.0, 13.0
INSET = LARGEST + 4.0
"""So far inside the grid the outermost points lie, that no circle hangs over what is written at its edge."""
MOST_FAINT = 600
DIGIT, TALL = 9.0, 14.0
"""How wide a digit of a number is, and how tall, at the size of the writing."""
AWAY = (3.0, 14.0, 28.0)
"""So far from its circle a number is tried, near before far."""
ROUND = tuple((math.sin(turn), -math.cos(turn)) for turn in (math.pi / 4.0 * nth for nth in range(8)))
"""Ways to go from a circle, above it first."""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""


@dataclass(frozen=True)
class Point:
    """A combination: its figures; of the front also what it is called, where its page is, its key and its
    number in the table, 0 where that does not show it.
    """

    x: float
    y: float
    size: float
    name: str = ""
    url: str = ""
    key: str = ""
    number: int = 0


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

    def right(value: float) -> float:
        return LEFT + INSET + across.share(value) * (WIDTH - LEFT - RIGHT - 2.0 * INSET)

    def down(value: float) -> float:
        return HEIGHT - BOTTOM - INSET - up.share(value) * (HEIGHT - TOP - BOTTOM - 2.0 * INSET)

    for value, text in across.ticks:
        x = right(value)
        svg.line(x, TOP, x, HEIGHT - BOTTOM, "dw-grid")
        svg.text(x, HEIGHT - BOTTOM + 19.0, text, text_anchor="middle")
    for value, text in up.ticks:
        y = down(value)
        svg.line(LEFT, y, WIDTH - RIGHT, y, "dw-grid")
        svg.text(LEFT - 8.0, y + 5.0, text, text_anchor="end")
    svg.text((LEFT + WIDTH - RIGHT) / 2.0, HEIGHT - 6.0, across.name, text_anchor="middle")
    svg.text(4.0, TOP - 12.0, up.name)
    for point in faint[:MOST_FAINT]:
        svg.circle(right(point.x), down(point.y), 2.0, "faint")
    svg.close()
    circles = [
        (right(point.x), down(point.y), radius) for point, radius in zip(front, _radii(front), strict=True)
    ]
    places = _numbers(circles, [len(str(point.number)) if point.number else 0 for point in front])
    for point, (x, y, radius), box in zip(front, circles, places, strict=True):
        svg.open("a", href=point.url)
        svg.words("title", point.name)
        svg.circle(x, y, radius, "on-front")
        if box is not None:
            across_it, foot = (box[0] + box[2]) / 2.0, box[3] - 2.0
            if math.dist((x, y), (across_it, foot - TALL / 2.0)) > radius + AWAY[1]:
                svg.line(x, y, min(max(x, box[0]), box[2]), min(max(y, box[1]), box[3]), "lead")
            svg.text(across_it, foot, str(point.number), text_anchor="middle")
        svg.close()
    # Filled once the bench has looked: over all circles, out of the way of the links below.
    for point, (x, y, _) in zip(front, circles, strict=True):
        mark = f"plot-stop-{point.key}"
        svg.words("text", "", id=mark, class_="plot-stop", x=x, y=y + 5.5, text_anchor="middle")
    svg.close()
    return Markup(str(svg))


def _radii(front: Sequence[Point]) -> list[float]:
    """How large each is drawn, by its third figure; the middle for one that is not known."""
    sizes = [point.size for point in front if not math.isnan(point.size)]
    least, most = min(sizes, default=0.0), max(sizes, default=0.0)
    shares = (
        0.5 if math.isnan(point.size) or most <= least else (point.size - least) / (most - least)
        for point in front
    )
    return [SMALLEST + share * (LARGEST - SMALLEST) for share in shares]


def _numbers(circles: Sequence[tuple[float, float, float]], digits: Sequence[int]) -> list[Box | None]:
    """Where the number of each circle stands, clear of all circles and of the numbers before it as far as
    there is room; None for one without digits.
    """
    taken: list[Box] = [(x - r, y - r, x + r, y + r) for x, y, r in circles]
    found: list[Box | None] = []
    for (x, y, radius), count in zip(circles, digits, strict=True):
        half, tall = DIGIT * count / 2.0, TALL / 2.0
        tried = []
        for away in AWAY:
            for right, down in ROUND:
                mx, my = x + right * (radius + away + half), y + down * (radius + away + tall)
                tried.append((mx - half, my - tall, mx + half, my + tall))
        box = min(tried, key=lambda one: sum(_shared(one, other) for other in taken) + _outside(one))
        found.append(box if count else None)
        if count:
            taken.append(box)
    return found


def _shared(one: Box, other: Box) -> float:
    """The area that two boxes share."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    tall = min(one[3], other[3]) - max(one[1], other[1])
    return max(0.0, wide) * max(0.0, tall)


def _outside(one: Box) -> float:
    """How far a box reaches out of the grid, told so that it counts more than what it would cover inside."""
    over = (LEFT - one[0], TOP - one[1], one[2] - WIDTH + RIGHT, one[3] - HEIGHT + BOTTOM)
    return 1000.0 * sum(max(0.0, side) for side in over)


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
