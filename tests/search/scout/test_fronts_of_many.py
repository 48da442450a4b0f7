"""The front of many rows against the quadratic method."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from server.search.scout.fronts_of_many import beaten_by, front, ranks, unknown
from tests.search.scout import plainly

RNG = np.random.default_rng(7)


def scattered(rows, measures):
    return RNG.normal(size=(rows, measures))


def tied(rows, measures):
    return RNG.integers(0, 30, (rows, measures)).astype(float)


def equal_rows(rows, measures):
    return np.repeat(scattered(rows // 8, measures), 8, axis=0)[RNG.permutation(rows)]


def together(rows, measures):
    """What is good in one measure is good in the others."""
    return RNG.normal(size=(rows, 1)) + 0.05 * scattered(rows, measures)


def against_each_other(rows, measures):
    """What is good in one measure is bad in another: a long front."""
    figures = scattered(rows, measures)
    figures[:, 0] = -figures[:, 1:].sum(axis=1) + 0.3 * figures[:, 0]
    return figures


def in_steps_and_unknown(rows, measures):
    figures = np.round(against_each_other(rows, measures), 1)
    figures[RNG.random(figures.shape) < 0.02] = np.nan
    figures[RNG.random(figures.shape) < 0.01] = np.inf
    return figures


KINDS = [scattered, tied, equal_rows, together, against_each_other, in_steps_and_unknown]


@given(plainly.tables())
def test_the_front_is_that_of_the_quadratic_method(values):
    assert front(values).tolist() == plainly.front(values)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("measures", [1, 2, 3, 4, 6])
def test_the_front_of_5000_rows_is_that_of_the_quadratic_method(kind, measures):
    values = kind(5000, measures)
    assert front(values).tolist() == plainly.front(values)


def test_the_front_of_40000_rows_is_that_of_the_quadratic_method():
    # Sums of prices and masses, which the choice of a part makes: many ties, some equal rows.
    parts = [RNG.integers(1, 40, (count, 3)) for count in (50, 40, 20)]
    values = (
        (parts[0][:, None, None] + parts[1][None, :, None] + parts[2][None, None, :])
        .reshape(-1, 3)
        .astype(float)
    )
    assert values.shape == (40_000, 3)
    assert front(values).tolist() == plainly.front(values)


def test_more_rows_than_two_bytes_count_are_told_apart_too():
    # What is less in the first measure is more in the second: all are on the front, but for the copies with
    # more of the third.
    rising = np.arange(66_000.0)
    values = np.column_stack((rising, -rising, 0.0 * rising, 0.0 * rising))
    worse = np.add(values[::1000], [0.0, 0.0, 1.0, 0.0])
    assert front(np.vstack((values, worse))).tolist() == list(range(66_000))


@given(plainly.tables())
def test_no_row_of_the_front_is_beaten_by_any_row(values):
    for row in front(values):
        assert not any(plainly.beats(other, values[row]) for other in values)
        assert beaten_by(values, int(row)).size == 0


@given(plainly.tables(rows=(1, 12)), st.data())
def test_adding_a_row_that_is_beaten_changes_nothing(values, data):
    row = values[data.draw(st.integers(0, len(values) - 1))].copy()
    row[data.draw(st.integers(0, row.size - 1))] += 1.0
    assume(any(plainly.beats(one, row) for one in values))
    assert front(np.vstack((values, row))).tolist() == front(values).tolist()


@given(plainly.tables())
def test_a_row_with_an_unknown_figure_is_returned_apart(values):
    apart = unknown(values)
    assert apart.tolist() == [at for at, row in enumerate(values) if np.isnan(row).any()]
    assert not set(apart) & set(front(values))


@given(plainly.tables(rows=(1, 14)), st.data())
def test_why_not_names_every_row_that_beats_this_one_and_no_other(values, data):
    row = data.draw(st.integers(0, len(values) - 1))
    found = beaten_by(values, row).tolist()
    assert sorted(found) == [at for at, one in enumerate(values) if plainly.beats(one, values[row])]
    if found:
        assert not any(plainly.beats(values[other], values[found[0]]) for other in found)


def test_why_not_names_the_best_first():
    # By hand: places among the three that beat (9, 9) are 0 + 2, 1 + 0 and 2 + 1.
    values = [[9, 9], [1, 8], [5, 2], [8, 7], [0, 10]]
    assert beaten_by(values, 0).tolist() == [2, 1, 3]


def test_a_table_without_rows_or_measures_has_a_front_too():
    assert front(np.empty((0, 3))).tolist() == []
    assert front(np.empty((4, 0))).tolist() == [0, 1, 2, 3]


@settings(max_examples=30)
@given(st.lists(st.integers(-3, 3).map(float)))
def test_ranks_count_the_different_figures_below(column):
    assert ranks(np.array(column)).tolist() == [len({two for two in column if two < one}) for one in column]
