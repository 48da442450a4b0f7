"""The loaded tube from the side, to one scale: masses, balance point, clamp, and the bar with its weights.

The declination axis stands upright in the picture, so that the counterweight bar lies below the saddle in its
true length, and the polar axis runs across, between the two.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from server.domain.load.sheet import BalanceSheet, Body, WeightAt
from server.web.drawing.labels import text_width
from server.web.drawing.svg import Svg

WIDTH, LEFT, RIGHT = 640.0, 20.0, 20.0
HIGHEST = 190.0
"""Of the picture at most, without its words."""
ROOM_ABOVE, ROW, ROOM_BELOW = 46.0, 13.0, 62.0
"""For the words above, one row of numbers, and the scale and its words below."""
ONE_PLACE, ROOM = 3.0, 4.0
"""Numbers nearer than this stand in one text, and texts so far apart."""
ROD, CLAMP = 8.0, 32.0
"""How wide the bar and the saddle are drawn: nobody knows their widths."""
UNSAID_RADIUS_MM = 40.0
"""Of a tube of unknown width."""
BARS_MM = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
"""Lengths of a scale bar."""


@dataclass(frozen=True)
class SideView:
    """What the picture shows besides the masses.

    Attributes:
        tube_mm: the tube's length; radius_mm: half its width; above_mm: its axis above the saddle.
        saddle_mm: the saddle's face above the polar axis.
        between_mm: between which the whole balances, where that is not known but by what is assumed.
        bars_mm: lengths that a scale bar may have, shortest first.
    All but the last None while not known.
    """

    tube_mm: float | None = None
    radius_mm: float | None = None
    above_mm: float | None = None
    saddle_mm: float | None = None
    between_mm: tuple[float, float] | None = None
    bars_mm: tuple[float, ...] = BARS_MM


@dataclass(frozen=True)
class _Frame:
    """Where everything lies in the picture. Heights are above the saddle's face.

    Attributes:
        low_mm, high_mm: from where to where it reaches along the tube; top_mm, foot_mm: and upright.
        scale: drawing units of a millimetre; head: where its top lies; row_foot: the lowest row of numbers.
        axis_mm: the tube's axis; radius_mm: half its width.
        heights, radii: of each body's circle, radii in drawing units; numbers: see `_numbers`.
    """

    low_mm: float
    high_mm: float
    top_mm: float
    foot_mm: float
    scale: float
    head: float
    row_foot: float
    axis_mm: float
    radius_mm: float
    heights: list[float]
    radii: list[float]
    numbers: list[tuple[float, int, str]]

    def x(self, mm: float) -> float:
        return LEFT + (mm - self.low_mm) * self.scale

    def y(self, mm: float) -> float:
        return self.head + (self.top_mm - mm) * self.scale


def _frame(sheet: BalanceSheet, view: SideView) -> _Frame:
    bodies = sheet.bodies
    radius_mm = view.radius_mm or UNSAID_RADIUS_MM
    axis_mm = radius_mm if view.above_mm is None else view.above_mm
    ends = [b.along_mm + s * b.length_mm / 2.0 for b in bodies for s in (-1.0, 1.0)]
    ends += [value for value in (sheet.centre_mm, sheet.clamp_mm) if value is not None]
    low_mm = min(0.0, *ends)
    high_mm = max(view.tube_mm or 0.0, low_mm + 1.0, *ends)
    heights = [axis_mm if b.above_mm is None else b.above_mm for b in bodies]
    top_mm = max(axis_mm + radius_mm, *heights)
    foot_mm = min(0.0, axis_mm - radius_mm, *heights)
    if view.saddle_mm is not None:
        bar_end = None if sheet.bar is None else sheet.bar.bar_end_mm
        foot_mm = min(foot_mm, -view.saddle_mm - (bar_end or 0.0))
    scale = min((WIDTH - LEFT - RIGHT) / (high_mm - low_mm), HIGHEST / (top_mm - foot_mm))
    numbers = _numbers([LEFT + (body.along_mm - low_mm) * scale for body in bodies])
    heaviest = _heaviest(sheet)
    radii = [5.0 + 15.0 * (b.mass_kg / heaviest) ** 0.5 for b in bodies]
    # A circle may stand out above the highest place.
    out: float = max(0.0, *(r - (top_mm - mm) * scale for r, mm in zip(radii, heights, strict=True)))
    head = ROOM_ABOVE + ROW * (1 + max(row for _, row, _ in numbers)) + out
    return _Frame(
        low_mm,
        high_mm,
        top_mm,
        foot_mm,
        scale,
        head,
        head - out - 8.0,
        axis_mm,
        radius_mm,
        heights,
        radii,
        numbers,
    )


def _heaviest(sheet: BalanceSheet) -> float:
    return max(b.mass_kg for b in sheet.bodies) or 1.0


def balance_svg(
    sheet: BalanceSheet,
    view: SideView,
    write_length: Callable[[float], str],
    write_mass: Callable[[float], str],
) -> str:
    """Return the side view as SVG; "" where no mass has a known place.

    Lengths, heights and the bar are to one scale as far as they are known; circles have the area of their
    masses, and the widths of saddle, bar and weights are indicative. The numbers are those of `key_of`.
    """
    if not sheet.bodies:
        return ""
    frame = _frame(sheet, view)
    x, y, scale = frame.x, frame.y, frame.scale
    foot = y(frame.foot_mm)
    svg = Svg()
    svg.head(
        WIDTH,
        foot + ROOM_BELOW,
        "dw",
        "balance",
        "Balance of the loaded tube, from the side",
        words_of(sheet, view, write_length, write_mass),
    )
    at = x(sheet.clamp_mm if sheet.clamp_mm is not None else sheet.centre_mm or 0.0)
    if view.saddle_mm is not None:
        polar = y(-view.saddle_mm)
        svg.line(at, y(0.0), at, polar, "dw-axis")
        svg.line(x(frame.low_mm), polar, x(frame.high_mm), polar, "dw-axis")
        svg.text(x(frame.low_mm), polar - 4.0, "polar axis")
        _bar(
            svg,
            sheet,
            scale,
            at,
            polar,
            lambda weight: f"{write_mass(weight.mass_kg)} at {write_length(weight.at_mm)}",
        )
    if view.tube_mm:
        width, height = view.tube_mm * scale, 2.0 * frame.radius_mm * scale
        svg.rect(x(0.0), y(frame.axis_mm + frame.radius_mm), width, height, "dw-body dw-body-1")
    svg.line(x(frame.low_mm), y(frame.axis_mm), x(frame.high_mm), y(frame.axis_mm), "dw-axis")
    if view.between_mm is not None:
        low, high = (x(mm) for mm in view.between_mm)
        svg.polyline([(low, 26.0), (low, 20.0), (high, 20.0), (high, 26.0)], "dw-scale-bar")
        ends = [write_length(mm) for mm in view.between_mm]
        _over(svg, (low + high) / 2.0, f"balances between {ends[0]} and {ends[1]}")
    elif sheet.centre_mm is not None:
        middle = x(sheet.centre_mm)
        svg.line(middle, 20.0, middle, y(0.0), "dw-limit")
        _over(svg, middle, f"balances at {write_length(sheet.centre_mm)}")
    _masses(svg, sheet, frame)
    if sheet.clamp_mm is not None:
        svg.rect(at - CLAMP / 2.0, y(0.0), CLAMP, 8.0, "dw-body dw-body-2")
        svg.text(at + CLAMP / 2.0 + 6.0, y(0.0) + 10.0, "clamp")
    _scale(svg, scale, foot + 26.0, view.bars_mm, write_length)
    svg.close()
    return str(svg)


def _over(svg: Svg, middle: float, words: str) -> None:
    """Words above all, over their place as far as the picture is wide."""
    half = text_width(words) / 2.0 + ROOM
    svg.text(min(WIDTH - half, max(half, middle)), 14.0, words, text_anchor="middle")


def _bar(
    svg: Svg, sheet: BalanceSheet, scale: float, at: float, polar: float, words: Callable[[WeightAt], str]
) -> None:
    """The bar below the polar axis, with its weights and what else rides on it."""
    bar = sheet.bar
    if bar is None or bar.bar_end_mm is None:
        return
    start = polar + (bar.bar_start_mm or 0.0) * scale
    svg.line(at, polar, at, start, "dw-axis")
    svg.rect(at - ROD / 2.0, start, ROD, polar + bar.bar_end_mm * scale - start, "dw-body dw-body-1")
    for weight in (*bar.weights, *bar.riders):
        thick = max(3.0, weight.thickness_mm * scale)
        wide = max(22.0, 44.0 * min(1.0, weight.mass_kg / _heaviest(sheet)) ** 0.5)
        middle = polar + weight.at_mm * scale
        svg.rect(at - wide / 2.0, middle - thick / 2.0, wide, thick, "dw-body dw-body-2")
        svg.text(at + wide / 2.0 + 6.0, middle + 4.0, words(weight))


def _masses(svg: Svg, sheet: BalanceSheet, frame: _Frame) -> None:
    """Each mass as a circle, the largest at the back, and its number above the tube."""
    x, y = frame.x, frame.y
    circles = zip(sheet.bodies, frame.heights, frame.radii, strict=True)
    for body, height, radius in sorted(circles, key=lambda one: -one[2]):
        svg.circle(x(body.along_mm), y(height), radius, "dw-mass")
    tops = [(x(body.along_mm), y(height)) for body, height in zip(sheet.bodies, frame.heights, strict=True)]
    for place, row, text in frame.numbers:
        above = frame.row_foot - ROW * row
        reach = max(top for at, top in tops if abs(at - place) < ONE_PLACE)
        svg.line(place, reach, place, above + 3.0, "dw-leader")
        svg.text(place, above, text, "dw-text dw-bubble-text", text_anchor="middle")


def _scale(
    svg: Svg, scale: float, foot: float, bars_mm: tuple[float, ...], write_length: Callable[[float], str]
) -> None:
    """A scale bar, and what is not to it."""
    length = max((mm for mm in bars_mm if mm * scale <= WIDTH / 4.0), default=bars_mm[0])
    end = LEFT + length * scale
    svg.polyline([(LEFT, foot - 4.0), (LEFT, foot), (end, foot), (end, foot - 4.0)], "dw-scale-bar")
    svg.text(end + 6.0, foot + 2.0, write_length(length))
    svg.text(
        LEFT,
        foot + 22.0,
        "Circles have the area of their masses; widths of saddle, bar and weights are indicative.",
        "dw-text dw-muted",
    )


def _numbers(places: list[float]) -> list[tuple[float, int, str]]:
    """Where each body's number stands, its row above the tube, and the numbers: those of one place in one
    text, texts that would touch in rows above one another.
    """
    shared: list[tuple[float, list[int]]] = []
    for number, at in sorted(enumerate(places, start=1), key=lambda one: (one[1], one[0])):
        if shared and at - shared[-1][0] < ONE_PLACE:
            shared[-1][1].append(number)
        else:
            shared.append((at, [number]))
    ends: list[float] = []
    found = []
    for at, numbers in shared:
        text = ", ".join(str(number) for number in sorted(numbers))
        half = text_width(text) / 2.0
        row = next((row for row, end in enumerate(ends) if at - half > end + ROOM), len(ends))
        ends[row : row + 1] = [at + half]
        found.append((at, row, text))
    return found


def key_of(
    sheet: BalanceSheet, write_length: Callable[[float], str], write_mass: Callable[[float], str]
) -> tuple[str, ...]:
    """What each number of the picture stands for, from 1."""
    return tuple(
        f"{body.name}: {write_mass(body.mass_kg)} at {write_length(body.along_mm)}"
        + _assumed(body, write_length)
        for body in sheet.bodies
    )


def _assumed(body: Body, write_length: Callable[[float], str]) -> str:
    if body.basis != "assumed":
        return ""
    if body.between_mm is None:
        return " (its middle, assumed)"
    low, high = map(write_length, body.between_mm)
    return " (assumed)" if low == high else f" (assumed, {low.partition(' ')[0]} to {high})"


def words_of(
    sheet: BalanceSheet,
    view: SideView,
    write_length: Callable[[float], str],
    write_mass: Callable[[float], str],
) -> str:
    """The picture in words."""
    said = [
        f"{b.name}, {write_mass(b.mass_kg)}, {write_length(b.along_mm)} from the front" for b in sheet.bodies
    ]
    found = "; ".join(said) + "."
    if view.between_mm is not None:
        low, high = map(write_length, view.between_mm)
        found += f" Together they balance between {low} and {high} from the front."
    elif sheet.centre_mm is not None:
        found += f" Together they balance {write_length(sheet.centre_mm)} from the front."
    if sheet.bar is not None and sheet.bar.weights:
        found += " On the bar: " + ", ".join(
            f"{w.name} {write_length(w.at_mm)} from the polar axis" for w in sheet.bar.weights
        )
        found += "."
    return found
