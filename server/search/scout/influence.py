"""Which figure that is known as a range only could change the answer, asked in the order of its influence.

The answer is the rows that meet all needs, and of these the front. One figure at a time is put to both ends
of its range, in four worlds: all other figures of its row at their low or their high ends, and all other rows
at theirs. A figure matters if in one of the worlds a row comes into the answer or leaves it. What happens
only where some of the other figures are low and some are high, or lie between, is not seen.

A row whose figures change is compared with few: with the front of the others, which is the front of all less
this row, with what this row alone kept off it. These stand in the second front, of all rows but the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from server.search.scout.fronts_of_many import Bools, Floats, Ints, beats, front

_PAIRS = 1 << 20  # Compared at once: a few MB of booleans.


class Matters(NamedTuple):
    """A figure that could change the answer: its row and column."""

    row: int
    column: int


def influence(
    low: npt.ArrayLike,
    high: npt.ArrayLike,
    limits: npt.ArrayLike | None = None,
    measures: Sequence[int] | None = None,
) -> list[Matters]:
    """Return the figures that could change the answer, first those that could move most rows.

    low, high: (rows, columns), the ends of each figure's honest range, less is better; the same where it is
    known, nan where nothing is. limits: (columns,), infinity where a column is no need; None: no needs.
    measures: numbers of the columns that the front goes by; None: all. Figures that move as many are in the
    order of their rows and columns. By a figure its row may meet all needs or not, or it meets them all the
    same, and rows come to the front or leave it.
    """
    ends = (
        np.nan_to_num(np.asarray(low, dtype=np.float64), nan=-np.inf, posinf=np.inf, neginf=-np.inf),
        np.nan_to_num(np.asarray(high, dtype=np.float64), nan=np.inf, posinf=np.inf, neginf=-np.inf),
    )
    columns = ends[0].shape[1]
    most = np.full(columns, np.inf) if limits is None else np.asarray(limits, dtype=np.float64)
    chosen = np.arange(columns) if measures is None else np.asarray(measures, dtype=np.int64)
    rows, cells = np.nonzero(ends[0] < ends[1])
    moved = np.zeros(rows.size, dtype=np.int64)  # The most in any of the worlds.
    for others in ends:
        rivals = _rivals(others, most, chosen)
        for own in ends:
            fails = own > most
            open_ones = np.flatnonzero(
                (fails.sum(axis=1)[rows] == fails[rows, cells]) & (ends[0][rows, cells] <= most[cells])
            )
            size = max(1, _PAIRS // max(1, len(rivals.figures)))
            for start in range(0, open_ones.size, size):
                some = open_ones[start : start + size]
                now = _moved(rivals, own, (rows[some], cells[some]), ends, most, chosen)
                moved[some] = np.maximum(moved[some], now)
    at = np.flatnonzero(moved)
    order = at[np.lexsort((cells[at], rows[at], -moved[at]))]
    return [Matters(int(rows[one]), int(cells[one])) for one in order]


@dataclass(frozen=True)
class _Rivals:
    """What a row is compared with: the first two fronts, equal rows as one.

    Attributes:
        place: (rows,), where each row of the table stands among these, -1 where it does not.
        figures: (rivals, measures).
        count: how many rows each one is.
        beaten: by how many rows each one is beaten.
        by: which one beats which.
    """

    place: Ints
    figures: Floats
    count: Ints
    beaten: Ints
    by: Bools

    def free_of(self, rows: Ints) -> Bools:
        """Which are on the front where one row is away, for each of these rows: (rows, rivals)."""
        free = np.tile(self.beaten == 0, (rows.size, 1))
        place = self.place[rows]
        at = np.flatnonzero(place >= 0)
        at = at[self.count[place[at]] == 1]
        free[at] |= self.by[place[at]] & (self.beaten == 1)
        free[at, place[at]] = False  # A row is no rival of its own.
        return free

    def rows_of(self, chosen: Bools, rows: Ints) -> Ints:
        """How many rows are chosen rivals, of which the row itself is none: chosen (rows, rivals)."""
        place = self.place[rows]
        counted: Ints = chosen @ self.count
        at = np.flatnonzero(place >= 0)
        counted[at] -= chosen[at, place[at]]
        return counted


def _rivals(table: Floats, limits: Floats, measures: Ints) -> _Rivals:
    passing = np.flatnonzero((table <= limits).all(axis=1) & (measures.size > 0))
    compared = table[np.ix_(passing, measures)]
    first = front(compared)
    rest = np.setdiff1d(np.arange(passing.size), first)
    both = np.union1d(first, rest[front(compared[rest])])
    figures, places, count = np.unique(compared[both], axis=0, return_inverse=True, return_counts=True)
    place = np.full(len(table), -1, dtype=np.int64)
    place[passing[both]] = places
    by = beats(figures, figures)
    return _Rivals(place, figures, count, count @ by, by)


def _moved(
    rivals: _Rivals,
    own: Floats,
    figures: tuple[Ints, Ints],
    ends: tuple[Floats, Floats],
    limits: Floats,
    measures: Ints,
) -> Ints:
    """How many rows each figure moves in one world, by the need or on the front, whichever are more.

    The figures are those of rows that meet all needs with this one at its low end.
    """
    rows, cells = figures
    high = ends[1][rows, cells]
    at_low = own[rows]
    at_low[np.arange(rows.size), cells] = ends[0][rows, cells]
    at_low = at_low[:, measures]
    moved = (high > limits[cells]).astype(np.int64)  # The row itself meets all needs or not.
    free = rivals.free_of(rows)
    # What is beaten at its low end is so at its high end, and beats nothing that stands on a front.
    there = np.flatnonzero(~(free & beats(rivals.figures, at_low).T).any(axis=1))
    rows, cells, high, free, at_low = rows[there], cells[there], high[there], free[there], at_low[there]
    at_high = own[rows]
    at_high[np.arange(rows.size), cells] = np.minimum(high, limits[cells])  # Above it is the need that moves.
    at_high = at_high[:, measures]
    drives_off = free & beats(at_low, rivals.figures)
    moved[there] *= 2 + rivals.rows_of(drives_off, rows)
    leaves = (free & beats(rivals.figures, at_high).T).any(axis=1)
    returning = drives_off & ~beats(at_high, rivals.figures)
    moved[there] = np.maximum(moved[there], leaves + rivals.rows_of(returning, rows))
    return moved
