"""How several plus/minus tolerances add up along a train."""

import math
from collections.abc import Iterable

from server.frozen import frozen
from server.optics.ranges import LONGEST_MM, checked

_FIX = "Give how far the true value may lie from the nominal one, without a sign."


@frozen
class Spread:
    """How far, in mm, a length may lie above (`plus_mm`) and below (`minus_mm`) its nominal value.

    Both are 0 to 100 000 mm, without a sign; they need not be equal. Raises ValueError outside.
    """

    plus_mm: float
    minus_mm: float

    def __post_init__(self) -> None:
        """Refuse a side that is negative or not a number."""
        checked("The plus side of the tolerance", self.plus_mm, 0.0, LONGEST_MM, "mm", _FIX)
        checked("The minus side of the tolerance", self.minus_mm, 0.0, LONGEST_MM, "mm", _FIX)

    def subtracted(self) -> "Spread":
        """Return the spread that the length brings to a sum in which it is taken away: plus becomes minus.

        Source: arithmetic.
        """
        return Spread(self.minus_mm, self.plus_mm)


def worst_case(spreads: Iterable[Spread]) -> Spread:
    """Return the spread, mm, of a sum when every part lies at its worst end at once.

    spreads: of the parts that are added; a part that is taken away comes as `subtracted()`. None gives 0.
    Source: arithmetic.
    """
    parts = list(spreads)
    return Spread(math.fsum(s.plus_mm for s in parts), math.fsum(s.minus_mm for s in parts))


def root_sum_square(spreads: Iterable[Spread]) -> Spread:
    """Return the likely spread, mm, of a sum of parts that err independently, each side by itself.

    spreads: as `worst_case`. Never wider than the worst case. With sides that differ much this is a
    convention: a sum of lopsided errors is shifted, and less lopsided than its parts (Barlow, PHYSTAT 2003,
    "Asymmetric Errors"), which is not modelled.
    Source: JCGM 100:2008 (GUM), 5.1.2, equation 10, with unit sensitivities (from memory).
    """
    parts = list(spreads)
    return Spread(
        math.hypot(*(s.plus_mm for s in parts)),  # GUM equation 10, upper side.
        math.hypot(*(s.minus_mm for s in parts)),  # GUM equation 10, lower side.
    )
