import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.focus import blur_tolerance_mm, depth_of_focus_mm
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
        computed = reference.strehl_at_defocus(defocus, 5.0, GREEN_NM, obstruction)
        assert computed == pytest.approx(strehl, abs=reference.STREHL_TOLERANCE)


def test_the_blur_of_one_pixel_at_f_4_is_reached_at_four_pixels():
    # Similar triangles by hand: 3.76 um x 4 = 15.04 um.
    assert blur_tolerance_mm(4.0, 3.76) == pytest.approx(0.01504, abs=1e-12)


@given(focal_ratio=st.floats(0.5, 1000.0), blur_um=st.floats(0.0, 1000.0))
def test_the_blur_at_its_own_tolerance_is_the_blur_that_was_asked_for(focal_ratio, blur_um):
    assert reference.blur_um(blur_tolerance_mm(focal_ratio, blur_um), focal_ratio) == pytest.approx(blur_um)


def test_a_wavelength_in_micrometres_is_refused():
    with pytest.raises(ValueError, match=r"wavelength is 0\.55 nm.*Give nanometres"):
        depth_of_focus_mm(5.0, 0.55)


def test_a_negative_blur_is_refused():
    with pytest.raises(ValueError, match="The blur is -1 um"):
        blur_tolerance_mm(5.0, -1.0)
