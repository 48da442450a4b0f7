import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.focus import blur_diameter_um, blur_tolerance_mm, depth_of_focus_mm, strehl_at_defocus
from tests.references import focus as reference

GREEN_NM = 550.0


@pytest.mark.parametrize(("focal_ratio", "depth_um"), reference.DEPTH_550_NM)
def test_the_depth_of_focus_is_the_quarter_wave_limit_to_one_side(focal_ratio, depth_um):
    computed = depth_of_focus_mm(focal_ratio, GREEN_NM) * 1000.0
    assert computed == pytest.approx(depth_um, abs=reference.DEPTH_TOLERANCE_UM)


@pytest.mark.parametrize(("obstruction", "strehl"), reference.STREHL_AT_DEPTH)
def test_the_peak_at_the_depth_of_focus_is_the_published_one(obstruction, strehl):
    for side in (1.0, -1.0):
        defocus = side * depth_of_focus_mm(5.0, GREEN_NM)
        computed = strehl_at_defocus(defocus, 5.0, GREEN_NM, obstruction)
        assert computed == pytest.approx(strehl, abs=reference.STREHL_TOLERANCE)


def test_the_peak_at_a_quarter_wave_is_eight_over_pi_squared():
    # (sin(pi/4) / (pi/4))^2 = (1/2) / (pi^2/16), worked by hand.
    computed = strehl_at_defocus(depth_of_focus_mm(8.0, 656.3), 8.0, 656.3)
    assert computed == pytest.approx(8.0 / math.pi**2, rel=1e-12)


def test_the_axis_is_dark_at_one_wave_of_defocus():
    # Four times the quarter wave: Born & Wolf, sec. 8.8 (from memory), first axial zero of a clear aperture.
    assert strehl_at_defocus(4.0 * depth_of_focus_mm(6.0, GREEN_NM), 6.0, GREEN_NM) == pytest.approx(
        0.0, abs=1e-30
    )


def test_a_star_in_focus_keeps_its_peak():
    assert strehl_at_defocus(0.0, 5.0, GREEN_NM) == 1.0


@given(
    defocus_mm=st.floats(-5.0, 5.0),
    focal_ratio=st.floats(0.5, 30.0),
    obstruction=st.floats(0.0, 0.95),
)
def test_the_peak_is_a_share_of_the_peak_in_focus(defocus_mm, focal_ratio, obstruction):
    assert 0.0 <= strehl_at_defocus(defocus_mm, focal_ratio, GREEN_NM, obstruction) <= 1.0


def test_the_blur_of_one_pixel_at_f_4_is_reached_at_four_pixels():
    # Similar triangles by hand: 3.76 um x 4 = 15.04 um.
    assert blur_tolerance_mm(4.0, 3.76) == pytest.approx(0.01504, abs=1e-12)


def test_a_curved_field_blurs_the_corner_as_worked_by_hand():
    # 0.66216 mm of defocus (14 mm from the axis, radius 148 mm) at f/5 is a blur of 132.43 um.
    assert blur_diameter_um(-0.66216, 5.0) == pytest.approx(132.43, abs=0.005)


@given(focal_ratio=st.floats(0.5, 1000.0), blur_um=st.floats(0.0, 1000.0))
def test_the_blur_at_its_own_tolerance_is_the_blur_that_was_asked_for(focal_ratio, blur_um):
    assert blur_diameter_um(blur_tolerance_mm(focal_ratio, blur_um), focal_ratio) == pytest.approx(blur_um)


def test_a_wavelength_in_micrometres_is_refused():
    with pytest.raises(ValueError, match=r"wavelength is 0\.55 nm.*Give nanometres"):
        depth_of_focus_mm(5.0, 0.55)


def test_a_negative_blur_is_refused():
    with pytest.raises(ValueError, match="The blur is -1 um"):
        blur_tolerance_mm(5.0, -1.0)


def test_an_endless_defocus_is_refused():
    with pytest.raises(ValueError, match="The defocus is inf mm"):
        blur_diameter_um(math.inf, 5.0)
