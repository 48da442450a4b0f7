"""What a page hands to a drawing besides the rig."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from server.domain.checks.tolerances import Band
from server.domain.observer import UnitSystem

DRAWING_CSS_FILE = "css/drawing/drawing.css"
"""The drawings' stylesheet below `static/`; a self-contained file holds its text in a style element."""


def millimetres(length_mm: float) -> str:
    """Return a length as metric readers want it: two decimals at most, with its unit."""
    return f"{round(length_mm, 2) + 0.0:g} mm" if abs(length_mm) < 1e5 else f"{length_mm:.3g} mm"


@dataclass(frozen=True)
class SpacingMark:
    """The back focus a corrector asks for, and the one it has: reference shoulder to sensor, in mm.

    `asked_mm` allows for the glass behind the corrector; `actual_mm` is None while a length is not known.
    """

    asked_mm: float
    actual_mm: float | None = None


@dataclass(frozen=True)
class LimitMark:
    """The opening that takes most of what the sensor's corners lose.

    Attributes:
        key, number: its part's place, and that place's number in the run.
        at_mm, half_mm: its distance before the sensor, and half its width in the section's plane.
        lost: the share of a full cone that the corners lose, 0 to 1.
    """

    key: int
    number: int
    at_mm: float
    half_mm: float
    lost: float


@dataclass(frozen=True)
class PrismMark:
    """An off-axis guider's prism, as the light is worked out with it.

    Attributes:
        key, number: the guider's place, and that place's number in the run.
        far_mm, near_mm: its two faces, distances before the sensor.
        edge_mm: how near the axis its edge comes.
        height_mm: from the axis to the middle of the sensor's side at which it stands.
        shades: whether it stands in the light of that side.
        lost: the share of a full cone that this point loses, 0 to 1, whatever takes it.
        limits: whether the prism takes most of it.
    """

    key: int
    number: int
    far_mm: float
    near_mm: float
    edge_mm: float
    height_mm: float
    shades: bool
    lost: float
    limits: bool


LARGEST_SCALE = 14.0


@dataclass(frozen=True)
class SectionOptions:
    """How a section is drawn.

    Attributes:
        write_length: writes a length in mm for the reader, with its unit.
        units: those that the reader reads.
        width: width in drawing units, which are CSS pixels at full size; many labels make it wider.
        side: width of a column on the right that takes the strip and the legend; 0 puts them above and below.
        enlarged: whether what stands at the sensor is drawn enlarged even where that takes a row of its own.
        id_prefix: begins every id; letters, digits and hyphens; unique on the page.
        narrow: lay the same train out for a phone, 360 wide, text of the same size.
        highlight: key of the place that stands out.
        spacing: asked and actual back focus, None where they are not known.
        limit: the opening that takes most of the corner's light; None where all of it passes or nothing is
            known.
        prism: the guider's prism, None where none is drawn or its place is not known.
        band: where the finished trains' sensors stand, None where no tolerance is known.
        write_fine: as `write_length`, with a digit more, for what `band` shows.
        links: link each number to `#place-KEY`.
        bar_lengths_mm: lengths a scale bar may have.
        most_scale: at most so many drawing units in one mm, so that several are drawn alike.
    """

    write_length: Callable[[float], str] = millimetres
    units: UnitSystem = "metric"
    width: float = 960.0
    side: float = 0.0
    enlarged: bool = True
    id_prefix: str = "section"
    most_scale: float = LARGEST_SCALE
    narrow: bool = False
    highlight: int | None = None
    spacing: SpacingMark | None = None
    limit: LimitMark | None = None
    prism: PrismMark | None = None
    band: Band | None = None
    write_fine: Callable[[float], str] = millimetres
    links: bool = True
    bar_lengths_mm: tuple[float, ...] = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0)

    @property
    def takers(self) -> tuple[int, ...]:
        """The places that take light: that of the limiting opening, and the guider whose prism shades."""
        found = [] if self.limit is None else [self.limit.key]
        if self.prism is not None and self.prism.shades and self.prism.limits:
            found.append(self.prism.key)
        return tuple(found)
