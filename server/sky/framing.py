"""What a rectangular sensor sees of the sky: places and outlines, its best turn, the focal lengths that fit.

The tangent plane touches the sky at the frame's middle; its coordinates are the standard ones, xi to the east
and eta to the north, in radians (sizes over the focal length). Angles are position angles: from north through
east.

An object's outline is an ellipse in the tangent plane whose axes have the catalogue's length on the sky, as
it would be measured on a plate. An ellipse by great circles differs by 0.004 arcsec for axes of 10 and 5
degrees.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError
from server.sky.directions import checked_on_sky

Floats = npt.NDArray[np.float64]

#: Full sizes above this are no frames: the tangent plane stretches them beyond use (arcmin).
_LARGEST_ARCMIN = 7200.0


@dataclass(frozen=True)
class Fill:
    """How much of a frame an object takes.

    share: the largest of its width over the frame's and its height over the frame's, on the sensor; above 1
    it stands out. angle_deg: the position angle of the sensor's up for that, above -90 to 90.
    """

    share: Floats
    angle_deg: Floats


@dataclass(frozen=True)
class FocalRange:
    """Focal lengths, mm: shortest_mm where the target takes the least share, longest_mm the most."""

    shortest_mm: float
    longest_mm: float


@dataclass(frozen=True)
class Agreement:
    """What several ranges have in common.

    shared: the focal lengths of all of them, None where there are none. disagree: then the numbers (from 0)
    of two ranges that cannot both be had: the one that begins longest and the one that ends shortest.
    """

    shared: FocalRange | None
    disagree: tuple[int, int] | None


def to_tangent(
    ra_deg: npt.ArrayLike, dec_deg: npt.ArrayLike, centre_ra_deg: npt.ArrayLike, centre_dec_deg: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """Return xi and eta of places, radians; nan for what is 90 degrees or more from the centre.

    Declinations: -90 to 90. Raises ValueError outside. Source: gnomonic projection; Calabretta & Greisen
    2002, A&A 395, 1077, section 5.1.3.
    """
    checked_on_sky(ra_deg, dec_deg)
    checked_on_sky(centre_ra_deg, centre_dec_deg)
    dec, centre = np.radians(dec_deg), np.radians(centre_dec_deg)
    # The difference is turned into half a turn either way while it is in degrees, where this is exact.
    apart = np.radians(np.remainder(np.subtract(ra_deg, centre_ra_deg) + 180.0, 360.0) - 180.0)
    towards = np.sin(centre) * np.sin(dec) + np.cos(centre) * np.cos(dec) * np.cos(apart)
    # The north part, written so that it does not lose figures where both declinations are near.
    north = np.sin(dec - centre) + 2.0 * np.sin(centre) * np.cos(dec) * np.sin(apart / 2.0) ** 2
    # A right angle comes out as some 1e-17.
    depth = np.where(towards > 1e-15, towards, np.nan)
    return np.cos(dec) * np.sin(apart) / depth, north / depth


def from_tangent(
    xi: npt.ArrayLike, eta: npt.ArrayLike, centre_ra_deg: npt.ArrayLike, centre_dec_deg: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """Return right ascension (0 to below 360) and declination, degrees, of points of the tangent plane.

    centre_dec_deg: -90 to 90. Raises ValueError outside. Source: as `to_tangent`, turned round.
    """
    checked_on_sky(centre_ra_deg, centre_dec_deg)
    x, y = np.asarray(xi, dtype=np.float64), np.asarray(eta, dtype=np.float64)
    centre = np.radians(centre_dec_deg)
    outwards = np.cos(centre) - y * np.sin(centre)
    apart = np.arctan2(x, outwards)
    dec = np.arctan2(np.sin(centre) + y * np.cos(centre), np.hypot(x, outwards))
    ra = np.remainder(np.asarray(centre_ra_deg, dtype=np.float64) + np.degrees(apart), 360.0)
    # A negative number too small to count comes out as 360 itself.
    return np.where(ra >= 360.0, 0.0, ra)[()], np.degrees(dec)


def on_sensor(xi: npt.ArrayLike, eta: npt.ArrayLike, angle_deg: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Return x (right) and y (up) of points of the tangent plane, as the sky is seen from the upright sensor.

    angle_deg: position angle of the sensor's up; at 0 north is up and east to the left. x and y have the unit
    of xi and eta. Source: definition.
    """
    east, north = np.asarray(xi, dtype=np.float64), np.asarray(eta, dtype=np.float64)
    sine, cosine = np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg))
    return north * sine - east * cosine, north * cosine + east * sine


