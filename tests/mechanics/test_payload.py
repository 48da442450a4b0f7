import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.mechanics.payload import load_fraction, total_mass, usable_capacity_kg
from tests.one_by_one import one_by_one


def test_the_masses_that_are_known_add_up():
    total = total_mass([("tube", 5.2), ("camera", 0.7), ("rings", 0.9)])
    assert total.known_kg == pytest.approx(6.8)
    assert total.complete


def test_an_unknown_mass_is_named_and_never_counted_as_nothing():
    total = total_mass([("tube", 5.2), ("guider", None), ("wheel", None)])
    assert total.known_kg == pytest.approx(5.2)
    assert total.missing == ("guider", "wheel")
    assert not total.complete


def test_a_mass_of_zero_is_known():
    assert total_mass([("cable tie", 0.0)]).complete


def test_nothing_weighs_nothing():
    assert total_mass([]).known_kg == 0.0
    assert total_mass([]).complete


@given(masses=st.lists(st.one_of(st.none(), st.floats(0.0, 100.0)), max_size=20))
def test_every_item_is_either_in_the_sum_or_missing(masses):
    total = total_mass((f"item {i}", mass) for i, mass in enumerate(masses))
    assert len(total.missing) == masses.count(None)
    assert total.known_kg >= max((m for m in masses if m is not None), default=0.0) * (1.0 - 1e-12)


def test_a_tenth_ten_times_is_one_without_the_rounding_of_a_plain_sum():
    assert total_mass([(f"ring {i}", 0.1) for i in range(10)]).known_kg == 1.0


def test_half_of_a_rating_of_twenty_kilograms_is_ten():
    # Common practice, no source: half to two thirds for imaging.
    assert usable_capacity_kg(20.0, 0.5) == pytest.approx(10.0)


def test_a_load_beyond_the_capacity_is_more_than_one():
    assert load_fraction(12.0, 10.0) == pytest.approx(1.2)
    assert load_fraction(0.0, 10.0) == 0.0


@pytest.mark.parametrize("mass", [-0.1, math.nan, math.inf])
def test_an_impossible_mass_is_refused_by_the_items_name(mass):
    with pytest.raises(ValueError, match="The mass of tube is .* at most 10000 kg"):
        total_mass([("tube", mass)])


@pytest.mark.parametrize("share", [0.0, -0.5, 50.0, math.nan])
def test_a_share_that_is_no_share_is_refused(share):
    with pytest.raises(ValueError, match=r"usable share is .* Give 0\.5 for one half"):
        usable_capacity_kg(20.0, share)


def test_a_rating_of_zero_is_refused_as_unknown():
    with pytest.raises(ValueError, match="rated capacity is 0 kg.*Leave it empty"):
        usable_capacity_kg(0.0, 0.5)


def test_a_share_of_no_capacity_is_refused():
    with pytest.raises(ValueError, match="capacity is 0 kg"):
        load_fraction(1.0, 0.0)


def test_arrays_have_the_floats_very_shares_and_nan_where_these_are_refused():
    rng = np.random.default_rng(8)
    load, rated = rng.uniform(-10.0, 100.0, (200, 1)), rng.uniform(-5.0, 60.0, 30)
    rated[:3], load[:3, 0] = (0.0, math.nan, 10_001.0), (0.0, math.nan, math.inf)
    found = load_fraction(load, rated)
    np.testing.assert_array_equal(found, one_by_one(load_fraction, load, rated))
    assert np.isnan(found[:, 0]).all()
    assert not np.isnan(found).all()
    usable = one_by_one(lambda kg: usable_capacity_kg(kg, 0.5), rated)
    np.testing.assert_array_equal(usable_capacity_kg(rated, 0.5), usable)
