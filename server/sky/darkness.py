"""How long objects stand above a limit in the dark: for many objects and many nights at once.

A night's dark spell and an object's time above the limit are both spells of sidereal time; the hours are
where they overlap. What hardly changes from night to night is worked out for many of them: see `_SAME_PLACE`
and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from enum import IntEnum
from functools import cached_property

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError
from server.sky.ephemeris import (
    Floats,
    Given,
    Spot,
    apparent_place,
    moon_altitude_deg,
    sidereal_deg,
)
from server.sky.horizon_line import HorizonLine, TimesUp, Whole, times_up
from server.sky.midnights import SunOfNights

__all__ = [
    "HorizonLine",
    "Nights",
    "Standing",
    "culmination_deg",
    "grazing_hours",
    "hours_above",
    "moonless_hours",
    "moonless_hours_above",
    "nights",
    "standing",
]

Hours = npt.NDArray[np.float32]

_NOON_DAY = date(2000, 1, 1)
_SIDEREAL = 1.00273781
"""Turns of the sky in a day. Source: Explanatory Supplement to the Astronomical Almanac (from memory)."""
_SIDEREAL_HOURS = 24.0 / _SIDEREAL
_SAME_PLACE = 30
"""Nights that share an object's apparent place: aberration shifts it by 5 arcsec in half of them."""
_SAME_LINE = 366
"""Nights that share an object's times above the line, of its place in their middle, unless it grazes that."""
_SAME_GRAZING = 5
"""The same for an object that grazes it: aberration shifts it by less than 1 arcsec in half of them."""
_TOGETHER = 65_536
"""Cells of the table of hours that are worked at once: what the processor's own memory holds."""
_MOON_LOOKS_PER_DAY = 240


class Standing(IntEnum):
    """Whether a place in the sky is ever above the limit."""

    NEVER = 0
    SETS = 1
    ALWAYS = 2


@dataclass(frozen=True, eq=False)
class Nights:
    """Nights in a row at one spot. Times are days UTC since 2000-01-01T12:00Z, each (n,).

    Attributes:
        spot: where.
        first: night k is the one whose solar midnight ends the local mean day first + k, by longitude.
        sun_deg: it is dark where the Sun's middle is lower than this, without the air's bending.
        dusk_days: when it grows dark; nan where it does not. Where it was dark before, half a day before
            midnight.
        dawn_days: when it ceases to be dark, likewise.
        middle_days: the solar midnights: the Sun's lower culminations.
    """

    spot: Spot
    first: date
    sun_deg: float
    dusk_days: Floats
    dawn_days: Floats
    middle_days: Floats

    @property
    def hours(self) -> Floats:
        """Hours of darkness: 0 where none, 24 where it is never lighter."""
        return np.nan_to_num((self.dawn_days - self.dusk_days) * 24.0)

    @cached_property
    def moonless(self) -> tuple[Whole, Floats, Floats]:
        """The dark spells with the Moon's middle below the airless 0, in order: their night, begin, end."""
        return _moonless(self)


def nights(spot: Spot, first: date, count: int, sun_deg: float = -18.0) -> Nights:
    """Return the dark spells of nights in a row.

    count: 1 to 4000; all within 1972 to 2099. sun_deg: -40 to 5, the Sun's middle without the air's bending.
    Raises OutOfRangeError outside. Above 89 degrees of latitude only the spell around the Sun's lowest stand
    is found. Source: the altitude by hour angle, sin h = sin phi sin delta + cos phi cos delta cos H (any
    text on spherical astronomy), with the Sun of `sun_seen`.
    """
    if not 1 <= count <= 4000:
        raise OutOfRangeError(f"The nights are {count}; they must be 1 to 4000. Ask for fewer.")
    if not -40.0 <= sun_deg <= 5.0:
        raise OutOfRangeError(
            f"The Sun's altitude is {sun_deg:g}; it must be -40 to 5 degrees. Take -18 for full darkness."
        )
    # The day that ends at midnight is a half after its noon.
    mean: Floats = (
        np.arange(count, dtype=np.float64) + (first - _NOON_DAY).days + 0.5 - spot.longitude_deg / 360.0
    )
    sun = SunOfNights(spot, mean)
    middle = sun.midnight()
    low = sun.lowest(middle)
    begin, end = middle - 0.5, middle + 0.5
    dusk, dawn = sun.crossing(begin, low, sun_deg), sun.crossing(end, low, sun_deg)
    dark = sun.altitude_deg(low) < sun_deg
    return Nights(
        spot,
        first,
        sun_deg,
        np.where(dark, mean + dusk, np.nan),
        np.where(dark, mean + dawn, np.nan),
        mean + middle,
    )


