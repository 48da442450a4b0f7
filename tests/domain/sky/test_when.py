"""When a target can be photographed: its year and a night of it, beside ephem and astropy."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import ephem
import numpy as np
import pytest

from server.domain.sky.site import Site
from server.domain.sky.target import Target, catalogue_target
from server.domain.sky.when import RIBBON_EVERY_DAYS, STEP_MINUTES, Night, tonight, work_night, work_year
from server.out_of_range import OutOfRangeError
from server.sky.ephemeris import days_of
from tests.sky import by_astropy

GARDEN = Site(name="The garden", latitude_deg=50.0, longitude_deg=10.0, zone="Europe/Berlin")
CAPE = Site(name="The cape", latitude_deg=-33.9, longitude_deg=18.5, zone="Africa/Johannesburg")
ARCTIC = Site(name="The arctic", latitude_deg=78.0, longitude_deg=15.0, zone="Arctic/Longyearbyen")
POLE = Site(name="Near the pole", latitude_deg=85.0, longitude_deg=15.0, zone="UTC")
M31 = catalogue_target("M 31")
MINUTE = timedelta(minutes=1)


def star(ra_deg, dec_deg):
    return Target(name="A star", ra_deg=ra_deg, dec_deg=dec_deg)


def hours(runs):
    return sum((ended - begun).total_seconds() for begun, ended in runs) / 3600.0


def ephems_dusk_and_dawn(site: Site, evening: date):
    """The Sun's middle 18 degrees below the airless horizon."""
    observer = ephem.Observer()
    observer.lat, observer.lon, observer.pressure = str(site.latitude_deg), str(site.longitude_deg), 0
    observer.horizon = "-18"
    # Noon of the mean Sun.
    observer.date = ephem.Date(evening) + 0.5 - site.longitude_deg / 360.0
    dusk = observer.next_setting(ephem.Sun(), use_center=True)
    observer.date = dusk
    dawn = observer.next_rising(ephem.Sun(), use_center=True)
    return tuple(one.datetime().replace(tzinfo=UTC) for one in (dusk, dawn))


@pytest.mark.parametrize(
    ("site", "evening"),
    [
        (GARDEN, date(2026, 10, 12)),
        (GARDEN, date(2027, 3, 14)),
        (CAPE, date(2026, 6, 21)),
        (ARCTIC, date(2026, 11, 20)),
    ],
)
def test_it_is_dark_from_dusk_to_dawn_as_ephem_has_them(site, evening):
    night = work_night(site, M31, evening)
    dusk, dawn = ephems_dusk_and_dawn(site, evening)
    assert night.dusk is not None
    assert night.dawn is not None
    assert abs(night.dusk - dusk) < MINUTE
    assert abs(night.dawn - dawn) < MINUTE
    assert night.dark_h == pytest.approx((night.dawn - night.dusk) / timedelta(hours=1), abs=0.001)


@pytest.mark.parametrize(
    ("site", "target", "evening"),
    [
        (GARDEN, M31, date(2027, 1, 20)),
        (GARDEN, star(83.8, -5.4), date(2027, 1, 20)),
        (CAPE, star(201.0, -43.0), date(2027, 2, 10)),
        (ARCTIC, M31, date(2026, 12, 20)),
    ],
)
def test_the_night_is_that_of_a_fine_sampling_of_astropy(site, target, evening):
    night = work_night(site, target, evening)
    assert night.dusk is not None
    assert night.dawn is not None
    middle = days_of(night.dusk + (night.dawn - night.dusk) / 2)
    ra, dec = np.array([target.ra_deg]), np.array([target.dec_deg])
    dark, above, moonless = by_astropy.sampled_hours(site.spot, middle, ra, dec, site.line)
    # To two minutes, by the ground's own measure; windows are straight between steps of ten.
    assert night.dark_h == pytest.approx(float(dark), abs=2 / 60)
    assert night.above_h == pytest.approx(float(above[0]), abs=2 / 60)
    assert night.moonless_h == pytest.approx(float(moonless[0]), abs=2 / 60)
    assert hours(night.windows) == pytest.approx(night.above_h, abs=2 / 60)


