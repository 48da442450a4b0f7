"""Which figure could change the answer: against whole answers at both ends of each."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from server.search.scout.influence import influence
from tests.search.scout import plainly


@st.composite
def ranges(draw):
    """Tables of ranges, some of them unknown, with limits and measures."""
    low = draw(plainly.tables(plainly.COUNTED, rows=(0, 8), columns=(1, 4)))
    width = draw(st.lists(st.sampled_from([0.0, 0.0, 1.0, 3.0]), min_size=low.size, max_size=low.size))
    limits = [draw(st.sampled_from([-1.0, 1.0, 3.0, np.inf])) for _ in range(low.shape[1])]
    measures = draw(st.sets(st.integers(0, low.shape[1] - 1), min_size=1))
    return low, low + np.reshape(width, low.shape), np.array(limits), sorted(measures)


@settings(max_examples=300)
@given(ranges())
def test_a_figure_matters_if_the_answer_differs_between_its_ends(case):
    low, high, limits, measures = case
    known = plainly.influence(low, high, limits, measures)
    found = influence(low, high, limits, measures)
    assert sorted(found) == sorted(known)
    moved = [known[one] for one in found]
    assert moved == sorted(moved, reverse=True)


def test_many_figures_are_looked_at_in_parts(monkeypatch):
    rng = np.random.default_rng(8)
    low = rng.integers(0, 30, (60, 3)).astype(float)
    high = low + rng.integers(0, 3, low.shape)
    limits = np.array([20.0, np.inf, 25.0])
    known = plainly.influence(low, high, limits, [0, 1])
    monkeypatch.setattr("server.search.scout.influence._PAIRS", 64)
    assert sorted(influence(low, high, limits, [0, 1])) == sorted(known)


def test_a_figure_that_is_known_is_not_asked_for():
    table = np.arange(12.0).reshape(4, 3)
    assert influence(table, table) == []


def test_what_is_beaten_whatever_its_figure_is_not_asked_for():
    # The second row costs more than the first; even at its least mass it weighs more.
    low = [[100.0, 5.0], [200.0, 6.0], [300.0, 4.0]]
    high = [[100.0, 5.0], [200.0, 9.0], [300.0, 6.0]]
    assert influence(low, high) == [(2, 1)]


def test_a_need_is_asked_of_a_row_that_meets_all_others_first_where_it_moves_most():
    # A limit of 10 kg. The first row would be the cheapest; the second would meet all needs, and be too dear;
    # the third has no range; the fourth fails another need whatever its mass.
    low = [[1.0, 8.0, 0.0], [3.0, 7.0, 0.0], [2.0, 9.0, 0.0], [0.0, 8.0, 5.0]]
    high = [[1.0, 12.0, 0.0], [3.0, 12.0, 0.0], [2.0, 9.0, 0.0], [0.0, 12.0, 5.0]]
    assert influence(low, high, [np.inf, 10.0, 1.0], [0]) == [(0, 1), (1, 1)]


def test_a_figure_of_which_nothing_is_known_could_be_anything():
    low = [[1.0, np.nan], [2.0, 3.0]]
    assert influence(low, low) == [(0, 1)]


def test_without_measures_only_needs_matter():
    assert influence([[1.0], [1.0]], [[3.0], [1.5]], [2.0], []) == [(0, 0)]