def hours_above(nights: Nights, ra_deg: Given, dec_deg: Given, line: HorizonLine) -> Hours:
    """Return the dark hours of each object above the line in each night, (objects, n).

    ra_deg, dec_deg: J2000 places, (objects,), -360 to 360 and -90 to 90. Raises OutOfRangeError outside.
    Within 2.5 minutes of a fine sampling of astropy's, nearly always within 0.5; `grazing_hours` says where
    the air makes it worse. A line is looked at every 2.5 minutes of an object's way: a trunk or gap narrower
    than that may be missed. Refraction is that of `true_altitude_deg`. Source: cos H = (sin h - sin phi sin
    delta) / (cos phi cos delta), any text on spherical astronomy.
    """
    return _hours(nights, ra_deg, dec_deg, line, _dark_spells(nights))


def moonless_hours_above(nights: Nights, ra_deg: Given, dec_deg: Given, line: HorizonLine) -> Hours:
    """Return those of `hours_above` with the Moon's middle below the airless 0; else as there.

    Source: as `hours_above`, with the Moon of `moon_seen`.
    """
    return _hours(nights, ra_deg, dec_deg, line, nights.moonless)


def moonless_hours(nights: Nights) -> Floats:
    """Return the dark hours of each night with the Moon's middle below the airless 0, (n,).

    Source: the Moon of `moon_seen`, every six minutes and straight between.
    """
    night, begin, end = nights.moonless
    return np.bincount(night, (end - begin) * 24.0, minlength=nights.middle_days.size).astype(np.float64)


def grazing_hours(
    nights: Nights, ra_deg: Given, dec_deg: Given, line: HorizonLine, error_arcmin: float = 3.0
) -> tuple[Hours, Hours]:
    """Return `hours_above` with the line raised and lowered by an error: the least and the most hours, each
    (objects, n).

    They lie far apart for what grazes the line. error_arcmin: 0 to 300; 3 is what weather makes of refraction
    near the horizon (own judgement). Raises OutOfRangeError outside. Source: as `hours_above`, which see.
    """
    if not 0.0 <= error_arcmin <= 300.0:
        raise OutOfRangeError(
            f"The error is {error_arcmin:g} arcmin; it must be 0 to 300. Give 3 without better."
        )
    spells, shift = _dark_spells(nights), error_arcmin / 60.0
    return (
        _hours(nights, ra_deg, dec_deg, line, spells, shift),
        _hours(nights, ra_deg, dec_deg, line, spells, -shift),
    )


def culmination_deg(spot: Spot, dec_deg: Given) -> Floats:
    """Return the airless altitude at the upper culmination, degrees, of declinations of date (any shape).

    Source: 90 - |phi - delta|, any text on spherical astronomy.
    """
    return 90.0 - np.abs(spot.latitude_deg - np.asarray(dec_deg, np.float64))


def standing(spot: Spot, dec_deg: Given, line: HorizonLine) -> npt.NDArray[np.int8]:
    """Return whether declinations are ever or always above the line, by day or night: `Standing` as integers.

    dec_deg: of date, -90 to 90, any shape, which is the answer's; those of J2000 are up to 0.25 degrees off
    by 2040. A horizon line is looked at as in `hours_above`. Raises OutOfRangeError
    outside. Source: as there.
    """
    dec = np.asarray(dec_deg, np.float64)
    if not np.all(np.abs(dec) <= 90.0):
        raise OutOfRangeError("A declination lies outside -90 to 90 degrees. Give it in degrees.")
    ups = times_up(spot, dec.ravel(), line, 0.0)
    width = ups.total(dec.size)
    kinds = np.where(width >= 1.0, Standing.ALWAYS, np.where(width > 0.0, Standing.SETS, Standing.NEVER))
    return kinds.reshape(dec.shape).astype(np.int8)


def _dark_spells(nights: Nights) -> tuple[Whole, Floats, Floats]:
    night = np.flatnonzero(~np.isnan(nights.dusk_days))
    return night, nights.dusk_days[night], nights.dawn_days[night]


def _moonless(nights: Nights) -> tuple[Whole, Floats, Floats]:
    """The Moon's altitude every six minutes, linear between; a shorter stay on either side may be missed."""
    night, dusk, dawn = _dark_spells(nights)
    if not night.size:
        return night, dusk, dawn
    looks = 2 + math.ceil(float(np.max(dawn - dusk)) * _MOON_LOOKS_PER_DAY)
    share = np.linspace(0.0, 1.0, looks)
    times = dusk[:, None] + share * (dawn - dusk)[:, None]
    altitude = moon_altitude_deg(nights.spot, times)
    down = np.zeros((night.size, looks + 2), np.int8)
    down[:, 1:-1] = altitude < 0.0
    change = np.diff(down, axis=1)
    row, at = np.nonzero(change == 1)
    begin = _between_looks(times, altitude, row, at)
    row, at = np.nonzero(change == -1)
    end = _between_looks(times, altitude, row, at)
    return night[row], begin, end


