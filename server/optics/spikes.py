"""The far picture of a bright star: the rings' glow and the spider's spikes, out to hundreds of pixels.

Import this lazily: it brings numpy. What a vane blocks it diffracts: the light of the spikes is that of
slits of the vanes' shape (Babinet). Near the star the picture by waves holds, further out the sum of slits
and the mean of the rings, which are finer than pixels there.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from server.optics.pupil import Floats, Pupil, vane_pieces
from server.optics.ranges import checked, checked_focal_ratio
from server.optics.star_image import (
    Air,
    Band,
    StarImage,
    _weights,
    cells_for,
    instrument_image,
    on_pixels,
    seen_image,
)
from server.optics.wavefront import Aberrations

#: Half the side of the middle that is drawn by waves, in pixels.
NEAR_PIXELS = 6
_MOST_PIXELS = 601


def spike_share(pupil: Pupil) -> float:
    """Return the share of the light through the pupil that its vanes send into the spikes, 0 to below 1.

    Source: Babinet's principle: the slits that the vanes are pass as much light as their area, q of the
    clear ring, and 1 - q of it comes through; any text on Fourier optics (from memory).
    """
    return pupil.vane_share / (1.0 - pupil.vane_share)


def spike_count(pupil: Pupil) -> int:
    """Return how many spikes straight vanes draw: an even number of vanes as many, an odd one twice; 0 for
    none and for curved vanes, whose light goes all ways. Source: a slit diffracts to both sides, across
    itself.
    """
    vanes = pupil.vanes
    if vanes is None or not vanes.count or vanes.curved:
        return 0
    return vanes.count if vanes.count % 2 == 0 else 2 * vanes.count


def bright_star(
    pupil: Pupil,
    focal_ratio: float,
    focal_length_mm: float,
    band: Band,
    pixel_um: float,
    pixels: int,
    air: Air,
    wave: Aberrations | None = None,
) -> Floats:
    """Return the shares of a star's light in pixels x pixels pixels, the star in the middle one.

    pixels: odd, 15 to 601. wave: for the middle of the picture; the far part is that of a perfect wave, whose
    difference the air hides. Raises ValueError outside. Not modelled: scattered light, reflections, halos of
    filters, and what grows a saturated star on the sensor. Source: as the module says; rings: the mean of
    J1^2 at large arguments, 1 / (pi v).
    """
    ratio = checked_focal_ratio(focal_ratio)
    count = int(checked("The picture", pixels, 15, _MOST_PIXELS, "pixels", "Give 15 to 601 pixels."))
    if count % 2 == 0:
        raise ValueError(f"The picture is {count} pixels wide; it must be odd. Give {count + 1}.")
    values = _far(pupil, ratio, _weights(band), pixel_um, count).copy()
    step, _ = cells_for(pixel_um, min(nm for nm, _ in band), ratio, pixel_um)
    side = 2 * NEAR_PIXELS + 1
    near = instrument_image(pupil, wave or Aberrations(), ratio, band, step, side * round(pixel_um / step))
    middle = count // 2
    inner = slice(middle - NEAR_PIXELS, middle + NEAR_PIXELS + 1)
    values[inner, inner] = on_pixels(near, pixel_um, side)
    return seen_image(StarImage(pixel_um, values), air, focal_length_mm).values


@lru_cache(4)
def _far(pupil: Pupil, ratio: float, band: Band, pixel_um: float, count: int) -> Floats:
    """Light per pixel of rings and slits, for a perfect wave; the middle is of no use."""
    places: Floats = (np.arange(count, dtype=np.float64) - count // 2) * pixel_um
    x, y = places[None, :], places[:, None]
    radius = np.maximum(np.hypot(x, y), pixel_um / 2.0)
    eps, edge = pupil.obstruction, pupil.edge
    area = pupil.clear_area
    values = np.zeros((count, count))
    for nm, weight in band:
        lam_n = nm / 1000.0 * ratio
        v = np.pi * radius / lam_n
        # Amplitude 2 pi J1(a v) a / v of a disc of radius a; the mean of its square is 4 pi a / v^3.
        rings = 4.0 * np.pi * (edge + eps) / v**3
        values += weight * (rings + _slits(pupil, x, y, lam_n)) / ((2.0 * lam_n) ** 2 * area) * pixel_um**2
    values.flags.writeable = False
    return values


def _slits(pupil: Pupil, x: Floats, y: Floats, lam_n: float) -> Floats:
    """The square of the vanes' amplitude, each piece a slit: length, width, and the phase of its place."""
    if pupil.vanes is None or not pupil.vanes.count:
        return np.zeros((y.shape[0], x.shape[1]))
    width = 2.0 * pupil.vanes.width_mm / pupil.aperture_mm
    real = np.zeros((y.shape[0], x.shape[1]))
    imaginary = np.zeros_like(real)
    for x0, y0, x1, y1 in vane_pieces(pupil):
        length = math.hypot(x1 - x0, y1 - y0)
        tx, ty = (x1 - x0) / length, (y1 - y0) / length
        along, across = (x * tx + y * ty) / lam_n, (y * tx - x * ty) / lam_n
        # numpy's sinc(z) is sin(pi z) / (pi z): the slit's is sin(pi L u / 2 lam N) over its argument.
        size = length * width * np.sinc(along * length / 2.0) * np.sinc(across * width / 2.0)
        phase = np.pi / lam_n * (x * (x0 + x1) / 2.0 + y * (y0 + y1) / 2.0)
        real += size * np.cos(phase)
        imaginary += size * np.sin(phase)
    found: Floats = real**2 + imaginary**2
    return found
