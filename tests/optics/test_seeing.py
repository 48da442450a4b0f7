import math

import galsim
import numpy as np
import pytest
import scipy.integrate
import scipy.optimize
import scipy.special
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from server.optics.diffraction import diffraction_fwhm_arcsec
from server.optics.imaging import pixel_scale_arcsec
from server.optics.seeing import (
    EXPECTED_FWHM_RELATIVE_ERROR,
    expected_fwhm_arcsec,
    expected_fwhms_arcsec,
)
from server.out_of_range import OutOfRangeError
from tests.one_by_one import one_by_one
from tests.references import seeing as reference

#: What the integral itself may err by, where the oracle's own error is far smaller.
HANKEL_TOLERANCE = 3e-4
#: By how much the width of many rigs at once may differ from the one of each: both sums' errors.
MANY_TOLERANCE = 3e-4


def ring_contrast(share, obstruction):
    """Overlap of a ring with itself, from polygons of many sides; no formula of the code's own."""
    outer = shapely.Point(0.0, 0.0).buffer(1.0, quad_segs=512)
    ring = (
        outer.difference(shapely.Point(0.0, 0.0).buffer(obstruction, quad_segs=512)) if obstruction else outer
    )
    return ring.intersection(shapely.affinity.translate(ring, 2.0 * share)).area / ring.area


def width_by_hankel_transform(seeing, resolution, obstruction):
    """Width without a pixel, by Simpson's rule and an independent library's J0."""
    count = 2001
    shares = [k / (count - 1) for k in range(count)]
    # The width of exp(-3.4419 x^(5/3)) alone is found by the same transform, so that no constant is shared.
    alone = [math.exp(-3.4419 * (3.0 * s) ** (5.0 / 3.0)) for s in shares]
    unit = half_width([3.0 * s for s in shares], alone)
    scale = unit / seeing
    frequencies = [s / resolution for s in shares]
    spectrum = [
        math.exp(-3.4419 * (nu / scale) ** (5.0 / 3.0)) * ring_contrast(s, obstruction)
        for s, nu in zip(shares, frequencies, strict=True)
    ]
    return half_width(frequencies, spectrum)


def half_width(frequencies, spectrum):
    nu = np.array(frequencies)
    weighted = nu * np.array(spectrum)

    def brightness(x):
        return scipy.integrate.simpson(weighted * scipy.special.j0(2.0 * math.pi * nu * x), x=nu)

    peak = brightness(0.0)
    return 2.0 * scipy.optimize.brentq(lambda x: brightness(x) - peak / 2.0, 0.0, 1.2 / nu[-1] * 6.0)


@pytest.mark.parametrize(("aperture_mm", "focal_length_mm", "obstruction", "widths"), reference.WIDTHS)
def test_a_star_is_as_wide_as_two_independent_integrations_say(
    aperture_mm, focal_length_mm, obstruction, widths
):
    scale = pixel_scale_arcsec(reference.PIXEL_UM, focal_length_mm)
    computed = [
        expected_fwhm_arcsec(seeing, aperture_mm, reference.WAVELENGTH_NM, scale, obstruction)
        for seeing in reference.SEEING_ARCSEC
    ]
    assert computed == pytest.approx(widths, rel=reference.RELATIVE_TOLERANCE)


@pytest.mark.parametrize(
    ("seeing", "aperture_mm", "obstruction"), [(1.0, 80.0, 0.0), (1.5, 150.0, 0.35), (2.0, 100.0, 0.2)]
)
def test_without_a_pixel_it_is_the_hankel_transform(seeing, aperture_mm, obstruction):
    resolution = 550e-6 / aperture_mm * math.degrees(1.0) * 3600.0
    computed = expected_fwhm_arcsec(seeing, aperture_mm, 550.0, 0.0, obstruction)
    expected = width_by_hankel_transform(seeing, resolution, obstruction)
    assert computed == pytest.approx(expected, rel=HANKEL_TOLERANCE)


def test_a_giant_aperture_shows_the_seeing_alone():
    assert expected_fwhm_arcsec(2.0, 100_000.0, 550.0, 0.0) == pytest.approx(
        2.0, rel=EXPECTED_FWHM_RELATIVE_ERROR
    )


def test_the_best_air_shows_the_diffraction_image_alone():
    # A 10 mm aperture spreads light over 11.7 arcsec; 0.1 arcsec of seeing adds very little.
    computed = expected_fwhm_arcsec(0.1, 10.0, 550.0, 0.0, 0.3)
    assert computed == pytest.approx(diffraction_fwhm_arcsec(10.0, 550.0, 0.3), rel=2e-3)


def test_a_pixel_far_wider_than_the_star_is_what_remains():
    assert expected_fwhm_arcsec(1.0, 200.0, 550.0, 60.0) == pytest.approx(60.0, rel=1e-2)
    assert expected_fwhm_arcsec(2.0, 50.0, 550.0, 15.0) == pytest.approx(15.0, rel=1e-2)


