"""Places, outlines and turns of a frame, against spherical geometry by two other libraries and by hand."""

from __future__ import annotations

import math

import astropy.units as u
import erfa
import numpy as np
import pytest
import shapely
from astropy.coordinates import SkyCoord
from astropy.wcs import WCS

from server.out_of_range import OutOfRangeError
from server.sky.framing import (
    FocalRange,
    agree,
    best_angle,
    fill,
    focal_range_mm,
    from_tangent,
    off_sensor,
    on_sensor,
    outline,
    to_tangent,
)

ARCSEC_DEG = 1.0 / 3600.0
EXACT = 1e-12
M31 = (177.83, 69.66)
WIDE = (201.9, 134.58)  # 3.365 x 2.243 degrees


@pytest.fixture(scope="module")
def points():
    """Centres all over the sky, poles among them, and points of their tangent planes up to 35 degrees
    away."""
    rng = np.random.default_rng(20)
    centre_ra, centre_dec = rng.uniform(0.0, 360.0, 5000), np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, 5000)))
    centre_dec[:4] = 90.0, -90.0, 0.0, 89.9999
    xi, eta = rng.uniform(-0.5, 0.5, (2, 5000))
    return xi, eta, centre_ra, centre_dec


def test_the_tangent_plane_is_the_one_of_a_library_of_the_iau(points):
    xi, eta, centre_ra, centre_dec = points
    ra, dec = from_tangent(xi, eta, centre_ra, centre_dec)
    # erfa.tpsts and erfa.tpxes.
    their_ra, their_dec = erfa.tpsts(xi, eta, np.radians(centre_ra), np.radians(centre_dec))
    apart = np.remainder(np.degrees(their_ra) - ra + 180.0, 360.0) - 180.0
    assert np.abs(apart * np.cos(their_dec)).max() < EXACT * 180.0
    assert np.abs(np.degrees(their_dec) - dec).max() < EXACT * 180.0
    x, y = to_tangent(ra, dec, centre_ra, centre_dec)
    theirs = erfa.ufunc.tpxes(*np.radians([ra, dec, centre_ra, centre_dec]))
    assert np.abs(x - theirs[0]).max() < EXACT
    assert np.abs(y - theirs[1]).max() < EXACT


def test_the_way_there_and_back_ends_where_it_began(points):
    xi, eta, centre_ra, centre_dec = points
    ra, dec = from_tangent(xi, eta, centre_ra, centre_dec)
    assert np.all((ra >= 0.0) & (ra < 360.0))
    x, y = to_tangent(ra, dec, centre_ra, centre_dec)
    assert np.abs(np.hypot(x - xi, y - eta)).max() < EXACT


def test_a_right_ascension_a_hair_below_0_is_written_as_0():
    ra, _ = from_tangent(-1e-18, 0.0, 0.0, 0.0)
    assert ra == 0.0


def test_what_lies_behind_the_half_of_the_sky_has_no_place_in_the_plane():
    xi, eta = to_tangent(np.array([100.0, 99.9, 190.0, 10.0]), 0.0, 10.0, 0.0)
    assert list(np.isnan(xi)) == [True, False, True, False]
    assert list(np.isnan(eta)) == [True, False, True, False]


def test_single_figures_give_single_figures():
    # atan(1 / 10) either way; by hand.
    ra, dec = from_tangent(0.1, 0.0, 350.0, 0.0)
    assert float(ra) == pytest.approx(355.7105931, abs=1e-7)
    assert float(dec) == 0.0
    assert math.hypot(*map(float, to_tangent(ra, dec, 350.0, 0.0))) == pytest.approx(0.1)


def test_distances_and_bearings_hold_to_an_arcsecond_3_degrees_away():
    # astropy's SkyCoord: the point at a distance on a bearing.
    bearing = np.arange(0.0, 360.0, 15.0)
    for dec in (0.0, 41.27, 75.0, 89.0):
        centre = SkyCoord(10.68 * u.deg, dec * u.deg)
        there = centre.directional_offset_by(bearing * u.deg, 3.0 * u.deg)
        xi, eta = to_tangent(there.ra.deg, there.dec.deg, 10.68, dec)
        assert np.abs(np.degrees(np.arctan(np.hypot(xi, eta))) - 3.0).max() < ARCSEC_DEG / 1000.0
        off = np.remainder(np.degrees(np.arctan2(xi, eta)) - bearing + 180.0, 360.0) - 180.0
        assert np.abs(off).max() < 1e-9


def test_north_is_up_and_east_to_the_left_of_an_upright_sensor():
    assert on_sensor(0.0, 1.0, 0.0) == pytest.approx((0.0, 1.0), abs=EXACT)
    assert on_sensor(1.0, 0.0, 0.0) == pytest.approx((-1.0, 0.0), abs=EXACT)


def test_at_a_position_angle_of_90_east_is_up_and_north_to_the_right():
    assert on_sensor(1.0, 0.0, 90.0) == pytest.approx((0.0, 1.0), abs=EXACT)
    assert on_sensor(0.0, 1.0, 90.0) == pytest.approx((1.0, 0.0), abs=EXACT)


