"""What the processes of the hosted form tell each other of the searches that each of them runs, so that any
of them can tell of one and stop it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True)
class Noted:
    """How far a search is.

    Attributes:
        found: what it has found so far, as JSON; `seconds` it has taken for that.
        ended, stopped: whether it looks on, and whether somebody asked that it does not.
        seen_ago_s: how long ago a page asked after it; `alive`: whether its process still notes. The board
            tells both.
    """

    found: str
    seconds: float
    ended: bool
    stopped: bool
    seen_ago_s: float = 0.0
    alive: bool = True


class Board(Protocol):
    """The searches of all processes, each by whose it is and by a digest of what its answer depends on."""

    def note(self, who: int, key: str, noted: Noted) -> Noted | None:
        """Note this; what was known of it, a stop that was asked for among it."""
        ...

    def read(self, who: int, key: str) -> Noted | None:
        """What is noted, None for nothing."""
        ...

    def see(self, who: int, key: str) -> None:
        """Note that a page asks after it."""
        ...

    def stop(self, who: int, key: str) -> None:
        """Ask that it ends."""
        ...


@dataclass(frozen=True)
class Noting:
    """Where a search is noted."""

    board: Board
    who: int
    key: str