@settings(max_examples=60, deadline=None)
@given(
    seeing=st.floats(0.5, 6.0),
    aperture_mm=st.floats(40.0, 500.0),
    pixel=st.floats(0.0, 6.0),
    obstruction=st.floats(0.0, 0.5),
)
def test_each_blur_alone_is_narrower_than_all_together(seeing, aperture_mm, pixel, obstruction):
    whole = expected_fwhm_arcsec(seeing, aperture_mm, 550.0, pixel, obstruction)
    slack = 1.0 + EXPECTED_FWHM_RELATIVE_ERROR
    assert whole * slack >= seeing
    assert whole * slack >= diffraction_fwhm_arcsec(aperture_mm, 550.0, obstruction)
    assert whole * 1.01 >= pixel
    worse = expected_fwhm_arcsec(seeing * 1.2, aperture_mm, 550.0, pixel, obstruction)
    assert worse * slack >= whole


@pytest.mark.parametrize("seeing", [0.0, 31.0, math.nan])
def test_air_that_is_no_air_is_refused(seeing):
    with pytest.raises(ValueError, match="The seeing is .* at least 0.1 and at most 30 arcsec"):
        expected_fwhm_arcsec(seeing, 100.0, 550.0, 1.0)


def test_a_negative_pixel_is_refused():
    with pytest.raises(ValueError, match="The pixel scale is -1 arcsec"):
        expected_fwhm_arcsec(2.0, 100.0, 550.0, -1.0)


@pytest.mark.parametrize(
    ("seeing", "guiding", "pixel", "obstruction"),
    [(2.0, 0.7, 1.0, 0.35), (3.0, 1.5, 0.0, 0.0), (1.0, 0.4, 5.76, 0.0), (0.5, 20.0, 1.0, 0.3)],
)
def test_guiding_widens_a_star_as_galsim_folds_it(seeing, guiding, pixel, obstruction):
    # galsim 2.8: an implementation of its own of all four; read off along a row of very fine pixels.
    resolution = math.degrees(550e-9 / 0.2) * 3600.0
    blurs = [
        galsim.Kolmogorov(fwhm=seeing),
        galsim.Airy(lam_over_diam=resolution, obscuration=obstruction),
        galsim.Gaussian(sigma=guiding / math.sqrt(2.0)),
        *([galsim.Pixel(pixel)] if pixel else []),
    ]
    expected = expected_fwhm_arcsec(seeing, 200.0, 550.0, pixel, obstruction, guiding)
    scale = expected / 30.0
    star = galsim.Convolve(*blurs, gsparams=galsim.GSParams(folding_threshold=1e-3))
    row = star.drawImage(nx=61, ny=1, scale=scale, method="no_pixel").array[0, 30:]
    outside = int(np.argmax(row < row[0] / 2.0))
    inside = outside - 1
    share = (row[inside] - row[0] / 2.0) / (row[inside] - row[outside])
    assert expected == pytest.approx(2.0 * (inside + share) * scale, rel=3e-3)
    assert expected > expected_fwhm_arcsec(seeing, 200.0, 550.0, pixel, obstruction)


def test_an_aperture_so_small_that_nothing_is_left_of_the_star_is_refused():
    with pytest.raises(OutOfRangeError, match="Check the aperture"):
        expected_fwhm_arcsec(3.0, 1e-160, 550.0, 1.0)


def test_the_widths_of_many_rigs_at_once_are_those_of_each():
    rng = np.random.default_rng(9)
    count = 1200
    obstructed, guided = rng.random((2, count)) < 0.6
    rigs = (
        rng.uniform(1.0, 5.0, count),
        rng.uniform(80.0, 600.0, count),
        rng.uniform(400.0, 900.0, count),
        rng.uniform(0.2, 6.0, count),
        rng.uniform(0.0, 0.5, count) * obstructed,
        rng.uniform(0.0, 1.5, count) * guided,
    )
    expected = one_by_one(expected_fwhm_arcsec, *rigs)
    assert np.abs(expected_fwhms_arcsec(*rigs) / expected - 1.0).max() < MANY_TOLERANCE


def test_the_widest_pixels_and_the_best_air_are_as_near():
    # Where the most waves lie within the star, up to where the pixel alone counts and beyond.
    pixels = np.linspace(4.0, 6.5, 60)
    found = expected_fwhms_arcsec(1.0, np.array([[80.0], [250.0], [600.0]]), 550.0, pixels, 0.35)
    expected = [
        [expected_fwhm_arcsec(1.0, aperture, 550.0, pixel, 0.35) for pixel in pixels.tolist()]
        for aperture in (80.0, 250.0, 600.0)
    ]
    assert np.abs(found / np.array(expected) - 1.0).max() < MANY_TOLERANCE
    assert found[2, -1] == 6.5


def test_among_many_rigs_one_that_has_no_width_is_nan_and_spoils_no_other():
    seeing, aperture = (
        np.array([2.0, 31.0, math.nan, 2.0, 3.0]),
        np.array([100.0, 100.0, 100.0, -1.0, 1e-160]),
    )
    found = expected_fwhms_arcsec(seeing, aperture, 550.0, 1.0)
    assert np.isnan(found).tolist() == [False, True, True, True, True]
    assert found[0] == pytest.approx(expected_fwhm_arcsec(2.0, 100.0, 550.0, 1.0), rel=MANY_TOLERANCE)
    assert expected_fwhms_arcsec(np.zeros(0), 100.0, 550.0, 1.0).shape == (0,)


@pytest.mark.parametrize("aperture_mm", [5e-324, 1e-310, 1e-300])
def test_an_aperture_of_next_to_nothing_is_out_of_range_and_no_fault(aperture_mm):
    with pytest.raises(OutOfRangeError, match="beyond all that is built"):
        expected_fwhm_arcsec(3.0, aperture_mm, 550.0, 1.0)
