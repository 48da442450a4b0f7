"""The picture that a wave draws of a star: through the tube alone, then through the air and onto pixels.

Import this lazily: it brings numpy. A picture is a square of values, rows along y upwards and columns along
x, its middle at the place where a perfect wave would put the star. Each value is the share of the light that
came through the pupil and falls into that cell: the sum is 1 less what falls outside the picture.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from server.optics.pupil import Floats, Pupil, coordinates, pupil_mask
from server.optics.ranges import checked, checked_focal_ratio, checked_wavelength_nm
from server.optics.wavefront import Aberrations

Singles = npt.NDArray[np.float32]
Band = tuple[tuple[float, float], ...]
"""Wavelengths (nm) and how much each of them counts; the weights are made to sum to 1."""

ARCSEC = 206264.806
#: The air's full width at half maximum is this many wavelengths over Fried's length (a long exposure).
#: Source: numerical transform of exp(-3.4419 (lam nu / r0)^(5/3)); Fried, J. Opt. Soc. Am. 56, 1372 (1966).
FWHM_OF_FRIED = 0.975865
AIR_EXPONENT = 3.4419
#: Samples across the pupil: at least, and the most before rays are drawn in place of waves.
COARSEST, FINEST = 96, 768
#: From sample to sample the wave may turn by this share of a half turn at most; beyond it the grid is too
#: coarse.
_TURN = 0.7
_LARGEST_PICTURE = 1024


@dataclass(frozen=True)
class StarImage:
    """A star as it falls on the sensor.

    Attributes:
        step_um: the side of a cell.
        values: shape (n, n), the share of the light through the pupil in each cell.
        perfect_peak: the highest value that the same pupil gives without any error of the wave, 0 if not
        known. method: "waves", or "rays" where the wave's error was too steep for the finest grid.
    """

    step_um: float
    values: Floats
    perfect_peak: float = 0.0
    method: Literal["waves", "rays"] = "waves"

    @property
    def places_um(self) -> Floats:
        """The middles of the cells along a side, um from the picture's middle."""
        n = self.values.shape[0]
        found: Floats = (np.arange(n) - (n - 1) / 2.0) * self.step_um
        return found


def kept(image: StarImage) -> StarImage:
    """Return the picture with values of single precision: half the memory, and more than anybody sees.

    Source: IEEE 754-2019, binary32: 24 bits, a part in 16 million.
    """
    values: Any = image.values.astype(np.float32)
    return replace(image, values=values)


def spot_reach_um(aberrations: Aberrations, focal_ratio: float) -> float:
    """Return how far from the star's place its outermost ray may fall, um (an upper bound).

    Source: the ray's place, -2 N dW/d(x, y), at the pupil's edge, term by term.
    """
    a = aberrations
    slope = 2.0 * abs(a.defocus_um) + 4.0 * abs(a.spherical_um)
    slope += 3.0 * math.hypot(a.coma_x_um, a.coma_y_um) + 2.0 * math.hypot(a.astig_0_um, a.astig_45_um)
    return 2.0 * focal_ratio * slope + 3.0 * a.blur_um


def samples_for(
    aberrations: Aberrations, focal_ratio: float, shortest_nm: float, half_width_um: float
) -> int | None:
    """Return how many samples across the pupil the wave and the picture need; None where rays must do.

    Two needs: the wave turns by less than a half turn from sample to sample, and the picture, which repeats
    after the samples times lambda N, stays half its own width clear of its copies. half_width_um: of the
    picture. Source: sampling theorem for the wave's phase and for the transform.
    """
    resolution = shortest_nm / 1000.0 * focal_ratio
    reach = spot_reach_um(aberrations, focal_ratio) - 3.0 * aberrations.blur_um
    steep = 2.0 * reach / (resolution * _TURN)
    apart = (3.0 * half_width_um + reach) / resolution
    needed = max(COARSEST, steep, apart)
    if needed > FINEST:
        return None
    return math.ceil(needed / 32.0) * 32


