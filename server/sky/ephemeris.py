"""Where Sun, Moon and stars stand as seen from a place on the Earth.

Universal time is taken as UTC throughout, which is less than 0.9 s off by UTC's definition: up to 13 arcsec
along the sky's turn. Not modelled besides: polar motion (0.5 arcsec), the observer's own speed with the
Earth's turn (0.3), the bending of light by the Sun, proper motion and parallax of stars.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import erfa
import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError

Floats = npt.NDArray[np.float64]
"""An array of any shape, or a single number of numpy's."""
Given = float | npt.ArrayLike
"""What a function takes: one number or an array of them."""
Vector = tuple[Floats, Floats, Floats]
"""x, y, z, each an array of the same shape."""

_J2000 = 2451545.0
_START = datetime(2000, 1, 1, 12, tzinfo=UTC)
_FIRST_DAY, _LAST_DAY = -10227.5, 36494.5
"""UTC has whole leap seconds from 1972 on; the series for the Earth's orbit ends with 2099."""
_TURN = 2.0 * math.pi
_LIGHT_AU_PER_DAY = erfa.DAYSEC / erfa.AULT
_AU_KM = erfa.DAU / 1000.0
_FRAME_STEP = 3.0
"""Days between tabled places of the Earth and axes of date: between four of them it is good to 0.1 arcsec."""
_MOON_STEP = 0.25
"""Days between tabled places of the Moon: good to 0.1 arcsec."""
_LEAPS = erfa.leap_seconds.get()
_LEAP_DAYS = np.array(
    [
        (datetime(int(one["year"]), int(one["month"]), 1, tzinfo=UTC) - _START) / timedelta(days=1)
        for one in _LEAPS
    ]
)
_LEAP_SECONDS = np.asarray(_LEAPS["tai_utc"], np.float64)


@dataclass(frozen=True)
class Spot:
    """A place on the Earth.

    Attributes:
        latitude_deg: geodetic, -90 to 90, north positive.
        longitude_deg: -180 to 180, east positive.
        height_m: above the ellipsoid (WGS84); only the Moon's parallax knows it.

    Raises OutOfRangeError outside, and for what is no number.
    """

    latitude_deg: float
    longitude_deg: float
    height_m: float = 0.0

    def __post_init__(self) -> None:
        if not -90.0 <= self.latitude_deg <= 90.0:
            raise OutOfRangeError(
                f"The latitude is {self.latitude_deg:g}; it must be -90 to 90 degrees. Give the site's."
            )
        if not -180.0 <= self.longitude_deg <= 180.0:
            raise OutOfRangeError(
                f"The longitude is {self.longitude_deg:g}; it must be -180 to 180 degrees, east positive. "
                "Give the site's."
            )
        if not math.isfinite(self.height_m):
            raise OutOfRangeError(f"The height is {self.height_m:g} m; it must be a number. Give the site's.")


@dataclass(frozen=True, eq=False)
class Direction:
    """Where something stands in the sky, without the air's bending.

    Attributes:
        altitude_deg: above the horizon, -90 to 90; any shape.
        azimuth_deg: from north through east, 0 to 360; the same shape.
    """

    altitude_deg: Floats
    azimuth_deg: Floats


@dataclass(frozen=True, eq=False)
class MoonSeen(Direction):
    """The Moon's middle as it stands in an observer's sky, without the air's bending.

    Attributes:
        lit: share of the disc in sunlight, 0 to 1.
        phase_angle_deg: between Sun and observer as seen from the Moon: 0 full, 180 new.
        distance_km: from the observer.
    """

    lit: Floats
    phase_angle_deg: Floats
    distance_km: Floats


def days_of(instant: datetime) -> float:
    """Return the days, UTC, from 2000-01-01T12:00Z to an instant; negative before.

    Raises OutOfRangeError where the instant does not say its zone. Source: the epoch J2000.0 by definition,
    but counted in UTC, without its leap seconds.
    """
    if instant.utcoffset() is None:
        raise OutOfRangeError(f"The time {instant} does not say its zone. Give it with one, such as UTC.")
    return (instant - _START) / timedelta(days=1)


def instant_of(days: float) -> datetime:
    """Return the instant, UTC, to the nearest second, of days since 2000-01-01T12:00Z.

    Raises OutOfRangeError outside 1972 to 2099. Source: as `days_of`.
    """
    _within_years(np.asarray(days))
    return _START + timedelta(seconds=round(days * 86400.0))


