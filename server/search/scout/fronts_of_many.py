"""The rows of a large table that no other row beats: an exact Pareto front of any number of measures.

A row beats another that is at no place better and at one worse; equal rows do not beat each other. A few rows
that are good by different weights first drop what they beat, which is most of a common table. What is left is
sorted so that whatever beats a row stands before it. Two measures then need one running minimum, three a
staircase of the other two (Kung, Luccio, Preparata, J. ACM 22 (1975), 469-476), so that n rows cost n log n
whatever their order. From four on, blocks of rows are compared with the front so far, by whole ranks of two
or four bytes; that is quadratic in the length of the front.
"""

from __future__ import annotations

from bisect import bisect_right

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_PIVOTS = 24  # On common tables a dozen drop nearly all that can be dropped so; each takes under 1 ms.
_FEW = 256  # Of so few rows none need be dropped before.
_BLOCK = 512
_CHUNK = 2048  # With a block, a megabyte of booleans, which stays near the processor.


def front(values: npt.ArrayLike) -> Ints:
    """Return the numbers of the rows that no other row beats, in ascending order; equal rows are all kept.

    values: (rows, measures), less is better; infinite ones compare as such. A row with a nan neither beats
    nor is beaten: it is not among these, `unknown` has it. Exact: figures are compared, never added up.
    """
    table = np.asarray(values, dtype=np.float64)
    known = np.flatnonzero(~_with_nan(table))
    columns = np.ascontiguousarray(table.T[:, known])
    if not len(columns):
        return known
    kept = _not_beaten_by_a_few(columns)
    columns = columns[:, kept]
    order = np.lexsort(columns[::-1])
    columns = columns[:, order]
    fresh = np.ones(order.size, dtype=np.bool_)
    fresh[1:] = (columns[:, 1:] != columns[:, :-1]).any(axis=0)
    of = np.cumsum(fresh) - 1  # Equal rows share what is found for the first of them.
    stays = _stays(columns[:, fresh])
    return np.sort(known[kept[order[stays[of]]]])


def unknown(values: npt.ArrayLike) -> Ints:
    """Return the numbers of the rows with a nan, which `front` leaves apart, in ascending order."""
    return np.flatnonzero(_with_nan(np.asarray(values, dtype=np.float64)))


def beaten_by(values: npt.ArrayLike, row: int) -> Ints:
    """Return the numbers of the rows that beat this one, best first: by the sum of their places among these.

    A row's place in a measure is the number of different figures below its own. Ties are in ascending order.
    The first one is beaten by no other. Nothing beats a row with a nan.
    """
    table = np.asarray(values, dtype=np.float64)
    mine = table[row]
    rows: Ints = np.arange(len(table))
    for one, column in zip(mine, table.T, strict=True):  # Each measure leaves fewer to look at.
        rows = np.flatnonzero(column <= one) if rows.size == len(table) else rows[column[rows] <= one]
    found = table[rows].T
    better = np.zeros(rows.size, dtype=np.bool_)
    known = np.ones(rows.size, dtype=np.bool_)
    for one, column in zip(mine, found, strict=True):
        better |= column < one
        known &= column <= one
    better &= known
    rows, found = rows[better], found[:, better]
    places = np.zeros(rows.size, dtype=np.int64)
    for column in found:
        places += ranks(column)
    return rows[np.argsort(places, kind="stable")]


def beats(some: Floats, others: Floats) -> Bools:
    """Return which of some rows (n, m) beat which others (k, m), as (n, k)."""
    no_worse = np.ones((len(some), len(others)), dtype=np.bool_)
    no_better = no_worse.copy()
    for one, other in zip(some.T, others.T, strict=True):
        no_worse &= one[:, None] <= other
        no_better &= one[:, None] >= other
    return no_worse & ~no_better


def ranks(column: Floats | Ints) -> Ints:
    """Return for each figure how many different figures of the column lie below it. No nan."""
    order = np.argsort(column)
    ordered = column[order]
    places = np.zeros(column.size, dtype=np.int64)
    places[order[1:]] = np.cumsum(ordered[1:] != ordered[:-1])
    return places


def _with_nan(table: Floats) -> Bools:
    found = np.zeros(len(table), dtype=np.bool_)
    for column in table.T:
        found |= np.isnan(column)
    return found


