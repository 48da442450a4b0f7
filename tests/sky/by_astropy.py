"""What astropy says of Sun, Moon and stars: the witness of the sky's tests and the rival of its benchmark."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager

import astropy.units as u
import numpy as np
from astropy.coordinates import AltAz, EarthLocation, SkyCoord, get_body
from astropy.coordinates.erfa_astrom import ErfaAstromInterpolator, erfa_astrom
from astropy.time import Time
from astropy.utils import iers

from server.sky.ephemeris import Spot, true_altitude_deg


@contextmanager
def offline() -> Iterator[None]:
    """astropy without the network; beyond its table of the Earth's turn it takes UT1 as UTC, and warns."""
    with (
        iers.conf.set_temp("auto_download", False),
        iers.conf.set_temp("auto_max_age", None),
        iers.conf.set_temp("iers_degraded_accuracy", "ignore"),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("ignore")
        yield


def frame(spot: Spot, days, bent: bool = False) -> AltAz:
    """Altitude and azimuth at the spot, through the air of 10 C and 1010 hPa if bent."""
    place = EarthLocation.from_geodetic(spot.longitude_deg, spot.latitude_deg, spot.height_m)
    when = Time(2451545.0, days, format="jd", scale="utc")
    if bent:
        air = {"pressure": 1010 * u.hPa, "temperature": 10 * u.deg_C, "obswl": 0.55 * u.um}
        return AltAz(obstime=when, location=place, **air)
    return AltAz(obstime=when, location=place)


def body(name: str, spot: Spot, days):
    """The Sun or the Moon."""
    seen = frame(spot, days)
    return get_body(name, seen.obstime, seen.location).transform_to(seen)


def star(spot: Spot, ra_deg, dec_deg, days, bent: bool = False):
    """A star, its place of J2000 being ICRS."""
    return SkyCoord(ra_deg * u.deg, dec_deg * u.deg).transform_to(frame(spot, days, bent))


def sampled_hours(spot: Spot, middle: float, ra_deg, dec_deg, line, minutes: float = 1.0, air: bool = True):
    """Dark hours around a midnight, and of each object those above the line and those with the Moon down too.

    Sampled over a day, straight between the samples. The air's bending is astropy's own, which is good from
    some degrees up; without, the line is taken for what it is without air.
    """
    days = middle + np.linspace(-0.5, 0.5, round(1440.0 / minutes) + 1)
    with offline(), erfa_astrom.set(ErfaAstromInterpolator(10 * u.min)):
        dark = -18.0 - body("sun", spot, days).alt.deg
        moon = -body("moon", spot, days).alt.deg
        seen = star(spot, np.asarray(ra_deg)[:, None], np.asarray(dec_deg)[:, None], days, bent=air)
    limit = line.altitude_deg(seen.az.deg)
    above = np.minimum(dark, seen.alt.deg - (limit if air else true_altitude_deg(limit)))
    return _hours(dark), _hours(above), _hours(np.minimum(above, moon))


def _hours(margin):
    """Hours with a margin above 0 in a day of samples along the last axis."""
    before, after = margin[..., :-1], margin[..., 1:]
    high, low = np.maximum(before, after), np.minimum(before, after)
    share = np.clip(high / np.maximum(high - low, 1e-12), 0.0, 1.0)
    return share.sum(axis=-1) * 24.0 / before.shape[-1]
