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
from itertools import pairwise
from typing import Any

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
    true_altitude_deg,
)
from server.sky.midnights import SunOfNights

Hours = npt.NDArray[np.float32]
Whole = npt.NDArray[np.int64]
_Any = npt.NDArray[Any]

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
_SHIFT_DEG = 0.01
"""A little more than aberration and precession shift a declination within half of `_SAME_LINE`."""
_GRAZING_TURNS = 1.0 / 1440.0
"""An object grazes a plain limit if its time above changes by a minute as that goes up and down so far."""
_GRAZING_SINE = 5e-4
"""It grazes a horizon line if it is nearer than this, 0.03 degrees, for two looks in a row."""
_TOGETHER = 65_536
"""Cells of the table of hours that are worked at once: what the processor's own memory holds."""
_ANGLES = 576
"""Hour angles at which an object is held against a horizon line: every two and a half minutes."""
_AZIMUTHS = 7200
"""Azimuths for which the horizon line is tabled: every 3 arcmin."""
_MOON_LOOKS_PER_DAY = 240


class Standing(IntEnum):
    """Whether a place in the sky is ever above the limit."""

    NEVER = 0
    SETS = 1
    ALWAYS = 2


@dataclass(frozen=True)
class HorizonLine:
    """The lowest altitude at which a site's sky can be used, by azimuth.

    Attributes:
        points: (azimuth, altitude) in degrees, azimuth 0 to 360 from north through east, altitude -5 to 90 as
            it is seen through the air; in any order. Linear in between, also over north. With one point its
            altitude holds all round, with none 0.

    Raises OutOfRangeError for others, and where two points have one azimuth (0 and 360 are one).
    """

    points: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        for azimuth, altitude in self.points:
            if not 0.0 <= azimuth <= 360.0:
                raise OutOfRangeError(
                    f"The azimuth is {azimuth:g}; it must be 0 to 360 degrees. Count from north through east."
                )
            if not -5.0 <= altitude <= 90.0:
                raise OutOfRangeError(
                    f"The altitude is {altitude:g}; it must be -5 to 90 degrees. "
                    "Give the lowest that is free."
                )
        around = sorted(azimuth % 360.0 for azimuth, _ in self.points)
        for one, other in pairwise(around):
            if one == other:
                raise OutOfRangeError(f"Two points stand at azimuth {one:g}. Leave one of them out.")

    @property
    def plain(self) -> bool:
        """Whether one altitude holds all round."""
        return len({altitude for _, altitude in self.points}) <= 1

    def altitude_deg(self, azimuth_deg: Given) -> Floats:
        """Return the line's altitude as seen, degrees, at azimuths of any value and shape."""
        if not self.points:
            return np.zeros(np.shape(azimuth_deg))
        azimuths, altitudes = zip(*self.points, strict=True)
        return np.asarray(np.interp(np.asarray(azimuth_deg, np.float64), azimuths, altitudes, period=360.0))


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
    """Return those of `hours_above` with the Moon's middle below the airless 0; else as there."""
    return _hours(nights, ra_deg, dec_deg, line, nights.moonless)


def moonless_hours(nights: Nights) -> Floats:
    """Return the dark hours of each night with the Moon's middle below the airless 0, (n,)."""
    night, begin, end = nights.moonless
    return np.bincount(night, (end - begin) * 24.0, minlength=nights.middle_days.size).astype(np.float64)