def test_a_step_of_the_night_is_what_astropy_sees_at_that_moment():
    night = work_night(GARDEN, M31, date(2027, 1, 20))
    step = night.steps[20]
    days = days_of(step.at)
    with by_astropy.offline():
        seen = by_astropy.star(GARDEN.spot, M31.ra_deg, M31.dec_deg, days, bent=True)
        sun = by_astropy.body("sun", GARDEN.spot, days)
        moon = by_astropy.body("moon", GARDEN.spot, days)
    # Times are told to the second, in which the sky turns by 0.004 degrees.
    assert step.altitude_deg == pytest.approx(seen.alt.deg, abs=0.01)
    assert step.azimuth_deg == pytest.approx(seen.az.deg, abs=0.02)
    assert step.sun_deg == pytest.approx(sun.alt.deg, abs=0.01)
    assert step.moon_deg == pytest.approx(moon.alt.deg, abs=0.01)
    assert step.line_deg == 30.0


def test_a_night_runs_from_sunset_to_sunrise_in_even_steps():
    night = work_night(GARDEN, M31, date(2026, 10, 12))
    assert night.steps[0].sun_deg == pytest.approx(-0.833, abs=0.02)
    assert night.steps[-1].sun_deg == pytest.approx(-0.833, abs=0.02)
    apart = {round((b.at - a.at).total_seconds()) for a, b in pairwise(night.steps[:-1])}
    assert apart <= {60 * STEP_MINUTES - 1, 60 * STEP_MINUTES, 60 * STEP_MINUTES + 1}


def test_windows_lie_within_dusk_and_dawn_and_the_highest_moment_in_them():
    for evening in (date(2026, 8, 20), date(2026, 10, 12), date(2027, 1, 20)):
        night = work_night(GARDEN, M31, evening)
        assert night.windows
        assert night.dusk is not None
        assert night.dawn is not None
        assert all(night.dusk <= begun < ended <= night.dawn for begun, ended in night.windows)
        assert night.highest is not None
        assert any(begun <= night.highest.at <= ended for begun, ended in night.windows)


