"""Dark hours above a limit: against a fine sampling of astropy, and what must be so by geometry."""

from __future__ import annotations

from datetime import UTC, date, datetime

import numpy as np
import pytest

from server.out_of_range import OutOfRangeError
from server.sky.darkness import (
    HorizonLine,
    Standing,
    culmination_deg,
    grazing_hours,
    hours_above,
    moonless_hours,
    moonless_hours_above,
    nights,
    standing,
)
from server.sky.ephemeris import Spot, apparent_place, days_of, instant_of, sun_seen, true_altitude_deg
from tests.sky import by_astropy

MINUTE = 1.0 / 60.0
MOST, NEARLY_ALWAYS = 2.5 * MINUTE, 0.5 * MINUTE

FREE = HorizonLine()
PLAIN = HorizonLine(((0.0, 30.0),))
TREES = HorizonLine(
    ((0, 20), (40, 35), (60, 15), (100, 10), (120, 40), (180, 8), (230, 15), (260, 45), (300, 20))
)
HOUSE = HorizonLine(((350, 12), (20, 14), (90, 12), (140, 15), (143, 50), (190, 48), (193, 20)))
FAR_AND_WIDE = HorizonLine(tuple((float(at), 18.0 + 12.0 * (at % 50 == 0)) for at in range(0, 360, 25)))

CHANCE = np.random.default_rng(31)


def _sky(count: int):
    return CHANCE.uniform(0.0, 360.0, count), np.degrees(np.arcsin(CHANCE.uniform(-1.0, 1.0, count)))


def _cases():
    """Nights over the whole Earth; the edge of the dark season and the polar night whatever chance says."""
    chosen = [
        (Spot(48.6, 12.0), date(2026, 6, 18)),
        (Spot(78.0, 15.0), date(2027, 2, 20)),
        (Spot(85.0, -40.0), date(2026, 12, 10)),
        (Spot(-78.0, 166.0), date(2031, 6, 20)),
        (Spot(0.0, 179.9, 2800.0), date(2036, 2, 29)),
    ]
    for latitude in np.linspace(70.0, -70.0, 11):
        place = Spot(float(latitude), float(CHANCE.uniform(-180, 180)), float(CHANCE.uniform(0, 3000)))
        chosen.append((place, date.fromordinal(int(CHANCE.integers(739617, 745095)))))  # 2026 to 2040
    return chosen


def test_the_dark_hours_of_any_night_are_those_of_a_fine_sampling_of_astropy():
    lines = (FREE, PLAIN, TREES, HOUSE, FAR_AND_WIDE)
    off, compared = [], 0
    for number, (spot, first) in enumerate(_cases()):
        line = lines[number % len(lines)]
        ra, dec = _sky(25)
        # A year's run around the night, so that what is shared among nights is tried too.
        before = int(CHANCE.integers(0, 300))
        run = nights(spot, date.fromordinal(first.toordinal() - before), before + 30)
        dark, above, moonless = by_astropy.sampled_hours(
            spot, float(run.middle_days[before]), ra, dec, line, air=line is not FREE
        )
        ours = (hours_above(run, ra, dec, line), moonless_hours_above(run, ra, dec, line))
        off += [abs(run.hours[before] - dark)]
        off += list(np.abs(ours[0][:, before] - above)) + list(np.abs(ours[1][:, before] - moonless))
        compared += (above > 0.0).sum()
    assert compared > 100
    assert max(off) < MOST
    assert np.quantile(off, 0.99) < NEARLY_ALWAYS


def _culminating_at(spot: Spot, altitude_deg, ra_deg, day: float):
    """J2000 declinations of what culminates in the south at airless altitudes around a day."""
    wanted = spot.latitude_deg - 90.0 + np.asarray(altitude_deg)
    dec = wanted
    for _ in range(3):
        dec = dec + wanted - apparent_place(ra_deg, dec, day)[1]
    return dec


