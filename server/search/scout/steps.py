"""Rows that are practically equal: figures rounded to steps in which a person counts.

Rounding hides, it never rejects: each row is in one box, and a box gives its rows on demand. A relative step
(10 % of hours) is a step of a logarithm, which the caller hands in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.search.scout.fronts_of_many import Floats, Ints, ranks


@dataclass(frozen=True)
class Boxes:
    """Rows in boxes of practically equal ones, which are numbered by their first measure, then the others.

    Attributes:
        of: (rows,), the number of each row's box.
        best: (boxes,), the best row of each box by its exact first measure, then the others, then its number.
        rounded: (boxes, measures), the figures of each box in whole steps; nan where not known.
    """

    of: Ints
    best: Ints
    rounded: Floats

    def members(self, box: int) -> Ints:
        """The rows of a box in ascending order."""
        return np.flatnonzero(self.of == box)


def boxes(values: npt.ArrayLike, steps: npt.ArrayLike) -> Boxes:
    """Return the rows in boxes: values (rows, measures), less is better; steps (measures,).

    A step of 0 tells every figure from every other. What is not known is equal to nothing: a row with a nan
    has a box of its own, numbered after the others.
    """
    table, sizes = np.asarray(values, dtype=np.float64), np.asarray(steps, dtype=np.float64)
    rounded = table.copy()
    counted = np.broadcast_to(sizes > 0.0, table.shape)
    with np.errstate(over="ignore"):  # So many steps are all beyond count, and stay in order.
        np.divide(table, sizes, out=rounded, where=counted)
    np.rint(rounded, out=rounded, where=counted)
    apart = np.isnan(table).any(axis=1)
    known, lone = np.flatnonzero(~apart), np.flatnonzero(apart)
    code = _codes(rounded[known])
    order = np.lexsort((*table[known].T[::-1], code))
    ordered = code[order]
    first = np.ones(order.size, dtype=np.bool_)
    first[1:] = ordered[1:] != ordered[:-1]
    of = np.empty(len(table), dtype=np.int64)
    of[known[order]] = np.cumsum(first) - 1
    of[lone] = np.arange(lone.size) + np.count_nonzero(first)
    best = np.concatenate((known[order[first]], lone))
    return Boxes(of, best, rounded[best])


def _codes(rounded: Floats) -> Ints:
    """A number for each row, equal for equal ones, in the order of the first measure, then the others."""
    code = np.zeros(len(rounded), dtype=np.int64)
    for column in rounded.T:
        place = ranks(column)
        code = ranks(code * (int(place.max(initial=0)) + 1) + place)
    return code
