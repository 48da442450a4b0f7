import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.tolerance import Spread, root_sum_square, worst_case

sides = st.floats(0.0, 10.0)
trains = st.lists(st.builds(Spread, plus_mm=sides, minus_mm=sides), max_size=14)


def test_at_worst_the_tolerances_add_up_each_side_by_itself():
    total = worst_case([Spread(0.2, 0.1), Spread(0.3, 0.0), Spread(0.05, 0.05)])
    assert (total.plus_mm, total.minus_mm) == pytest.approx((0.55, 0.15))


def test_three_and_four_tenths_make_five_tenths_by_root_sum_square():
    # The right triangle of 3, 4, 5; JCGM 100:2008 (GUM), 5.1.2 (from memory).
    total = root_sum_square([Spread(0.3, 0.6), Spread(0.4, 0.8)])
    assert (total.plus_mm, total.minus_mm) == pytest.approx((0.5, 1.0))


def test_the_gauge_block_of_the_guide_adds_up_as_printed():
    # JCGM 100:2008 (GUM), table H.1 (from memory): components of 25, 9.7, 2.9 and 16.6 nm give 32 nm.
    parts = [Spread(nm * 1e-6, nm * 1e-6) for nm in (25.0, 9.7, 2.9, 16.6)]
    assert root_sum_square(parts).plus_mm == pytest.approx(32e-6, abs=0.5e-6)


def test_a_length_that_is_taken_away_turns_its_tolerance_round():
    # 60 (+0.3 -0.1) less 5 (+0.2 -0): from 54.7 to 55.3 about the nominal 55.
    total = worst_case([Spread(0.3, 0.1), Spread(0.2, 0.0).subtracted()])
    assert (total.plus_mm, total.minus_mm) == pytest.approx((0.3, 0.3))


def test_nothing_to_add_has_no_tolerance():
    assert worst_case([]) == Spread(0.0, 0.0)
    assert root_sum_square([]) == Spread(0.0, 0.0)


@given(parts=trains)
def test_the_likely_spread_lies_between_the_largest_part_and_the_worst_case(parts):
    likely, worst = root_sum_square(parts), worst_case(parts)
    assert likely.plus_mm <= worst.plus_mm * (1.0 + 1e-12)
    assert likely.minus_mm <= worst.minus_mm * (1.0 + 1e-12)
    assert likely.plus_mm * (1.0 + 1e-12) >= max((s.plus_mm for s in parts), default=0.0)


@given(parts=trains)
def test_the_order_of_the_parts_is_of_no_account(parts):
    assert worst_case(reversed(parts)) == worst_case(parts)


@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf])
def test_a_tolerance_with_a_sign_or_without_a_number_is_refused(bad):
    with pytest.raises(ValueError, match=r"minus side of the tolerance is .* without a sign"):
        Spread(0.1, bad)
