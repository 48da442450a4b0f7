import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.optics.draws import Length, chance_inside, make_trains, shims_needed
from server.optics.tolerance import Spread, worst_case

TRIALS = 100_000
#: Five standard errors of a share of 100 000: one test in two million fails by chance, and the seeds are
# fixed.
FIVE_ERRORS = 5.0 * 0.5 / math.sqrt(TRIALS)


def even(size, basis="maker", sign=1):
    return Length(Spread(size, size), basis, sign)


def test_one_length_within_its_limits_falls_into_half_of_them_half_the_time():
    trains = make_trains([even(0.2)], seed=1)
    found = chance_inside(trains, -0.1, 0.1)
    assert found.value == pytest.approx(0.5, abs=FIVE_ERRORS)
    # sqrt(0.5 x 0.5 / 100 000).
    assert found.standard_error == pytest.approx(0.00158, abs=1e-5)


def test_two_alike_make_the_triangle_of_two_dice():
    # The sum of two uniform lengths of +-1 lies within +-1 three times in four (Irwin-Hall).
    found = chance_inside(make_trains([even(1.0), even(1.0, sign=-1)], seed=2), -1.0, 1.0)
    assert found.value == pytest.approx(0.75, abs=FIVE_ERRORS)


def test_three_alike_have_the_chance_of_irwin_and_hall():
    # Within +-1 of the sum of three uniform lengths of +-1: 2/3, from the cubic of Irwin and Hall.
    found = chance_inside(make_trains([even(1.0)] * 3, seed=3), -1.0, 1.0)
    assert found.value == pytest.approx(2.0 / 3.0, abs=FIVE_ERRORS)


def test_a_measured_length_lies_within_its_tolerance_in_954_of_1000():
    # The normal distribution within two standard deviations: 0.9545 (any table).
    found = chance_inside(make_trains([even(0.05, "measured")], seed=4), -0.05, 0.05)
    assert found.value == pytest.approx(0.9545, abs=FIVE_ERRORS)


@pytest.mark.parametrize("basis", ["maker", "typed", "assumed", "measured"])
@pytest.mark.parametrize("sign", [1, -1])
def test_lopsided_tolerances_have_the_mean_and_variance_that_are_stated(basis, sign):
    length = Length(Spread(0.3, 0.1), basis, sign)
    off = make_trains([length], seed=5, trials=400_000).off_mm
    assert off.mean() == pytest.approx(length.mean_mm, abs=1e-3)
    assert off.var() == pytest.approx(length.variance_mm2, rel=0.01)


def test_a_lopsided_limit_is_drawn_over_all_of_it_and_never_outside():
    off = make_trains([Length(Spread(0.3, 0.1), "maker")], seed=6).off_mm
    assert off[0] >= -0.1
    assert off[-1] <= 0.3
    np.testing.assert_allclose((off[0], off[-1]), (-0.1, 0.3), atol=1e-4)
    turned = make_trains([Length(Spread(0.3, 0.1), "maker", -1)], seed=6).off_mm
    np.testing.assert_allclose((turned[0], turned[-1]), (-0.3, 0.1), atol=1e-4)


def test_the_part_with_twice_the_tolerance_brings_four_fifths_of_the_variance():
    trains = make_trains([even(0.2), even(0.1), even(0.0)], seed=7, trials=10)
    assert trains.share == pytest.approx((0.8, 0.2, 0.0))


def test_what_cannot_err_is_exact():
    trains = make_trains([even(0.0), even(0.0, "measured")], seed=8, trials=100)
    assert np.all(trains.off_mm == 0.0)
    assert trains.share == (0.0, 0.0)
    assert chance_inside(make_trains([], seed=8, trials=100), 0.0, 0.0).value == 1.0


def test_the_same_seed_makes_the_same_trains_and_another_seed_others():
    lengths = [even(0.1), even(0.2, "measured")]
    first, again, other = (make_trains(lengths, seed=seed, trials=1000).off_mm for seed in (9, 9, 10))
    np.testing.assert_array_equal(first, again)
    assert not np.array_equal(first, other)


@given(
    sizes=st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.booleans()), max_size=8),
    seed=st.integers(0, 1000),
)
@settings(deadline=None)
def test_no_train_within_limits_is_worse_than_the_worst_case(sizes, seed):
    lengths = [Length(Spread(plus, minus), "maker", 1 if add else -1) for plus, minus, add in sizes]
    worst = worst_case(one.spread if one.sign > 0 else one.spread.subtracted() for one in lengths)
    off = make_trains(lengths, seed=seed, trials=500).off_mm
    assert off[0] >= -worst.minus_mm - 1e-9
    assert off[-1] <= worst.plus_mm + 1e-9
    assert np.all(np.diff(off) >= 0.0)


