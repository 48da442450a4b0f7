import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.imaging import (
    effective_focal_length_mm,
    effective_focal_ratio,
    field_of_view_deg,
    focal_ratio,
    nyquist_pixel_um,
    pixel_rule_focal_ratio,
    pixel_scale_arcsec,
    samples_per_width,
)
from tests.one_by_one import one_by_one
from tests.references import imaging as reference


@pytest.mark.parametrize(("pixel_um", "focal_length_mm", "scale_arcsec"), reference.SCALES)
def test_a_pixel_takes_in_the_tabulated_angle(pixel_um, focal_length_mm, scale_arcsec):
    computed = pixel_scale_arcsec(pixel_um, focal_length_mm)
    assert computed == pytest.approx(scale_arcsec, abs=reference.SCALE_TOLERANCE_ARCSEC)


@pytest.mark.parametrize(("width_mm", "height_mm", "focal_length_mm", "angles_deg"), reference.FIELDS)
def test_a_sensor_takes_in_the_tabulated_field(width_mm, height_mm, focal_length_mm, angles_deg):
    sides = (width_mm, height_mm, math.hypot(width_mm, height_mm))
    computed = [field_of_view_deg(side, focal_length_mm) for side in sides]
    assert computed == pytest.approx(angles_deg, abs=reference.FIELD_TOLERANCE_DEG)


def test_a_sensor_twice_as_wide_as_the_focal_length_takes_in_a_right_angle():
    # tan 45 degrees = 1; the small-angle form would give 114.6 degrees.
    assert field_of_view_deg(200.0, 100.0) == pytest.approx(90.0, abs=1e-12)


@pytest.mark.parametrize(("ratio", "pixel_um"), reference.NYQUIST_550_NM)
def test_the_largest_pixel_that_samples_all_detail_is_the_tabulated_one(ratio, pixel_um):
    computed = nyquist_pixel_um(ratio, 550.0)
    assert computed == pytest.approx(pixel_um, abs=reference.NYQUIST_TOLERANCE_UM)


@pytest.mark.parametrize(("focal_length_mm", "factor", "system_mm"), reference.THROUGH_CORRECTOR)
def test_a_corrector_gives_the_traced_focal_length(focal_length_mm, factor, system_mm):
    computed = effective_focal_length_mm(focal_length_mm, factor)
    assert computed == pytest.approx(system_mm, abs=reference.FOCAL_LENGTH_TOLERANCE_MM)


def test_a_reducer_makes_the_focal_ratio_faster():
    # 700 mm / 100 mm = f/7; 0.8 x 7 = 5.6, by hand.
    assert focal_ratio(700.0, 100.0) == pytest.approx(7.0)
    assert effective_focal_ratio(700.0, 100.0, 0.8) == pytest.approx(5.6)
    assert effective_focal_ratio(700.0, 100.0) == pytest.approx(7.0)


def test_the_trades_pixel_rule_multiplies_by_one_and_a_half():
    # Common practice, no source: a 4 um pixel likes f/6 or faster.
    assert pixel_rule_focal_ratio(4.0) == pytest.approx(6.0)
    assert pixel_rule_focal_ratio(4.0, 2.0) == pytest.approx(8.0)


def test_a_star_of_three_arcsec_at_one_and_a_half_a_pixel_has_two_samples():
    assert samples_per_width(3.0, 1.5) == pytest.approx(2.0)


@given(pixel_um=st.floats(0.5, 20.0), focal_length_mm=st.floats(10.0, 5000.0))
def test_the_scale_is_the_field_of_one_pixel(pixel_um, focal_length_mm):
    field_arcsec = field_of_view_deg(pixel_um / 1000.0, focal_length_mm) * 3600.0
    assert pixel_scale_arcsec(pixel_um, focal_length_mm) == pytest.approx(field_arcsec, rel=1e-6)


def test_a_focal_length_of_zero_is_refused():
    with pytest.raises(ValueError, match="focal length is 0 mm; it must be more than 0"):
        pixel_scale_arcsec(3.76, 0.0)


def test_a_pixel_given_in_millimetres_is_refused():
    with pytest.raises(ValueError, match=r"pixel is 0\.00376 um.*Give the pixel's pitch in micrometres"):
        pixel_scale_arcsec(0.00376, 800.0)


def test_a_factor_given_in_per_cent_is_refused():
    with pytest.raises(ValueError, match="factor is 80; it must be"):
        effective_focal_length_mm(700.0, 80.0)


def test_a_scale_of_no_number_is_refused():
    with pytest.raises(ValueError, match="The scale is nan"):
        samples_per_width(2.0, math.nan)


#: From well inside a range to both sides of its ends.
FIGURES = {
    focal_ratio: ((-10.0, 120_000.0), (-10.0, 600.0)),
    effective_focal_length_mm: ((1.0, 110_000.0), (0.0, 22.0)),
    effective_focal_ratio: ((1.0, 5000.0), (1.0, 600.0), (0.0, 3.0)),
    pixel_scale_arcsec: ((0.0, 12.0), (-100.0, 4000.0)),
    field_of_view_deg: ((-1.0, 60.0), (-100.0, 4000.0)),
    nyquist_pixel_um: ((0.2, 20.0), (150.0, 3000.0)),
    samples_per_width: ((-1.0, 3700.0), (-1.0, 6.0)),
    pixel_rule_focal_ratio: ((0.05, 12.0),),
}


@pytest.mark.parametrize("function", FIGURES, ids=lambda one: one.__name__)
def test_arrays_have_the_floats_very_figures_and_nan_where_these_are_refused(function):
    rng = np.random.default_rng(7)
    given = [rng.uniform(low, high, 3000) for low, high in FIGURES[function]]
    given[0][:3] = 0.0, math.nan, math.inf
    found = function(*given)
    np.testing.assert_array_equal(found, one_by_one(function, *given))
    assert 0 < np.isnan(found).sum() < 1500


def test_arrays_go_together_by_broadcasting():
    tubes, correctors = np.array([[500.0], [800.0]]), np.array([0.8, 1.0, 2.0])
    assert effective_focal_length_mm(tubes, correctors).shape == (2, 3)
    assert effective_focal_length_mm(tubes).tolist() == tubes.tolist()
