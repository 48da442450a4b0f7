import math

import pytest
import scipy.integrate
import scipy.special
from hypothesis import given
from hypothesis import strategies as st

from server.optics.diffraction import (
    annular_disc_share,
    annular_first_zero,
    annular_fwhm,
    annular_intensity,
    annular_mtf,
    bessel_j1,
    diffraction_fwhm_arcsec,
    lambda_over_d_arcsec,
)
from tests.references import diffraction as reference

BESSEL_TOLERANCE = 1e-13


@pytest.mark.parametrize(("x", "value"), reference.BESSEL_J1)
def test_j1_is_that_of_the_printed_table(x, value):
    assert bessel_j1(x) == pytest.approx(value, abs=5.1e-11)


@given(x=st.floats(-1000.0, 1000.0))
def test_j1_agrees_with_an_independent_library(x):
    assert bessel_j1(x) == pytest.approx(float(scipy.special.j1(x)), abs=BESSEL_TOLERANCE)


def test_j1_beyond_its_range_is_refused():
    with pytest.raises(ValueError, match="nearer to the star's centre"):
        bessel_j1(10_001.0)


@pytest.mark.parametrize(("obstruction", "first_zero", "fwhm"), reference.ANNULUS)
def test_the_first_dark_ring_and_the_width_are_the_tabulated_ones(obstruction, first_zero, fwhm):
    assert annular_first_zero(obstruction) == pytest.approx(first_zero, abs=reference.ANNULUS_TOLERANCE)
    assert annular_fwhm(obstruction) == pytest.approx(fwhm, abs=reference.ANNULUS_TOLERANCE)


def test_the_dark_rings_of_a_clear_aperture_are_the_printed_zeros_of_j1():
    assert annular_first_zero() * math.pi == pytest.approx(reference.ZEROS_OF_J1[0], abs=1e-9)
    for zero in reference.ZEROS_OF_J1:
        assert annular_intensity(zero / math.pi) == pytest.approx(0.0, abs=1e-18)


@pytest.mark.parametrize(("obstruction", "inside"), [(row[0], row[3]) for row in reference.ENCIRCLED])
def test_the_light_in_the_disc_is_the_tabulated_one(obstruction, inside):
    assert annular_disc_share(obstruction) == pytest.approx(inside, abs=reference.ANNULUS_TOLERANCE)


def test_the_light_in_the_disc_of_a_clear_aperture_is_rayleighs():
    # Rayleigh, Phil. Mag. 11, 214 (1881) (from memory): 1 - J0^2(x) - J1^2(x).
    x = reference.ZEROS_OF_J1[0]
    inside = 1.0 - float(scipy.special.j0(x)) ** 2 - float(scipy.special.j1(x)) ** 2
    assert annular_disc_share() == pytest.approx(inside, abs=1e-6)


@pytest.mark.parametrize(("obstruction", "peak"), reference.FIRST_RING_PEAK)
def test_the_first_bright_ring_is_as_bright_as_tabulated(obstruction, peak):
    start = annular_first_zero(obstruction)
    brightest = max(annular_intensity(start + 0.002 * k, obstruction) for k in range(600))
    assert brightest == pytest.approx(peak, abs=reference.FIRST_RING_TOLERANCE)


@pytest.mark.parametrize(("obstruction", "intensity"), reference.HALF_LAMBDA_OVER_D)
def test_the_core_agrees_with_three_fourier_optics_programs(obstruction, intensity):
    computed = annular_intensity(0.5, obstruction)
    assert computed == pytest.approx(intensity, abs=reference.HALF_LAMBDA_OVER_D_TOLERANCE)


def test_a_worked_case_of_two_hundred_millimetres_agrees():
    # D 200 mm, obstruction 0.35, 550 nm: two independent solutions, 0.6162 and 0.5477 arcsec.
    assert annular_first_zero(0.35) * lambda_over_d_arcsec(200.0, 550.0) == pytest.approx(0.6162, abs=1e-4)
    assert diffraction_fwhm_arcsec(200.0, 550.0, 0.35) == pytest.approx(0.5477, abs=1e-4)


def test_a_thin_ring_tends_to_the_first_zero_of_j0():
    # Abramowitz & Stegun, table 9.5 (from memory): j_(0,1) = 2.4048255577.
    assert annular_first_zero(0.9999) * math.pi == pytest.approx(2.4048255577, abs=1e-3)


@given(obstruction=st.floats(0.0, 0.95))
def test_the_star_is_brightest_in_its_centre_and_half_as_bright_at_half_its_width(obstruction):
    assert annular_intensity(0.0, obstruction) == pytest.approx(1.0)
    half = annular_intensity(annular_fwhm(obstruction) / 2.0, obstruction)
    assert half == pytest.approx(0.5, abs=1e-9)


@given(radius=st.floats(0.0, 20.0), obstruction=st.floats(0.0, 0.95))
def test_no_point_of_the_star_is_brighter_than_its_centre(radius, obstruction):
    assert 0.0 <= annular_intensity(radius, obstruction) <= 1.0 + 1e-9


@pytest.mark.parametrize(("obstruction", "contrasts"), reference.MTF)
def test_the_contrast_is_the_tabulated_one(obstruction, contrasts):
    computed = [annular_mtf(u, obstruction) for u in reference.MTF_FREQUENCIES]
    assert computed == pytest.approx(contrasts, abs=reference.MTF_TOLERANCE)


@pytest.mark.parametrize("obstruction", [0.0, 0.33])
def test_the_star_image_is_the_transform_of_the_contrast(obstruction):
    # Fourier-Bessel transform with an independent library's J0; the two functions come from two papers.
    def back(radius):
        return scipy.integrate.quad(
            lambda u: u * annular_mtf(u, obstruction) * scipy.special.j0(2.0 * math.pi * u * radius), 0.0, 1.0
        )[0]

    for radius in (0.3, 0.5, 1.0, 1.6):
        assert back(radius) / back(0.0) == pytest.approx(annular_intensity(radius, obstruction), abs=1e-6)


def test_nothing_passes_beyond_the_cut_off():
    assert annular_mtf(0.0, 0.3) == pytest.approx(1.0)
    assert annular_mtf(1.0, 0.3) == 0.0
    assert annular_mtf(7.0, 0.0) == 0.0


@given(frequency=st.floats(0.0, 1.0), obstruction=st.floats(0.0, 0.99))
def test_the_contrast_is_a_share(frequency, obstruction):
    assert -1e-9 <= annular_mtf(frequency, obstruction) <= 1.0 + 1e-9


@pytest.mark.parametrize("obstruction", [-0.1, 1.0, 35.0])
def test_an_obstruction_that_is_no_share_is_refused(obstruction):
    with pytest.raises(ValueError, match="The central obstruction is"):
        annular_fwhm(obstruction)


@pytest.mark.parametrize("radius", [1e-12, 1e-6, 0.001, 0.00318, 0.00319, 0.01])
def test_the_very_centre_of_the_star_agrees_with_an_independent_library(radius):
    # The regularised hypergeometric form of 2 J1(x)/x (DLMF 10.16.9) keeps its digits at the smallest x.
    x = math.pi * radius
    expected = float(scipy.special.hyp0f1(2.0, -x * x / 4.0)) ** 2
    assert annular_intensity(radius) == pytest.approx(expected, abs=BESSEL_TOLERANCE)