def test_pixels_are_where_the_fits_standard_puts_them():
    # astropy's WCS: a TAN header with the axes turned by a position angle of 29 degrees, 2 arcsec pixels,
    # columns growing to the right and rows upwards (FITS paper II: CD1_1 = -s cos, CD1_2 = s sin, CD2_1 = s
    # sin ...).
    sky, scale, turn = WCS(naxis=2), 2.0 * ARCSEC_DEG, math.radians(29.0)
    sky.wcs.ctype, sky.wcs.crval, sky.wcs.crpix = ["RA---TAN", "DEC--TAN"], [83.8, 75.0], [1.0, 1.0]
    sky.wcs.cd = scale * np.array([[-math.cos(turn), math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    x, y = np.meshgrid(np.linspace(-3000.0, 3000.0, 9), np.linspace(-2000.0, 2000.0, 7))
    ra, dec = sky.wcs_pix2world(x, y, 0)
    ours = from_tangent(*off_sensor(x * math.radians(scale), y * math.radians(scale), 29.0), 83.8, 75.0)
    assert np.abs(ours[0] - ra).max() < ARCSEC_DEG / 1000.0
    assert np.abs(ours[1] - dec).max() < ARCSEC_DEG / 1000.0
    # The sensor's up points along that position angle, by astropy's SkyCoord.
    up = from_tangent(*off_sensor(0.0, 1e-4, 29.0), 83.8, 75.0)
    centre = SkyCoord(83.8 * u.deg, 75.0 * u.deg)
    assert centre.position_angle(SkyCoord(*up, unit="deg")).deg == pytest.approx(29.0, abs=1e-6)


def test_an_outline_lies_on_the_sky_as_an_ellipse_by_great_circles_does():
    # astropy's SkyCoord measures it; the radius of an ellipse at an angle from its major axis is textbook.
    xi, eta = outline(*M31, 35.0)
    assert xi.shape == eta.shape == (72,)
    centre = SkyCoord(10.6848 * u.deg, 41.2691 * u.deg)
    there = SkyCoord(*from_tangent(xi, eta, 10.6848, 41.2691), unit="deg")
    off = centre.position_angle(there).rad - math.radians(35.0)
    major, minor = M31[0] / 2.0, M31[1] / 2.0
    radius = major * minor / np.hypot(minor * np.cos(off), major * np.sin(off))
    assert np.abs(centre.separation(there).arcmin - radius).max() * 60.0 < 1e-3
    # It begins at the major axis's end and goes on from north through east.
    assert float(off[0]) == pytest.approx(0.0, abs=1e-9)
    assert 0.0 < float(off[1]) < 0.2


@pytest.mark.parametrize("camera", [0.0, 35.0, -62.0, 100.0])
def test_an_object_fills_as_much_as_its_outline_on_the_sensor(camera):
    # shapely's bounds of the outline as drawn.
    drawn = shapely.LineString(np.transpose(on_sensor(*outline(*M31, 35.0, 3600), camera)))
    _, _, right, top = drawn.bounds
    half_w, half_h = (math.tan(math.radians(side / 120.0)) for side in (200.0, 130.0))
    assert fill(200.0, 130.0, *M31, 35.0, camera) == pytest.approx(
        max(right / half_w, top / half_h), abs=1e-5
    )


def test_m31_fills_a_wide_frame_as_worked_by_another_program():
    # A scan by whole degrees with a flat ellipse, made before this code: 0.789 at 29 degrees off the long
    # side, 0.882 along it. The scan's own steps and its flat angles make 0.002.
    assert fill(*WIDE, *M31, 35.0, 35.0 - 61.0) == pytest.approx(0.789, abs=0.002)
    assert fill(*WIDE, *M31, 35.0, 35.0 + 90.0) == pytest.approx(0.882, abs=0.002)
    best = best_angle(*WIDE, *M31, 35.0)
    assert 0.785 < best.share <= fill(*WIDE, *M31, 35.0, 35.0 - 61.0)
    assert abs(best.angle_deg - 35.0) == pytest.approx(61.0, abs=0.5)


def test_no_other_angle_is_better_than_the_best():
    rng = np.random.default_rng(4)
    major = rng.uniform(10.0, 600.0, 400)
    minor = major * rng.uniform(0.05, 1.0, 400)
    width, height, target = *rng.uniform(30.0, 400.0, (2, 400)), rng.uniform(0.0, 180.0, 400)
    best = best_angle(width, height, major, minor, target)
    assert fill(width, height, major, minor, target, best.angle_deg) == pytest.approx(best.share)
    every = np.arange(-90.0, 90.0, 0.1)[:, None]
    scanned = fill(width, height, major, minor, target, every)
    assert np.all(best.share <= scanned.min(axis=0) * (1.0 + 1e-12))
    # A step of 0.1 degrees misses the least by little, so the best is no lower than there is.
    assert np.all(best.share >= scanned.min(axis=0) * 0.98)


def test_of_two_equal_angles_the_one_nearer_to_north_up_is_chosen():
    for target in np.arange(0.0, 180.0, 7.0):
        best = best_angle(*WIDE, *M31, target)
        others = 2.0 * target - best.angle_deg
        assert fill(*WIDE, *M31, target, others) == pytest.approx(best.share)
        nearest = abs((others + 90.0) % 180.0 - 90.0)
        assert abs(best.angle_deg) <= nearest + 1e-9
        assert -90.0 < best.angle_deg <= 90.0
    # Of two as near: the positive one.
    assert best_angle(*WIDE, *M31, 0.0).angle_deg > 0.0


def test_an_angle_of_a_quarter_turn_is_written_as_90():
    # What is too broad for a tall frame lies along it, here from east to west.
    assert best_angle(100.0, 300.0, 250.0, 150.0, 90.0).angle_deg == 90.0
    assert best_angle(100.0, 300.0, 250.0, 150.0, -90.0).angle_deg == 90.0


def test_a_round_object_is_framed_with_north_up():
    assert best_angle(*WIDE, 60.0, 60.0, 77.0).angle_deg == 0.0
    # 60' in 134.58', nearly the quotient.
    assert best_angle(*WIDE, 60.0, 60.0, 77.0).share == pytest.approx(60.0 / 134.58, rel=1e-3)


def test_a_needle_lies_along_the_long_side_of_a_strip_and_on_the_diagonal_of_a_square():
    assert best_angle(600.0, 10.0, 300.0, 9.9, 40.0).angle_deg == pytest.approx(-50.0, abs=2.0)
    assert abs(best_angle(200.0, 200.0, 150.0, 0.1, 0.0).angle_deg) == pytest.approx(45.0, abs=0.01)


def test_the_share_does_not_ask_how_an_object_lies():
    shares = best_angle(*WIDE, *M31, np.arange(0.0, 180.0, 11.0)).share
    assert np.ptp(shares) < EXACT


def test_focal_lengths_give_the_shares_they_were_asked_for():
    found = focal_range_mm(36.0, 24.0, *M31, 0.4, 0.9)
    for focal, share in ((found.shortest_mm, 0.4), (found.longest_mm, 0.9)):
        width, height = (120.0 * math.degrees(math.atan(side / 2.0 / focal)) for side in (36.0, 24.0))
        assert best_angle(width, height, *M31, 35.0).share == pytest.approx(share)


def test_the_moon_on_a_square_chip_by_hand():
    # 31' on 10 mm: half of it is tan(15.5') = 0.0045088, so 0.5 of 10 mm is 5 mm / 0.0090177 = 554.47 mm.
    found = focal_range_mm(10.0, 10.0, 31.0, 31.0, 0.5, 1.0)
    assert found.shortest_mm == pytest.approx(554.47, abs=0.05)
    assert found.longest_mm == pytest.approx(1108.93, abs=0.1)


def test_ranges_that_meet_share_what_lies_in_all():
    found = agree([FocalRange(300.0, 900.0), FocalRange(500.0, 1200.0), FocalRange(100.0, 700.0)])
    assert found.shared == FocalRange(500.0, 700.0)
    assert found.disagree is None
    assert agree([FocalRange(400.0, 500.0), FocalRange(500.0, 600.0)]).shared == FocalRange(500.0, 500.0)


def test_of_ranges_that_do_not_meet_two_are_named():
    found = agree([FocalRange(300.0, 900.0), FocalRange(1000.0, 1200.0), FocalRange(100.0, 700.0)])
    assert found.shared is None
    assert found.disagree == (1, 2)


@pytest.mark.parametrize(
    "refused",
    [
        lambda: to_tangent(10.0, 91.0, 0.0, 0.0),
        lambda: to_tangent(10.0, 0.0, math.nan, 0.0),
        lambda: from_tangent(0.0, 0.0, 0.0, -90.1),
        lambda: outline(10.0, 20.0, 0.0),
        lambda: outline(10.0, 0.0, 0.0),
        lambda: fill(60.0, 40.0, np.array([10.0, math.nan]), 5.0, 0.0, 0.0),
        lambda: fill(0.0, 10.0, 10.0, 5.0, 0.0, 0.0),
        lambda: best_angle(10.0, 8000.0, 10.0, 5.0, 0.0),
        lambda: focal_range_mm(0.0, 24.0, 10.0, 5.0, 0.3, 0.9),
        lambda: focal_range_mm(36.0, 24.0, 10.0, 5.0, 0.9, 0.3),
        lambda: focal_range_mm(36.0, 24.0, 10.0, 5.0, 0.0, 0.3),
        lambda: agree([]),
    ],
)
def test_what_no_frame_can_be_is_refused_with_what_to_do(refused):
    with pytest.raises(OutOfRangeError, match=r"\. (Give|Swap)"):
        refused()