def test_the_light_is_what_the_air_leaves_and_none_by_day_or_below_the_line():
    night = work_night(GARDEN, M31, date(2027, 1, 20))
    for step in night.steps:
        assert (step.light > 0.0) == (step.sun_deg < -18.0 and step.altitude_deg > 30.0)
    shone = [step for step in night.steps if step.light > 0.0]
    # 0.243 magnitudes at the zenith: 0.106 of air, 0.109 of haze and 0.029 of ozone at 550 nm (Hansen and
    # Travis 1974; Green 1992), worked by hand; and as many times that as there are air masses, 1 / sin.
    for step in shone[:: len(shone) // 5]:
        masses = 1.0 / math.sin(math.radians(step.altitude_deg))
        assert step.light == pytest.approx(10.0 ** (-0.4 * 0.2434 * masses), rel=0.003)


def test_trees_cut_a_night_into_two_windows():
    # A wall in the south, behind which M 42 passes at its highest.
    walled = GARDEN.model_copy(update={"horizon": ((0, 15), (169, 15), (170, 60), (190, 60), (191, 15))})
    night = work_night(walled, star(83.8, -5.4), date(2027, 1, 10))
    assert len(night.windows) == 2
    (_, one), (other, _) = night.windows
    behind = [step.azimuth_deg for step in night.steps if one < step.at < other]
    assert min(behind) > 168.0
    assert max(behind) < 192.0
    assert hours(night.windows) == pytest.approx(night.above_h, abs=3 / 60)


def test_a_line_below_the_horizon_gives_as_many_hours_in_the_night_as_in_the_sum():
    # From a mountain: down to 3 degrees below.
    mountain = GARDEN.model_copy(update={"horizon": ((0.0, -3.0),)})
    night = work_night(mountain, star(83.8, -5.4), date(2027, 1, 10))
    assert hours(night.windows) == pytest.approx(night.above_h, abs=2 / 60)


def test_in_the_far_north_summer_has_no_darkness_and_the_night_says_so():
    night = work_night(ARCTIC, M31, date(2026, 6, 20))
    assert (night.dusk, night.dawn, night.dark_h, night.windows, night.highest) == (None, None, 0.0, (), None)
    assert len(night.steps) > 10, "the midnight sun is drawn over twelve hours"
    assert all(step.light == 0.0 for step in night.steps)
    year = work_year(ARCTIC, M31, 2026)
    # At midnight the Sun stands 12 degrees lower than its declination is: 18 below the horizon only while
    # that is south of -6, from 8 October to 5 March.
    assert [month.first.month for month in year.no_night] == [4, 5, 6, 7, 8, 9]
    assert year.best is not None
    assert year.best.first.month in (11, 12, 1)


def test_in_the_polar_night_it_is_dark_all_day():
    night = work_night(POLE, M31, date(2026, 12, 20))
    # The Sun at -23.4 culminates at 90 - 85 - 23.4 = -18.4 degrees.
    assert night.dark_h == pytest.approx(24.0)
    assert night.dusk is not None
    assert night.dawn is not None
    assert night.dawn - night.dusk == pytest.approx(timedelta(days=1), abs=MINUTE)
    assert len(night.windows) == 1
    assert hours(night.windows) == pytest.approx(24.0, abs=0.02)


def test_darkness_shorter_than_a_step_still_has_its_window_and_its_highest_moment():
    # At 48.6 north the June nights are dark for minutes only; a circumpolar target is up all the while.
    edge = GARDEN.model_copy(update={"latitude_deg": 48.5})
    pole = star(37.0, 89.0)
    nights = [work_night(edge, pole, date(2026, 6, 1) + timedelta(days=day)) for day in range(40)]
    short = [night for night in nights if 0.0 < night.dark_h < 0.5]
    assert short, "there is none so short: choose another latitude"
    for night in short:
        assert hours(night.windows) == pytest.approx(night.dark_h, abs=0.01)
        assert night.highest is not None
        assert night.highest.altitude_deg == pytest.approx(48.5, abs=1.1)


@pytest.mark.parametrize(
    ("site", "target", "standing"),
    [
        (GARDEN, star(100.0, -60.0), "never"),  # culminates at 40 - 60 = -20
        (GARDEN, star(100.0, -5.0), "sets"),  # at 35
        (GARDEN, star(100.0, 85.0), "always"),  # between 45 and 55
        (CAPE, star(100.0, 85.0), "never"),
        (CAPE, star(100.0, -85.0), "sets"),  # between 28.9 and 38.9, about a line of 30
        (POLE, star(100.0, 50.0), "always"),  # between 45 and 55
    ],
)
def test_a_target_is_never_always_or_at_times_above_the_line(site, target, standing):
    assert work_year(site, target, 2026).standing == standing


def test_a_target_that_never_rises_has_no_best_month_no_hours_and_no_window():
    year = work_year(GARDEN, star(100.0, -60.0), 2026)
    assert year.best is None
    assert year.grazing_h is None
    assert year.usual_altitude_deg is None
    assert {month.above_h for month in year.months} == {0.0}
    assert all(light == 0.0 for ribbon in year.ribbons for light in ribbon.light)
    night = work_night(GARDEN, star(100.0, -60.0), date(2026, 1, 12))
    assert (night.windows, night.highest, night.above_h) == ((), None, 0.0)


def test_the_year_of_a_northern_galaxy_is_autumn_and_that_of_the_south_is_by_its_own_winter():
    year = work_year(GARDEN, M31, 2026)
    # M 31 culminates at midnight, on 10.7 + 180 degrees of the Sun's right ascension: the first of October.
    assert year.best is not None
    assert year.best.first.month in (10, 11)
    # 90 - (41.41 - 50): its declination of 2026 is 41.41.
    assert year.culmination_deg == pytest.approx(81.41, abs=0.02)
    assert year.usual_altitude_deg == pytest.approx(60.0, abs=15.0)
    assert year.grazing_h is None
    assert [month.first.month for month in year.no_night] == [6]
    south = work_year(CAPE, star(201.0, -43.0), 2026)
    # Opposite the Sun in April; the nights are longer in May and June.
    assert south.best is not None
    assert south.best.first.month in (4, 5)
    assert south.no_night == ()


def test_a_months_hours_are_the_mean_of_its_nights():
    year = work_year(CAPE, M31, 2026)
    nights = [work_night(CAPE, M31, date(2026, 2, 1) + timedelta(days=day)) for day in range(28)]
    february = year.months[1]
    assert february.first == date(2026, 2, 1)
    assert february.dark_h == pytest.approx(np.mean([one.dark_h for one in nights]), abs=1 / 60)
    assert february.above_h == pytest.approx(np.mean([one.above_h for one in nights]), abs=1 / 60)
    assert february.moonless_h == pytest.approx(np.mean([one.moonless_h for one in nights]), abs=1 / 60)
    assert february.moonless_dark_h <= february.dark_h


def test_what_grazes_the_line_is_told_with_its_ends():
    # Its declination of 2026, -9.92, culminates at 30.08.
    year = work_year(GARDEN, star(100.0, -9.9), 2026)
    assert year.grazing_h is not None
    low, high = year.grazing_h
    assert year.best is not None
    assert low < year.best.above_h < high
    assert high - low > 0.25


def test_a_target_counts_where_it_stands_in_its_year_not_where_it_stood_in_2000():
    # Precession: by 2098 a star at RA 0 has gone 98 x 20.04" = 0.55 degrees north. One that culminated 0.3
    # degrees below the line in 2000 comes above it then.
    late = work_year(GARDEN, star(0.0, -10.3), 2098)
    assert late.culmination_deg == pytest.approx(29.7 + 0.55, abs=0.02)
    assert late.standing == "sets"
    assert late.best is not None
    assert work_year(GARDEN, star(0.0, -10.3), 2001).standing == "never"


def test_every_fifth_night_is_a_ribbon_that_begins_at_sunset_by_the_clock():
    year = work_year(GARDEN, M31, 2026)
    assert len(year.ribbons) == math.ceil(365 / RIBBON_EVERY_DAYS)
    for ribbon in year.ribbons[::10]:
        night = work_night(GARDEN, M31, ribbon.evening)
        sunset = night.steps[0].at.astimezone(ZoneInfo("Europe/Berlin"))
        after_noon = sunset.hour + sunset.minute / 60.0 + sunset.second / 3600.0
        assert ribbon.start_h == pytest.approx(after_noon - 24.0, abs=0.01)
        assert len(ribbon.light) in (len(night.steps), len(night.steps) - 1)
        lights = [one.light for one in night.steps]
        assert ribbon.light == pytest.approx(lights[: len(ribbon.light)], abs=0.01)


def test_the_summer_hour_shows_in_the_ribbons_start():
    # Clocks go forward on 29 March 2026: of the nights five days apart about it one starts later by an hour.
    year = work_year(GARDEN, M31, 2026)
    starts = {one.evening: one.start_h for one in year.ribbons}
    assert starts[date(2026, 4, 1)] - starts[date(2026, 3, 27)] == pytest.approx(1.13, abs=0.03)
    assert starts[date(2026, 4, 6)] - starts[date(2026, 4, 1)] == pytest.approx(0.13, abs=0.03)


@pytest.mark.parametrize("evening", [date(2026, 3, 28), date(2026, 10, 24)])
def test_the_night_in_which_clocks_are_changed_is_as_long_as_it_is(evening):
    # A line that cuts the target's night at the very hour in which the clock jumps.
    target = star(150.0, 20.0) if evening.month == 3 else star(60.0, 20.0)
    night = work_night(GARDEN, target, evening)
    assert night.dusk is not None
    assert night.dawn is not None
    assert night.dawn - night.dusk == pytest.approx(timedelta(hours=night.dark_h), abs=timedelta(seconds=3))
    assert hours(night.windows) == pytest.approx(night.above_h, abs=2 / 60)
    before, after = night.steps[0].at.utcoffset(), night.steps[-1].at.utcoffset()
    assert before is not None
    assert after is not None
    assert abs(after - before) == timedelta(hours=1), "each moment is told by the clock of its time"
    apart = {round((b.at - a.at).total_seconds() / 60.0) for a, b in pairwise(night.steps[:-1])}
    assert apart == {STEP_MINUTES}


def test_a_crossing_in_the_hour_in_which_the_clock_jumps_is_told_in_its_place():
    # 29 March 2026, 01:00 UTC: a line just as high as the target stands then ends its window there.
    jump = datetime(2026, 3, 29, 1, 0, tzinfo=UTC)
    target = star(120.0, 20.0)
    plain = work_night(GARDEN, target, date(2026, 3, 28))
    steps = plain.steps
    first = next(k for k in range(len(steps) - 1) if steps[k].at <= jump < steps[k + 1].at)
    between = (steps[first].altitude_deg + steps[first + 1].altitude_deg) / 2.0
    cut = work_night(GARDEN.model_copy(update={"horizon": ((0.0, between),)}), target, date(2026, 3, 28))
    (_, ended) = cut.windows[-1]
    assert steps[first].at < ended < steps[first + 1].at
    assert abs(ended - jump) < timedelta(minutes=STEP_MINUTES)


def test_the_moon_is_where_and_as_lit_as_ephem_has_it():
    night: Night = work_night(GARDEN, M31, date(2027, 1, 20))
    assert night.dusk is not None
    assert night.dawn is not None
    observer = ephem.Observer()
    observer.lat, observer.lon, observer.pressure = "50", "10", 0
    middle = night.dusk + (night.dawn - night.dusk) / 2
    observer.date = middle.astimezone(UTC).replace(tzinfo=None)
    moon = ephem.Moon(observer)
    assert night.moon_lit == pytest.approx(moon.phase / 100.0, abs=0.01)
    andromeda = ephem.FixedBody()
    andromeda._ra, andromeda._dec = math.radians(M31.ra_deg), math.radians(M31.dec_deg)
    andromeda.compute(observer)
    apart = math.degrees(ephem.separation((moon.ra, moon.dec), (andromeda.ra, andromeda.dec)))
    assert night.moon_distance_deg == pytest.approx(apart, abs=0.2)
    up = [step for step in night.steps if any(a <= step.at <= b for a, b in night.moon_up)]
    assert up == [step for step in night.steps if step.moon_deg > 0.0]


def test_beyond_what_the_ephemeris_knows_is_refused():
    with pytest.raises(OutOfRangeError):
        work_year(GARDEN, M31, 2101)
    with pytest.raises(OutOfRangeError):
        work_night(GARDEN, M31, date(1960, 1, 1))


@pytest.mark.parametrize(
    ("zone", "now", "evening"),
    [
        # By the site's own clock: after noon the night that comes, before noon the one that is or was last.
        ("Europe/Berlin", datetime(2026, 7, 1, 9, 59, tzinfo=UTC), date(2026, 6, 30)),
        ("Europe/Berlin", datetime(2026, 7, 1, 10, 0, tzinfo=UTC), date(2026, 7, 1)),
        ("Pacific/Auckland", datetime(2026, 7, 1, 9, 59, tzinfo=UTC), date(2026, 7, 1)),
        ("America/Los_Angeles", datetime(2026, 7, 1, 3, 0, tzinfo=UTC), date(2026, 6, 30)),
        ("UTC", datetime(2026, 1, 1, 3, 0, tzinfo=UTC), date(2025, 12, 31)),
    ],
)
def test_tonight_is_told_by_the_sites_clock(zone, now, evening):
    assert tonight(zone, now) == evening
