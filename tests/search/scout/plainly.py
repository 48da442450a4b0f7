"""The Scout's answers by their definitions, one row against every other, and tables to ask them of."""

from __future__ import annotations

from itertools import combinations, product

import numpy as np
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

FEW_FIGURES = st.sampled_from([-np.inf, -2.0, -0.0, 0.0, 1.0, 1.5, 3.0, np.inf, np.nan])
"""Ties are what an algorithm gets wrong."""
COUNTED = st.integers(-4, 4).map(float)


def tables(figures=FEW_FIGURES, rows=(0, 14), columns=(1, 5)):
    """Tables of such figures."""
    return st.tuples(st.integers(*rows), st.integers(*columns)).flatmap(
        lambda shape: arrays.arrays(np.float64, shape, elements=figures)
    )


def beats(one, other):
    return bool(np.all(one <= other) and np.any(one < other))


def front(values):
    """The quadratic method: every row against all others."""
    values = np.asarray(values)
    columns = np.ascontiguousarray(values.T)
    kept = []
    for at, row in enumerate(values):
        no_worse = np.ones(len(values), dtype=bool)
        worse = np.zeros(len(values), dtype=bool)
        for one, column in zip(row, columns, strict=True):
            no_worse &= column <= one
            worse |= column < one
        if not np.isnan(row).any() and not (no_worse & worse).any():
            kept.append(at)
    return kept


def met(row, limits):
    """Whether a row fails no need, as far as is known."""
    return not any(value > limit for value, limit in zip(row, limits, strict=True))


def contradictory(values, limits):
    """The smallest sets of needs, up to three, that no row meets together."""
    for size in (1, 2, 3):
        found = [
            some
            for some in combinations(range(len(limits)), size)
            if not any(met(row[list(some)], np.asarray(limits)[list(some)]) for row in values)
        ]
        if found:
            return found
    return []


def influence(low, high, limits, measures):
    """How many rows each figure moves at most, by (row, column), from whole answers."""
    found: dict[tuple[int, int], int] = {}
    for row, column in np.argwhere(low < high):
        for others, own in product((low, high), (low, high)):
            table = others.copy()
            table[row] = own[row]

            def answer(figure, table=table, row=row, column=column):
                table[row, column] = figure
                passing = [at for at in range(len(table)) if met(table[at], limits)]
                kept = front(table[np.ix_(passing, measures)])
                return row in passing, {passing[at] for at in kept}

            at_low, at_limit, at_high = (
                answer(figure)
                for figure in (
                    low[row, column],
                    min(high[row, column], limits[column]),
                    high[row, column],
                )
            )
            if at_low[0]:
                moved = len(at_low[1] ^ at_limit[1])
                if not at_high[0]:
                    moved = max(moved, 1 + len(at_low[1] ^ at_high[1]))
                key = (int(row), int(column))
                found[key] = max(found.get(key, 0), moved)
    return {key: count for key, count in found.items() if count}