def grazing_hours(
    nights: Nights, ra_deg: Given, dec_deg: Given, line: HorizonLine, error_arcmin: float = 3.0
) -> tuple[Hours, Hours]:
    """Return `hours_above` with the line raised and lowered by an error: the least and the most hours, each
    (objects, n).

    They lie far apart for what grazes the line. error_arcmin: 0 to 300; 3 is what weather makes of refraction
    near the horizon (own judgement). Else as `hours_above`.
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
    """Return the airless altitude at the upper culmination, degrees, of declinations of date (any shape)."""
    return 90.0 - np.abs(spot.latitude_deg - np.asarray(dec_deg, np.float64))


def standing(spot: Spot, dec_deg: Given, line: HorizonLine) -> npt.NDArray[np.int8]:
    """Return whether declinations are ever or always above the line, by day or night: `Standing` as integers.

    dec_deg: of date, -90 to 90, any shape, which is the answer's; those of J2000 are up to 0.25 degrees off
    by 2040. A horizon line is looked at as in `hours_above`. Raises OutOfRangeError outside.
    """
    dec = np.asarray(dec_deg, np.float64)
    if not np.all(np.abs(dec) <= 90.0):
        raise OutOfRangeError("A declination lies outside -90 to 90 degrees. Give it in degrees.")
    ups = _times_up(spot, dec.ravel(), line, 0.0)
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


@dataclass(frozen=True)
class _TimesUp:
    """When objects are above a line, sorted by object.

    Attributes:
        of: the object of each time.
        rise: its hour angle when it comes up, turns.
        turns: how long it stays, turns, 0 to 1.
        rank: the how-manieth of its object's times this is.
        grazing: (objects,): whether a small shift of its place changes much.
    """

    of: Whole
    rise: Floats
    turns: Floats
    rank: Whole
    grazing: npt.NDArray[np.bool_]

    def total(self, objects: int) -> Floats:
        """(objects,): turns above the line in all."""
        return np.bincount(self.of, self.turns, minlength=objects).astype(np.float64)


def _times_up(spot: Spot, dec_deg: Floats, line: HorizonLine, raised_deg: float) -> _TimesUp:
    """The times of (objects,) declinations of date above the line, this raised by so many degrees."""
    if not line.plain:
        return _over_line(spot, dec_deg, line, raised_deg)
    true = float(_limit_deg(line, 0.0, raised_deg))
    phi, dec = math.radians(spot.latitude_deg), np.radians(dec_deg)

    def half_turns(limit_deg: float) -> Floats:
        above = math.sin(math.radians(limit_deg)) - math.sin(phi) * np.sin(dec)
        angle: Floats = np.arccos(np.clip(above / (math.cos(phi) * np.cos(dec)), -1.0, 1.0))
        return angle / (2.0 * math.pi)

    half, change = half_turns(true), half_turns(true - _SHIFT_DEG) - half_turns(true + _SHIFT_DEG)
    every = np.arange(dec.size)
    return _TimesUp(every, -half, 2.0 * half, np.zeros_like(every), 2.0 * change > _GRAZING_TURNS)


def _limit_deg(line: HorizonLine, azimuth_deg: Given, raised_deg: float) -> Floats:
    """The raised line's airless altitude."""
    return true_altitude_deg(np.clip(line.altitude_deg(azimuth_deg) + raised_deg, -90.0, 90.0))


