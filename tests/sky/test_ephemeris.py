"""Sun, Moon and stars in the sky: against astropy, ephem, worked examples and published tables.

astropy's Moon is the same series as ours; ephem's is another one.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone

import ephem
import numpy as np
import pytest

from server.out_of_range import OutOfRangeError
from server.sky.ephemeris import (
    Spot,
    apparent_place,
    bent_altitude_deg,
    days_of,
    instant_of,
    moon_altitude_deg,
    moon_distance_deg,
    moon_seen,
    sidereal_deg,
    star_seen,
    sun_seen,
    sun_turned,
    true_altitude_deg,
)
from tests.sky import by_astropy

ARCSEC = 1.0 / 3600.0
FROM, TO = days_of(datetime(2026, 1, 1, tzinfo=UTC)), days_of(datetime(2040, 12, 31, tzinfo=UTC))
CHANCE = np.random.default_rng(20260101)
SPOTS = [
    Spot(float(latitude), float(CHANCE.uniform(-180, 180)), float(CHANCE.uniform(0, 4000)))
    for latitude in np.linspace(78.0, -78.0, 20)
]
GREENWICH = Spot(51.4779, 0.0)


def _times(count: int):
    """Some in a row and some far apart: those are interpolated, these are not."""
    return np.concatenate([CHANCE.uniform(FROM, TO, count), CHANCE.uniform(FROM, TO) + np.linspace(0, 3, 30)])


def _apart_deg(seen, other):
    """How far two directions lie apart, flat, which is exact for what is near."""
    across = (seen.azimuth_deg - other.az.deg + 180.0) % 360.0 - 180.0
    return np.hypot(seen.altitude_deg - other.alt.deg, across * np.cos(np.radians(other.alt.deg)))


@pytest.mark.parametrize("spot", SPOTS)
def test_sun_moon_and_stars_stand_where_astropy_sees_them(spot):
    days = _times(20)
    ra, dec = CHANCE.uniform(0, 360, days.size), np.degrees(np.arcsin(CHANCE.uniform(-1, 1, days.size)))
    with by_astropy.offline():
        sun, moon = by_astropy.body("sun", spot, days), by_astropy.body("moon", spot, days)
        star = by_astropy.star(spot, ra, dec, days)
        between = star.separation(moon).deg
        sun_to_moon, moon_km, sun_km = sun.separation(moon).rad, moon.distance.km, sun.distance.km
    # UT1 less UTC may turn the sky by 13 arcsec; from 2026 on it is less than 0.3 s, as far as is known.
    tolerance = 10.0 * ARCSEC
    seen = moon_seen(spot, days)
    assert _apart_deg(sun_seen(spot, days), sun).max() < tolerance
    assert _apart_deg(seen, moon).max() < tolerance
    assert _apart_deg(star_seen(spot, ra, dec, days), star).max() < tolerance
    assert np.abs(moon_altitude_deg(spot, days) - moon.alt.deg).max() < tolerance
    assert np.abs(moon_distance_deg(spot, ra, dec, days) - between).max() < tolerance
    # astropy's distance is that of the light's way around the Sun: up to a ten-thousandth off.
    assert seen.distance_km == pytest.approx(moon_km, rel=1.2e-4)
    # Meeus, Astronomical Algorithms, 2nd edition, (48.3) and (48.1), on astropy's places.
    phase = np.arctan2(sun_km * np.sin(sun_to_moon), moon_km - sun_km * np.cos(sun_to_moon))
    assert seen.phase_angle_deg == pytest.approx(np.degrees(phase), abs=0.01)
    assert seen.lit == pytest.approx((1.0 + np.cos(phase)) / 2.0, abs=1e-4)


@pytest.mark.parametrize("spot", SPOTS)
def test_sun_moon_and_stars_stand_where_ephem_sees_them(spot):
    days = _times(10)
    ra, dec = CHANCE.uniform(0, 360), float(np.degrees(np.arcsin(CHANCE.uniform(-1, 1))))
    observer = ephem.Observer()
    observer.lat, observer.lon = math.radians(spot.latitude_deg), math.radians(spot.longitude_deg)
    observer.elevation, observer.pressure = spot.height_m, 0
    star = ephem.FixedBody()
    star._ra, star._dec, star._epoch = math.radians(ra), math.radians(dec), ephem.J2000
    altitudes = []
    for one in days:
        observer.date = ephem.Date((2000, 1, 1, 12, 0, 0)) + one
        things = (ephem.Sun(observer), ephem.Moon(observer), star)
        star.compute(observer)
        altitudes.append([math.degrees(float(thing.alt)) for thing in things])
    ours = (sun_seen(spot, days), moon_seen(spot, days), star_seen(spot, ra, dec, days))
    for seen, theirs in zip(ours, np.array(altitudes).T, strict=True):
        assert np.abs(seen.altitude_deg - theirs).max() < 30.0 * ARCSEC


def test_the_place_of_date_is_that_of_a_worked_example():
    # Meeus, Astronomical Algorithms, 2nd edition, example 23.a (from memory): theta Persei on 2028 November
    # 13.19, its own motion already in; the light's bending by the Sun, left out, is below 0.1 arcsec.
    day = days_of(datetime(2028, 11, 13, 4, 33, 36, tzinfo=UTC))
    ra, dec = apparent_place(41.054063, 49.227750, day)
    assert ra == pytest.approx(15 * (2 + 46 / 60 + 14.390 / 3600), abs=0.5 * ARCSEC)
    assert dec == pytest.approx(49 + 21 / 60 + 7.45 / 3600, abs=0.5 * ARCSEC)


def test_sidereal_time_is_that_of_a_worked_example():
    # Meeus, Astronomical Algorithms, 2nd edition, example 12.a: Greenwich, 1987 April 10, 0 h.
    angle = sidereal_deg(GREENWICH, days_of(datetime(1987, 4, 10, tzinfo=UTC)))
    assert angle == pytest.approx(15 * (13 + 10 / 60 + 46.1351 / 3600), abs=0.1 * ARCSEC)
    east = sidereal_deg(Spot(0.0, 90.0), days_of(datetime(1987, 4, 10, tzinfo=UTC)))
    assert east == pytest.approx((angle + 90.0) % 360.0)


def test_the_sun_turns_to_the_meridian_with_the_equation_of_time():
    # At its greatest, on 3 November, the Sun culminates 16 min 25 s before mean noon (almanacs, from memory).
    noon = days_of(datetime(2026, 11, 3, 12, tzinfo=UTC))
    turned, dec = sun_turned(GREENWICH, [noon - 985.0 / 86400.0, noon - 0.25])
    assert turned[0] == pytest.approx(0.0, abs=2.0 / 240.0)
    assert turned[1] == pytest.approx(-90.0 + 985.0 / 240.0, abs=3.0 / 240.0)
    # The Sun's declination at that noon (almanacs, from memory): -15.0.
    assert dec[0] == pytest.approx(-15.0, abs=0.15)


def test_an_eclipse_puts_the_moon_before_the_sun():
    # Total on 2026 August 12 in the north of Spain, about 18:27:40 UTC (published maps, from memory).
    spot, day = Spot(43.36, -5.85, 230.0), days_of(datetime(2026, 8, 12, 18, 27, 40, tzinfo=UTC))
    sun, moon = sun_seen(spot, day), moon_seen(spot, day)
    assert moon.altitude_deg == pytest.approx(sun.altitude_deg, abs=0.02)
    assert moon.azimuth_deg == pytest.approx(sun.azimuth_deg, abs=0.02)
    assert moon.lit < 1e-4
    assert moon.phase_angle_deg > 179.0


def test_one_time_is_seen_like_one_of_many():
    days = FROM + np.linspace(0.0, 40.0, 3000)
    for see in (sun_seen, moon_seen, lambda s, d: star_seen(s, 10.0, 41.0, d)):
        many = see(SPOTS[3], days).altitude_deg
        for at in range(0, 3000, 61):
            assert see(SPOTS[3], float(days[at])).altitude_deg == pytest.approx(many[at], abs=0.3 * ARCSEC)


def test_stars_and_times_make_a_table():
    seen = star_seen(
        GREENWICH, np.array([10.0, 200.0])[:, None], np.array([41.0, -5.0])[:, None], [FROM, TO, FROM]
    )
    assert seen.altitude_deg.shape == (2, 3)
    assert seen.altitude_deg[:, 0] == pytest.approx(seen.altitude_deg[:, 2])
    assert seen.altitude_deg[1, 1] == pytest.approx(star_seen(GREENWICH, 200.0, -5.0, TO).altitude_deg)
    assert moon_seen(GREENWICH, [[FROM, TO]]).lit.shape == (1, 2)
    assert moon_distance_deg(GREENWICH, [10.0, 20.0, 30.0], 41.0, FROM).shape == (3,)


@pytest.mark.parametrize(
    ("seen_deg", "arcmin", "off"),
    # The altitude corrections for stars of the Nautical Almanac (from memory), good to its tenth.
    [
        (0.0, 34.5, 0.3),
        (5.0, 9.9, 0.1),
        (10.0, 5.3, 0.1),
        (20.0, 2.65, 0.1),
        (45.0, 1.0, 0.1),
        (90.0, 0.0, 0.01),
    ],
)
def test_the_air_lifts_as_the_almanac_says(seen_deg, arcmin, off):
    assert (seen_deg - true_altitude_deg(seen_deg)) * 60.0 == pytest.approx(arcmin, abs=off)


def test_high_up_the_air_lifts_as_in_astropy():
    with by_astropy.offline():
        days = FROM + np.linspace(0.0, 1.0, 50)
        airless = by_astropy.star(GREENWICH, 10.0, 41.0, days).alt.deg
        bent = by_astropy.star(GREENWICH, 10.0, 41.0, days, bent=True).alt.deg
    high = airless > 15.0
    assert high.sum() > 20
    assert np.abs(bent_altitude_deg(airless[high]) - bent[high]).max() < 6.0 * ARCSEC


def test_bending_and_unbending_undo_each_other_and_keep_the_order():
    seen = np.linspace(-5.0, 90.0, 400)
    true = true_altitude_deg(seen)
    assert bent_altitude_deg(true) == pytest.approx(seen, abs=1e-6)
    assert (np.diff(true) > 0.0).all()


def test_a_time_is_told_in_any_zone_and_found_again_to_the_second():
    instant = datetime(2030, 5, 6, 7, 8, 9, tzinfo=timezone(timedelta(hours=-7)))
    # From 2000-01-01 12:00 to 2030-05-06 14:08:09 UTC: 11,083 days less a half to midnight, worked by hand.
    assert days_of(instant) == pytest.approx(11082.5 + (14 + 8 / 60 + 9 / 3600) / 24, abs=1e-9)
    assert instant_of(days_of(instant)) == instant
    assert instant_of(days_of(instant) + 0.4 / 86400.0).tzinfo is UTC
    with pytest.raises(OutOfRangeError, match="zone"):
        days_of(datetime(2030, 5, 6))  # noqa: DTZ001 - the very fault that is refused


@pytest.mark.parametrize(
    "asked",
    [
        lambda: Spot(90.1, 0.0),
        lambda: Spot(math.nan, 0.0),
        lambda: Spot(0.0, 181.0),
        lambda: Spot(0.0, 0.0, math.inf),
        lambda: sun_seen(GREENWICH, [FROM, -20000.0]),
        lambda: moon_seen(GREENWICH, 40000.0),
        lambda: moon_altitude_deg(GREENWICH, math.nan),
        lambda: sidereal_deg(GREENWICH, math.inf),
        lambda: instant_of(1e9),
        lambda: star_seen(GREENWICH, 10.0, [0.0, 91.0], FROM),
        lambda: star_seen(GREENWICH, 400.0, 0.0, FROM),
        lambda: apparent_place(math.nan, 0.0, FROM),
        lambda: moon_distance_deg(GREENWICH, 0.0, -91.0, FROM),
        lambda: true_altitude_deg(91.0),
        lambda: bent_altitude_deg([0.0, math.nan]),
    ],
)
def test_what_no_sky_has_is_refused(asked):
    with pytest.raises(OutOfRangeError, match=r"\. (Give|Ask)"):
        asked()


def test_the_poles_and_the_ends_of_time_are_seen():
    for latitude in (90.0, -90.0):
        # At a pole a star stands as high as its declination of date; in 2099 precession has moved it by 0.6.
        seen = star_seen(Spot(latitude, 0.0), 50.0, 30.0, -10227.5)
        assert seen.altitude_deg == pytest.approx(math.copysign(30.0, latitude), abs=0.2)
    assert math.isfinite(sun_seen(GREENWICH, 36494.5).altitude_deg)
