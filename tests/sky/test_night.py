"""The length of the night: against astropy's Sun and against day lengths of published almanacs."""

from __future__ import annotations

from datetime import date

import pytest

from server.sky.night import HEIGHTS_DEG, night_hours, sun_declination_deg

MINUTE = 1.0 / 60.0


@pytest.mark.parametrize(
    ("on", "hours"),
    [
        # Greenwich, 51.48 N: sunrise to sunset 16 h 38 min at midsummer and 7 h 50 min at midwinter
        # (national almanacs, from memory).
        (date(2026, 6, 21), 24.0 - 16.0 - 38.0 / 60.0),
        (date(2026, 12, 21), 24.0 - 7.0 - 50.0 / 60.0),
    ],
)
def test_the_night_of_midsummer_and_midwinter_at_greenwich(on, hours):
    assert night_hours(51.48, on, "sunset") == pytest.approx(hours, abs=3 * MINUTE)


@pytest.mark.parametrize("month", range(1, 13))
def test_the_suns_declination_is_astropys(month):
    from astropy.coordinates import get_sun
    from astropy.time import Time
    from astropy.utils import iers

    with iers.conf.set_temp("auto_download", False):
        sun = get_sun(Time(f"2026-{month:02d}-16T00:00:00"))
        assert sun_declination_deg(date(2026, month, 15)) == pytest.approx(float(sun.dec.deg), abs=0.2)


def test_on_the_equator_night_and_day_are_equal_but_for_the_air():
    # 12 h less twice 0.833 degrees at 15 degrees an hour: 11 h 53.3 min.
    assert night_hours(0.0, date(2026, 3, 20), "sunset") == pytest.approx(12.0 - 2 * 0.833 / 15.0, abs=MINUTE)


def test_north_of_the_circle_summer_has_no_night_and_winter_no_day():
    assert night_hours(70.0, date(2026, 6, 21), "sunset") == 0.0
    assert night_hours(80.0, date(2026, 12, 21), "astronomical") > 10.0
    assert night_hours(85.0, date(2026, 12, 21), "sunset") == 24.0
    # At 52 N astronomical darkness does not come at midsummer.
    assert night_hours(52.0, date(2026, 6, 21)) == 0.0


def test_darker_is_never_longer_and_the_south_has_the_other_season():
    on = date(2026, 1, 10)
    lengths = [night_hours(48.0, on, dark) for dark in ("sunset", "civil", "nautical", "astronomical")]
    assert lengths == sorted(lengths, reverse=True)
    assert night_hours(-35.0, on) < night_hours(35.0, on)
    with pytest.raises(ValueError, match="latitude is 95"):
        night_hours(95.0, on)


@pytest.mark.parametrize("latitude", [-60.0, -35.0, 0.0, 20.0, 45.0, 52.0, 60.0, 65.0])
def test_every_night_at_greenwichs_longitude_is_astropys_within_two_minutes(latitude):
    import numpy as np
    from astropy import units as u
    from astropy.coordinates import AltAz, EarthLocation, get_sun
    from astropy.time import Time
    from astropy.utils import iers

    place = EarthLocation(lat=latitude * u.deg, lon=0.0 * u.deg)
    minutes = np.arange(-720.0, 721.0, 4.0)
    compared = 0
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None):
        for month in (1, 3, 5, 8, 10, 12):
            times = Time(f"2026-{month:02d}-16T00:00:00") + minutes * u.min
            heights = get_sun(times).transform_to(AltAz(obstime=times, location=place)).alt.deg
            for dark, height in HEIGHTS_DEG.items():
                over = heights - height
                edges = np.flatnonzero(np.diff(over < 0.0))
                if len(edges) != 2:
                    continue
                at = [minutes[i] + 4.0 * over[i] / (over[i] - over[i + 1]) for i in edges]
                hours = (at[1] - at[0]) / 60.0
                found = night_hours(latitude, date(2026, month, 15), dark)
                assert found == pytest.approx(hours, abs=2 * MINUTE)
                compared += 1
    assert compared >= 12