def _over_line(spot: Spot, dec_deg: Floats, line: HorizonLine, raised_deg: float) -> _TimesUp:
    """Objects in rows and hour angles in columns: where one passes the line, and from there on halving."""
    azimuths = np.arange(_AZIMUTHS) * (360.0 / _AZIMUTHS)
    limit = np.sin(np.radians(_limit_deg(line, azimuths, raised_deg)))
    mirrored = np.roll(limit[::-1], 1)  # An object sets as it rises, but for the line.
    halves = [_sloping(one) for one in (limit, mirrored)]
    angle = (np.arange(_ANGLES // 2 + 1) * (-2.0 * math.pi / _ANGLES)).astype(np.float32)
    of, cell, upwards, always, grazing = [], [], [], [], []
    rows = max(1, _TOGETHER // angle.size)
    for start in range(0, max(1, dec_deg.size), rows):
        dec = np.radians(dec_deg[start : start + rows, None]).astype(np.float32)
        height, azimuth = _height_and_azimuth(spot, dec, angle)
        place = np.abs(azimuth) * np.float32(_AZIMUTHS / (2.0 * math.pi))
        at = place.astype(np.int32)
        beyond = place - at
        above, near = [], []
        for value, slope, reach in halves:
            margin = height - (value[at] + slope[at] * beyond)
            above.append(margin > 0.0)
            close = np.abs(margin) < reach[at]
            near.append(np.any(close[:, 1:] & close[:, :-1], axis=1))
        # From one lower culmination to the next; the half day before the upper one backwards.
        up = np.concatenate([above[0][:, :0:-1], above[1][:, :-1]], axis=1)
        after = np.roll(up, -1, axis=1)
        row, column = np.nonzero(up != after)
        of.append(row + start)
        cell.append(column)
        upwards.append(after[row, column])
        always.append(np.flatnonzero(up.all(axis=1)) + start)
        grazing.append(near[0] | near[1])
    whose, where, rising = np.concatenate(of), np.concatenate(cell), np.concatenate(upwards)
    passed = _passings(spot, dec_deg[whose], where, rising, line, raised_deg)
    return _paired(whose, passed, rising, np.concatenate(always), np.concatenate(grazing))


def _sloping(limit: Floats) -> tuple[Hours, Hours, Hours]:
    """Of a limit's sines by azimuth: these, their steps, and what height is near (more on a slope)."""
    step = np.diff(limit, append=limit[0])
    reach = _GRAZING_SINE * np.hypot(1.0, step * (_AZIMUTHS / (2.0 * math.pi)))
    return limit.astype(np.float32), step.astype(np.float32), reach.astype(np.float32)


def _height_and_azimuth(spot: Spot, dec: _Any, angle: _Any) -> tuple[_Any, _Any]:
    """The sine of the altitude and the azimuth (-pi to pi) at a declination and hour angle, radians."""
    phi = math.radians(spot.latitude_deg)
    cos_dec, sin_dec = np.cos(dec), np.sin(dec)
    along = cos_dec * np.cos(angle)
    up = math.cos(phi) * along + math.sin(phi) * sin_dec
    north = math.cos(phi) * sin_dec - math.sin(phi) * along
    return up, np.arctan2(-cos_dec * np.sin(angle), north)


def _passings(
    spot: Spot, dec_deg: Floats, cell: Whole, rising: _Any, line: HorizonLine, raised_deg: float
) -> Floats:
    """The hour angles, turns, at which objects pass the line within their cells."""
    dec = np.radians(dec_deg)
    low, width = cell / _ANGLES - 0.5, 1.0 / _ANGLES
    for _ in range(7):  # Two and a half minutes into a second.
        width /= 2.0
        height, azimuth = _height_and_azimuth(spot, dec, (low + width) * (2.0 * math.pi))
        up = height > np.sin(np.radians(_limit_deg(line, np.degrees(azimuth), raised_deg)))
        low = np.where(up == rising, low, low + width)
    return low + width / 2.0


def _paired(of: Whole, passed: Floats, rising: _Any, always: Whole, grazing: _Any) -> _TimesUp:
    """Each passing upwards with the next downwards of its object, going round; then those always up."""
    up, down = np.flatnonzero(rising), np.flatnonzero(~rising)
    owner = of[up]  # The downward ones have the same owners: they take turns.
    begin = np.searchsorted(owner, owner)
    count = np.searchsorted(owner, owner, side="right") - begin
    rank = np.arange(owner.size) - begin
    late = down[begin] < up[begin] if owner.size else np.zeros(0, bool)
    ends = passed[down[begin + (rank + late) % np.maximum(count, 1)]] if owner.size else np.zeros(0)
    rises = passed[up]
    one = np.ones(always.size)
    return _TimesUp(
        np.concatenate([owner, always]),
        np.concatenate([rises, -0.5 * one]),
        np.concatenate([(ends - rises) % 1.0, one]),
        np.concatenate([rank, np.zeros_like(always)]),
        grazing,
    )


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
        up = _times_up(nights.spot, dec_of_date, line, raised_deg)
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
                up = _times_up(nights.spot, decs, line, raised_deg)
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

    def add_overlaps(self, hours: Hours, ra_deg: Floats, up: _TimesUp, first: int, last: int) -> None:
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
