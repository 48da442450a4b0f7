"""What the load, the power and the beam ask of any part, whatever its kind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from server.domain.measure import Measure
from server.domain.said import Said
from server.frozen import frozen

Rides = Literal["tube", "saddle", "bar", "stand", "ground"]
"""Where a part goes that stands beside the train: "stand" is on the tripod or pier."""
Ask = tuple[str, str]
"""A figure to enter: its field, and what to call it where not by that (see `lacks`)."""


@dataclass(frozen=True)
class Draw:
    """The current that a part takes, A.

    Attributes:
        mean_a, peak_a: over the night, and at most; None where it takes none or nobody knows.
        assumed: what was taken for granted.
        peak_unknown: the field of the peak's figure that is missing, "" for none.
        basis, peak_basis: where the two are from.
        asks: what to enter for it to be whole.
        taken_none: nobody said, and it is taken to draw none.
    """

    mean_a: float | None = None
    peak_a: float = 0.0
    assumed: tuple[Said, ...] = ()
    peak_unknown: str = ""
    basis: str = "typed"
    peak_basis: str = "typed"
    asks: tuple[Ask, ...] = ()
    taken_none: bool = False


@frozen
class Pane:
    """A plane plate of glass that a part puts across the beam.

    Attributes:
        thickness: of the glass, None while unknown.
        index: its refractive index, None while unknown.
        what: the part itself, or the window before its sensor.
        unsure: nobody said whether the part's length allows for it already.
        ask: what to enter to be sure of it, None for nothing.
    """

    thickness: Measure | None
    index: Measure | None = None
    what: Literal["part", "window"] = "part"
    unsure: bool = False
    ask: Ask | None = None


@dataclass(frozen=True)
class Settable:
    """The lengths that a part can be set to, mm; `step_mm` is None while nobody gave it."""

    shortest_mm: float
    longest_mm: float
    step_mm: float | None