def test_objects_at_the_edge_of_the_limit_are_right_on_every_night():
    # These culminate within 1 arcmin of the limit, where a second of arc is worth most: the place of each
    # night counts. The line that is not plain is the same but for its way through the code.
    spot = Spot(50.0, 10.0)
    same = HorizonLine(((0.0, 30.0), (180.0, 30.0 + 1e-7)))
    assert PLAIN.plain
    assert not same.plain
    run = nights(spot, date(2026, 9, 1), 200)
    ra = np.linspace(0.0, 180.0, 15)
    edge = float(true_altitude_deg(30.0))
    dec = _culminating_at(spot, edge + np.linspace(-1.0, 1.0, 15) * MINUTE, ra, float(run.middle_days[100]))
    ours = [hours_above(run, ra, dec, line) for line in (PLAIN, same)]
    assert np.abs(ours[0] - ours[1]).max() < 0.3 * MINUTE
    off = []
    for night in (3, 77, 140, 199):
        middle = float(run.middle_days[night])
        _, above, _ = by_astropy.sampled_hours(spot, middle, ra, dec, PLAIN, air=False)
        off.append(np.abs(ours[0][:, night] - above))
    assert np.max(off) < MOST
    assert np.median(off) < NEARLY_ALWAYS


@pytest.mark.parametrize("line", [PLAIN, TREES, HOUSE])
def test_a_night_alone_has_the_hours_that_it_has_in_a_run(line):
    # What nights of a run share must not be seen, even by a star that passes along a wall.
    spot, first = Spot(-20.0, 100.0), date(2026, 1, 1)
    ra, dec = _sky(1500)
    run = hours_above(nights(spot, first, 365), ra, dec, line)
    for number in (0, 91, 200, 364):
        alone = hours_above(nights(spot, date.fromordinal(first.toordinal() + number), 1), ra, dec, line)
        off = np.abs(run[:, number] - alone[:, 0])
        assert off.max() < MOST
        assert np.quantile(off, 0.99) < NEARLY_ALWAYS


def test_near_the_pole_too_a_run_shifts_a_star_by_no_more_than_seconds():
    # There aberration is worth many seconds of right ascension.
    spot, limit = Spot(50.0, 10.0), HorizonLine(((0.0, 50.0),))
    ra, dec = np.linspace(0.0, 350.0, 40), np.linspace(78.0, 88.0, 40)
    run = hours_above(nights(spot, date(2026, 1, 1), 365), ra, dec, limit)
    for number in (0, 60, 91, 200, 300, 364):
        day = date.fromordinal(date(2026, 1, 1).toordinal() + number)
        alone = hours_above(nights(spot, day, 1), ra, dec, limit)
        assert np.abs(run[:, number] - alone[:, 0]).max() < 0.15 * MINUTE


def test_in_the_polar_night_stars_side_by_side_have_nearly_the_same_hours():
    # Two that rise 12 seconds apart; one that rises as the night begins does so again before it ends.
    run = nights(Spot(85.0, 0.0), date(2026, 12, 20), 1)
    hours = hours_above(run, np.arange(0.0, 360.0, 0.05), 9.0, HorizonLine(((0.0, 10.0),)))[:, 0]
    assert hours.max() > hours.min() > 5.0
    assert np.abs(np.diff(hours)).max() < 0.25 * MINUTE


def test_a_darkness_of_minutes_is_found_where_the_sun_is_not_lowest_at_midnight():
    # At 85 degrees the Sun sinks or climbs so fast in spring that it is lowest 3 minutes off its midnight.
    spot, first = Spot(85.0, 0.0), date(2026, 3, 10)
    times = float(nights(spot, first, 1).middle_days[0]) + np.linspace(-15.0, 15.0, 1801) / 1440.0
    altitude = sun_seen(spot, times).altitude_deg
    limit = float(altitude.min()) + 0.0002
    short = nights(spot, first, 1, limit)
    assert short.hours[0] == pytest.approx((altitude < limit).sum() / 3600.0, abs=0.3 * MINUTE)
    assert 3.0 * MINUTE < short.hours[0] < 6.0 * MINUTE
    assert abs(short.dusk_days[0] + short.dawn_days[0] - 2.0 * short.middle_days[0]) > 4.0 / 1440.0


