"""Where labels go so that none covers another: spread along a line, turned where they are too many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

FONT_PX = 13.0
"""Height of the drawing's text, in the drawing's own units; drawing.css sets the same."""

CHARACTER_PX = 0.66 * FONT_PX
"""Room for one character. Digits of common sans fonts are 0.56 to 0.64 of the height wide (from memory)."""

LINE_PX = 16.0
BUBBLE_PX = 24.0


def text_width(text: str) -> float:
    """Return the room that a line of text takes, generously."""
    return len(text) * CHARACTER_PX


def wrap(text: str, width: float) -> list[str]:
    """Return the text in lines that fit `width`; a word longer than that has a line of its own."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if line and text_width(longer) > width:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines


def spread(targets: Sequence[float], widths: Sequence[float], low: float, high: float) -> list[float]:
    """Return centres as near to their targets as they can be without overlapping, in the same order.

    Least squares under the order's constraints: isotonic regression by pooling neighbours (Barlow and
    others 1972, *Statistical Inference under Order Restrictions*, pool adjacent violators; from memory). The
    targets rise. Where all together are wider than the room, the run starts at `low` and goes beyond `high`.
    """
    if not targets:
        return []
    offsets = [0.0]
    for before, after in pairwise(widths):
        offsets.append(offsets[-1] + (before + after) / 2.0)
    blocks: list[tuple[float, int]] = []
    for target, offset in zip(targets, offsets, strict=True):
        mean, count = target - offset, 1
        while blocks and blocks[-1][0] > mean:
            other, size = blocks.pop()
            mean = (mean * count + other * size) / (count + size)
            count += size
        blocks.append((mean, count))
    first = low + widths[0] / 2.0
    last = max(first, high - widths[-1] / 2.0 - offsets[-1])
    flat = [min(max(mean, first), last) for mean, count in blocks for _ in range(count)]
    return [place + offset for place, offset in zip(flat, offsets, strict=True)]


@dataclass(frozen=True)
class Label:
    """A label that wants to stand at `x`. `bubble` labels are numbers in a ring and are never turned."""

    x: float
    text: str
    bubble: bool = False
    key: int | None = None
    class_: str = "dw-text"
    from_y: float = 0.0

    def room(self, turned: bool) -> float:
        """Return the width it takes."""
        if self.bubble:
            return BUBBLE_PX
        return LINE_PX if turned else text_width(self.text) + 10.0


@dataclass(frozen=True)
class Row:
    """Labels placed: their centres, whether the words are turned by a quarter, and how tall the row is."""

    labels: tuple[Label, ...]
    centres: tuple[float, ...]
    turned: bool
    height: float
    right: float


def arrange(labels: Sequence[Label], low: float, high: float) -> Row:
    """Return a row in which no label covers another, words upright where they fit and turned where not."""
    ordered = sorted(labels, key=lambda label: label.x)
    upright = sum(label.room(False) for label in ordered)
    turned = upright > high - low
    widths = [label.room(turned) for label in ordered]
    centres = spread([label.x for label in ordered], widths, low, high)
    words = [text_width(label.text) for label in ordered if not label.bubble]
    height = max([BUBBLE_PX, *words]) if turned else BUBBLE_PX
    right = centres[-1] + widths[-1] / 2.0 if centres else low
    return Row(tuple(ordered), tuple(centres), turned, height, right)
