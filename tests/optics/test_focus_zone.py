"""The focus zone against stars folded by galsim 2.8, and arithmetic on published figures."""

from __future__ import annotations

import math

import galsim
import pytest

from server.optics.focus import depth_of_focus_mm
from server.optics.focus_zone import motor_steps, refocus_hours, seeing_depth_mm
from tests.references.focus import blur_um


def grown(star, disc_um, obstruction):
    """The share by which a star of width 1 grows under a ring of light: full width at half maximum."""
    outer = galsim.TopHat(disc_um / 2.0)
    if obstruction > 0.0:
        inner = galsim.TopHat(disc_um / 2.0 * obstruction, flux=obstruction**2)
        outer = (outer - inner) / (1.0 - obstruction**2)
    image = galsim.Convolve(star, outer).drawImage(nx=161, ny=161, scale=0.025, method="no_pixel").array
    row = image[80, 80:]
    half = row[0] / 2.0
    first = next(i for i, value in enumerate(row) if value < half)
    radius = first - 1 + (row[first - 1] - half) / (row[first - 1] - row[first])
    return 2.0 * radius * 0.025 - 1.0


@pytest.mark.parametrize("obstruction", [0.0, 0.35, 0.5])
@pytest.mark.parametrize(("growth", "within"), [(0.05, 0.04), (0.1, 0.04), (0.2, 0.04), (0.3, 0.06)])
def test_at_the_zones_end_the_airs_star_has_grown_as_asked(growth, within, obstruction):
    # A growth goes nearly with the square of the defocus: an error of the zone shows twice in it.
    disc = blur_um(seeing_depth_mm(5.0, 1.0, growth, obstruction), 5.0)
    star = galsim.Kolmogorov(fwhm=1.0)
    assert grown(star, disc * (1.0 - within), obstruction) < growth
    assert grown(star, disc * (1.0 + within), obstruction) > growth


def test_a_star_more_like_a_gaussian_grows_less_but_not_by_much():
    disc = blur_um(seeing_depth_mm(5.0, 1.0, 0.1), 5.0)
    star = galsim.Gaussian(fwhm=1.0)
    assert grown(star, disc, 0.0) < 0.1
    assert grown(star, disc * 1.12, 0.0) > 0.1


def test_the_zone_goes_with_focal_ratio_and_the_stars_width():
    one = seeing_depth_mm(4.0, 8.0, 0.1)
    assert seeing_depth_mm(8.0, 8.0, 0.1) == pytest.approx(2.0 * one)
    assert seeing_depth_mm(4.0, 16.0, 0.1) == pytest.approx(2.0 * one)
    assert seeing_depth_mm(4.0, 8.0, 0.0) == 0.0


def test_a_motors_steps_fill_the_zone_from_side_to_side():
    # f/5 at 550 nm: 27.5 um to either side (Born & Wolf, sec. 8.8): 55 um of 4 um each.
    assert motor_steps(depth_of_focus_mm(5.0, 550.0), 4.0) == pytest.approx(13.75)


def test_an_aluminium_tube_in_a_cooling_night_wants_focus_again():
    # 800 mm of aluminium (23.1e-6 per K) move by 18.48 um per K; f/4 at 550 nm bears 17.6 um: 0.952 K, at 2
    # K an hour 0.476 hours.
    depth, drift = depth_of_focus_mm(4.0, 550.0), 0.01848
    assert refocus_hours(depth, drift, 2.0) == pytest.approx(0.476, abs=5e-4)
    assert refocus_hours(depth, -drift, -2.0) == refocus_hours(depth, drift, 2.0)
    assert refocus_hours(depth, 0.0, 2.0) == math.inf
    assert refocus_hours(depth, drift, 0.0) == math.inf


@pytest.mark.parametrize(
    "call",
    [
        lambda: seeing_depth_mm(5.0, -1.0, 0.1),
        lambda: seeing_depth_mm(5.0, 5.0, 0.5),
        lambda: seeing_depth_mm(5.0, 5.0, 0.1, 1.0),
        lambda: motor_steps(0.1, 0.0),
        lambda: motor_steps(-0.1, 4.0),
        lambda: refocus_hours(0.1, 0.01, 30.0),
    ],
)
def test_what_cannot_be_is_refused_in_words(call):
    with pytest.raises(ValueError, match="must be"):
        call()
