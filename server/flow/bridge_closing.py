"""The one ring that would close a gap which no stack closes: how long it may be, and where it can sit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from server.flow.bridge_pose import Posed, connection_words
from server.search.problem import Closing

MOST_SEATS = 4
"""At how many connections a ring is offered."""


@dataclass(frozen=True)
class ClosingRing:
    """A ring that is in no drawer yet.

    Attributes:
        length_mm: what closes the gap best; from `least_mm` to `most_mm` would do.
        seats: the connections that it can be put onto, as the trade writes them.
        guide: whether it belongs into the guide chain.
    """

    length_mm: float
    least_mm: float
    most_mm: float
    seats: tuple[str, ...]
    guide: bool


def closing_rings(posed: Posed, closings: Sequence[Closing], guide: bool = False) -> tuple[ClosingRing, ...]:
    """The rings that close the main chain, or the `guide` chain."""
    words: Mapping[int, str] = connection_words(posed)
    short, long = posed.problem.tolerance
    if guide:
        assert posed.side is not None
        words = {node + posed.side.first: text for node, text in words.items()}
        short, long = posed.side.branch.tolerance
    return tuple(
        ClosingRing(
            one.length / 100.0,
            max(1, one.length - short) / 100.0,
            (one.length + long) / 100.0,
            seats[:MOST_SEATS],
            guide,
        )
        for one in closings
        # One that could sit on nothing that has a name cannot be wished for.
        if (seats := tuple(words[node] for node in one.nodes if node in words))
    )
