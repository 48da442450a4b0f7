import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.glass import N_BK7_INDEX, plate_shift_mm
from tests.references import glass as reference


def sellmeier_index(terms, wavelength_um):
    squared = wavelength_um**2
    return math.sqrt(1.0 + sum(b * squared / (squared - c) for b, c in terms))


INDEX = {
    "N-BK7": N_BK7_INDEX,
    "fused silica": sellmeier_index(reference.FUSED_SILICA_SELLMEIER, reference.D_LINE_UM),
}


def test_the_index_is_that_of_the_published_dispersion_formula():
    published = sellmeier_index(reference.N_BK7_SELLMEIER, reference.D_LINE_UM)
    assert published == pytest.approx(N_BK7_INDEX, abs=reference.INDEX_TOLERANCE)


@pytest.mark.parametrize(("glass", "thickness_mm", "shifts_mm"), reference.PLATES)
def test_a_plate_moves_the_focus_by_the_tabulated_shift(glass, thickness_mm, shifts_mm):
    computed = [plate_shift_mm(thickness_mm, INDEX[glass], n) for n in reference.FOCAL_RATIOS]
    assert computed == pytest.approx(shifts_mm, abs=reference.SHIFT_TOLERANCE_MM)


@pytest.mark.parametrize(("index", "thickness_mm", "focal_ratio", "shift_mm"), reference.TRACED)
def test_a_plate_moves_the_focus_as_a_ray_trace_says(index, thickness_mm, focal_ratio, shift_mm):
    computed = plate_shift_mm(thickness_mm, index, focal_ratio)
    assert computed == pytest.approx(shift_mm, abs=reference.TRACED_TOLERANCE_MM)


def test_a_third_of_the_thickness_is_exact_only_for_an_index_of_one_and_a_half():
    assert plate_shift_mm(3.0, 1.5) == pytest.approx(1.0, abs=1e-12)
    assert plate_shift_mm(3.0, N_BK7_INDEX) > 1.02


@given(
    thickness_mm=st.floats(0.0, 50.0),
    index=st.floats(1.0, 3.0),
    focal_ratio=st.floats(0.5, 1000.0),
)
def test_the_shift_lies_between_the_axis_ray_and_the_whole_thickness(thickness_mm, index, focal_ratio):
    shift = plate_shift_mm(thickness_mm, index, focal_ratio)
    rounding = 1e-12 * (1.0 + thickness_mm)
    assert plate_shift_mm(thickness_mm, index) - rounding <= shift <= thickness_mm + rounding


def test_air_is_no_plate():
    assert plate_shift_mm(10.0, 1.0, 2.0) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(("thickness_mm", "index"), [(-1.0, 1.5), (2.0, 0.9), (2.0, 15.168), (math.nan, 1.5)])
def test_an_impossible_plate_is_refused(thickness_mm, index):
    with pytest.raises(ValueError, match="must be at least"):
        plate_shift_mm(thickness_mm, index)