def instrument_image(
    pupil: Pupil,
    aberrations: Aberrations,
    focal_ratio: float,
    band: Band,
    step_um: float,
    cells: int,
    colour_um: tuple[float, ...] = (),
) -> StarImage:
    """Return the star that the tube alone draws.

    focal_ratio: 0.5 to 1000 at the sensor. band: nm and weights. step_um: above 0; at a third of the shortest
    wavelength times the focal ratio, or finer, nothing of the picture is lost. cells: along a side, to 1024.
    colour_um: defocus that each wavelength of the band has besides, um; none where it is empty.
    Raises ValueError outside. Not modelled: scattered light, polarisation.
    Source: Fraunhofer diffraction; Goodman, Introduction to Fourier Optics, ch. 4 to 6 (from memory); the
    transform on the wanted cells alone as two matrix products: Soummer et al., Optics Express 15, 15935
    (2007).
    """
    ratio = checked_focal_ratio(focal_ratio)
    step = checked("The cell", step_um, 0.0, 1000.0, "um", "Give a part of a pixel.", above_low=True)
    count = int(checked("The picture", cells, 2, _LARGEST_PICTURE, "cells", "Give 2 to 1024 cells."))
    weights = _weights(band)
    if any(colour_um):
        return _coloured(pupil, aberrations, ratio, band, step, count, colour_um)
    half = step * count / 2.0
    n = samples_for(aberrations, ratio, min(nm for nm, _ in weights), half)
    if n is None:
        return _by_rays(pupil, aberrations, ratio, step, count)
    mask = pupil_mask(pupil, n)
    error = _wave_error_um(aberrations, n)
    # The cells at an edge are half clear, not half as strong: what comes through is their area.
    through = float(mask.sum())
    cell = 2.0 / n
    amplitude = mask.astype(np.float32)
    total = np.zeros((count, count), np.float32)
    perfect = 0.0
    for nm, weight in weights:
        lam = nm / 1000.0
        # Parseval: the light of all cells is that of the pupil.
        share = weight * (step / (2.0 * lam * ratio)) ** 2 * cell * cell / through
        wave = _wave(amplitude * np.float32(math.sqrt(share)), error, lam)
        total += _intensity(wave, *_kernel(n, count, step, lam, ratio), count)
        perfect += share * float(mask.sum()) ** 2
    return _blurred(StarImage(step, total.astype(np.float64), perfect), aberrations.blur_um)


def _coloured(
    pupil: Pupil,
    aberrations: Aberrations,
    ratio: float,
    band: Band,
    step: float,
    count: int,
    colour_um: tuple[float, ...],
) -> StarImage:
    """The star of each wavelength by itself, added up."""
    if len(colour_um) != len(band):
        raise ValueError(f"{len(colour_um)} defoci for {len(band)} wavelengths. Give one for each.")
    total, perfect = np.zeros((count, count)), 0.0
    method: Literal["waves", "rays"] = "waves"
    for (nm, weight), defocus in zip(_weights(band), colour_um, strict=True):
        wave = replace(aberrations, defocus_um=aberrations.defocus_um + defocus)
        one = instrument_image(pupil, wave, ratio, ((nm, 1.0),), step, count)
        total += weight * one.values
        perfect += weight * one.perfect_peak
        method = one.method if one.method == "rays" else method
    return StarImage(step, total, 0.0 if method == "rays" else perfect, method)


def _weights(band: Band) -> Band:
    if not band:
        raise ValueError("The band has no wavelength. Give one at least, such as 550 nm.")
    total = sum(weight for _, weight in band)
    if total <= 0.0 or any(weight < 0.0 for _, weight in band):
        raise ValueError("The band's weights are not positive. Give each wavelength a weight above 0.")
    return tuple((checked_wavelength_nm(nm), weight / total) for nm, weight in band if weight > 0.0)


@lru_cache(8)
def _shapes(n: int) -> tuple[Floats, ...]:
    """rho^2, rho^4, x rho^2, y rho^2, x^2 - y^2, 2 x y over the grid."""
    axis = coordinates(n)
    x, y = axis[None, :], axis[:, None]
    rho2 = x * x + y * y
    return rho2, rho2 * rho2, x * rho2, y * rho2, x * x - y * y, 2.0 * x * y


