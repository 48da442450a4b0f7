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
    """What one observer has of one part: how many owned, wished for, and considered."""

    owned: int = 0
    wished: int = 0
    considered: int = 0

    @property
    def any(self) -> bool:
        """Whether the part stands on the observer's shelf at all."""
        return bool(self.owned or self.wished or self.considered)
