import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.thin_lens import (
    factor_per_mm,
    in_travel_mm,
    longitudinal_magnification,
    thin_lens,
    working_factor,
)
from tests.references import focus_reach as reference


@pytest.mark.parametrize(("m0", "d0", "d", "m", "travel", "bare", "whole"), reference.THIN_LENSES)
def test_a_corrector_works_off_its_spacing_by_the_tabulated_factor(m0, d0, d, m, travel, bare, whole):
    lens = thin_lens(m0, d0)
    assert working_factor(lens, d) == pytest.approx(m, abs=reference.FACTOR_TOLERANCE)
    assert bare * working_factor(lens, d) == pytest.approx(whole, abs=reference.LENGTH_TOLERANCE_MM)
    if travel is not None:
        assert in_travel_mm(lens, d) == pytest.approx(travel, abs=reference.LENGTH_TOLERANCE_MM)


def test_a_reducer_has_the_focal_length_and_the_slope_worked_by_hand():
    lens = thin_lens(0.8, 55.0)
    assert lens.focal_mm == pytest.approx(275.0)
    assert factor_per_mm(lens) == pytest.approx(-0.003636, abs=1e-6)
    assert lens.reduces


def test_an_extender_magnifies_more_the_further_the_sensor_stands():
    lens = thin_lens(2.0, 60.0)
    assert lens.focal_mm == pytest.approx(-60.0)
    assert factor_per_mm(lens) > 0.0
    assert not lens.reduces
    # By hand: the bare focus lies 60 / 2 behind the lens, the new one 60: 30 mm further out.
    assert in_travel_mm(lens, 60.0) == pytest.approx(-30.0)


@given(m0=st.one_of(st.floats(0.3, 0.98), st.floats(1.05, 5.0)), d0=st.floats(20.0, 200.0))
def test_at_its_own_distance_a_corrector_has_its_own_factor(m0, d0):
    lens = thin_lens(m0, d0)
    assert working_factor(lens, d0) == pytest.approx(m0)
    # One mm further is one step of the slope, for a thin lens at any distance.
    assert working_factor(lens, d0 + 1.0) - m0 == pytest.approx(factor_per_mm(lens), abs=1e-9)


def test_a_flattener_is_no_thin_lens():
    with pytest.raises(ValueError, match="factor is 1; .*no focal length"):
        thin_lens(1.0, 55.0)


def test_a_reducer_forms_no_image_beyond_its_focal_length():
    lens = thin_lens(0.8, 55.0)
    with pytest.raises(ValueError, match="distance is 276 mm; it must be at least 0 and less than 275 mm"):
        working_factor(lens, 276.0)


@pytest.mark.parametrize(("m0", "distance_mm"), [(0.8, 55.0), (0.63, 100.0), (2.0, 60.0)])
def test_the_image_behind_a_corrector_moves_by_the_square_of_its_factor(m0, distance_mm):
    # Gauss's lens formula for a virtual object s behind the lens, 1/d = 1/s + 1/f, differentiated by hand:
    # not the factor's own formula.
    lens = thin_lens(m0, distance_mm)

    def image_mm(object_mm):
        return object_mm * lens.focal_mm / (object_mm + lens.focal_mm)

    first = distance_mm / m0
    assert image_mm(first) == pytest.approx(distance_mm)
    step = 1e-4
    moved = (image_mm(first + step) - image_mm(first - step)) / (2.0 * step)
    assert longitudinal_magnification(m0) == pytest.approx(moved, rel=1e-6)
    # Off its own distance it is the square of the factor at which it works there.
    there = distance_mm * 0.9
    works = working_factor(lens, there)
    moved = (image_mm(there / works + step) - image_mm(there / works - step)) / (2.0 * step)
    assert longitudinal_magnification(works) == pytest.approx(moved, rel=1e-6)
