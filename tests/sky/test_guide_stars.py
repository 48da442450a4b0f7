import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.sky.guide_stars import (
    COUNT_ERROR,
    GuideCamera,
    chance_of_a_star,
    faintest_magnitude,
    field_square_degrees,
    signal_to_noise,
    stars_per_square_degree,
)
from tests.references import guiding as reference

MEAN_LATITUDE_DEG = (
    25.0 - 10.0 * 0.04 / 0.39
)  # Where the ratio is 1: between 15 (1.35) and 25 (0.96) degrees.


@pytest.mark.parametrize(("magnitude", "count"), reference.COUNTS)
def test_where_the_sky_is_as_crowded_as_on_the_mean_the_counts_are_the_catalogues(magnitude, count):
    assert stars_per_square_degree(magnitude, MEAN_LATITUDE_DEG) == pytest.approx(count, rel=1e-3)


@pytest.mark.parametrize(("latitude", "counted"), reference.BANDS)
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_bright_stars_crowd_towards_the_milky_way_as_counted(latitude, counted, sign):
    # The count of the whole sky is made by another catalogue in another band, so the ratio is what is
    # checked; it is kept to two digits.
    found = stars_per_square_degree(10.0, sign * latitude) / 9.28
    assert found == pytest.approx(counted / reference.WHOLE_SKY, abs=0.006)


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


def test_the_chance_has_a_range_for_forty_per_cent_fewer_and_more_stars():
    found = chance_of_a_star(10.0, 0.1)
    assert COUNT_ERROR == 0.4
    # 1 - exp(-0.6) and 1 - exp(-1.4), from a table of the exponential function.
    assert (found.low, found.high) == pytest.approx((0.451188, 0.753403), abs=1e-6)


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
