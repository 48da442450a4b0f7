"""What the section's light, its hatching and its bar at the sensor mean: swatches with words, in lines."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.measure import percent
from server.web.drawing.labels import LINE_PX, text_width, wrap
from server.web.drawing.light import Cone
from server.web.drawing.options import SectionOptions
from server.web.drawing.svg import Svg
from server.web.drawing.tolerance_bar import stays_inside

SWATCH_PX = 22.0
BEFORE_WORDS_PX = SWATCH_PX + 7.0
BETWEEN_PX = 10.0
SHOWN = 0.0005
"""A share that is shown as more than nothing."""


@dataclass(frozen=True)
class Entry:
    """A line of words that begins at `x` on line `line`, behind the swatch `kind` ("" for none)."""

    kind: str
    text: str
    x: float
    line: int


def losses(cone: Cone | None) -> list[str]:
    """What of the light drawn does not arrive, in phrases; none where all of it does or that is not known."""
    if cone is None:
        return []
    found = []
    limit, prism = cone.limit, cone.prism
    if limit is not None:
        found.append(f"{percent(limit.lost)} of the corner's light, mostly at {limit.number}")
    if prism is not None and prism.shades and prism.lost >= SHOWN:
        taken = f"mostly at the prism of {prism.number}" if prism.limits else "mostly at another part"
        found.append(f"{percent(prism.lost)} of the light at the prism's side, {taken}")
    return found


def sides_words(cone: Cone) -> str:
    """Which beams are drawn above and below the axis; "" while the sensor's size is not known."""
    if not cone.sides:
        return ""
    if cone.prism is None:
        return "light to its corner"
    return f"above: light to the middle of the side at the prism of {cone.prism.number}; below: to the corner"


def entries_of(cone: Cone | None, options: SectionOptions, *, bar: bool, room: float) -> tuple[Entry, ...]:
    """Lay out what is to be said in lines of at most `room`; `bar` tells whether a bar is drawn."""
    said: list[tuple[str, str]] = []
    if cone is not None:
        said.append(("axis", "light to the sensor's centre"))
        if cone.sides:
            said.append(("corner", sides_words(cone)))
        said += [("lost", f"does not arrive: {words}") for words in losses(cone)]
    if bar and options.band is not None:
        said += [
            ("window", "where the sensor may stand"),
            ("spread" if stays_inside(options.band) else "spread-out", "19 of 20 trains"),
            ("worst", "worst case"),
        ]
    return _lines(said, room)


def _lines(said: list[tuple[str, str]], room: float) -> tuple[Entry, ...]:
    found: list[Entry] = []
    x, line = 0.0, 0
    for kind, text in said:
        needed = BEFORE_WORDS_PX + text_width(text)
        if x > 0.0 and x + needed > room:
            x, line = 0.0, line + 1
        first, *more = wrap(text, room - BEFORE_WORDS_PX - x)
        found.append(Entry(kind, first, x, line))
        x += needed + BETWEEN_PX
        for words in more:
            line += 1
            found.append(Entry("", words, 0.0, line))
            x = room
    return tuple(found)


def height_of(entries: tuple[Entry, ...]) -> float:
    """Return the height that the lines take."""
    return (entries[-1].line + 1) * LINE_PX + 6.0 if entries else 0.0


def paint_legend(svg: Svg, entries: tuple[Entry, ...], left: float, top: float, prefix: str) -> None:
    """Write the lines, the first one's foot `LINE_PX` below `top`."""
    for entry in entries:
        x, y = left + entry.x, top + (entry.line + 1) * LINE_PX
        svg.text(x + BEFORE_WORDS_PX, y, entry.text, "dw-text dw-muted")
        if entry.kind:
            _swatch(svg, entry.kind, x, y - 10.0, prefix)


def _swatch(svg: Svg, kind: str, x: float, y: float, prefix: str) -> None:
    middle, right = y + 5.0, x + SWATCH_PX
    if kind in ("axis", "corner"):
        svg.rect(x, y, SWATCH_PX, 10.0, f"dw-light-{kind}")
        for edge in (y, y + 10.0):
            svg.line(x, edge, right, edge, f"dw-edge-{kind}")
    elif kind == "lost":
        svg.rect(x, y, SWATCH_PX, 10.0, "dw-light-lost", fill=f"url(#{prefix}-lost)")
    elif kind == "worst":
        svg.line(x, middle, right, middle, "dw-worst")
        for end in (x, right):
            svg.line(end, y + 1.0, end, y + 9.0, "dw-worst")
    else:
        svg.rect(x, y, SWATCH_PX, 10.0, f"dw-{kind}")
