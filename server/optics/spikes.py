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
    ARCSEC,
    Air,
    Band,
    Singles,
    StarImage,
    _weights,
    cells_for,
    instrument_image,
    on_pixels,
    seen_image,
    spot_reach_um,
)
from server.optics.wavefront import Aberrations

#: Half the side of the middle that is drawn by waves: so many pixels, or so many wavelengths times the focal
#: ratio beyond the outermost ray, whichever is more. The rings' mean holds further out.
NEAR_PIXELS, NEAR_RINGS = 6, 8.0
_MOST_PIXELS = 601
#: The middle's cells along a side at most; a wide one is drawn on coarser cells.
_MOST_CELLS = 512
#: A pixel is cut into so many pieces along its side where the blur by air and guiding is narrower than so
#: many pixels: what the air passes of the finest wave that the pieces hold, its cut corners draw as dotted
#: lines through the star. At these bounds it passes less than 1e-7 of it.
_PIECES = ((1.1, 5), (5.2, 3))
#: Pieces along the picture's side at most.
_MOST_PIECES = 1803
#: Places in a pixel (fifths of it, from its middle) at which straight slits are taken, since their spikes may
#: be finer than it: each row, column and diagonal has one, and they lie alike to both sides of the middle.
_FIFTHS = ((-2, 1), (-1, -2), (0, 0), (1, 2), (2, -1))


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
    filters, what grows a saturated star on the sensor, and in the far part clips and the train's stops.
    Source: as the module says; rings: the mean of J1^2 at large arguments, 1 / (pi v).
    """
    ratio = checked_focal_ratio(focal_ratio)
    count = int(checked("The picture", pixels, 15, _MOST_PIXELS, "pixels", "Give 15 to 601 pixels."))
    if count % 2 == 0:
        raise ValueError(f"The picture is {count} pixels wide; it must be odd. Give {count + 1}.")
    focal = checked("The focal length", focal_length_mm, 0.0, 1e6, "mm", "Give it in mm.", above_low=True)
    weights = _weights(band)
    pieces = _pieces(air, focal, pixel_um, count)
    near, side = _near(pupil, ratio, weights, pixel_um, (count, pieces), wave or Aberrations())
    values = np.kron(_far(pupil, ratio, weights, pixel_um, count), np.full((pieces, pieces), pieces**-2.0))
    inner = slice((count - side) // 2 * pieces, (count + side) // 2 * pieces)
    values[inner, inner] = on_pixels(near, pixel_um / pieces, side * pieces)
    seen = seen_image(StarImage(pixel_um / pieces, values), air, focal)
    return on_pixels(seen, pixel_um, count)


def _pieces(air: Air, focal_length_mm: float, pixel_um: float, count: int) -> int:
    """Into how many pieces along its side a pixel is cut before the air smears them."""
    blur = math.hypot(air.seeing_arcsec, 1.665 * air.guiding_arcsec) * focal_length_mm * 1000.0 / ARCSEC
    if blur == 0.0:
        return 1
    wanted = next((pieces for below, pieces in _PIECES if blur < below * pixel_um), 1)
    return next(pieces for pieces in (wanted, 3, 1) if pieces <= wanted and pieces * count <= _MOST_PIECES)


def _near(
    pupil: Pupil, ratio: float, band: Band, pixel_um: float, grid: tuple[int, int], wave: Aberrations
) -> tuple[StarImage, int]:
    """The middle by waves, out past its outermost rays, and its side in pixels. grid: of the whole picture,
    pixels along a side and pieces along a pixel's.
    """
    count, pieces = grid
    shortest, longest = min(nm for nm, _ in band), max(nm for nm, _ in band)
    reach = spot_reach_um(wave, ratio) + NEAR_RINGS * longest / 1000.0 * ratio
    wanted = max(NEAR_PIXELS, math.ceil(reach / pixel_um))
    side = 2 * min(wanted, count // 2, (_MOST_CELLS // pieces - 1) // 2) + 1
    step, _ = cells_for(pixel_um, shortest, ratio, pixel_um)
    cells = min(math.ceil(pixel_um / step / pieces - 1e-6), _MOST_CELLS // (pieces * side))
    per = pieces * max(1, cells)
    return instrument_image(pupil, wave, ratio, band, pixel_um / per, side * per), side


@lru_cache(4)
def _far(pupil: Pupil, ratio: float, band: Band, pixel_um: float, count: int) -> Floats:
    """Light per pixel of rings and slits, for a perfect wave; the middle is of no use."""
    # A slit's light lies alike to both sides of the star: the upper half of the picture is enough.
    places: Floats = (np.arange(count, dtype=np.float64) - count // 2) * pixel_um
    x, y = places[None, :], places[count // 2 :, None]
    radius = np.maximum(np.hypot(x, y), pixel_um / 2.0)
    straight = pupil.vanes is not None and not pupil.vanes.curved
    area = pupil.clear_area
    upper = np.zeros(radius.shape)
    for nm, weight in band:
        lam_n = nm / 1000.0 * ratio
        v = np.pi * radius / lam_n
        # Amplitude 2 pi J1(a v) a / v of a disc of radius a; the mean of its square is 4 pi a / v^3.
        light = 4.0 * np.pi * (pupil.edge + pupil.obstruction) / v**3
        places_in = _FIFTHS if straight and pixel_um > 0.5 * lam_n else ((0, 0),)
        for across, up in places_in:
            slits = _slits(pupil, x + across * pixel_um / 5.0, y + up * pixel_um / 5.0, lam_n)
            light += slits / len(places_in)
        upper += weight * light / ((2.0 * lam_n) ** 2 * area) * pixel_um**2
    values = np.concatenate([upper[:0:-1, ::-1], upper])
    values.flags.writeable = False
    return values


def _slits(pupil: Pupil, x_um: Floats, y_um: Floats, lam_n: float) -> Singles:
    """The square of the vanes' amplitude, each piece a slit: length, width, and the phase of its place."""
    # Single precision: the phase holds to a ten-thousandth of a turn over the largest picture.
    x, y = (x_um / lam_n).astype(np.float32), (y_um / lam_n).astype(np.float32)
    real = np.zeros((y.shape[0], x.shape[1]), np.float32)
    imaginary = np.zeros_like(real)
    if pupil.vanes is None or not pupil.vanes.count:
        return real
    width = 2.0 * pupil.vanes.width_mm / pupil.aperture_mm
    for x0, y0, x1, y1 in vane_pieces(pupil):
        # Halves of the piece's sides: numpy's sinc(z) is sin(pi z) / (pi z), the slit's that of L u / 2.
        along = x * np.float32((x1 - x0) / 2.0) + y * np.float32((y1 - y0) / 2.0)
        length = math.hypot(x1 - x0, y1 - y0)
        turned = width / length
        across = y * np.float32(turned * (x1 - x0) / 2.0) - x * np.float32(turned * (y1 - y0) / 2.0)
        size = np.float32(length * width) * np.sinc(along) * np.sinc(across)
        phase = x * np.float32(np.pi * (x0 + x1) / 2.0) + y * np.float32(np.pi * (y0 + y1) / 2.0)
        real += size * np.cos(phase)
        imaginary += size * np.sin(phase)
    found: Singles = real**2 + imaginary**2
    return found