def test_the_length_of_the_night_is_astropys_all_round_the_year():
    off = []
    for latitude in (60.0, 20.0, -45.0):
        run = nights(Spot(latitude, 100.0), date(2027, 1, 5), 365)
        for night in range(0, 365, 120):
            dark, _, _ = by_astropy.sampled_hours(
                run.spot, float(run.middle_days[night]), [0.0], [0.0], FREE, 4.0
            )
            off.append(abs(run.hours[night] - dark))
    assert max(off) < NEARLY_ALWAYS


def test_a_night_is_named_by_the_day_that_it_ends():
    run = nights(Spot(51.48, 0.0), date(2026, 11, 2), 3)
    # The Sun is 16 min 25 s early at the beginning of November (almanacs, from memory).
    expected = datetime(2026, 11, 2, 23, 43, 35, tzinfo=UTC)
    assert run.middle_days[0] == pytest.approx(days_of(expected), abs=3.0 / 86400.0)
    assert np.diff(run.middle_days) == pytest.approx([1.0, 1.0], abs=1.0 / 1440.0)
    # Half the world away in the west, the same day ends half a day later; in the east, earlier.
    west, east = (nights(Spot(51.48, longitude), date(2026, 11, 2), 1) for longitude in (-180.0, 180.0))
    assert instant_of(float(west.middle_days[0])).date() == date(2026, 11, 3)
    assert west.middle_days[0] - east.middle_days[0] == pytest.approx(1.0, abs=1.0 / 1440.0)
    assert run.dusk_days[0] < run.middle_days[0] < run.dawn_days[0]


def test_the_poles_have_no_darkness_in_summer_and_no_end_of_it_in_winter():
    run = nights(Spot(85.0, 0.0), date(2026, 1, 1), 365)
    hours = run.hours
    midsummer, midwinter = hours[171], hours[354]
    assert midsummer == 0.0
    assert midwinter == pytest.approx(24.0)
    assert np.isnan(run.dusk_days[171])
    assert run.middle_days[354] - run.dusk_days[354] == pytest.approx(0.5)
    # A night may be neither, and grows longer from day to day until it has no end.
    between = hours[(hours > 0.0) & (hours < 23.99)]
    assert between.size > 50
    # At the pole it is dark while the Sun is 18 degrees north: 13 May to 1 August (almanacs, from memory).
    pole = nights(Spot(-90.0, 0.0), date(2026, 1, 1), 365).hours
    assert np.isclose(pole, 24.0).sum() == pytest.approx(79, abs=2)
    assert ((pole > 0.0) & (pole < 23.99)).sum() <= 2
    # What never sets there is up all the day, and what is below never is.
    winter = nights(Spot(85.0, 0.0), date(2026, 12, 20), 2)
    assert hours_above(winter, [10.0, 10.0], [80.0, -60.0], PLAIN) == pytest.approx(
        np.array([[24.0] * 2, [0.0] * 2])
    )


def test_without_darkness_there_are_no_hours():
    run = nights(Spot(60.0, 25.0), date(2026, 6, 10), 20)
    assert not run.hours.any()
    assert not moonless_hours(run).any()
    ra, dec = _sky(5)
    assert hours_above(nights(Spot(0.0, 0.0), date(2026, 1, 1), 2), [], [], TREES).shape == (0, 2)
    for hours in (hours_above(run, ra, dec, TREES), moonless_hours_above(run, ra, dec, PLAIN)):
        assert hours.shape == (5, 20)
        assert not hours.any()


def test_what_never_rises_has_no_hours_and_what_never_sets_has_the_whole_night():
    spot = Spot(50.0, 10.0)
    run = nights(spot, date(2026, 1, 1), 365)
    hours = hours_above(run, [100.0, 100.0], [-41.5, 75.0], FREE)
    assert not hours[0].any()
    assert hours[1] == pytest.approx(run.hours, abs=0.02 * MINUTE)
    high = hours_above(run, 100.0, 5.0, HorizonLine(((0.0, 46.0),)))
    assert not high.any()
    assert hours_above(run, 100.0, 5.0, HorizonLine(((0.0, 44.0),))).max() > 1.0