def sun_seen(spot: Spot, days: Given) -> Direction:
    """Return where the Sun's middle stands, within 10 arcsec (4 measured against astropy).

    days: UTC since 2000-01-01T12:00Z, 1972 to 2099, any shape, which is the answer's. Raises OutOfRangeError
    outside. Source: Simon and others 1994 and VSOP2000 as ERFA's epv00; axes of date IAU 2000B, its pnm00b.
    """
    when = _within_years(days)
    return _direction(spot, _from_the_ground(spot, _in_meridian(spot, _sun_of_date(when), when), _AU_KM))


def moon_seen(spot: Spot, days: Given) -> MoonSeen:
    """Return where the Moon's middle stands for an observer at the spot, parallax in, and how it is lit.

    Within 10 arcsec of astropy (4 measured), 15 of the ephemeris DE440. days: UTC since 2000-01-01T12:00Z,
    1972 to 2099, any shape, which is the answer's. Raises OutOfRangeError outside. Source: Meeus,
    Astronomical Algorithms, 2nd edition, ch. 47 (place) and 48 (phase), as ERFA's moon98.
    """
    when = _within_years(days)
    moon = _from_the_ground(spot, _in_meridian(spot, _moon_of_date(when), when), 1.0)
    sun = _from_the_ground(spot, _in_meridian(spot, _sun_of_date(when), when), _AU_KM)
    to_sun = tuple(s * _AU_KM - m for s, m in zip(sun, moon, strict=True))
    cosine = -_dot(moon, to_sun) / (_length(moon) * _length(to_sun))
    cosine = np.clip(cosine, -1.0, 1.0)
    seen = _direction(spot, moon)
    return MoonSeen(
        seen.altitude_deg,
        seen.azimuth_deg,
        (1.0 + cosine) / 2.0,
        np.degrees(np.arccos(cosine)),
        _length(moon),
    )


def star_seen(spot: Spot, ra_deg: Given, dec_deg: Given, days: Given) -> Direction:
    """Return where an object of the catalogues stands, within 10 arcsec (4 measured against astropy).

    ra_deg, dec_deg: its J2000 place, -360 to 360 and -90 to 90. days: UTC since 2000-01-01T12:00Z, 1972 to
    2099. The three broadcast against each other. Raises OutOfRangeError outside. Its own motion is not looked
    at. Source: precession and nutation IAU 2000B (ERFA's pnm00b), aberration to the first order.
    """
    when = _within_years(days)
    return _direction(spot, _in_meridian(spot, _star_of_date(ra_deg, dec_deg, when), when))


def apparent_place(ra_deg: Given, dec_deg: Given, day: float) -> tuple[Floats, Floats]:
    """Return right ascension (0 to 360) and declination, degrees, of date with aberration, of J2000 places.

    ra_deg, dec_deg: any shape, which is the answers'. day: UTC since 2000-01-01T12:00Z, 1972 to 2099. Raises
    OutOfRangeError outside. Source: as `star_seen`.
    """
    x, y, z = _star_of_date(ra_deg, dec_deg, _within_years(day))
    return np.degrees(np.arctan2(y, x)) % 360.0, np.degrees(np.arctan2(z, np.hypot(x, y)))


def moon_distance_deg(spot: Spot, ra_deg: Given, dec_deg: Given, days: Given) -> Floats:
    """Return the angle between an object and the Moon's middle as seen from the spot, 0 to 180 degrees.

    Arguments, shapes and errors as `star_seen`. Source: that of `star_seen` and of `moon_seen`.
    """
    when = _within_years(days)
    moon = _from_the_ground(spot, _in_meridian(spot, _moon_of_date(when), when), 1.0)
    star = _in_meridian(spot, _star_of_date(ra_deg, dec_deg, when), when)
    across = (
        star[1] * moon[2] - star[2] * moon[1],
        star[2] * moon[0] - star[0] * moon[2],
        star[0] * moon[1] - star[1] * moon[0],
    )
    return np.degrees(np.arctan2(_length(across), _dot(star, moon)))


def true_altitude_deg(seen_altitude_deg: Given) -> Floats:
    """Return the altitude without air of what is seen at an altitude through the air at 10 C and 1010 hPa.

    seen_altitude_deg: -90 to 90, any shape. Raises OutOfRangeError outside. Within 0.1 arcmin; at the horizon
    weather alone shifts it by minutes, and thinner air bends less in proportion. Below -1 degree the bending
    of -1 degree is taken. Source: Bennett 1982, J. Navigation 35, 255 (from memory).
    """
    seen = _within_quarters(seen_altitude_deg)
    return seen - _bending_deg(seen)


