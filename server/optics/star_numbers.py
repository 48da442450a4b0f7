"""Numbers of a star's picture: how wide, how sharp, how long, and what contrast it leaves.

Import this lazily: it brings numpy. Pictures are those of `star_image`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from server.optics.pupil import Floats
from server.optics.ranges import checked
from server.optics.star_image import StarImage
from server.out_of_range import OutOfRangeError

#: The radii of the encircled energy are a twentieth of a cell apart. About the centre, a piece of so many
#: cells is drawn so many times finer first; each cell's light is spread over its width.
_BINS_PER_CELL, _MIDDLE, _MIDDLE_FINER = 20, 48, 5
#: What is brighter than this share of the peak makes up the star's shape.
SHAPE_ABOVE = 0.1
#: Widths in cells (across and up together) up to which a star's core is drawn so many times finer, from a
#: piece of so many cells, for its peak and its half-height. Wider ones are smooth enough as they are.
_FINER = ((24, 9, 32), (96, 3, 96))
#: The borders of a piece that is drawn finer fade out over this part of its side.
_FADE = 8


@dataclass(frozen=True)
class Shape:
    """A star's outline, from the second moments of what is brighter than a tenth of its peak.

    Attributes:
        eccentricity: 0 for round, near 1 for a line: sqrt(1 - (b / a)^2).
        direction_deg: of the long axis, from +x anticlockwise, 0 to 180; without meaning for a round star.
    """

    eccentricity: float
    direction_deg: float


@dataclass(frozen=True)
class StarNumbers:
    """What one picture says in numbers; lengths um on the sensor.

    Attributes:
        total: the share of the pupil's light within the picture.
        centroid_um: x and y from the place of a perfect star.
        fwhm_um: of the circle that has the area above half of the peak.
        d50_um, d80_um: diameters that hold half and four fifths of all light, about the centroid; None where
            the picture does not hold as much.
        strehl: peak over that of the same pupil without any error, 0 to 1; None for rays or where it is not
        known. shape: the outline.
    """

    total: float
    centroid_um: tuple[float, float]
    fwhm_um: float
    d50_um: float | None
    d80_um: float | None
    strehl: float | None
    shape: Shape


def numbers_of(image: StarImage) -> StarNumbers:
    """Return a picture's numbers. Raises ValueError for a picture without light.

    Source: sums over the picture; the full width of a star that is not round is that of the circle of equal
    area.
    """
    total = float(image.values.sum())
    if total <= 0.0:
        raise OutOfRangeError("No light falls into the picture. Make it wider, or the focus better.")
    x0, y0 = centroid_um(image)
    energy = encircled(image, (x0, y0))
    peak, above = _core(image)
    return StarNumbers(
        total=total,
        centroid_um=(x0, y0),
        fwhm_um=2.0 * math.sqrt(above / math.pi),
        d50_um=diameter_um(energy, 0.5),
        d80_um=diameter_um(energy, 0.8),
        strehl=min(1.0, peak / image.perfect_peak) if image.perfect_peak > 0.0 else None,
        shape=shape_of(image),
    )


def centroid_um(image: StarImage) -> tuple[float, float]:
    """Return the middle of the light within the picture, um from the place of a perfect star, x and y.

    Source: the first moments.
    """
    places, total = image.places_um, image.values.sum()
    return (
        float(image.values.sum(axis=0) @ places / total),
        float(image.values.sum(axis=1) @ places / total),
    )


@dataclass(frozen=True)
class Encircled:
    """The share of the pupil's light within circles: radii (um, rising) and shares, both of one length."""

    radii_um: Floats
    shares: Floats

    def within(self, radius_um: float) -> float:
        """The share within a radius, um; that of the widest circle beyond it."""
        return float(np.interp(radius_um, self.radii_um, self.shares))