def _between_looks(times: Floats, altitude: Floats, row: Whole, at: Whole) -> Floats:
    """When the Moon passes 0 between look at - 1 and look at of a row; at the ends, these."""
    first, second = np.maximum(at - 1, 0), np.minimum(at, times.shape[1] - 1)
    a, b = altitude[row, first], altitude[row, second]
    share = np.where(first == second, 0.0, a / np.where(a == b, 1.0, a - b))
    passes: Floats = times[row, first] + share * (times[row, second] - times[row, first])
    return passes


def _hours(
    nights: Nights,
    ra_deg: Given,
    dec_deg: Given,
    line: HorizonLine,
    spells: tuple[Whole, Floats, Floats],
    raised_deg: float = 0.0,
) -> Hours:
    """Hours in these spells, the line raised by so many degrees."""
    ra, dec = np.broadcast_arrays(*(np.atleast_1d(np.asarray(one, np.float64)) for one in (ra_deg, dec_deg)))
    count = nights.middle_days.size
    hours = np.zeros((ra.size, count), np.float32)
    if not spells[0].size:
        return hours
    dark = _SkySpells(nights.spot, *spells)
    for first in range(0, count, _SAME_LINE):
        last = min(first + _SAME_LINE, count)
        dec_of_date = apparent_place(ra, dec, _middle(nights, first, last))[1]
        up = times_up(nights.spot, dec_of_date, line, raised_deg)
        for month in range(first, last, _SAME_PLACE):
            until = min(month + _SAME_PLACE, last)
            places, _ = apparent_place(ra, dec, _middle(nights, month, until))
            dark.add_overlaps(hours, places, up, month, until)
        grazing = np.flatnonzero(up.grazing)
        if grazing.size:
            few = np.zeros((grazing.size, count), np.float32)
            for begin in range(first, last, _SAME_GRAZING):
                until = min(begin + _SAME_GRAZING, last)
                places, decs = apparent_place(ra[grazing], dec[grazing], _middle(nights, begin, until))
                up = times_up(nights.spot, decs, line, raised_deg)
                dark.add_overlaps(few, places, up, begin, until)
            hours[grazing, first:last] = few[:, first:last]
    hours *= np.float32(_SIDEREAL_HOURS)
    return hours


def _middle(nights: Nights, first: int, last: int) -> float:
    return float(nights.middle_days[(first + last) // 2])


class _SkySpells:
    """Dark spells in sidereal time: their night, begin and length in turns, the how-manieth of it."""

    def __init__(self, spot: Spot, night: Whole, begin: Floats, end: Floats) -> None:
        self._night = night
        self._start = (sidereal_deg(spot, begin) / 360.0).astype(np.float32)
        self._length = ((end - begin) * _SIDEREAL).astype(np.float32)
        self._order = np.arange(night.size) - np.searchsorted(night, night)

    def add_overlaps(self, hours: Hours, ra_deg: Floats, up: TimesUp, first: int, last: int) -> None:
        """Adds to the nights from `first` until before `last` the turns in which objects are up in the dark.

        hours: (objects, nights). ra_deg: (objects,), of date.
        """
        rises = ((ra_deg / 360.0)[up.of] + up.rise).astype(np.float32)[:, None]
        turns = up.turns.astype(np.float32)[:, None]
        part = slice(*np.searchsorted(self._night, (first, last)))
        night, order = self._night[part], self._order[part]
        start, length = self._start[part], self._length[part]
        for rank in range(int(up.rank.max(initial=-1)) + 1):
            mine = np.flatnonzero((up.rank == rank) & (up.turns > 0.0))
            for which in range(int(order.max(initial=-1)) + 1):
                here = np.flatnonzero(order == which)
                rows = max(1, _TOGETHER // here.size)
                for begin in range(0, mine.size, rows):
                    some = mine[begin : begin + rows]
                    # No object and no night comes twice here, so that adding by index is right.
                    hours[up.of[some, None], night[here]] += _overlaps(
                        rises[some], turns[some], start[here], length[here]
                    )


def _overlaps(rise: Hours, turns: Hours, start: Hours, length: Hours) -> Hours:
    """Turns that (rows, 1) times up share with (columns,) spells, going round; a spell may exceed one."""
    after: Hours = rise - start
    after -= np.floor(after)
    end = after + turns
    both: Hours = np.minimum(end, length)
    both -= after
    np.maximum(both, 0.0, out=both)
    end -= 1.0  # The same time up, a turn before.
    np.minimum(end, length, out=end)
    np.maximum(end, 0.0, out=end)
    both += end
    if np.any(length > 1.0):  # And a turn after: a polar night is four minutes longer than the sky's turn.
        both += np.clip(length - 1.0 - after, 0.0, turns)
    return both
