"""A stack of rings as a half section, from the axis up, and the front of all stacks as points.

All stacks of a page share one scale, so that a millimetre is as long in one as in another.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from server.domain.connections import Connection
from server.domain.train import Place, Train
from server.web.drawing.bodies import WALL_MM, Body, bodies_of, diameter_of
from server.web.drawing.labels import BUBBLE_PX, LINE_PX, Label, arrange, text_width
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
    """Return the lines as points, error along and money up; the unbeaten ones bear their numbers."""
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
    for at, ((x, y), here) in enumerate(sorted(spots.items())):
        numbers = [str(point.number) for point in here if point.unbeaten]
        svg.circle(x, y, 5.0 if numbers else 2.5, "dw-front-point" if numbers else "dw-front-beaten")
        if numbers:
            # Neighbours' numbers stand above and below in turn.
            svg.text(
                x,
                y + (16.0 if at % 2 else -8.0),
                ", ".join(numbers),
                "dw-text dw-strong",
                text_anchor="middle",
            )
    svg.close()
    return str(svg)
