"""Sizes and light of stars against photutils' circles, and shapes whose moments are known by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from photutils.aperture import CircularAperture, aperture_photometry
from photutils.profiles import CurveOfGrowth

from server.frames.finding import HALF
from server.frames.measuring import Shapes, measure, radius_for
from tests.frames.reckoned import stars_of
from tests.frames.simulator import Field, Night, Optics, frame

RADIUS = 9
STEPS = np.arange(-HALF, HALF + 1, dtype=float)
ACROSS, UP = STEPS[None, :], STEPS[:, None]
Star = tuple[np.ndarray, tuple[float, float]]


@pytest.fixture(scope="module")
def measured() -> tuple[list[Star], Shapes]:
    """Cut-outs with the median of their ring off and where the star stands on them; what was measured."""
    optics = Optics(tilt=40, curvature=30, obstruction=0.3)
    stars = stars_of(frame(optics, Night(), Field(faintest_e=10_000), 60.0))
    shapes = measure(stars.stamps, stars.corner, RADIUS)
    assert len(stars) > 150
    assert np.isfinite(shapes.half_flux).all()
    far = np.hypot(UP, ACROSS)
    sky = np.median(stars.stamps[:, (far > RADIUS + 1.5) & (far <= HALF)], axis=1)
    at = np.column_stack([shapes.x, shapes.y]) - stars.corner + HALF
    lights = stars.stamps - sky[:, None, None]
    return [(light, (float(x), float(y))) for light, (x, y) in zip(lights, at, strict=True)], shapes


def test_the_light_within_the_radius_is_that_of_photutils_circles(measured: tuple[list[Star], Shapes]):
    stars, shapes = measured
    theirs = [
        aperture_photometry(light, CircularAperture(at, RADIUS), method="exact")["aperture_sum"][0]
        for light, at in stars
    ]
    assert np.abs(shapes.flux / np.array(theirs) - 1.0).max() < 0.005


def test_half_of_the_light_is_within_the_diameter_by_photutils_curve_of_growth(
    measured: tuple[list[Star], Shapes],
):
    stars, shapes = measured
    off = []
    for (light, at), diameter in zip(stars, shapes.half_flux, strict=True):
        growth = CurveOfGrowth(light, at, np.arange(0.5, RADIUS + 0.01, 0.25))
        whole = growth.profile[-1]
        radius = np.interp(0.5 * whole, growth.profile, growth.radius)
        off.append(diameter - 2.0 * radius)
    # Circles of whole sub-pixels against exact ones.
    assert np.abs(off).max() < 0.05
    assert abs(np.mean(off)) < 0.01


def gaussian(x: float, y: float, long_px: float, wide_px: float, turn_deg: float) -> np.ndarray:
    """Return a Gaussian star on a cut-out, at x and y from its middle."""
    turn = math.radians(turn_deg)
    along = (ACROSS - x) * math.cos(turn) + (UP - y) * math.sin(turn)
    over = (UP - y) * math.cos(turn) - (ACROSS - x) * math.sin(turn)
    return 1e4 * np.exp(-0.5 * ((along / long_px) ** 2 + (over / wide_px) ** 2))


def measured_one(star: np.ndarray) -> Shapes:
    return measure(star[None].astype(np.float32), np.array([[100, 200]]), RADIUS)


@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 90.0, 160.0])
def test_a_gaussian_star_has_its_own_moments(turn_deg: float):
    one = measured_one(gaussian(0.3, -0.4, 2.0, 1.5, turn_deg))
    assert (one.x[0], one.y[0]) == pytest.approx((100.3, 199.6), abs=0.01)
    # Variances add: 2.0^2 + 1.5^2, and their difference turned by twice the angle.
    assert one.size[0] == pytest.approx(6.25, rel=0.01)
    assert one.moment[0] == pytest.approx(1.75 * np.exp(2j * math.radians(turn_deg)), abs=0.02)
    assert abs(one.third[0]) < 0.01


def test_a_round_gaussian_stars_half_flux_diameter_is_its_full_width():
    # Both are 2 sqrt(2 ln 2) sigma.
    assert measured_one(gaussian(0.2, 0.1, 2.0, 2.0, 0.0)).half_flux[0] == pytest.approx(4.71, abs=0.03)


@pytest.mark.parametrize("turn_deg", [0.0, 70.0, 200.0])
def test_the_third_moment_points_along_the_tail(turn_deg: float):
    tail = 2.5 * np.exp(1j * math.radians(turn_deg))
    star = gaussian(0.0, 0.0, 1.5, 1.5, 0.0) + 0.3 * gaussian(tail.real, tail.imag, 2.0, 2.0, 0.0)
    third = measured_one(star).third[0]
    assert abs(third) > 0.1
    assert math.degrees(np.angle(third / tail)) == pytest.approx(0.0, abs=2.0)


@pytest.mark.parametrize("star", [np.zeros((41, 41)), -gaussian(0, 0, 2, 2, 0), np.full((41, 41), np.nan)])
def test_what_is_no_star_is_not_a_number(star: np.ndarray):
    one = measured_one(star)
    assert np.isnan(one.half_flux[0])
    assert np.isnan(one.moment[0])


def test_the_radius_is_one_for_a_set_and_fits_the_cut_out():
    assert radius_for([np.array([3.0, 3.2]), np.array([4.0])]) == 11
    assert radius_for([np.array([30.0])]) == 14
    assert radius_for([np.empty(0)]) == 8
