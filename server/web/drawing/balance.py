"""The loaded tube from the side, to scale along its axis: masses, balance point and clamp; the bar with its
weights.
"""

from __future__ import annotations

from collections.abc import Callable

from server.domain.load.sheet import BalanceSheet
from server.web.drawing.labels import text_width
from server.web.drawing.svg import Svg

WIDTH, LEFT, RIGHT = 640.0, 20.0, 20.0
ROOM_ABOVE = 82.0
"""From the picture's top to the axis, without the rows of numbers."""
ONE_PLACE, ROOM = 3.0, 4.0
"""Numbers nearer than this stand in one text, and texts so far apart."""


def balance_svg(
    sheet: BalanceSheet,
    tube_mm: float | None,
    write_length: Callable[[float], str],
    write_mass: Callable[[float], str],
) -> str:
    """Return the side view as SVG; "" where no mass has a known place.

    Circles have the area of their masses; the tube's outline is as long as it is, its height is indicative.
    The numbers are those of `key_of`.
    """
    if not sheet.bodies:
        return ""
    ends = [b.along_mm + s * b.length_mm / 2.0 for b in sheet.bodies for s in (-1.0, 1.0)]
    low, high = min(0.0, *ends), max(tube_mm or 0.0, *ends)
    marks = [value for value in (sheet.centre_mm, sheet.clamp_mm) if value is not None]
    low, high = min([low, *marks]), max([high, *marks, low + 1.0])
    scale = (WIDTH - LEFT - RIGHT) / (high - low)

    def x(mm: float) -> float:
        return LEFT + (mm - low) * scale

    numbers = _numbers([x(body.along_mm) for body in sheet.bodies])
    axis_y = ROOM_ABOVE + 13.0 * (1 + max(row for _, row, _ in numbers))
    bar = sheet.bar
    weights = bar.weights if bar is not None else ()
    foot = axis_y + 70.0
    height = foot + (70.0 if weights else 0.0)
    heaviest = max(b.mass_kg for b in sheet.bodies) or 1.0
    svg = Svg()
    svg.open(
        "svg",
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:.0f} {height:.0f}",
        width=round(WIDTH),
        height=round(height),
        class_="dw",
        role="img",
        aria_labelledby="balance-title",
        aria_describedby="balance-desc",
    )
    svg.words("title", "Balance of the loaded tube, from the side", id="balance-title")
    svg.words("desc", words_of(sheet, write_length, write_mass), id="balance-desc")
    if tube_mm:
        svg.rect(x(0.0), axis_y - 34.0, tube_mm * scale, 68.0, "dw-body dw-body-1")
    svg.line(x(low), axis_y, x(high), axis_y, "dw-axis")
    for body in sorted(sheet.bodies, key=lambda one: -one.mass_kg):
        radius, at = 5.0 + 21.0 * (body.mass_kg / heaviest) ** 0.5, x(body.along_mm)
        svg.circle(at, axis_y, radius, "dw-mass")
    for at, row, text in numbers:
        top = axis_y - 42.0 - 13.0 * row
        svg.line(at, axis_y, at, top + 3.0, "dw-leader")
        svg.text(at, top, text, "dw-text dw-bubble-text", text_anchor="middle")
    if sheet.clamp_mm is not None:
        at = x(sheet.clamp_mm)
        svg.rect(at - 16.0, axis_y + 36.0, 32.0, 12.0, "dw-body dw-body-2")
        svg.text(at, axis_y + 62.0, "clamp", text_anchor="middle")
    if sheet.centre_mm is not None:
        at = x(sheet.centre_mm)
        svg.line(at, 20.0, at, axis_y + 50.0, "dw-limit")
        svg.text(at, 16.0, f"balances at {write_length(sheet.centre_mm)}", text_anchor="middle")
    if bar is not None and weights and bar.bar_end_mm:
        top = foot + 18.0
        along = (WIDTH - LEFT - RIGHT - 150.0) / bar.bar_end_mm
        svg.line(LEFT, top, LEFT + bar.bar_end_mm * along, top, "dw-worst")
        svg.text(LEFT, top + 28.0, "polar axis")
        for weight in weights:
            wide = max(4.0, weight.thickness_mm * along)
            svg.rect(LEFT + weight.at_mm * along - wide / 2.0, top - 14.0, wide, 28.0, "dw-body dw-body-2")
            svg.text(
                LEFT + weight.at_mm * along, top + 28.0, write_length(weight.at_mm), text_anchor="middle"
            )
    svg.close()
    return str(svg)


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
        + (" (its middle, assumed)" if body.basis == "assumed" else "")
        for body in sheet.bodies
    )


def words_of(
    sheet: BalanceSheet, write_length: Callable[[float], str], write_mass: Callable[[float], str]
) -> str:
    """The picture in words."""
    said = [
        f"{b.name}, {write_mass(b.mass_kg)}, {write_length(b.along_mm)} from the front" for b in sheet.bodies
    ]
    found = "; ".join(said) + "."
    if sheet.centre_mm is not None:
        found += f" Together they balance {write_length(sheet.centre_mm)} from the front."
    if sheet.bar is not None and sheet.bar.weights:
        found += " On the bar: " + ", ".join(
            f"{w.name} {write_length(w.at_mm)} from the polar axis" for w in sheet.bar.weights
        )
        found += "."
    return found
