"""What lies about a target: stars and neighbours, by their published places."""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.domain.sky.around import LEAST_NEIGHBOUR_SHARE, MOST_NEIGHBOURS, around
from server.domain.sky.target import Target, catalogue_target

M31 = catalogue_target("M 31")


def test_the_companions_of_a_galaxy_lie_where_atlases_have_them():
    # J2000, published by every atlas: M 31 00h 42m 44.3s +41 16' 09"; M 32 00h 42m 41.8s +40 51' 57", 0.5'
    # west and 24.2' south; M 110 00h 40m 22.1s +41 41' 07", 26.6' west and 25.1' north (on a plate).
    places = {one.called: (east, north) for east, north, one in around(M31, 120.0).neighbours}
    assert places["M 32"] == pytest.approx((-0.5, -24.2), abs=0.2)
    assert places["M 110"] == pytest.approx((-26.6, 25.1), abs=0.2)
    assert M31.called not in places


def test_neighbours_are_the_largest_first_not_too_small_and_not_too_many():
    # Among the galaxies of Virgo there are hundreds.
    held = around(catalogue_target("M 87"), 180.0)
    sizes = [one.major_arcmin or 0.0 for _, _, one in held.neighbours]
    assert len(sizes) == MOST_NEIGHBOURS
    assert sizes == sorted(sizes, reverse=True)
    assert min(sizes) > LEAST_NEIGHBOUR_SHARE * 180.0


def test_stars_lie_within_the_reach_the_brightest_first_and_none_is_invented():
    pleiades = catalogue_target("M 45")
    held = around(pleiades, 60.0)
    apart = [math.hypot(east, north) for east, north, _ in held.stars]
    assert max(apart) < 60.1
    mags = [g for _, _, g in held.stars]
    assert mags == sorted(mags)
    assert max(mags) <= held.limit_g
    # Alcyone, J2000 03h 47m 29.1s +24 06' 18" (published by every atlas), V 2.87, is the brightest of them.
    east, north, g = held.stars[0]
    ra_off = (56.8712 - pleiades.ra_deg) * math.cos(math.radians(24.105)) * 60.0
    assert east == pytest.approx(ra_off, abs=0.2)
    assert north == pytest.approx((24.1051 - pleiades.dec_deg) * 60.0, abs=0.2)
    assert g == pytest.approx(2.87, abs=0.3)


def test_a_larger_reach_holds_what_a_smaller_one_does():
    small, large = around(M31, 40.0), around(M31, 80.0)
    assert set(np.round(small.stars, 6)[:, 0]) <= set(np.round(large.stars, 6)[:, 0])
    assert len(large.stars) > len(small.stars)


def test_about_a_pole_the_sky_is_as_whole_as_elsewhere():
    pole = Target(name="The pole", ra_deg=0.0, dec_deg=90.0)
    held = around(pole, 90.0)
    # Polaris, J2000 02h 31m 49s +89 15' 51": 44.2' from the pole, towards its right ascension of
    # 37.95 degrees.
    # East of the pole's own meridian of 0 h lies 6 h, north of it, over the pole, 12 h.
    east, north, _ = held.stars[0]
    assert math.hypot(east, north) == pytest.approx(44.15, abs=0.3)
    assert math.degrees(math.atan2(east, -north)) == pytest.approx(37.95, abs=0.5)


def test_a_reach_beyond_what_a_picture_holds_is_cut():
    held = around(M31, 36_000.0)
    assert max(math.hypot(east, north) for east, north, _ in held.stars) < 60.0 * math.degrees(
        math.tan(math.radians(30.1))
    )
