"""Bands in a cone, against the reference's sums and a sum of the published law over the cone made here."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.narrow_band import (
    edge_shift_nm,
    left_flat,
    left_gaussian,
    mean_shift_nm,
)
from tests.references import narrow_band as reference


@pytest.mark.parametrize(("line", "n", "ratio", "eps", "mean", "width", "bell", "flat"), reference.CASES)
def test_the_line_left_is_the_references(line, n, ratio, eps, mean, width, bell, flat):
    edge = edge_shift_nm(line, ratio, n)
    tolerance = reference.FAST_TOLERANCE if ratio < 2.5 else reference.TOLERANCE
    assert mean_shift_nm(edge, eps) == pytest.approx(mean, abs=reference.SHIFT_TOLERANCE_NM)
    assert left_gaussian(width, edge, eps) == pytest.approx(bell, abs=tolerance)
    assert left_flat(width, edge, eps) == pytest.approx(flat, abs=tolerance)


def test_a_filter_made_for_the_beam_keeps_what_a_plain_one_loses_and_loses_it_in_a_slow_one():
    fast, slow = edge_shift_nm(656.28, 1.9, 2.0), edge_shift_nm(656.28, 5.0, 2.0)
    made = mean_shift_nm(fast)
    assert left_gaussian(5.0, fast) == pytest.approx(reference.PLAIN_AT_F19, abs=reference.FAST_TOLERANCE)
    assert left_gaussian(5.0, fast, 0.0, made) == pytest.approx(
        reference.MADE_AT_F19, abs=reference.FAST_TOLERANCE
    )
    assert left_gaussian(5.0, slow, 0.0, made) == pytest.approx(
        reference.MADE_AT_F5, abs=reference.FAST_TOLERANCE
    )


def test_the_exact_law_summed_over_the_cone_gives_the_same_mean_shift():
    # Rings of one area from an obstruction of 0.4 to the edge of f/3.
    squares = [0.16 + 0.84 * (i + 0.5) / 400.0 for i in range(400)]
    angles = [math.asin(math.sqrt(one) / 6.0) for one in squares]
    mean = sum(reference.slant_shift_nm(656.28, angle, 1.9) for angle in angles) / len(angles)
    # The fourth order that is left out is a quarter of sin^2 / n^2 of it: 0.2 % at f/3.
    assert mean_shift_nm(edge_shift_nm(656.28, 3.0, 1.9), 0.4) == pytest.approx(mean, rel=3e-3)


def test_a_band_as_wide_as_twice_the_edges_shift_keeps_all_with_steep_sides_and_four_fifths_as_a_bell():
    edge = edge_shift_nm(656.28, 2.0, 1.8)
    assert left_flat(2.0 * edge, edge) == 1.0
    # sqrt(pi) / (2 x 0.83255) x erf(0.83255), from a table of the error function: 1.06447 x 0.76097.
    assert left_gaussian(2.0 * edge, edge) == pytest.approx(0.81003, abs=1e-4)


@given(
    width=st.floats(0.5, 30.0), ratio=st.floats(1.5, 20.0), eps=st.floats(0.0, 0.6), centre=st.floats(-5, 5)
)
def test_a_share_is_a_share_and_a_slower_beam_never_harms_a_plain_filter(width, ratio, eps, centre):
    edge, slower = edge_shift_nm(656.28, ratio, 1.8), edge_shift_nm(656.28, ratio * 1.2, 1.8)
    for left in (left_flat, left_gaussian):
        assert 0.0 <= left(width, edge, eps, centre) <= 1.0 + 1e-9
        assert left(width, slower, eps) >= left(width, edge, eps) - 1e-9


@pytest.mark.parametrize("left", [left_flat, left_gaussian])
def test_a_band_without_a_width_is_refused(left):
    with pytest.raises(ValueError, match="band's width is 0 nm"):
        left(0.0, 1.0)
