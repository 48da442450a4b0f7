"""Steps in which a person counts hide rows and drop none."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from server.search.scout.fronts_of_many import front
from server.search.scout.steps import boxes
from tests.search.scout import plainly

STEP = st.sampled_from([0.0, 0.5, 1.0, 4.0])


@st.composite
def counted(draw):
    figures = st.one_of(plainly.FEW_FIGURES, st.floats(-9.0, 9.0, width=16))
    values = draw(plainly.tables(figures, columns=(1, 4)))
    return values, np.array([draw(STEP) for _ in range(values.shape[1])])


def rounded(row, steps):
    """A row's figures in whole steps, one at a time."""
    return [
        float(np.rint(value / step)) if step else float(value) for value, step in zip(row, steps, strict=True)
    ]


@given(counted())
def test_rows_share_a_box_if_all_their_figures_are_equal_in_steps(case):
    values, steps = case
    found = boxes(values, steps)
    for one, first in enumerate(values):
        for two, second in enumerate(values):
            same = one == two or rounded(first, steps) == rounded(second, steps)
            assert (found.of[one] == found.of[two]) == same


@given(counted())
def test_every_row_is_in_one_box_and_the_best_of_it_comes_first(case):
    values, steps = case
    found = boxes(values, steps)
    members = [found.members(box).tolist() for box in range(len(found.best))]
    assert sorted(row for box in members for row in box) == list(range(len(values)))
    for best, box in zip(found.best.tolist(), members, strict=True):
        if len(box) > 1:
            assert best == min(box, key=lambda row: (*values[row], row))
    known = [tuple(one) for one in found.rounded if not np.isnan(one).any()]
    assert known == sorted(known)
    assert [tuple(one) for one in found.rounded[: len(known)]] == known


def front_in_steps(values, steps):
    found = boxes(values, steps)
    return np.sort(found.best[front(found.rounded)])


@given(counted())
def test_the_front_in_steps_is_on_the_front_and_what_it_hides_is_no_better_in_steps(case):
    values, steps = case
    shown = front_in_steps(values, steps).tolist()
    assert set(shown) <= set(front(values).tolist())
    best = [np.array(rounded(values[row], steps)) for row in shown]
    for row in values:
        if not np.isnan(row).any():
            own = np.array(rounded(row, steps))
            assert any(np.all(one <= own) for one in best)
    assert not any(plainly.beats(one, two) for one in best for two in best)


def test_a_few_coins_do_not_make_two_choices_of_one():
    # In steps of 100 and 1 kg the first two are one choice, told by the cheaper; the last is another.
    values = [[1010.0, 7.2], [990.0, 7.3], [1500.0, 4.0]]
    assert front(values).tolist() == [0, 1, 2]
    assert front_in_steps(values, [100.0, 1.0]).tolist() == [1, 2]
    assert boxes(values, [100.0, 1.0]).members(0).tolist() == [0, 1]