def test_without_the_moon_a_night_is_whole_and_with_a_full_one_nothing_is_left():
    # New on 2026 August 12, full on March 3: both bring eclipses (almanacs, from memory).
    spot = Spot(40.0, 0.0)
    new, full = nights(spot, date(2026, 8, 12), 1), nights(spot, date(2026, 3, 2), 1)
    assert moonless_hours(new) == pytest.approx(new.hours)
    assert moonless_hours(full) == pytest.approx([0.0])
    ra, dec = _sky(20)
    assert moonless_hours_above(new, ra, dec, TREES) == pytest.approx(hours_above(new, ra, dec, TREES))
    assert not moonless_hours_above(full, ra, dec, PLAIN).any()


def test_moonless_hours_leave_hours_out_and_add_none():
    run = nights(Spot(-30.0, 150.0), date(2027, 1, 1), 60)
    ra, dec = _sky(50)
    dark, moonless = hours_above(run, ra, dec, TREES), moonless_hours_above(run, ra, dec, TREES)
    assert (moonless <= dark + 1e-4).all()
    # What is always up has the night's own.
    assert moonless_hours_above(run, 0.0, -89.0, FREE)[0] == pytest.approx(
        moonless_hours(run), abs=0.02 * MINUTE
    )
    assert 0.3 < moonless_hours(run).sum() / run.hours.sum() < 0.7


def test_what_grazes_the_limit_says_so():
    spot = Spot(50.0, 10.0)
    run = nights(spot, date(2026, 3, 1), 5)
    # One culminates half an arcmin over the limit, the other far above it.
    edge = float(true_altitude_deg(30.0))
    dec = [_culminating_at(spot, edge + 0.5 * MINUTE, 120.0, float(run.middle_days[2])), 20.0]
    for line in (PLAIN, HorizonLine(((0.0, 90.0), (170.0, 30.0), (190.0, 30.0)))):
        low, high = grazing_hours(run, [120.0, 120.0], dec, line)
        middle = hours_above(run, [120.0, 120.0], dec, line)
        assert (low <= middle).all()
        assert (middle <= high).all()
        assert not low[0].any()
        assert (high[0] - low[0] > 20.0 * MINUTE).all()
        # 3 arcmin either way, through which this one passes in some seconds.
        assert (high[1] - low[1] < 2.0 * MINUTE).all()
    none = grazing_hours(run, 120.0, dec[0], PLAIN, 0.0)
    assert (none[0] == none[1]).all()


def test_culminations_are_those_of_the_textbook():
    # Latitude and declination alike culminate overhead; the equator's stars at the latitude's complement.
    assert culmination_deg(Spot(50.0, 0.0), [50.0, 0.0, -50.0, 90.0]) == pytest.approx(
        [90.0, 40.0, -10.0, 50.0]
    )
    assert culmination_deg(Spot(-30.0, 0.0), -90.0) == pytest.approx(30.0)


def test_standing_tells_what_is_never_up_what_sets_and_what_never_does():
    spot = Spot(50.0, 10.0)
    dec = np.array([[-45.0, -39.0], [39.0, 41.0]])
    expected = [[Standing.NEVER, Standing.SETS], [Standing.SETS, Standing.ALWAYS]]
    assert standing(spot, dec, FREE).tolist() == expected
    # The air lifts by half a degree: a star that culminates 0.4 degrees below the horizon is seen.
    assert standing(spot, -40.4, FREE) == Standing.SETS
    assert standing(spot, -40.8, FREE) == Standing.NEVER
    # Trees of 35 degrees in the north hide a star that passes under the pole at 30, not one near the pole.
    north = HorizonLine(((300.0, 0.0), (330.0, 35.0), (30.0, 35.0), (60.0, 0.0)))
    assert standing(spot, [70.0, 89.0, -45.0, 0.0], north).tolist() == [
        Standing.SETS,
        Standing.ALWAYS,
        Standing.NEVER,
        Standing.SETS,
    ]
    # A house in the south hides all that culminates behind it.
    south = HorizonLine(((100.0, 0.0), (101.0, 50.0), (259.0, 50.0), (260.0, 0.0)))
    assert standing(spot, [-15.0, 15.0], south).tolist() == [Standing.NEVER, Standing.SETS]


