"""The lowest altitude at which a site's sky can be used, and when objects stand above it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError
from server.sky.ephemeris import Floats, Given, Spot, true_altitude_deg

Whole = npt.NDArray[np.int64]
_Singles = npt.NDArray[np.float32]
_Any = npt.NDArray[Any]

_SHIFT_DEG = 0.01
"""A little more than aberration and precession shift a declination within half of `_SAME_LINE`."""
_GRAZING_TURNS = 1.0 / 1440.0
"""An object grazes a plain limit if its time above changes by a minute as that goes up and down so far."""
_GRAZING_SINE = 5e-4
"""It grazes a horizon line if it is nearer than this, 0.03 degrees, for two looks in a row."""
_ANGLES = 576
"""Hour angles at which an object is held against a horizon line: every two and a half minutes."""
_AZIMUTHS = 7200
"""Azimuths for which the horizon line is tabled: every 3 arcmin."""
_TOGETHER = 65_536
"""Looks that are worked at once: what the processor's own memory holds."""


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


@dataclass(frozen=True)
class TimesUp:
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
        """Return the turns above the line in all, (objects,)."""
        return np.bincount(self.of, self.turns, minlength=objects).astype(np.float64)


def times_up(spot: Spot, dec_deg: Floats, line: HorizonLine, raised_deg: float) -> TimesUp:
    """Return the times of declinations of date, (objects,) degrees, above the line raised by so many degrees.

    Source: cos H = (sin h - sin phi sin delta) / (cos phi cos delta), any text on spherical astronomy.
    """
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
    return TimesUp(every, -half, 2.0 * half, np.zeros_like(every), 2.0 * change > _GRAZING_TURNS)


def _limit_deg(line: HorizonLine, azimuth_deg: Given, raised_deg: float) -> Floats:
    """The raised line's airless altitude."""
    return true_altitude_deg(np.clip(line.altitude_deg(azimuth_deg) + raised_deg, -90.0, 90.0))


def _over_line(spot: Spot, dec_deg: Floats, line: HorizonLine, raised_deg: float) -> TimesUp:
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


def _sloping(limit: Floats) -> tuple[_Singles, _Singles, _Singles]:
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


def _paired(of: Whole, passed: Floats, rising: _Any, always: Whole, grazing: _Any) -> TimesUp:
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
    return TimesUp(
        np.concatenate([owner, always]),
        np.concatenate([rises, -0.5 * one]),
        np.concatenate([(ends - rises) % 1.0, one]),
        np.concatenate([rank, np.zeros_like(always)]),
        grazing,
    )