# -- Shims


def test_a_shim_brings_the_short_half_in():
    # +-1 mm, window -0.5 to 0.5: half fall inside; a shim of 1 mm brings -1 ... -0.5 to 0 ... 0.5: three
    # quarters.
    trains = make_trains([even(1.0)], seed=11)
    assert chance_inside(trains, -0.5, 0.5, [1.0]).value == pytest.approx(0.75, abs=FIVE_ERRORS)


def test_shims_whose_windows_overlap_are_not_counted_twice():
    trains = make_trains([even(1.0)], seed=12)
    assert chance_inside(trains, -0.5, 0.5, [0.1, 0.2, 1.0]).value == pytest.approx(0.75, abs=FIVE_ERRORS)


@given(
    shims=st.lists(st.floats(0.05, 1.0), max_size=5),
    low=st.floats(-1.0, 0.0),
    high=st.floats(0.0, 1.0),
    seed=st.integers(0, 100),
)
@settings(deadline=None)
def test_the_chance_with_shims_is_what_trying_every_train_gives(shims, low, high, seed):
    trains = make_trains([even(1.0), even(0.5, "measured")], seed=seed, trials=300)
    totals = [0.0]
    for one in shims:
        totals += [one + other for other in totals]
    tried = sum(any(low - 1e-8 <= off + total <= high + 1e-8 for total in totals) for off in trains.off_mm)
    assert chance_inside(trains, low, high, shims).value * 300 == pytest.approx(tried, abs=1e-6)


def test_the_fewest_shims_that_make_sure_are_found():
    # Trains come out 0 to 1 mm short and the window is 0.2 mm wide. By hand: 0.2, 0.4 and 0.4 make totals of
    # 0, 0.2, ... 1 mm, each of which brings in 0.2 mm of the range; two shims make four totals at most.
    trains = make_trains([Length(Spread(0.0, 1.0), "maker")], seed=13, trials=20_000)
    found = shims_needed(trains, -0.1, 0.1, 0.999, steps_mm=[0.1, 0.2, 0.4])
    assert found is not None
    assert found.chance.value >= 0.999
    assert len(found.thicknesses_mm) == 3
    # What it rests on: with the set at hand the chance is the same.
    assert chance_inside(trains, -0.1, 0.1, found.thicknesses_mm) == found.chance
    assert shims_needed(trains, -0.1, 0.1, 0.999, at_hand_mm=found.thicknesses_mm[:2]) is None


def test_no_shims_are_needed_where_the_window_is_wide():
    found = shims_needed(make_trains([even(0.1)], seed=14), -0.2, 0.2, 1.0, steps_mm=[0.1])
    assert found is not None
    assert found.thicknesses_mm == ()


def test_a_shim_at_hand_is_used_once_only():
    trains = make_trains([Length(Spread(0.0, 0.0), "maker")], seed=15, trials=100)
    # 1 mm is missing: two of 0.5 do it, one does not.
    assert shims_needed(trains, 0.9, 1.1, 1.0, at_hand_mm=[0.5]) is None
    bought = shims_needed(trains, 0.9, 1.1, 1.0, steps_mm=[0.5])
    assert bought is not None
    assert bought.thicknesses_mm == (0.5, 0.5)


def test_five_shims_are_put_in_at_most():
    trains = make_trains([Length(Spread(0.0, 0.0), "maker")], seed=15, trials=100)
    five = shims_needed(trains, 2.45, 2.55, 1.0, steps_mm=[0.5])
    assert five is not None
    assert five.thicknesses_mm == (0.5,) * 5
    assert shims_needed(trains, 2.95, 3.05, 1.0, steps_mm=[0.5]) is None


def test_no_shim_shortens_a_train():
    trains = make_trains([Length(Spread(1.0, 0.0), "maker")], seed=16, trials=1000)
    assert shims_needed(trains, -0.1, 0.1, 0.9, steps_mm=[0.1, 0.5]) is None


def test_a_window_the_wrong_way_round_is_refused():
    trains = make_trains([], seed=17, trials=10)
    with pytest.raises(ValueError, match="long end is -0.5 mm; it must be at least 0.5"):
        chance_inside(trains, 0.5, -0.5)


def test_thirteen_shims_are_refused():
    trains = make_trains([], seed=18, trials=10)
    with pytest.raises(ValueError, match="There are 13 shims"):
        chance_inside(trains, -0.5, 0.5, [0.1] * 13)