def _not_beaten_by_a_few(columns: Floats) -> Ints:
    """The rows of (measures, rows) that a few good ones do not beat. Which are good only sets the speed."""
    kept: Ints = np.arange(columns.shape[1])
    scaled = np.stack([_from_0_to_1(column) for column in columns])
    weights = np.random.default_rng(1).dirichlet(np.ones(len(columns)), _PIVOTS)
    weights[0] = 1.0 / len(columns)
    for weight in weights:
        if kept.size <= _FEW:
            break
        score = sum(w * column for w, column in zip(weight, scaled, strict=True))
        pivot = columns[:, int(np.argmin(score))]
        no_better = columns[0] >= pivot[0]
        worse = columns[0] > pivot[0]
        for column, one in zip(columns[1:], pivot[1:], strict=True):
            no_better &= column >= one
            worse |= column > one
        left = ~(no_better & worse)
        if not left.all():
            kept, columns, scaled = kept[left], columns[:, left], scaled[:, left]
    return kept


def _from_0_to_1(column: Floats) -> Floats:
    """The column over its finite range; what is infinite lies a little outside."""
    finite = column[np.isfinite(column)]
    low, high = (finite.min(), finite.max()) if finite.size else (0.0, 1.0)
    with np.errstate(over="ignore", invalid="ignore"):
        scaled: Floats = np.nan_to_num(
            (column - low) / ((high - low) or 1.0), nan=0.0, posinf=2.0, neginf=-1.0
        )
    return np.clip(scaled, -1.0, 2.0)


def _stays(columns: Floats) -> Bools:
    """Which of the rows are beaten by none: (measures, rows), distinct, in lexicographic order."""
    if len(columns) <= 2:
        stays = np.ones(columns.shape[1], dtype=np.bool_)
        last = columns[-1]
        # Of one measure the first row alone is left, since the others are larger.
        stays[1:] = last[1:] < np.minimum.accumulate(last)[:-1]
        return stays
    return _stays_of_three(columns) if len(columns) == 3 else _stays_of_more(columns)


def _stays_of_three(columns: Floats) -> Bools:
    """By a staircase: of the rows so far, those that no other beats in the second and third measure."""
    stays = np.zeros(columns.shape[1], dtype=np.bool_)
    seconds: list[float] = []
    thirds: list[float] = []  # They fall as the seconds rise.
    for at, (second, third) in enumerate(zip(columns[1].tolist(), columns[2].tolist(), strict=True)):
        place = bisect_right(seconds, second)
        if place and thirds[place - 1] <= third:
            continue
        stays[at] = True
        first = place - 1 if place and seconds[place - 1] == second else place
        end = place
        while end < len(thirds) and thirds[end] >= third:
            end += 1
        seconds[first:end] = [second]
        thirds[first:end] = [third]
    return stays


def _stays_of_more(columns: Floats) -> Bools:
    """By blocks in the order of the sums of ranks, which what beats a row has smaller."""
    places = np.stack([ranks(column) for column in columns])
    order = np.argsort(places.sum(axis=0), kind="stable")
    small = np.uint16 if order.size <= 1 << 16 else np.int32
    ordered = places[:, order].astype(small)
    found = np.empty_like(ordered)
    count = 0
    stays = np.zeros(order.size, dtype=np.bool_)
    for start in range(0, order.size, _BLOCK):
        left = np.arange(start, min(start + _BLOCK, order.size))
        for chunk in range(0, count, _CHUNK):
            left = left[~_any_no_worse(found[:, chunk : min(chunk + _CHUNK, count)], ordered[:, left])]
        block = ordered[:, left]
        left = left[~_any_no_worse(block, block, but_itself=True)]
        stays[order[left]] = True
        found[:, count : count + left.size] = ordered[:, left]
        count += left.size
    return stays


def _any_no_worse(
    some: npt.NDArray[np.generic], others: npt.NDArray[np.generic], *, but_itself: bool = False
) -> Bools:
    """Which of others (measures, k) have one among some (measures, n) that is nowhere larger."""
    no_worse = some[0] <= others[0][:, None]
    more = np.empty_like(no_worse)
    for one, other in zip(some[1:], others[1:], strict=True):
        np.less_equal(one, other[:, None], out=more)
        no_worse &= more
    if but_itself:
        np.fill_diagonal(no_worse, val=False)
    found: Bools = no_worse.any(axis=1)
    return found