def test_a_horizon_line_is_straight_between_its_points_and_goes_round():
    line = HorizonLine(((350.0, 10.0), (10.0, 30.0), (90.0, 0.0)))
    assert line.altitude_deg([0.0, 360.0, 720.0, 50.0, -10.0]) == pytest.approx(
        [20.0, 20.0, 20.0, 15.0, 10.0]
    )
    assert not line.plain
    assert FREE.plain
    assert PLAIN.plain
    assert FREE.altitude_deg([[1.0, 2.0]]).tolist() == [[0.0, 0.0]]
    assert PLAIN.altitude_deg(200.0) == 30.0
    assert HorizonLine(((10.0, 5.0), (300.0, 5.0))).plain


def test_a_star_that_passes_four_gaps_has_the_hours_of_all():
    # At the pole a star keeps its height and goes round through 15 degrees of azimuth in a sidereal hour.
    teeth: list[tuple[float, float]] = []
    for at in range(0, 360, 90):  # Four walls of 40 degrees, 45 wide, with slopes of half a degree from 5 up.
        teeth += [(at + 0.0, 5.0), (at + 0.5, 40.0), (at + 45.0, 40.0), (at + 45.5, 5.0)]
    run = nights(Spot(90.0, 0.0), date(2026, 12, 20), 3)
    dec = true_altitude_deg([20.0, 4.9, 41.0])
    hours = hours_above(run, [0.0, 77.0, 5.0], dec, HorizonLine(tuple(teeth)))
    # Worked by hand for 20 degrees: of each 90, the wall hides 45.5 - 2 x 0.5 x 15/35; a night of 24 h is a
    # sidereal day and 3.93 min, which fall into a gap or not.
    free = 4 * (90.0 - 45.5 + 15.0 / 35.0) / 15.0 * 23.9345 / 24.0
    assert (hours[0] > free - 1.0 * MINUTE).all()
    assert (hours[0] < free + 4.93 * MINUTE).all()
    assert not hours[1].any()
    assert hours[2] == pytest.approx(24.0)


@pytest.mark.parametrize(
    "asked",
    [
        lambda: HorizonLine(((361.0, 0.0),)),
        lambda: HorizonLine(((0.0, -6.0),)),
        lambda: HorizonLine(((0.0, 91.0),)),
        lambda: HorizonLine(((0.0, float("nan")),)),
        lambda: HorizonLine(((0.0, 1.0), (20.0, 4.0), (360.0, 2.0))),
        lambda: nights(Spot(0.0, 0.0), date(2026, 1, 1), 0),
        lambda: nights(Spot(0.0, 0.0), date(2026, 1, 1), 4001),
        lambda: nights(Spot(0.0, 0.0), date(2026, 1, 1), 1, -50.0),
        lambda: nights(Spot(0.0, 0.0), date(1900, 1, 1), 1),
        lambda: hours_above(nights(Spot(0.0, 0.0), date(2026, 1, 1), 1), 0.0, 95.0, FREE),
        lambda: grazing_hours(nights(Spot(0.0, 0.0), date(2026, 1, 1), 1), 0.0, 0.0, FREE, -1.0),
        lambda: standing(Spot(0.0, 0.0), [0.0, -91.0], FREE),
    ],
)
def test_what_no_night_has_is_refused(asked):
    with pytest.raises(OutOfRangeError, match=r"\. (Give|Take|Ask|Count|Leave)"):
        asked()
