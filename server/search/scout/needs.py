"""Needs as limits on figures: who meets them, what relaxing one brings, who misses least, what contradicts.

A value up to its limit meets it. A nan cannot be told: it passes, and the row is flagged. A limit of infinity
asks nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from server.search.scout.fronts_of_many import Bools, Floats, Ints

MOST_RELAXED = 12
"""Limits that `relax` names."""
_TRIED = 3  # Needs at once; more than three that only together contradict would tell nobody which to relax.


@dataclass(frozen=True)
class Judged:
    """What needs say of rows.

    Attributes:
        passes: (rows,), fails no need that could be told.
        unknown: (rows,), has a nan in some need.
        failed_count: (rows,), how many needs it fails.
        excess: (rows, needs), by how much above the limit; 0 where met or not known.
    """

    passes: Bools
    unknown: Bools
    failed_count: Ints
    excess: Floats


@dataclass(frozen=True)
class Relaxed:
    """What one need relaxed to a new limit brings.

    Attributes:
        by: the new limit.
        gains: how many rows come in, all of those up to this limit.
        rows: these, by their value in this need, then by number.
    """

    by: float
    gains: int
    rows: Ints


def judge(values: npt.ArrayLike, limits: npt.ArrayLike) -> Judged:
    """Return what the needs say of the rows: values (rows, needs), limits (needs,) without a nan."""
    table, most = np.asarray(values, dtype=np.float64), np.asarray(limits, dtype=np.float64)
    count = np.zeros(len(table), dtype=np.int64)
    unknown = np.zeros(len(table), dtype=np.bool_)
    excess = np.empty(table.shape, order="F")  # A need at a time is what is read of it.
    with np.errstate(invalid="ignore", over="ignore"):  # Infinite less infinite: such a limit is met.
        for at, limit in enumerate(most):
            column = np.ascontiguousarray(table[:, at])
            over = column - limit
            unknown |= np.isnan(column)
            np.fmax(over, 0.0, out=excess[:, at])
            count += over > 0.0  # Above 0 whenever the value is above the limit, also by the least step.
    return Judged(count == 0, unknown, count, excess)


def relax(
    judged: Judged,
    values: npt.ArrayLike,
    which: int,
) -> list[Relaxed]:
    """Return what relaxing one need brings, by rising limit: the rows that fail it alone.

    which: number of the need. Told are values at which something comes in, at most `MOST_RELAXED` of them, so
    that each brings about as many as the next; the first and the last are always among them.
    """
    column = np.asarray(values, dtype=np.float64)[:, which]
    alone = np.flatnonzero((judged.failed_count == 1) & (judged.excess[:, which] > 0.0))
    alone = alone[np.argsort(column[alone], kind="stable")]
    ordered = column[alone]
    last = np.ones(ordered.size, dtype=np.bool_)  # Of the rows with one value.
    last[:-1] = ordered[1:] != ordered[:-1]
    return [
        Relaxed(float(ordered[end - 1]), int(end), alone[:end]) for end in _thinned(np.flatnonzero(last) + 1)
    ]


def _thinned(ends: Ints) -> Ints:
    """At most so many of the counts, spread evenly by count, the first and the last among them."""
    if ends.size <= MOST_RELAXED:
        return ends
    wanted = np.linspace(ends[0], ends[-1], MOST_RELAXED)
    return ends[np.unique(np.searchsorted(ends, wanted))]


def nearest_misses(judged: Judged, limits_scale: npt.ArrayLike, most: int) -> Ints:
    """Return the rows that miss by least, at most so many: fewest needs failed, then the least excess.

    limits_scale: (needs,), above 0, the step in which each need is counted; the excesses are added up in
    these steps. Ties by number.
    """
    failing = np.bincount(judged.failed_count[~judged.passes])
    last = int(np.searchsorted(np.cumsum(failing), min(most, int(failing.sum()))))
    rows = np.flatnonzero(~judged.passes & (judged.failed_count <= last))
    counts = judged.failed_count[rows]
    far = how_far(judged, limits_scale)[rows]
    return rows[np.lexsort((far, counts))][:most]


def how_far(judged: Judged, limits_scale: npt.ArrayLike) -> Floats:
    """Return by how much each row misses, (rows,): its excesses added up in the steps of `limits_scale`."""
    far: Floats = (judged.excess / np.asarray(limits_scale, dtype=np.float64)).sum(axis=1)
    return far


def contradictory(values: npt.ArrayLike, limits: npt.ArrayLike) -> tuple[int, ...]:
    """Return the smallest set of needs that no row meets together, by their numbers; () if a row meets all.

    Sets of one, two and three are tried, the first in order is named; where none of these contradicts, all
    needs. A nan counts as met. () also where there are no rows. values: (rows, needs), at most 62 needs.
    """
    table, most = np.asarray(values, dtype=np.float64), np.asarray(limits, dtype=np.float64)
    failed = np.zeros(len(table), dtype=np.int64)  # A bit for each need that a row fails.
    for at, limit in enumerate(most):
        failed |= (table[:, at] > limit).astype(np.int64) << at
    patterns = np.unique(failed)
    if not patterns.size or patterns[0] == 0:
        return ()
    for size in range(1, _TRIED + 1):
        for some in combinations(range(most.size), size):
            if np.all(patterns & sum(1 << at for at in some)):
                return some
    return tuple(range(most.size))
