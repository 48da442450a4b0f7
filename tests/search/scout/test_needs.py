"""Needs, what they cost, misses and contradictions, against their definitions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.search.scout.needs import MOST_RELAXED, contradictory, judge, nearest_misses, relax
from tests.search.scout import plainly

LIMIT = st.sampled_from([-np.inf, -2.0, 0.0, 1.0, 1.5, np.inf])


@st.composite
def asked(draw, figures=plainly.FEW_FIGURES, rows=(0, 14)):
    values = draw(plainly.tables(figures, rows))
    return values, np.array([draw(LIMIT) for _ in range(values.shape[1])])


def passing(values, limits):
    return {at for at, row in enumerate(values) if plainly.met(row, limits)}


@given(asked())
def test_a_row_passes_if_it_fails_no_need_that_is_known(case):
    values, limits = case
    judged = judge(values, limits)
    assert set(np.flatnonzero(judged.passes)) == passing(values, limits)
    assert judged.failed_count.tolist() == [int(sum(row > limits)) for row in values]
    assert judged.unknown.tolist() == [bool(np.isnan(row).any()) for row in values]
    assert ((judged.excess > 0) == (values > limits)).all()


def test_the_excess_is_what_lies_above_the_limit():
    judged = judge([[3.0, 5.0], [np.nan, 11.0], [2.0, 4.0]], [2.0, 10.0])
    assert judged.excess.tolist() == [[1.0, 0.0], [0.0, 1.0], [0.0, 0.0]]
    assert judged.passes.tolist() == [False, False, True]


def test_a_limit_missed_by_the_least_step_is_missed():
    assert not judge([[np.nextafter(1e-310, 1.0)]], [1e-310]).passes[0]


@given(asked(), st.data())
def test_relaxing_a_need_loses_no_row_and_brings_what_it_says(case, data):
    values, limits = case
    which = data.draw(st.integers(0, limits.size - 1))
    before, reach = passing(values, limits), 0
    for one in relax(judge(values, limits), values, which):
        wider = limits.copy()
        wider[which] = one.by
        after = passing(values, wider)
        assert after >= before
        assert after - before == set(one.rows.tolist())
        assert one.gains == len(one.rows) > reach
        reach = one.gains


@given(asked(), st.data())
def test_every_value_at_which_a_row_comes_in_is_named_where_these_are_few(case, data):
    values, limits = case
    which = data.draw(st.integers(0, limits.size - 1))
    others = [at for at in range(limits.size) if at != which]
    alone = {
        row[which]
        for row in values
        if row[which] > limits[which] and plainly.met(row[others], limits[others])
    }
    found = relax(judge(values, limits), values, which)
    assert [one.by for one in found] == sorted(alone)


def test_many_values_are_thinned_to_some_that_bring_about_as_many_each():
    values = np.arange(1000.0)[:, None] ** 3
    found = relax(judge(values, [0.0]), values, 0)
    assert len(found) == MOST_RELAXED
    assert (found[0].gains, found[-1].gains) == (1, 999)
    assert np.diff([one.gains for one in found]) == pytest.approx(999 / 11, abs=1.0)


@given(asked(plainly.COUNTED), st.integers(0, 6))
def test_the_nearest_misses_fail_the_fewest_needs_and_then_by_least(case, most):
    values, limits = case
    scale = np.arange(1.0, limits.size + 1)

    def distance(at):
        over = [(v - limit) / s for v, limit, s in zip(values[at], limits, scale, strict=True) if v > limit]
        return len(over), sum(over)

    missed = [at for at in range(len(values)) if at not in passing(values, limits)]
    found = nearest_misses(judge(values, limits), scale, most).tolist()
    assert len(found) == min(most, len(missed))
    expected = sorted(map(distance, missed))[:most]
    for at, (count, far) in zip(found, expected, strict=True):
        assert distance(at) == (count, pytest.approx(far))


def test_an_excess_counts_in_the_needs_own_steps():
    # 300 too dear is 3 steps of 100; 4 kg too heavy are 4 steps of 1.
    judged = judge([[2300.0, 9.0], [1900.0, 14.0], [2100.0, 11.0], [10.0, 1.0]], [2000.0, 10.0])
    assert nearest_misses(judged, [100.0, 1.0], 3).tolist() == [0, 1, 2]


@given(asked())
def test_a_contradiction_is_the_smallest_set_that_no_row_meets(case):
    values, limits = case
    found = contradictory(values, limits)
    if len(values) == 0 or passing(values, limits):
        assert found == ()
    else:
        smallest = plainly.contradictory(values, limits)
        assert found == (smallest[0] if smallest else tuple(range(limits.size)))


def test_needs_that_contradict_by_four_only_are_all_named():
    # Each row fails one of the needs, so that any three are met by the row that fails the fourth.
    assert contradictory(np.eye(4), [0.5] * 4) == (0, 1, 2, 3)
