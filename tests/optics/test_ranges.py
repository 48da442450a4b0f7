import math

import pytest

from server.optics.ranges import checked, checked_focal_ratio, checked_length_mm


def test_a_refusal_says_the_value_the_range_and_the_fix():
    with pytest.raises(
        ValueError, match=r"The slit is 12 mm; it must be at least 1 and at most 5 mm\. Close it\."
    ):
        checked("The slit", 12.0, 1.0, 5.0, "mm", "Close it.")


def test_an_end_that_is_excluded_is_called_more_than_or_less_than():
    with pytest.raises(ValueError, match="more than 0 and less than 1"):
        checked("The share", 0.0, 0.0, 1.0, "", "Give a share.", above_low=True, below_high=True)


@pytest.mark.parametrize("value", [1.0, 5.0])
def test_the_ends_of_a_closed_range_are_inside(value):
    assert checked("The slit", value, 1.0, 5.0, "mm", "Close it.") == value


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_value_that_is_no_number_is_refused(value):
    with pytest.raises(ValueError, match="The length is"):
        checked_length_mm("The length", value)


def test_a_beam_faster_than_the_sine_condition_allows_is_refused():
    with pytest.raises(ValueError, match=r"focal ratio is 0\.4"):
        checked_focal_ratio(0.4)
