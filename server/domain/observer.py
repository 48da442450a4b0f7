"""An observer: a person who uses this install."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

UnitSystem = Literal["metric", "imperial"]
HOLDING_MAXIMUM = 999
"""Pieces of one part that can be owned, wished for or considered."""


@dataclass(frozen=True)
class Observer:
    """A person of this install, with the units that they read."""

    id: int
    name: str
    units: UnitSystem = "metric"


@dataclass(frozen=True)
class Holding:
    """What one observer has of one part: how many owned, wished for, and considered; `lent` is how many their
    club lends, which is none of theirs.
    """

    owned: int = 0
    wished: int = 0
    considered: int = 0
    lent: int = 0

    @property
    def at_hand(self) -> int:
        """How many there are to build with: one's own, and what may be borrowed."""
        return self.owned + self.lent

    @property
    def borrowed(self) -> bool:
        """Whether there is none but the club's."""
        return self.lent > 0 and self.owned == 0

    @property
    def any(self) -> bool:
        """Whether the part stands on the observer's shelf at all."""
        return bool(self.owned or self.wished or self.considered)