def bent_altitude_deg(true_altitude_deg: Given) -> Floats:
    """Return the altitude at which the air shows what stands at an altitude without it.

    The inverse of `true_altitude_deg` to a thousandth of an arcsec; range, errors and limits as there.
    Source: Bennett 1982.
    """
    true = _within_quarters(true_altitude_deg)
    seen = true
    for _ in range(12):  # Each round leaves a fifth of the error at the horizon, and far less above.
        seen = true + _bending_deg(seen)
    return np.minimum(seen, 90.0)


def sun_turned(spot: Spot, days: Given) -> tuple[Floats, Floats]:
    """Return the Sun's local hour angle (-180 to 180, west positive) and declination of date, degrees.

    As from the Earth's middle. days and errors as `sun_seen`; the answers have its shape. Source: as there.
    """
    when = _within_years(days)
    x, y, z = _in_meridian(spot, _sun_of_date(when), when)
    return np.degrees(np.arctan2(-y, x)), np.degrees(np.arctan2(z, np.hypot(x, y)))


def moon_altitude_deg(spot: Spot, days: Given) -> Floats:
    """Return the altitude of `moon_seen` alone, in half its time. Source: as there."""
    when = _within_years(days)
    moon = _from_the_ground(spot, _in_meridian(spot, _moon_of_date(when), when), 1.0)
    return _direction(spot, moon).altitude_deg


def sidereal_deg(spot: Spot, days: Given) -> Floats:
    """Return the local apparent sidereal angle, 0 to 360 degrees: the right ascension that culminates.

    days and errors as `sun_seen`; the answer has its shape. Source: IAU 2000B as ERFA's gst00b.
    """
    return np.degrees(_sidereal(spot, _within_years(days))) % 360.0


def _within_years(days: Given) -> Floats:
    when = np.asarray(days, np.float64)
    if not np.all((when >= _FIRST_DAY) & (when <= _LAST_DAY)):
        raise OutOfRangeError("A time lies outside the years 1972 to 2099. Give one within them.")
    return when


def _within_quarters(altitude_deg: Given) -> Floats:
    altitude = np.asarray(altitude_deg, np.float64)
    if not np.all(np.abs(altitude) <= 90.0):
        raise OutOfRangeError("An altitude lies outside -90 to 90 degrees. Give one within.")
    return altitude


def _bending_deg(seen_deg: Floats) -> Floats:
    h = np.maximum(seen_deg, -1.0)
    bending: Floats = 1.0 / np.tan(np.radians(h + 7.31 / (h + 4.4))) / 60.0  # Bennett 1982
    return np.maximum(bending, 0.0)


def _tabled(days: Floats, step: float, make: Callable[[Floats], Floats]) -> Floats:
    """What `make` gives for days in a row, (n,) to (n, ...): for many, from its values at whole steps.

    Four-point interpolation. Where the steps would be no fewer than the times, `make` is asked for these.
    """
    cells = np.floor(days / step).astype(np.int64)
    steps = np.unique(np.unique(cells)[:, None] + np.arange(-1, 3))
    if steps.size >= days.size:
        return make(days)
    values = make(steps * step)
    at = np.searchsorted(steps, cells)
    s = (days / step - cells).reshape((-1,) + (1,) * (values.ndim - 1))
    weights = (  # Lagrange's polynomials on -1, 0, 1, 2
        -s * (s - 1.0) * (s - 2.0) / 6.0,
        (s + 1.0) * (s - 1.0) * (s - 2.0) / 2.0,
        -(s + 1.0) * s * (s - 2.0) / 2.0,
        (s + 1.0) * s * (s - 1.0) / 6.0,
    )
    total = weights[0] * values[at - 1]
    for one in range(1, 4):
        total += weights[one] * values[at - 1 + one]
    return total


def _terrestrial(days: Floats) -> Floats:
    """Terrestrial time, days since J2000. ERFA's way would warn of years yet without leap seconds."""
    seconds = _LEAP_SECONDS[np.searchsorted(_LEAP_DAYS, days, side="right") - 1]
    return days + (seconds + 32.184) / 86400.0


def _axes(days: Floats) -> Floats:
    """(n, 3, 3): turns a vector of the catalogues' axes into those of date."""
    axes: Floats = erfa.pnm00b(_J2000, _terrestrial(days))
    return axes


def _frame(days: Floats) -> Floats:
    """(n, 4, 3): `_axes`, and below them the Earth's velocity in parts of light's."""
    around_sun, _ = erfa.epv00(_J2000, _terrestrial(days))
    velocity = around_sun["v"] / _LIGHT_AU_PER_DAY
    return np.concatenate([_axes(days), velocity[:, None, :]], axis=1)


