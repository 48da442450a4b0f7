"""The load's night, from sunset to sunrise: against astropy's Sun and day lengths of published almanacs."""

from __future__ import annotations

import subprocess
import sys
from datetime import date

import pytest

from server.domain.checks.power import check_power as verdicts_of
from server.domain.load.power import work_power
from server.domain.load_plan import LoadPlan
from server.domain.parts import PowerSource
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import asked_of, plain
from server.sky.darkness import nights
from server.sky.ephemeris import Spot
from tests.domain.rigs import camera, mm, rig, tube
from tests.running import ROOT
from tests.told import check_power

MINUTE = 1.0 / 60.0
SUNSET_DEG = -0.833
"""34 arcmin of bending and 16 of half the Sun's disc: any almanac's sunset."""
BATTERY = PowerSource(model="Battery", chemistry="lifepo4", capacity_ah=mm(50.0), voltage_v=mm(12.0))


def hours(latitude: float, night: date, longitude: float | None = 0.0) -> float | None:
    plan = LoadPlan(latitude_deg=latitude, longitude_deg=longitude, night=night)
    return work_power(rig(tube(), load=plan)).hours


@pytest.mark.parametrize(
    ("on", "found"),
    [
        # Greenwich, 51.48 N: sunrise to sunset 16 h 38 min at midsummer and 7 h 50 min at midwinter
        # (national almanacs, from memory).
        (date(2026, 6, 21), 24.0 - 16.0 - 38.0 / 60.0),
        (date(2026, 12, 21), 24.0 - 7.0 - 50.0 / 60.0),
    ],
)
def test_the_night_of_midsummer_and_midwinter_at_greenwich(on: date, found: float):
    assert hours(51.48, on) == pytest.approx(found, abs=MINUTE)


def test_on_the_equator_night_and_day_are_equal_but_for_the_air():
    # 12 h less twice 0.833 degrees at 15 degrees an hour: 11 h 53.3 min.
    assert hours(0.0, date(2026, 3, 20)) == pytest.approx(12.0 - 2 * 0.833 / 15.0, abs=MINUTE)


def test_north_of_the_circle_summer_has_no_night_and_winter_no_day():
    assert hours(70.0, date(2026, 6, 21)) is None
    assert hours(85.0, date(2026, 12, 21)) == 24.0


def test_a_short_summer_night_has_its_hours_though_it_never_grows_dark():
    on = date(2026, 6, 21)
    assert nights(Spot(52.0, 0.0), on, 1, -18.0).hours[0] == 0.0
    # Sunrise to sunset 16 h 45 min there (national almanacs, from memory).
    assert hours(52.0, on) == pytest.approx(7.25, abs=3 * MINUTE)


def test_the_south_has_the_other_season():
    on = date(2026, 1, 10)
    south, north = hours(-35.0, on), hours(35.0, on)
    assert south is not None
    assert north is not None
    assert south < 12.0 < north


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [(-60.0, 60.0), (-35.0, 175.0), (20.0, -157.0), (45.0, 150.0), (60.0, -150.0), (65.0, 150.0)],
)
def test_every_night_at_any_longitude_is_astropys_within_seconds(latitude: float, longitude: float):
    import numpy as np
    from astropy import units as u
    from astropy.coordinates import AltAz, EarthLocation, get_sun
    from astropy.time import Time
    from astropy.utils import iers

    place = EarthLocation(lat=latitude * u.deg, lon=longitude * u.deg)
    minutes = np.arange(-720.0, 721.0, 2.0)
    compared = 0
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None):
        for month in (1, 3, 5, 8, 10, 12):
            # Local mean midnight.
            times = Time(f"2026-{month:02d}-16T00:00:00") + (minutes - 4.0 * longitude) * u.min
            over = get_sun(times).transform_to(AltAz(obstime=times, location=place)).alt.deg - SUNSET_DEG
            edges = np.flatnonzero(np.diff(over < 0.0))
            assert len(edges) == 2
            at = [minutes[i] + 2.0 * over[i] / (over[i] - over[i + 1]) for i in edges]
            found = hours(latitude, date(2026, month, 15), longitude)
            assert found == pytest.approx((at[1] - at[0]) / 60.0, abs=0.05 * MINUTE)
            compared += 1
    assert compared == 6


@pytest.mark.parametrize("longitude", [None, 8.6, 0.0])
def test_a_night_without_a_longitude_is_greenwichs_and_says_so(longitude: float | None):
    plan = LoadPlan(latitude_deg=60.0, longitude_deg=longitude, night=date(2026, 3, 20))
    sheet = work_power(rig(tube(), camera(), gear=[BATTERY], load=plan))
    assert sheet.hours_by is not None
    greenwich = ", at Greenwich's longitude: it may be some minutes off" if longitude is None else ""
    assert plain(sheet.hours_by) == f"from sunset to sunrise on 20 March 2026{greenwich}"
    if not longitude:
        assert sheet.hours == hours(60.0, date(2026, 3, 20), 0.0)


def test_a_place_alone_asks_for_the_date_on_the_load_page_and_for_nothing_on_the_bench():
    """Else every rig that has a usual site would be judged for a night that nobody plans."""
    of = rig(tube(), camera(), gear=[BATTERY], load=LoadPlan(latitude_deg=48.0, longitude_deg=11.0))
    assert verdicts_of(Case(of)) == ()
    assert [str(one) for one in asked_of(work_power(of).missing) if "night" in one.key] == [
        "the night's date, or its length"
    ]


def test_a_date_alone_asks_for_the_place():
    of = rig(tube(), camera(), gear=[BATTERY], load=LoadPlan(night=date(2026, 3, 20)))
    assert "the site's latitude" in check_power(Case(of))[0].missing[0]


@pytest.mark.parametrize("year", [1, 1900, 2150, 9999])
def test_a_year_in_which_the_sun_is_not_known_is_refused_and_not_a_fault(year: int):
    with pytest.raises(ValueError, match="1972 to 2099"):
        hours(50.0, date(year, 6, 1))


PLACE_ALONE = """
import sys
import server.flow.workbench
from server.domain.load.power import work_power
from server.domain.load_plan import LoadPlan
from server.domain.rig import Rig

work_power(Rig("Small", load=LoadPlan(latitude_deg=48.0, longitude_deg=11.0)))
print(*sorted({"erfa", "numpy"} & set(sys.modules)))
"""


def test_no_heavy_library_is_loaded_before_a_night_is_asked_for():
    run = subprocess.run(
        [sys.executable, "-c", PLACE_ALONE], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert run.stdout.split() == []
