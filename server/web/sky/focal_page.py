"""Which focal lengths frame one's list: a bar a target, and the tubes of one's shelf among them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from markupsafe import Markup

from server.domain.fields import FieldSpec
from server.domain.findings import Amount
from server.domain.observer import UnitSystem
from server.domain.sky.focal import LEAST_FILL, MOST_FILL, FocalChoice
from server.flow.protocols import RigLine
from server.rim.wording import write_amount
from server.web.drawing.svg import Svg

WIDTH, ROW, LEFT, RIGHT, TOP = 720.0, 26.0, 130.0, 14.0, 26.0
TICKS = (50, 100, 200, 400, 800, 1600, 3200, 6400)
FILL_SPECS: tuple[FieldSpec, ...] = (
    FieldSpec("least", "A target fills at least", "measure", "fraction", 0.01, 1.0, help="Of the frame."),
    FieldSpec("most", "And at most", "measure", "fraction", 0.02, 1.0),
)
USUAL_FILLS = {"least": f"{100 * LEAST_FILL:g} %", "most": f"{100 * MOST_FILL:g} %"}


@dataclass(frozen=True)
class TubeLine:
    """A tube of the shelf, with a corrector or without: its focal length, and what of the list it frames."""

    part_id: int
    name: str
    focal_mm: float
    focal: str
    frames: str


@dataclass(frozen=True)
class FocalPage:
    """The page.

    Attributes:
        rigs, rig_id: whose sensor. sensor: it in words, "" where none is known.
        said: the answer in a sentence or two. picture: None without a target.
        rows: each target's range as text. tubes: those of the shelf, the one that frames most first.
    """

    template: ClassVar[str] = "sky/focal.html"

    rigs: tuple[RigLine, ...]
    rig_id: int | None
    sensor: str
    said: str
    picture: Markup | None
    rows: tuple[tuple[str, ...], ...]
    tubes: tuple[TubeLine, ...]
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    specs: tuple[FieldSpec, ...] = FILL_SPECS

    @property
    def tube_rows(self) -> tuple[tuple[str, ...], ...]:
        """The tubes as a table's rows."""
        return tuple((one.name, one.focal, one.frames) for one in self.tubes)


def focal_text(focal_mm: float, units: UnitSystem) -> str:
    """A focal length to two digits: a target's size is known no better."""
    digits = max(0, math.floor(math.log10(focal_mm)) - 1)
    return write_amount(Amount(value=round(focal_mm, -digits), dimension="length", digits=0), units)


def answer(choice: FocalChoice, units: UnitSystem) -> str:
    """The answer in a sentence or two."""
    if not choice.bars:
        return "No target of your list has a known size."
    count = len(choice.bars)
    if choice.shared_mm is not None:
        low, high = (focal_text(one, units) for one in choice.shared_mm)
        return f"{low} to {high} frame{' all ' + str(count) + ' of them' if count > 1 else 's it'}."
    assert choice.disagree is not None
    one, other = (target.called for target in choice.disagree)
    return f"No one focal length frames all {count}: {one} and {other} disagree. Two rigs, or a mosaic."


def focal_svg(choice: FocalChoice, tubes: Sequence[TubeLine], words: str, units: UnitSystem) -> Markup:
    """Bars on one scale of focal lengths, each doubling as wide."""
    svg = Svg()
    high = TOP + ROW * len(choice.bars) + 44.0
    svg.head(WIDTH, high, "dw focal", "focal", "Focal lengths that frame each target", words)
    low = min(min(one.shortest_mm for one in choice.bars), 100.0) * 0.9
    top = max(max(one.longest_mm for one in choice.bars), 1000.0) * 1.1

    def across(focal_mm: float) -> float:
        share = math.log(min(max(focal_mm, low), top) / low) / math.log(top / low)
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    floor = TOP + ROW * len(choice.bars)
    if choice.shared_mm is not None:
        begin, end = map(across, choice.shared_mm)
        svg.rect(begin, TOP - 6.0, end - begin, floor - TOP + 10.0, "shared")
    for tick in TICKS:
        if low <= tick <= top:
            svg.line(across(tick), TOP - 6.0, across(tick), floor + 4.0, "dw-grid")
            svg.text(across(tick), floor + 20.0, focal_text(tick, units), text_anchor="middle")
    for nth, bar in enumerate(choice.bars):
        y = TOP + ROW * nth
        svg.text(LEFT - 8.0, y + 14.0, bar.target.called, text_anchor="end")
        begin, end = across(bar.shortest_mm), across(bar.longest_mm)
        svg.rect(begin, y + 3.0, max(2.0, end - begin), 14.0, "bar")
    for tube in tubes:
        if low <= tube.focal_mm <= top:
            x = across(tube.focal_mm)
            svg.polygon([(x, floor + 24.0), (x - 5.0, floor + 34.0), (x + 5.0, floor + 34.0)], "tube-mark")
    svg.close()
    return Markup(str(svg))
