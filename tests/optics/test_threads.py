import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.threads import (
    external_root_diameter_mm,
    pitch_of_inch_thread_mm,
    triangle_height_mm,
    turns_engaged,
)
from tests.references import threads as reference


@pytest.mark.parametrize(("diameter", "pitch", "root"), reference.METRIC)
def test_a_metric_thread_has_the_printed_root(diameter, pitch, root):
    found = external_root_diameter_mm(diameter, pitch)
    assert found == pytest.approx(root, abs=reference.PRINTED_TOLERANCE_MM)


@pytest.mark.parametrize(("turns", "pitch"), reference.INCH)
def test_an_inch_thread_has_the_pitch_of_its_turns(turns, pitch):
    assert pitch_of_inch_thread_mm(turns) == pytest.approx(pitch, abs=reference.INCH_TOLERANCE_MM)


def test_the_triangle_of_the_profile_is_equilateral():
    # ISO 68-1 prints H = 0.866 025 404 P.
    assert triangle_height_mm(1.0) == pytest.approx(0.866025404, abs=1e-9)


def test_a_male_48_by_three_quarters_leaves_about_47_millimetres():
    # ISO 68-1 profile worked by hand: 48 - 0.75 x 1.2268693 = 47.0798.
    assert external_root_diameter_mm(48.0, 0.75) == pytest.approx(47.0798, abs=1e-4)


@given(diameter=st.floats(5.0, 300.0), pitch=st.floats(0.25, 2.0))
def test_the_root_lies_inside_the_thread(diameter, pitch):
    assert 0.0 < external_root_diameter_mm(diameter, pitch) < diameter


def test_three_millimetres_of_a_pitch_of_three_quarters_are_four_turns():
    assert turns_engaged(3.0, 0.75) == pytest.approx(4.0)


def test_a_pitch_as_large_as_the_thread_is_refused():
    with pytest.raises(ValueError, match="pitch is 8 mm; it must be at least 0.1 and at most 5 mm"):
        external_root_diameter_mm(10.0, 8.0)


def test_a_pitch_in_place_of_turns_per_inch_is_refused():
    with pytest.raises(ValueError, match=r"threads per inch is 0\.75"):
        pitch_of_inch_thread_mm(0.75)
