"""A stack of rings as a half section, from the axis up, and the front of all stacks as points.

All stacks of a page share one scale, so that a millimetre is as long in one as in another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from server.domain.connections import Connection
from server.domain.train import Place, Train
from server.web.drawing.bodies import WALL_MM, Body, bodies_of, diameter_of
from server.web.drawing.labels import BUBBLE_PX, FONT_PX, LINE_PX, Label, arrange, text_width
from server.web.drawing.options import SectionOptions
from server.web.drawing.paint import Frame, hatches, paint
from server.web.drawing.section import scale_bar
from server.web.drawing.svg import Svg

WIDTH = 360.0
PAD = 8.0
STUB = 22.0
TALLEST = 150.0
LARGEST_SCALE = 6.0
LEADER = 14.0
FRONT_HEIGHT = 170.0
POINT = 5.0
"""How large a point of the front is; one that is beaten is half of that."""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""


@dataclass(frozen=True)
class StackScale:
    """What all stacks of one page share: drawing units in one mm, and the half height that they need, mm."""

    scale: float
    above_mm: float


def scale_for(stacks: Sequence[tuple[Place, ...]]) -> StackScale:
    """The scale at which the longest and the tallest of these stacks fit."""
    bodies = [bodies_of(Train(places)) for places in stacks if places]
    longest = max((each[-1].end_mm for each in bodies), default=10.0)
    above = max((body.above_mm for each in bodies for body in each), default=27.0) + 4.0
    room = WIDTH - 2.0 * (PAD + STUB)
    return StackScale(min(LARGEST_SCALE, room / max(longest, 1.0), TALLEST / above), above)


def stack_svg(
    ends: tuple[Connection | None, Connection | None],
    places: tuple[Place, ...],
    *,
    shared: StackScale,
    bought: frozenset[int],
    title: str,
    sentences: Sequence[str],
    id_prefix: str,
    options: SectionOptions,
) -> str:
    """Return a stack between its two ends as one SVG element.

    `ends` are the connections that the stack goes onto and that it takes up, `bought` the keys of places
    whose parts would have to be bought; `sentences` say each part in order.
    Numbers under the axis are those of the list beside the drawing.
    """
    bodies = bodies_of(Train(places))
    svg = Svg()
    high = shared.above_mm * shared.scale
    axis = PAD + high
    frame = Frame(PAD + STUB, high, shared.scale, id_prefix)
    end_mm = bodies[-1].end_mm if bodies else 0.0
    row = arrange(
        [
            Label(frame.x((b.start_mm + b.end_mm) / 2.0), str(n), bubble=True, key=b.place.key)
            for n, b in enumerate(bodies, start=1)
        ],
        PAD,
        WIDTH - PAD,
    )
    width = max(WIDTH, row.right + PAD)
    height = axis + LEADER + BUBBLE_PX + 4.0 + LINE_PX
    svg.head(
        width,
        height,
        "dw dw-stack",
        id_prefix,
        title,
        " ".join(sentences) or "Nothing stands between the two ends.",
    )
    hatches(svg, id_prefix)
    # An inner drawing clips what lies below the axis: the lower half is the same.
    svg.open("svg", x=0, y=PAD, width=round(width), height=round(high, 2))
    _stub(svg, frame, diameter_of(ends[0]), -STUB / shared.scale, 0.0, sky=True)
    _stub(svg, frame, diameter_of(ends[1]), end_mm, end_mm + STUB / shared.scale, sky=False)
    for body, sentence in zip(bodies, sentences, strict=True):
        paint(svg, frame, body, sentence)
        if body.place.key in bought:
            _bought(svg, frame, body)
    svg.close()
    svg.line(PAD, axis, frame.x(end_mm) + STUB, axis, "dw-axis")
    for label, x in zip(row.labels, row.centres, strict=True):
        marked = " dw-bubble-bought" if label.key in bought else ""
        y = axis + LEADER + BUBBLE_PX / 2.0
        svg.polyline([(label.x, axis + 2.0), (x, y - BUBBLE_PX / 2.0 + 2.0)], "dw-leader")
        svg.circle(x, y, BUBBLE_PX / 2.0 - 2.0, "dw-bubble" + marked)
        svg.text(x, y + 4.5, label.text, "dw-text dw-bubble-text", text_anchor="middle")
    scale_bar(svg, PAD, height - 6.0, shared.scale, options, WIDTH * 0.6)
    svg.close()
    return str(svg)


def _stub(svg: Svg, frame: Frame, size: float | None, a: float, b: float, *, sky: bool) -> None:
    """Write the face of an end, torn off on its far side."""
    radius = (size or 48.0) / 2.0
    inner, outer = max(1.0, radius - 2.0), radius + WALL_MM
    svg.rect(
        frame.x(a), frame.y(outer), (b - a) * frame.scale, (outer - inner) * frame.scale, "dw-body dw-body-1"
    )
    svg.torn(frame.x(a if sky else b), frame.y(outer) - 3.0, frame.y(inner) + 3.0)


def _bought(svg: Svg, frame: Frame, body: Body) -> None:
    """Write a dashed frame about a part that is bought."""
    top = frame.y(body.radius_mm) - 3.0
    width = max(4.0, body.length_mm * frame.scale)
    middle = frame.x((body.start_mm + body.end_mm) / 2.0)
    svg.rect(middle - width / 2.0, top, width, frame.y(body.bore_mm) - top + 3.0, "dw-bought")


@dataclass(frozen=True)
class FrontPoint:
    """One line of the table: how far off (mm, absolute), its price (hundredths), its number, whether it is
    beaten in nothing.
    """

    error_mm: float
    money: int
    number: int
    unbeaten: bool


def front_svg(
    points: Sequence[FrontPoint], write_length: Callable[[float], str], write_money: Callable[[int], str]
) -> str:
    """Return the lines as points, error along and money up; the unbeaten ones bear their numbers, as far as
    there is room.
    """
    svg = Svg()
    furthest = max([point.error_mm for point in points], default=0.0) or 1.0
    dearest = max([point.money for point in points], default=0)
    left = max(text_width(write_money(dearest)), text_width("0")) + 2.0 * PAD
    bottom = FRONT_HEIGHT - LINE_PX - PAD
    spots: dict[tuple[float, float], list[FrontPoint]] = {}
    for point in points:
        x = left + 18.0 + point.error_mm / furthest * (WIDTH - left - 44.0)
        y = bottom - 22.0 - point.money / (dearest or 1) * (bottom - 46.0)
        spots.setdefault((round(x), round(y)), []).append(point)
    unbeaten = sorted((point for point in points if point.unbeaten), key=lambda point: point.number)
    svg.head(
        WIDTH,
        FRONT_HEIGHT,
        "dw dw-front",
        "front",
        "Error and price of the stacks",
        " ".join(
            f"Number {point.number}: {write_length(point.error_mm)} off, {write_money(point.money)}."
            for point in unbeaten
        ),
    )
    svg.polyline([(left, PAD), (left, bottom), (WIDTH - PAD, bottom)], "dw-ruler dw-front-axes")
    svg.text(left, bottom + LINE_PX, "0")
    svg.text(WIDTH - PAD, bottom + LINE_PX, f"off by {write_length(furthest)}", text_anchor="end")
    for amount in sorted({0, dearest}):
        at = bottom - 22.0 - amount / (dearest or 1) * (bottom - 46.0)
        svg.text(left - 6.0, at + 4.0, write_money(amount), text_anchor="end")
    named: dict[tuple[float, float], list[str]] = {}
    for spot, here in sorted(spots.items()):
        numbers = [str(point.number) for point in here if point.unbeaten]
        if numbers:
            named[spot] = numbers
        svg.circle(*spot, POINT if numbers else POINT / 2.0, f"dw-front-{'point' if numbers else 'beaten'}")
    for x, y, text in _numbers(named, left, bottom):
        svg.text(x, y, text, "dw-text dw-strong", text_anchor="middle")
    svg.close()
    return str(svg)


def _numbers(
    named: Mapping[tuple[float, float], Sequence[str]], left: float, bottom: float
) -> list[tuple[float, float, str]]:
    """Where each point's numbers stand, the best first: clear of all points and of the numbers before them.

    Where there is no room for all the numbers of a point its first stands alone; without any it bears none.
    """
    room = (left, 0.0, WIDTH, bottom)
    taken = [(x - POINT, y - POINT, x + POINT, y + POINT) for x, y in named]
    found = []
    for (x, y), numbers in sorted(named.items(), key=lambda one: int(one[1][0])):
        for text, box in _tries(x, y, numbers):
            if _within(box, room) and not any(_overlap(box, other) for other in taken):
                taken.append(box)
                found.append(((box[0] + box[2]) / 2.0, box[3], text))
                break
    return found


def _tries(x: float, y: float, numbers: Sequence[str]) -> Iterator[tuple[str, Box]]:
    """The texts of a point, each above it, below it and on either side."""
    for text in dict.fromkeys((", ".join(numbers), numbers[0])):
        half = text_width(text) / 2.0
        aside = POINT + 3.0 + half
        for right, foot in ((0.0, -8.0), (0.0, POINT + 2.0 + FONT_PX), (aside, 5.0), (-aside, 5.0)):
            yield text, (x + right - half, y + foot - FONT_PX, x + right + half, y + foot)


def _within(one: Box, other: Box) -> bool:
    return one[0] >= other[0] and one[1] >= other[1] and one[2] <= other[2] and one[3] <= other[3]


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