def _sun(days: Floats) -> Floats:
    """(n, 3): the apparent Sun from the Earth's middle, in axes of date, au."""
    around_sun, _ = erfa.epv00(_J2000, _terrestrial(days))
    place, velocity = around_sun["p"], around_sun["v"]
    light = np.linalg.norm(place, axis=1, keepdims=True) / _LIGHT_AU_PER_DAY
    return np.asarray(np.einsum("nij,nj->ni", _axes(days), light * velocity - place))


def _moon(days: Floats) -> Floats:
    """(n, 3): the apparent Moon from the Earth's middle, in axes of date, km."""
    pv = erfa.moon98(_J2000, _terrestrial(days))
    place, velocity = pv["p"], pv["v"]
    light = np.linalg.norm(place, axis=1, keepdims=True) / _LIGHT_AU_PER_DAY
    axes = _tabled(days, _FRAME_STEP, _axes)
    return np.asarray(np.einsum("nij,nj->ni", axes, (place - light * velocity) * _AU_KM))


def _components(when: Floats, step: float, make: Callable[[Floats], Floats]) -> Vector:
    values = _tabled(when.ravel(), step, make)
    return (
        values[:, 0].reshape(when.shape),
        values[:, 1].reshape(when.shape),
        values[:, 2].reshape(when.shape),
    )


def _sun_of_date(when: Floats) -> Vector:
    return _components(when, _FRAME_STEP, _sun)


def _moon_of_date(when: Floats) -> Vector:
    return _components(when, _MOON_STEP, _moon)


def _star_of_date(ra_deg: Given, dec_deg: Given, when: Floats) -> Vector:
    """The apparent direction in axes of date, as long as 1 but for a part in ten thousand."""
    ra, dec = np.radians(np.asarray(ra_deg, np.float64)), np.radians(_declinations(dec_deg))
    if not np.all(np.abs(ra) <= _TURN):
        raise OutOfRangeError("A right ascension lies outside -360 to 360 degrees. Give it in degrees.")
    frame = _tabled(when.ravel(), _FRAME_STEP, _frame).reshape((*when.shape, 4, 3))
    place = (np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec))
    moved = tuple(one + frame[..., 3, at] for at, one in enumerate(place))  # Aberration: the speed is added.
    x, y, z = (_dot((frame[..., row, 0], frame[..., row, 1], frame[..., row, 2]), moved) for row in range(3))
    return x, y, z


def _declinations(dec_deg: Given) -> Floats:
    dec = np.asarray(dec_deg, np.float64)
    if not np.all(np.abs(dec) <= 90.0):
        raise OutOfRangeError("A declination lies outside -90 to 90 degrees. Give it in degrees.")
    return dec


def _sidereal(spot: Spot, when: Floats) -> Floats:
    flat = when.ravel()

    def beyond(days: Floats) -> Floats:
        """What sidereal time is ahead of the Earth's turn, radians; it creeps, and so can be tabled."""
        ahead: Floats = erfa.anpm(erfa.gst00b(_J2000, days) - erfa.era00(_J2000, days))
        return ahead

    turned: Floats = erfa.era00(_J2000, flat) + _tabled(flat, _FRAME_STEP, beyond)
    return turned.reshape(when.shape) + math.radians(spot.longitude_deg)


def _in_meridian(spot: Spot, of_date: Vector, when: Floats) -> Vector:
    """A vector of date in the spot's meridian: x to the equator's highest point, y east, z to the pole."""
    turn = _sidereal(spot, when)
    cosine, sine = np.cos(turn), np.sin(turn)
    x, y, z = of_date
    return cosine * x + sine * y, cosine * y - sine * x, z + np.zeros_like(turn)


def _from_the_ground(spot: Spot, in_meridian: Vector, unit_km: float) -> Vector:
    """The same vector from the spot in place of the Earth's middle."""
    site = erfa.gd2gc(erfa.WGS84, 0.0, math.radians(spot.latitude_deg), spot.height_m) / (1000.0 * unit_km)
    x, y, z = in_meridian
    return x - site[0], y, z - site[2]


def _direction(spot: Spot, in_meridian: Vector) -> Direction:
    phi = math.radians(spot.latitude_deg)
    x, east, z = in_meridian
    up = math.cos(phi) * x + math.sin(phi) * z
    north = math.cos(phi) * z - math.sin(phi) * x
    return Direction(
        np.degrees(np.arctan2(up, np.hypot(north, east))), np.degrees(np.arctan2(east, north)) % 360.0
    )


def _dot(one: tuple[Floats, ...], other: tuple[Floats, ...]) -> Floats:
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def _length(one: tuple[Floats, ...]) -> Floats:
    length: Floats = np.sqrt(_dot(one, one))
    return length
