"""Where the sensor stands, below the section: the asked back focus as a bracket, and the finished trains.

The bracket ends where the corrector asks for the sensor. There the window that the corrector leaves is drawn
at the section's own scale; it is mostly thinner than a line, so the same is drawn enlarged beside the
bracket's words, how many times being said, with a scale bar.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.checks.tolerances import Band
from server.domain.measure import nominal
from server.domain.parts import Corrector
from server.web.drawing.bodies import UNKNOWN_RADIUS_MM, Body, sane
from server.web.drawing.describe import spacing_words
from server.web.drawing.labels import LINE_PX, text_width, wrap
from server.web.drawing.options import SectionOptions
from server.web.drawing.paint import Frame
from server.web.drawing.svg import Svg
from server.web.drawing.tolerance_bar import draw_bar, reach_mm

GAP = 18.0
PAD = 10.0
BAR_WIDTH = 200.0
ROOM = 246.0
"""The width that the enlarged piece takes, its words included."""
INSET_HEIGHT = 72.0
TIMES = (1, 2, 5, 10, 20, 50, 100, 200, 500)
SHORT_BARS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5)
"""Parts of the section's shortest scale bar that one in the enlarged piece may be long."""


@dataclass(frozen=True)
class Inset:
    """The enlarged piece: how many times the section's scale, and its upper left corner."""

    times: int
    x: float
    y: float


@dataclass(frozen=True)
class Standing:
    """Where the bracket, its words and the enlarged piece lie, and how much height they take together."""

    from_x: float
    to_x: float
    y: float
    lines: tuple[str, ...]
    words_x: float
    inset: Inset | None
    height: float


def standing_of(
    glass: Body | None, options: SectionOptions, frame: Frame, width: float, top: float
) -> Standing | None:
    """Return where everything lies below `top`; None where no corrector asks for a distance."""
    if options.spacing is None or glass is None or not isinstance(glass.place.part, Corrector):
        return None
    lines = tuple(line for words in spacing_words(options) for line in wrap(words, width - 2.0 * PAD))
    height = GAP + LINE_PX * len(lines) + 13.0
    asked = sane(options.spacing.asked_mm) or 0.0
    reference = glass.end_mm - (sane(nominal(glass.place.part.reference_mm)) or 0.0)
    x0, x1, y = frame.x(reference), frame.x(reference + asked), top + GAP
    half = max(text_width(line) for line in lines) / 2.0
    middle = min(max((x0 + x1) / 2.0, PAD + half), width - PAD - half)
    times = None if options.band is None or x1 > width - 2.0 else _times(options.band, frame.scale)
    if times is None:
        return Standing(x0, x1, y, lines, middle, None, height)
    inset: Inset | None
    right, left = middle + half + 10.0, middle - half - 10.0 - ROOM
    if width - PAD - ROOM >= right:
        inset = Inset(times, max(right, min(x1 + 20.0, width - PAD - ROOM)), y + 4.0)
        height = max(height, GAP + INSET_HEIGHT)
    elif left >= PAD:
        inset = Inset(times, left, y + 4.0)
        height = max(height, GAP + INSET_HEIGHT)
    elif not options.enlarged:
        inset = None
    else:
        inset = Inset(times, min(max(x1 - BAR_WIDTH / 2.0, PAD), width - PAD - ROOM), top + height)
        height += INSET_HEIGHT
    return Standing(x0, x1, y, lines, middle, inset, height)


def _times(band: Band, scale: float) -> int | None:
    """The largest enlargement that fits; None where the bar would not even fit at the section's scale."""
    reach = reach_mm(band) * scale
    return max((times for times in TIMES if reach * times <= BAR_WIDTH / 2.0), default=None)


def paint_standing(
    svg: Svg, standing: Standing, glass: Body, frame: Frame, options: SectionOptions, width: float
) -> None:
    """Write bracket, window and enlarged piece. `data-mm` is the asked distance."""
    x0, x1, y, band = standing.from_x, standing.to_x, standing.y, options.band
    assert options.spacing is not None
    if sane(options.spacing.asked_mm) is None:
        return
    svg.open("g", class_="dw-spacing", data_mm=options.spacing.asked_mm)
    svg.line(x0, frame.y(-glass.radius_mm), x0, y + 4.0, "dw-spacing-line")
    if x1 <= width - 2.0:
        svg.line(x1, frame.y(UNKNOWN_RADIUS_MM), x1, y, "dw-ought")
        if band is not None:
            size = (band.short_mm + band.long_mm) * frame.scale
            svg.rect(x1 - band.short_mm * frame.scale, y - 8.0, size, 8.0, "dw-window-true")
        svg.polygon([(x1 - 4.5, y + 8.0), (x1 + 4.5, y + 8.0), (x1, y + 1.0)], "dw-ought-head")
    svg.polyline([(x0, y - 5.0), (x0, y), (x1, y), (x1, y - 5.0)], "dw-bracket")
    for i, line in enumerate(standing.lines):
        at = y + 5.0 + (i + 1) * LINE_PX
        svg.text(standing.words_x, at, line, "dw-text dw-spacing-text", text_anchor="middle")
    svg.close()
    if standing.inset is not None and band is not None:
        _paint_inset(svg, standing.inset, band, frame.scale, options)


def _paint_inset(svg: Svg, inset: Inset, band: Band, scale: float, options: SectionOptions) -> None:
    per_mm = scale * inset.times
    svg.open("g", class_="dw-inset", data_times=inset.times)
    words = "at the sensor, true to scale" if inset.times == 1 else f"at the sensor, {inset.times} × as large"
    svg.text(inset.x, inset.y + 12.0, words, "dw-text dw-muted")
    draw_bar(svg, band, inset.x + BAR_WIDTH / 2.0, inset.y + 35.0, per_mm, BAR_WIDTH, tall=22.0)
    unit = min(options.bar_lengths_mm)
    lengths = [*(unit * part for part in SHORT_BARS), *options.bar_lengths_mm]
    length = max((mm for mm in lengths if mm * per_mm <= BAR_WIDTH / 3.0), default=lengths[0])
    left, foot = inset.x, inset.y + 63.0
    right = left + length * per_mm
    svg.polyline([(left, foot - 4.0), (left, foot), (right, foot), (right, foot - 4.0)], "dw-scale-bar")
    svg.text(right + 6.0, foot + 2.0, options.write_fine(length))
    svg.close()