def _wave_error_um(a: Aberrations, n: int) -> Singles | None:
    """W over the grid, um; None where it is nothing."""
    sizes = (a.defocus_um, a.spherical_um, a.coma_x_um, a.coma_y_um, a.astig_0_um, a.astig_45_um)
    found: Floats | None = None
    for size, shape in zip(sizes, _shapes(n), strict=True):
        if size:
            found = size * shape if found is None else found + size * shape
    return None if found is None else found.astype(np.float32)


def _wave(amplitude: Singles, error_um: Singles | None, lam_um: float) -> Singles:
    """The wave in the pupil, real and imaginary part. Whole turns are taken off first: single precision then
    holds to a millionth.
    """
    if error_um is None:
        return np.stack([amplitude, np.zeros_like(amplitude)])
    turns = error_um * np.float32(1.0 / lam_um)
    phase = (turns - np.rint(turns)) * np.float32(2.0 * np.pi)
    wave = np.empty((2, *amplitude.shape), np.float32)
    np.multiply(np.cos(phase), amplitude, out=wave[0])
    np.multiply(np.sin(phase), amplitude, out=wave[1])
    return wave


@lru_cache(16)
def _kernel(n: int, cells: int, step_um: float, lam_um: float, ratio: float) -> tuple[Singles, Singles]:
    """Cosine and sine of pi x u / (lam N) for one half of the picture (u) and of the pupil (x).

    With exp(i pi x u / (lam N)) the ray from x falls where W turns just against it, at -2 N dW/dx.
    """
    u = (np.arange(cells // 2, cells) - (cells - 1) / 2.0) * step_um
    angle = np.pi / (lam_um * ratio) * np.outer(u, coordinates(n)[n // 2 :])
    found = np.cos(angle).astype(np.float32), np.sin(angle).astype(np.float32)
    for one in found:
        one.flags.writeable = False
    return found


def _intensity(wave: Singles, cosine: Singles, sine: Singles, cells: int) -> Singles:
    """The square of the transform, on the picture's cells, of a wave (real and imaginary part, 2 x n x n).

    Both halves of pupil and picture are worked out from sums and differences, so that the two products are of
    real matrices of half the size: a quarter of the work of K W K^T.
    """
    n, half, most = wave.shape[-1], cells // 2, cells - cells // 2
    upper, lower = wave[:, n // 2 :], wave[:, n // 2 - 1 :: -1]
    even, odd = cosine @ (upper + lower), sine @ (upper - lower)
    # Real and imaginary part of even + i odd for the upper half of the picture, even - i odd for the lower.
    rows = np.empty((2, cells, n), np.float32)
    np.subtract(even[0], odd[1], out=rows[0, half:])
    np.add(even[1], odd[0], out=rows[1, half:])
    np.add(even[0], odd[1], out=rows[0, most - 1 :: -1])
    np.subtract(even[1], odd[0], out=rows[1, most - 1 :: -1])
    right, left = rows[:, :, n // 2 :], rows[:, :, n // 2 - 1 :: -1]
    p_real, p_imag = ((right + left).reshape(2 * cells, -1) @ cosine.T).reshape(2, cells, most)
    q_real, q_imag = ((right - left).reshape(2 * cells, -1) @ sine.T).reshape(2, cells, most)
    found = np.empty((cells, cells), np.float32)
    found[:, half:] = (p_real - q_imag) ** 2 + (p_imag + q_real) ** 2
    found[:, most - 1 :: -1] = (p_real + q_imag) ** 2 + (p_imag - q_real) ** 2
    return found


def _by_rays(pupil: Pupil, a: Aberrations, ratio: float, step_um: float, count: int) -> StarImage:
    """The spot that rays draw: one for each clear cell of the finest grid, without diffraction."""
    n = FINEST
    axis = coordinates(n)
    x, y = axis[None, :], axis[:, None]
    rho2 = x * x + y * y
    common = 2.0 * a.defocus_um + 4.0 * a.spherical_um * rho2
    along = a.coma_x_um * x + a.coma_y_um * y
    slope_x = common * x + a.coma_x_um * rho2 + 2.0 * along * x + 2.0 * (a.astig_0_um * x + a.astig_45_um * y)
    slope_y = common * y + a.coma_y_um * rho2 + 2.0 * along * y + 2.0 * (a.astig_45_um * x - a.astig_0_um * y)
    light = pupil_mask(pupil, n)
    half = step_um * count / 2.0
    edges = np.linspace(-half, half, count + 1)
    rows, columns = -2.0 * ratio * slope_y, -2.0 * ratio * slope_x
    values, _, _ = np.histogram2d(rows.ravel(), columns.ravel(), bins=(edges, edges), weights=np.ravel(light))
    values /= float(light.sum())
    return _blurred(StarImage(step_um, values, 0.0, "rays"), a.blur_um)


def _blurred(image: StarImage, rms_radius_um: float) -> StarImage:
    """The picture folded with a round normal blur of this RMS radius (both axes together)."""
    if rms_radius_um <= 0.0:
        return image
    sigma = rms_radius_um / math.sqrt(2.0)
    return _folded(image, 4.0 * sigma, lambda nu2: np.exp(-2.0 * np.pi**2 * sigma**2 * nu2))


def _folded(image: StarImage, reach_um: float, transfer: object) -> StarImage:
    """Multiply the picture's spectrum; padded by `reach_um` so that nothing comes round the other side."""
    n = image.values.shape[0]
    size = _good_size(n + 2 * math.ceil(reach_um / image.step_um))
    nu2 = _frequencies_squared(size, image.step_um)
    assert callable(transfer)
    spectrum = np.fft.rfft2(image.values, (size, size)) * transfer(nu2)
    values = np.fft.irfft2(spectrum, (size, size))[:n, :n]
    return StarImage(image.step_um, np.maximum(values, 0.0), image.perfect_peak, image.method)


@lru_cache(8)
def _frequencies_squared(size: int, step_um: float) -> Singles:
    """|nu|^2, (cycles / um)^2, laid out as rfft2 has it."""
    across = np.fft.rfftfreq(size, step_um)
    up = np.fft.fftfreq(size, step_um)
    return (across[None, :] ** 2 + up[:, None] ** 2).astype(np.float32)


def _good_size(least: int) -> int:
    """The next length of small prime factors, which the fast transform likes."""
    size = least
    while True:
        rest = size
        for prime in (2, 3, 5):
            while rest % prime == 0:
                rest //= prime
        if rest == 1 and size % 2 == 0:
            return size
        size += 1


@dataclass(frozen=True)
class Air:
    """What smears every star of an exposure alike.

    Attributes:
        seeing_arcsec: full width at half maximum through the air, long exposure; 0 for none.
        guiding_arcsec: RMS of the star's wandering, both axes together; 0 for none.
        wavelength_nm: for Fried's length alone; the width is as given.
        drift_arcsec: length of the even line that it is drawn out to, along drift_deg from the right,
            anticlockwise.
    """

    seeing_arcsec: float
    guiding_arcsec: float = 0.0
    wavelength_nm: float = 550.0
    drift_arcsec: float = 0.0
    drift_deg: float = 0.0


def collected_image(image: StarImage, pixel_um: float) -> StarImage:
    """Return what a pixel collects whose middle stands on each cell: the picture folded with the pixel.

    pixel_um: the pixel's side, above 0, to 1000 um. Raises ValueError outside. It is what finely dithered
    pictures show of a star; `on_pixels` has one of these values for each pixel.
    Source: the pixel's transfer, sin(pi nu p) / (pi nu p) along each side.
    """
    pixel = checked("The pixel", pixel_um, 0.0, 1000.0, "um", "Give its side.", above_low=True)
    n = image.values.shape[0]
    size = _good_size(n + 2 * math.ceil(pixel / image.step_um))
    across = np.sinc(np.fft.rfftfreq(size, image.step_um) * pixel)
    up = np.sinc(np.fft.fftfreq(size, image.step_um) * pixel)
    spectrum = np.fft.rfft2(image.values, (size, size)) * across[None, :] * up[:, None]
    values = np.maximum(np.fft.irfft2(spectrum, (size, size))[:n, :n], 0.0)
    return StarImage(image.step_um, values, 0.0, image.method)


def seen_image(image: StarImage, air: Air, focal_length_mm: float) -> StarImage:
    """Return the star after the air and the guiding, on the same cells.

    focal_length_mm: above 0. Kolmogorov's air without an outer scale: large telescopes see a little less.
    Raises ValueError outside the ranges. Source: Fried, J. Opt. Soc. Am. 56, 1372 (1966), the long exposure's
    transfer exp(-3.4419 (lam nu / r0)^(5/3)); guiding as a normal wander; a drift as an even line, sinc.
    """
    focal = checked("The focal length", focal_length_mm, 0.0, 1e6, "mm", "Give it in mm.", above_low=True)
    seeing = checked("The seeing", air.seeing_arcsec, 0.0, 30.0, "arcsec", "Give 0.5 to 10 arcsec.")
    wander = checked("The guiding error", air.guiding_arcsec, 0.0, 60.0, "arcsec", "Give 0 to 5 arcsec.")
    um_per_arcsec = focal * 1000.0 / ARCSEC
    # nu r0 lam of the air's formula, with nu in cycles per um on the sensor.
    air_per_nu = seeing * um_per_arcsec / FWHM_OF_FRIED
    sigma = wander / math.sqrt(2.0) * um_per_arcsec
    line = um_per_arcsec * checked("The drift", air.drift_arcsec, 0.0, 60.0, "arcsec", "Give its length.")
    turn = math.radians(air.drift_deg)

    def transfer(nu2: Singles) -> Floats | Singles:
        found: Floats | Singles = np.exp(
            -AIR_EXPONENT * (air_per_nu * air_per_nu * nu2) ** (5.0 / 6.0) - 2.0 * np.pi**2 * sigma**2 * nu2
        )
        if line:
            across = np.fft.rfftfreq(len(nu2), image.step_um)[None, :] * math.cos(turn)
            found = found * np.sinc(
                line * (across + np.fft.fftfreq(len(nu2), image.step_um)[:, None] * math.sin(turn))
            )
        return found

    return _folded(image, 2.0 * seeing * um_per_arcsec + 3.0 * sigma + line, transfer)


def on_pixels(image: StarImage, pixel_um: float, count: int) -> Floats:
    """Return the light in count x count pixels, the star's place in the middle of the middle one.

    pixel_um: a whole multiple of the picture's cell (see `cells_for`). count: odd. Pixels beyond the picture
    hold nothing. Raises ValueError otherwise. Source: sums.
    """
    per = round(pixel_um / image.step_um)
    if per < 1 or abs(per * image.step_um - pixel_um) > 1e-6 * pixel_um or count % 2 == 0 or count < 1:
        raise ValueError(
            "A pixel holds a whole number of cells, and pixels are counted odd. Choose the cells so."
        )
    values = image.values
    wanted = per * count
    n = values.shape[0]
    if (wanted - n) % 2:
        raise ValueError("The picture's cells and the pixels' do not share a middle. Choose the cells so.")
    pad = (wanted - n) // 2
    values = np.pad(values, pad) if pad >= 0 else values[-pad:pad, -pad:pad]
    summed: Floats = values.reshape(count, per, count, per).sum(axis=(1, 3))
    return summed


def cells_for(
    pixel_um: float, shortest_nm: float, focal_ratio: float, half_width_um: float
) -> tuple[float, int]:
    """Return the cell (um) and how many along a side: whole cells in a pixel, an odd number of whole pixels.

    The cell is a third of the shortest wavelength times the focal ratio at most. half_width_um: what the
    picture must hold to each side of the star. The picture is cut at
    1024 cells. Source: the sampling theorem, with room.
    """
    finest = shortest_nm / 1000.0 * focal_ratio / 3.0
    per = max(1, math.ceil(pixel_um / finest))
    step = pixel_um / per
    pixels = 2 * math.ceil(max(half_width_um, pixel_um) / pixel_um) + 1
    while per * pixels > _LARGEST_PICTURE and pixels > 1:
        pixels -= 2
    return step, per * pixels


def band_of(wavelengths_nm: Sequence[float]) -> Band:
    """Return a band in which each of these wavelengths (nm) counts alike. Source: none needed."""
    return tuple((nm, 1.0) for nm in wavelengths_nm)