def encircled(image: StarImage, centre_um: tuple[float, float] = (0.0, 0.0)) -> Encircled:
    """Return the encircled energy about a point (um), out to the picture's nearest side.

    Source: sums of cells, each spread evenly over its own width; about the centre of cells made finer by the
    Fourier series. Diameters of a bare star on cells of a third of lambda N are right to half a percent.
    """
    places, step = image.places_um, image.step_um
    x, y = places - centre_um[0], places - centre_um[1]
    values = image.values
    reach = places[-1] + step / 2.0 - max(abs(centre_um[0]), abs(centre_um[1]))
    bins = math.ceil((math.hypot(np.abs(x).max(), np.abs(y).max()) / step + 1.0) * _BINS_PER_CELL)
    light = np.zeros(bins)
    piece, keep = _MIDDLE, _MIDDLE - 2 * (_MIDDLE // _FADE)
    column, row = (int(np.argmin(np.abs(axis))) - keep // 2 for axis in (x, y))
    fade = (piece - keep) // 2
    if min(row, column) >= fade and max(row, column) + keep + fade <= values.shape[0]:
        around = values[row - fade : row + keep + fade, column - fade : column + keep + fade]
        inner = slice(fade * _MIDDLE_FINER, (fade + keep) * _MIDDLE_FINER)
        drawn = np.maximum(_drawn_finer(around, _MIDDLE_FINER)[inner, inner], 0.0)
        block = slice(row, row + keep), slice(column, column + keep)
        drawn *= values[block].sum() / max(1e-300, float(drawn.sum()))
        parts = (np.arange(keep * _MIDDLE_FINER) - (_MIDDLE_FINER - 1) / 2.0) * (step / _MIDDLE_FINER)
        light += _by_radius(x[column] + parts, y[row] + parts, drawn, (step, _MIDDLE_FINER, bins))
        values = values.copy()
        values[block] = 0.0
    light += _by_radius(x, y, values, (step, 1, bins))
    sums = np.concatenate([[0.0], np.cumsum(light)])
    radii = np.arange(sums.shape[0]) * (step / _BINS_PER_CELL)
    inside = radii <= max(reach, 2.0 * step)
    return Encircled(radii[inside], sums[inside])


def _by_radius(x: Floats, y: Floats, light: Floats, how: tuple[float, int, int]) -> Floats:
    """The light in rings a bin wide. how: a cell (um), the times that these cells are finer, the bins."""
    step, finer, count = how
    bins = (np.hypot(x[None, :], y[:, None]) * (_BINS_PER_CELL / step)).astype(np.int64)
    found = np.bincount(bins.ravel(), light.ravel(), count)
    # A cell's width about the middle of its bin: whole bins and a half at either end.
    width = _BINS_PER_CELL // finer
    spread = np.convolve(found, np.concatenate([[0.5], np.ones(width - 1), [0.5]]) / width)
    below, spread = spread[: width // 2], spread[width // 2 : width // 2 + count]
    # What a cell spreads to below the centre falls on the other side of it.
    spread[: width // 2] += below[::-1]
    return spread


def diameter_um(energy: Encircled, share: float) -> float | None:
    """Return the diameter, um, that holds a share of the light; None where the picture does not hold it.

    share: above 0, below 1. Raises ValueError outside. Source: the encircled energy, read backwards.
    """
    wanted = checked(
        "The share", share, 0.0, 1.0, "", "Give a share such as 0.8.", above_low=True, below_high=True
    )
    if energy.shares[-1] < wanted:
        return None
    return 2.0 * float(np.interp(wanted, energy.shares, energy.radii_um))


def _core(image: StarImage) -> tuple[float, float]:
    """The peak, and the area (um^2) above half of it, on cells made finer by the Fourier series."""
    n = image.values.shape[0]
    row, column = np.unravel_index(int(image.values.argmax()), image.values.shape)
    rough = float(image.values.max())
    high = image.values > rough / 2.0
    wide = int(high.any(axis=0).sum()) + int(high.any(axis=1).sum())
    fitting = next(((finer, cells) for most, finer, cells in _FINER if wide <= most), None)
    if fitting is None:
        return rough, _area_above(image.values, rough / 2.0) * image.step_um**2
    finer, cells = fitting
    half = min(cells // 2, n // 2)
    top = min(max(0, int(row) - half), n - 2 * half)
    left = min(max(0, int(column) - half), n - 2 * half)
    drawn = _drawn_finer(image.values[top : top + 2 * half, left : left + 2 * half], finer)
    peak = float(drawn.max())
    return peak, _area_above(drawn, peak / 2.0) * (image.step_um / finer) ** 2


def _area_above(values: Floats, level: float) -> float:
    """The area, in cells, where the values are above a level; a cell at its border counts by its part."""
    # What lies well outside counts for nothing: only the box about it is looked at.
    box = []
    for axis in (1, 0):
        high = np.flatnonzero((values > level).any(axis=axis))
        box.append(slice(max(0, int(high[0]) - 3), int(high[-1]) + 4))
    values = values[box[0], box[1]]
    up, across = np.gradient(values)
    slope = np.maximum(np.hypot(across, up), 1e-9 * level)
    return float(np.clip(0.5 + (values - level) / slope, 0.0, 1.0).sum())


def _drawn_finer(piece: Floats, times: int) -> Floats:
    """The piece on finer cells, `times` (odd) along a side, by its Fourier series; its borders fade out."""
    series = _series(piece.shape[0], times)
    finer: Floats = series @ piece @ series.T
    return finer


@lru_cache(8)
def _series(n: int, times: int) -> Floats:
    """What turns n values along a side into times n: their faded Fourier series at the parts' middles."""
    fade = np.minimum(1.0, np.minimum(np.arange(n) + 0.5, n - np.arange(n) - 0.5) / (n / _FADE))
    at = (np.arange(n * times) - (times - 1) / 2.0) / times
    waves = np.exp(2j * np.pi * np.outer(at, np.fft.fftfreq(n)))
    found: Floats = np.real(waves @ np.fft.fft(np.eye(n), axis=0)) / n * fade[None, :]
    found.flags.writeable = False
    return found


def shape_of(image: StarImage) -> Shape:
    """Return the outline of what is brighter than a tenth of the peak. Source: second moments."""
    bright = np.where(image.values >= SHAPE_ABOVE * image.values.max(), image.values, 0.0)
    places, total = image.places_um, bright.sum()
    across, up = bright.sum(axis=0), bright.sum(axis=1)
    x0, y0 = across @ places / total, up @ places / total
    xx = float(across @ (places - x0) ** 2 / total)
    yy = float(up @ (places - y0) ** 2 / total)
    xy = float((places - y0) @ bright @ (places - x0) / total)
    middle, apart = (xx + yy) / 2.0, math.hypot((xx - yy) / 2.0, xy)
    long, short = middle + apart, max(0.0, middle - apart)
    turned = math.degrees(0.5 * math.atan2(2.0 * xy, xx - yy)) % 180.0
    return Shape(
        math.sqrt(max(0.0, 1.0 - short / long)) if long > 0.0 else 0.0,
        turned,
    )


@dataclass(frozen=True)
class Contrast:
    """Contrast against detail: frequencies (cycles per mm on the sensor, rising) and what is left along x."""

    per_mm: Floats
    along_x: Floats


def contrast_of(image: StarImage) -> Contrast:
    """Return the modulation transfer along x, from 0 to the frequency of two cells.

    Source: the modulus of the picture's Fourier transform over its light (Goodman, Introduction to Fourier
    Optics, ch. 6, from memory). What falls outside the picture is taken as evenly spread.
    """
    n = image.values.shape[0]
    size = 4 * n
    total = max(1e-300, float(image.values.sum()))
    lost = min(1.0, total)
    along_x = np.abs(np.fft.rfft(image.values.sum(axis=0), size)) / total * lost
    along_x[0] = 1.0
    per_mm: Floats = np.asarray(np.fft.rfftfreq(size, image.step_um) * 1000.0, dtype=np.float64)
    return Contrast(per_mm, along_x)
