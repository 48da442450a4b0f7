"""Whether a frame is as the camera made it: stretched, resampled and balanced frames tell less."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from server.frames.finding import Pixels, Stars
from server.frames.measuring import Shapes

#: Neighbouring pixels' noise of a raw frame has nothing in common; interpolation makes it alike.
RESAMPLED = 0.12
#: Sizes that rise with the light are those of a picture whose brightness was stretched.
STRETCHED = 0.6
_PATCH, _BLOCK = 256, 16


def noise_alike(rows: Callable[[int, int], Pixels], width_px: int, height_px: int) -> float | None:
    """Return how much the noise of neighbouring pixels has in common, -1 to 1; about 0 in a raw frame,
    mosaics too.

    The larger of the correlations with the next and with the second next pixel of a row, as the median of
    nine patches without their stars; None where a frame is too even to tell.
    """
    found = []
    for middle in (0.25, 0.5, 0.75):
        low = max(0, int(height_px * middle) - _PATCH // 2)
        strip = np.asarray(rows(low, min(height_px, low + _PATCH)), dtype=np.float64)
        for across in (0.25, 0.5, 0.75):
            left = max(0, int(width_px * across) - _PATCH // 2)
            found.append(_alike(strip[:, left : left + _PATCH]))
    known = [one for one in found if one is not None]
    if not known:
        return None
    next_one, second = np.median(np.array(known), axis=0)
    return float(next_one if abs(next_one) > abs(second) else second)


def _alike(patch: npt.NDArray[np.float64]) -> tuple[float, float] | None:
    """Return the correlations of a patch's noise with the next and with the second next pixel."""
    even = patch[:, : patch.shape[1] // _BLOCK * _BLOCK]
    if even.shape[1] < 4 * _BLOCK or not np.isfinite(even).all():
        return None
    # Columns of one parity by themselves: a mosaic's two colours of a row have skies of their own.
    blocks = even.reshape(even.shape[0], -1, _BLOCK // 2, 2)
    left = blocks - np.median(blocks, axis=2, keepdims=True)
    spread = 1.4826 * float(np.median(np.abs(left)))
    if spread <= 0.0:
        return None
    flat = np.ptp(left, axis=(2, 3)) < 8.0 * spread
    if int(flat.sum()) < 200:
        return None
    kept = blocks[flat]
    kept = kept - kept.mean(axis=1, keepdims=True)
    half = _BLOCK // 2
    # Taking the mean of eight away leaves seven eighths of the variance, and any two anti-correlated by an
    # eighth.
    variance = float((kept**2).mean()) * half / (half - 1.0)
    flowing = kept.reshape(len(kept), _BLOCK)
    with_next = float((flowing[:, :-1] * flowing[:, 1:]).mean()) / variance
    with_second = float((kept[:, :-1] * kept[:, 1:]).mean()) / variance + 1.0 / half
    return with_next, with_second


def size_by_light(shapes: Shapes) -> float | None:
    """Return the rank correlation of stars' half-flux diameters with their light, -1 to 1; None with few
    stars.
    """
    keep = np.isfinite(shapes.half_flux) & (shapes.flux > 0.0)
    if int(keep.sum()) < 30:
        return None
    size, light = (np.argsort(np.argsort(one[keep])).astype(float) for one in (shapes.half_flux, shapes.flux))
    return float(np.corrcoef(size, light)[0, 1])


def is_stretched(stars: Stars, shapes: Shapes) -> bool:
    """Return whether a picture was made to be looked at: stars white at the top, or larger if brighter."""
    return stars.stretched or (size_by_light(shapes) or 0.0) > STRETCHED


def balanced(rows: Callable[[int, int], Pixels], height_px: int) -> Callable[[int, int], Pixels]:
    """Return rows of a colour mosaic with its four kinds of pixels brought to one sky and one star's
    strength.

    Stars are white on the whole; what a colour's filter takes from them is given back to its pixels.
    """
    low = max(0, height_px // 2 - 512) // 2 * 2
    middle = np.asarray(rows(low, min(height_px, low + 1024)), dtype=np.float64)
    levels, strengths = np.zeros((2, 2)), np.ones((2, 2))
    for row in (0, 1):
        for column in (0, 1):
            pixels = middle[row::2, column::2]
            pixels = pixels[np.isfinite(pixels)]
            if not len(pixels):
                continue
            levels[row, column] = np.median(pixels)
            spread = 1.4826 * np.median(np.abs(pixels - levels[row, column]))
            above = pixels - levels[row, column]
            strengths[row, column] = above[above > 8.0 * spread].sum()
    gains = np.where(strengths > 0.0, strengths.mean() / np.maximum(strengths, 1e-9), 1.0)
    gains = np.clip(gains, 0.2, 5.0)

    def evened(first: int, last: int) -> Pixels:
        pixels = np.array(rows(first, last), dtype=np.float32)
        for row in (0, 1):
            for column in (0, 1):
                part = pixels[(row - first) % 2 :: 2, column::2]
                part -= np.float32(levels[row, column])
                part *= np.float32(gains[row, column])
        pixels += np.float32(levels.mean())
        return pixels

    return evened