def off_sensor(x: npt.ArrayLike, y: npt.ArrayLike, angle_deg: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Return xi and eta of points of the sensor: `on_sensor` turned round. Source: definition."""
    # A turn with a reflection undoes itself.
    return on_sensor(x, y, angle_deg)


def outline(
    major_arcmin: float, minor_arcmin: float, angle_deg: float, points: int = 72
) -> tuple[Floats, Floats]:
    """Return xi and eta (points,), radians, of an object's outline about the centre.

    major_arcmin, minor_arcmin: full axes on the sky, above 0 to 7200, the minor one not above the major.
    angle_deg: position angle of the major axis, where the outline begins; it runs on as angles do and does
    not come back to its first point. Raises ValueError outside. Source: ellipse by its parameter.
    """
    major, minor = _half_axes(major_arcmin, minor_arcmin)
    around = np.arange(points) * (2.0 * math.pi / points)
    along, across = major * np.cos(around), minor * np.sin(around)
    sine, cosine = math.sin(math.radians(angle_deg)), math.cos(math.radians(angle_deg))
    return along * sine + across * cosine, along * cosine - across * sine


def fill(
    frame_w_arcmin: npt.ArrayLike,
    frame_h_arcmin: npt.ArrayLike,
    major_arcmin: npt.ArrayLike,
    minor_arcmin: npt.ArrayLike,
    target_angle_deg: npt.ArrayLike,
    camera_angle_deg: npt.ArrayLike,
) -> Floats:
    """Return the share of the frame that an object takes, as `Fill` has it.

    frame_w_arcmin, frame_h_arcmin: the frame's full angles on the sky, above 0 to 7200. Axes as
    `outline` has them; target_angle_deg: position angle of the major one; camera_angle_deg: of the sensor's
    up. Raises ValueError outside. Source: an ellipse between parallels, half extent^2 = a^2 cos^2 + b^2
    sin^2.
    """
    width, height = _half_extents(*_half_axes(major_arcmin, minor_arcmin), target_angle_deg, camera_angle_deg)
    return np.maximum(width / _half_tangent(frame_w_arcmin), height / _half_tangent(frame_h_arcmin))


def best_angle(
    frame_w_arcmin: npt.ArrayLike,
    frame_h_arcmin: npt.ArrayLike,
    major_arcmin: npt.ArrayLike,
    minor_arcmin: npt.ArrayLike,
    target_angle_deg: npt.ArrayLike,
) -> Fill:
    """Return the camera angle at which an object takes the least share of a frame, and that share.

    Of two equal angles it is the one nearer to 0 (north up), of two as near the positive one; for a round
    object 0. The share does not depend on the target's angle: where that is unknown give 0, and take only the
    share. The rest as `fill`. Raises ValueError outside. Source: see `_least`.
    """
    major, minor = _half_axes(major_arcmin, minor_arcmin)
    share, off = _least(_half_tangent(frame_w_arcmin), _half_tangent(frame_h_arcmin), major, minor)
    target = np.asarray(target_angle_deg, dtype=np.float64)
    one, other = _within_half_turn(target + off), _within_half_turn(target - off)
    # Equal angles come out some 1e-14 apart.
    nearness = np.abs(other) - np.abs(one)
    first = np.where(np.abs(nearness) > 1e-9, nearness > 0.0, one > other)
    angle = np.where(major == minor, 0.0, np.where(first, one, other))
    share, angle = np.broadcast_arrays(share, angle)
    return Fill(share[()], angle[()])


def focal_range_mm(
    sensor_w_mm: float,
    sensor_h_mm: float,
    major_arcmin: float,
    minor_arcmin: float,
    least_fill: float,
    most_fill: float,
) -> FocalRange:
    """Return the focal lengths at which an object takes a share from the least to the most, at its best
    angle.

    sensor_w_mm, sensor_h_mm: above 0. least_fill, most_fill: shares, above 0, the most not below the least.
    Axes as `outline`. Raises ValueError outside. Source: image size = 2 f tan(angle / 2).
    """
    if not (sensor_w_mm > 0.0 and sensor_h_mm > 0.0 and math.isfinite(sensor_w_mm + sensor_h_mm)):
        raise OutOfRangeError(
            f"The sensor is {sensor_w_mm:g} x {sensor_h_mm:g} mm; both must be more than 0. Give its sides."
        )
    if not (0.0 < least_fill <= most_fill and math.isfinite(most_fill)):
        raise OutOfRangeError(
            f"The shares are {least_fill:g} to {most_fill:g}; they must be more than 0, the least not above "
            "the most. Give shares such as 0.3 and 0.9."
        )
    # At a focal length of 1 mm half the sensor is its own tangent.
    share, _ = _least(sensor_w_mm / 2.0, sensor_h_mm / 2.0, *_half_axes(major_arcmin, minor_arcmin))
    return FocalRange(least_fill / float(share), most_fill / float(share))


def agree(ranges: Sequence[FocalRange]) -> Agreement:
    """Return the focal lengths that all ranges share, or which two of them cannot both be had.

    ranges: one or more. Raises ValueError without any. Source: intervals meet if each two of them do (Helly
    1923).
    """
    if not ranges:
        raise OutOfRangeError("There is no range of focal lengths; there must be one. Give a target.")
    begins = max(range(len(ranges)), key=lambda at: ranges[at].shortest_mm)
    ends = min(range(len(ranges)), key=lambda at: ranges[at].longest_mm)
    shortest, longest = ranges[begins].shortest_mm, ranges[ends].longest_mm
    if shortest <= longest:
        return Agreement(FocalRange(shortest, longest), None)
    return Agreement(None, (begins, ends))


def _half_tangent(full_arcmin: npt.ArrayLike) -> Floats:
    """Return tan(angle / 2), refusing what is no size."""
    full = np.asarray(full_arcmin, dtype=np.float64)
    if not np.all((full > 0.0) & (full <= _LARGEST_ARCMIN)):
        raise OutOfRangeError(
            f"A size on the sky is not above 0 to {_LARGEST_ARCMIN:g} arcmin. Give a full width or axis."
        )
    return np.tan(np.radians(full / 120.0))


def _half_axes(major_arcmin: npt.ArrayLike, minor_arcmin: npt.ArrayLike) -> tuple[Floats, Floats]:
    major, minor = _half_tangent(major_arcmin), _half_tangent(minor_arcmin)
    if np.any(minor > major):
        raise OutOfRangeError(
            "A minor axis is longer than its major axis; it must not be. Give the longer one first."
        )
    return major, minor


def _half_extents(
    major: Floats, minor: Floats, target_angle_deg: npt.ArrayLike, camera_angle_deg: npt.ArrayLike
) -> tuple[Floats, Floats]:
    off = np.radians(np.subtract(target_angle_deg, camera_angle_deg))
    width = np.hypot(major * np.sin(off), minor * np.cos(off))
    return width, np.hypot(major * np.cos(off), minor * np.sin(off))


def _least(
    half_w: npt.ArrayLike, half_h: npt.ArrayLike, major: npt.ArrayLike, minor: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """Return the least share of a frame that an ellipse takes, and the major axis's angle off the frame's up,
    degrees.

    With s = sin^2 of that angle the squares of both shares are linear in s, the one of the width rising and
    the one of the height falling: the larger of them is least where they cross, or at the end that they do
    not reach.
    """
    w, h = np.square(half_w, dtype=np.float64), np.square(half_h, dtype=np.float64)
    a, b = np.square(major, dtype=np.float64), np.square(minor, dtype=np.float64)
    stretch = np.where(a > b, a - b, 1.0)
    s = np.where(a > b, np.clip((a * w - b * h) / (stretch * (w + h)), 0.0, 1.0), 0.0)
    share = np.sqrt(np.maximum((b + (a - b) * s) / w, (a - (a - b) * s) / h))
    return share, np.degrees(np.arcsin(np.sqrt(s)))


def _within_half_turn(angle_deg: Floats) -> Floats:
    """Return an angle of a sensor, which looks the same half a turn on, as above -90 to 90 degrees."""
    return 90.0 - np.remainder(90.0 - angle_deg, 180.0)
