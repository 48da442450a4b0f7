"""The width of a star after the air, the telescope and the pixel have each blurred it.

The three blurs are multiplied as transfer functions and brought back by one direct integral, since
the usual root of the sum of squares errs by up to 13 %, high or low: neither the air's nor the
telescope's star is a Gaussian.
"""

from __future__ import annotations

import itertools
import math
from functools import lru_cache
from typing import TYPE_CHECKING

from server.arrays import Floats, Number, each
from server.optics.diffraction import annular_mtf, lambda_over_d_arcsec
from server.optics.ranges import checked, checked_obstruction
from server.optics.roots import bisect
from server.out_of_range import OutOfRangeError

if TYPE_CHECKING:
    import numpy.typing as npt

#: Full width at half maximum of the long-exposure Kolmogorov star, in lambda/r0: Fried's transfer function
#: brought back and solved for one half. The classical round value is 0.98.
KOLMOGOROV_FWHM = 0.975863
#: The constant in Fried's exponent, printed as 3.44: half of 6.88, which is 2 (24/5 Gamma(6/5))^(5/6).
_FRIED = (24.0 / 5.0 * math.gamma(6.0 / 5.0)) ** (5.0 / 6.0)
#: Numerical error of `expected_fwhm_arcsec` itself, relative, up to the widest pixel that it integrates.
EXPECTED_FWHM_RELATIVE_ERROR = 0.001

_SMALLEST_SEEING_ARCSEC = 0.1
_LARGEST_SEEING_ARCSEC = 30.0
_LARGEST_PIXEL_ARCSEC = 3600.0
_LARGEST_WANDER_ARCSEC = 60.0
#: Full width at half maximum of a normal curve, in its standard deviations.
_FWHM_OF_SIGMA = 2.0 * math.sqrt(2.0 * math.log(2.0))
#: The air's transfer function is cut where it has fallen to exp(-16), 1e-7.
_LARGEST_EXPONENT = 16.0
#: Above this pixel width in star widths the half-maximum lies at the pixel's own edge.
_WIDE_PIXEL = 6.0
#: Gauss-Legendre nodes in a panel of the radial integral, and the phase (radians) that one panel may span.
_NODES = 10
_PHASE_PER_PANEL = 9.0
#: Of the batched integral: nodes along the radius (in one panel) and around a quarter turn, halvings before
#: the last step (a straight line's), and rigs that are taken together so that their arrays stay in the cache.
_MANY_RADIAL, _MANY_AROUND, _MANY_HALVINGS, _MANY_AT_ONCE = 40, 16, 8, 256


def expected_fwhm_arcsec(
    seeing_arcsec: float,
    aperture_mm: float,
    wavelength_nm: float,
    pixel_arcsec: float,
    obstruction: float = 0.0,
    guiding_arcsec: float = 0.0,
) -> float:
    """Return a star's full width at half maximum in the picture, arcsec, measured along a row of pixels.

    It is the width of the light that a finely dithered pixel collects: long-exposure Kolmogorov seeing, the
    annular diffraction image, the guiding's wander and the square pixel, convolved.

    seeing_arcsec: the air's own full width at this wavelength, 0.1 to 30 arcsec. aperture_mm: above 0, to
    100 000 mm. wavelength_nm: 200 to 2500 nm. pixel_arcsec: pixel scale, 0 (no pixel) to 3600 arcsec.
    obstruction: linear, 0 to below 1. guiding_arcsec: RMS of the star's wander, both axes together, 0 to 60
    arcsec; taken as normal and alike on both. Raises ValueError outside.

    The integral errs by less than 0.1 % (EXPECTED_FWHM_RELATIVE_ERROR) for obstructions up to 0.9; for pixels
    wider than six times the rest of the blur the pixel's own width is returned, which errs by less than 1 %
    for obstructions up to 0.6. Not modelled: focus, aberrations, vanes, the air's outer scale (which narrows
    a real star by 10 to 20 %; Tokovinin, PASP 114, 1156 (2002), from memory), and interpolation in stacking.
    The seeing put in is mostly known no better than +-20 %, and the result inherits that.

    Source: Fried, J. Opt. Soc. Am. 56, 1372 (1966), long-exposure transfer function exp(-3.44 (lambda nu /
    r0)^(5/3)); O'Neill, J. Opt. Soc. Am. 46, 285 (1956), annular aperture (both from memory).
    """
    found = _checked_blurs(
        seeing_arcsec, aperture_mm, wavelength_nm, pixel_arcsec, obstruction, guiding_arcsec
    )
    return _fwhm(*found)


def expected_fwhms_arcsec(
    seeing_arcsec: npt.ArrayLike,
    aperture_mm: npt.ArrayLike,
    wavelength_nm: npt.ArrayLike,
    pixel_arcsec: npt.ArrayLike,
    obstruction: npt.ArrayLike = 0.0,
    guiding_arcsec: npt.ArrayLike = 0.0,
) -> Floats:
    """Return `expected_fwhm_arcsec` of many rigs at once, arcsec, with nan where that raises ValueError.

    All as there, numbers or arrays that go together by broadcasting. The same integral by fewer nodes: within
    3e-4 of it (relative) for apertures from 80 to 600 mm, seeing from 1 to 5 arcsec, pixels to 6 arcsec and
    obstructions to 0.5. Brings numpy. Source: as there; Gauss-Legendre along the radius, midpoints around it.
    """
    import numpy as np

    figures = (seeing_arcsec, aperture_mm, wavelength_nm, pixel_arcsec, obstruction, guiding_arcsec)
    given = np.broadcast_arrays(*(np.asarray(one, dtype=np.float64) for one in figures))
    blurs = _checked_blurs(*(one.ravel() for one in given))
    # Rigs that are alike are worked out once.
    rows, alike = np.unique(np.stack(blurs, axis=1), axis=0, return_inverse=True)
    found = np.empty(len(rows))
    for begin in range(0, found.size, _MANY_AT_ONCE):
        some = slice(begin, begin + _MANY_AT_ONCE)
        found[some] = _fwhms(*rows[some].T)
    return found[alike.ravel()].reshape(given[0].shape)


def _checked_blurs(
    seeing_arcsec: Number,
    aperture_mm: Number,
    wavelength_nm: Number,
    pixel_arcsec: Number,
    obstruction: Number,
    guiding_arcsec: Number,
) -> tuple[Number, Number, Number, Number, Number]:
    """Seeing, lambda/D, pixel, obstruction, and the wander on one axis."""
    seeing = checked(
        "The seeing",
        seeing_arcsec,
        _SMALLEST_SEEING_ARCSEC,
        _LARGEST_SEEING_ARCSEC,
        "arcsec",
        "Give the star's full width in the air of the site, mostly 1 to 5 arcsec.",
    )
    pixel = checked(
        "The pixel scale", pixel_arcsec, 0.0, _LARGEST_PIXEL_ARCSEC, "arcsec", "Give arcsec per pixel."
    )
    eps = checked_obstruction(obstruction)
    wander = checked(
        "The guiding error",
        guiding_arcsec,
        0.0,
        _LARGEST_WANDER_ARCSEC,
        "arcsec",
        "Give the RMS of both axes together.",
    )
    return seeing, lambda_over_d_arcsec(aperture_mm, wavelength_nm), pixel, eps, wander / math.sqrt(2.0)


@lru_cache(maxsize=512)
def _fwhm(seeing: float, resolution: float, pixel: float, eps: float, sigma: float) -> float:
    if pixel > _widest_pixel(seeing, resolution, sigma):
        return pixel
    widest = _widest(seeing, resolution, pixel, sigma)
    terms = _spectrum(seeing, resolution, pixel, eps, sigma, widest) if math.isfinite(widest) else []
    half_peak = 0.5 * sum(weight for weight, _ in terms)
    if half_peak == 0.0:
        raise OutOfRangeError(
            f"A diffraction image {resolution:g} arcsec wide is beyond all that is built. Check the aperture."
        )
    cos = math.cos

    def above_half(x: float) -> float:
        return sum([weight * cos(wave * x) for weight, wave in terms]) - half_peak

    return 2.0 * bisect(above_half, 0.0, widest, 1e-4 * widest)


def _fwhms(seeing: Floats, resolution: Floats, pixel: Floats, eps: Floats, sigma: Floats) -> Floats:
    import numpy as np

    air = _air(seeing)
    with np.errstate(divide="ignore"):
        wander = _highest_of_wander(sigma)
    highest = np.minimum(np.minimum(1.0 / resolution, _highest_of_air(air)), wander)[:, None]
    nodes, node_weights = np.array(_gauss_legendre(_MANY_RADIAL)).T
    nu = highest * (0.5 + 0.5 * nodes)
    radial = _radial(
        0.5 * highest * node_weights, nu, air[:, None], sigma[:, None], resolution[:, None], eps[:, None]
    )
    across = np.cos((np.arange(_MANY_AROUND) + 0.5) * (math.pi / 2.0 / _MANY_AROUND))
    waves = nu[:, :, None] * across
    sincs = np.sinc(pixel[:, None, None] * waves)
    # The middles' sines are their cosines backwards.
    weights = (radial[:, :, None] * sincs * sincs[:, :, ::-1]).reshape(len(nu), -1)
    waves = 2.0 * math.pi * waves.reshape(len(nu), -1)
    half_peak = 0.5 * weights.sum(axis=1)

    def above_half(x: Floats) -> Floats:
        above: Floats = np.einsum("ij,ij->i", weights, np.cos(waves * x[:, None])) - half_peak
        return above

    low, high = np.zeros(len(nu)), _widest(seeing, resolution, pixel, sigma)
    at_low, at_high = half_peak, above_half(high)
    for _ in range(_MANY_HALVINGS):
        middle = 0.5 * (low + high)
        at = above_half(middle)
        wider = at > 0.0
        low, high = np.where(wider, middle, low), np.where(wider, high, middle)
        at_low, at_high = np.where(wider, at, at_low), np.where(wider, at_high, at)
    lit = half_peak > 0.0
    share = np.divide(at_low, at_low - at_high, out=np.full(len(nu), np.nan), where=lit)
    width = 2.0 * (low + share * (high - low))
    return np.where(pixel > _widest_pixel(seeing, resolution, sigma), pixel, width)


def _widest_pixel(seeing: Number, resolution: Number, sigma: Number) -> Number:
    return _WIDE_PIXEL * each(math.hypot, seeing, resolution, _FWHM_OF_SIGMA * sigma)


def _widest(seeing: Number, resolution: Number, pixel: Number, sigma: Number) -> Number:
    """What is more than half of the star's width: no pixel and no ring widens the core beyond the sum of the
    widths with some room.
    """
    return 0.5 * 1.5 * (seeing + 1.1 * resolution + pixel + _FWHM_OF_SIGMA * sigma)


def _air(seeing: Number) -> Number:
    air: Number = _FRIED * (seeing / KOLMOGOROV_FWHM) ** (5.0 / 3.0)
    return air


def _highest_of_air(air: Number) -> Number:
    highest: Number = (_LARGEST_EXPONENT / air) ** 0.6
    return highest


def _highest_of_wander(sigma: Number) -> Number:
    return math.sqrt(_LARGEST_EXPONENT / 2.0) / (math.pi * sigma)


def _radial(
    weight: Number, nu: Number, air: Number, sigma: Number, resolution: Number, eps: Number
) -> Number:
    """The part of the transfer function that is alike all round, times a node's weight and frequency."""
    # Fried 1966, long exposure; a normal wander's transform.
    exponent: Number = -air * nu ** (5.0 / 3.0) - 2.0 * (math.pi * sigma * nu) ** 2
    return weight * nu * each(math.exp, exponent) * each(annular_mtf, nu * resolution, eps)  # O'Neill 1956.


def _spectrum(
    seeing: float, resolution: float, pixel: float, eps: float, sigma: float, widest: float
) -> list[tuple[float, float]]:
    """Return (weight, wave number) pairs: the star at x arcsec is the sum of weight * cos(wave * x).

    Two-dimensional transfer function in polar coordinates: Gauss-Legendre panels along the radius, broken
    where the annular aperture's function has its kinks; trapezoid rule around a quarter turn, where the
    integrand is smooth and symmetric at both ends and the rule converges faster than any power.
    """
    cut_off = 1.0 / resolution
    air = _air(seeing)
    highest = min(cut_off, _highest_of_air(air))
    if sigma > 0.0:
        highest = min(highest, _highest_of_wander(sigma))
    breaks = {0.0, highest}
    for share in ((1.0 - eps) / 2.0, eps, (1.0 + eps) / 2.0):
        if 0.0 < share * cut_off < highest:
            breaks.add(share * cut_off)
    edges = sorted(breaks)
    reach = 2.0 * math.pi * (widest / 1.5 + pixel)
    turns = 6 + int(highest * reach / 4.0)
    quarter = [
        (math.cos(k * math.pi / 2.0 / turns), math.sin(k * math.pi / 2.0 / turns)) for k in range(turns + 1)
    ]
    terms = []
    for low, high in itertools.pairwise(edges):
        panels = max(1, math.ceil((high - low) * reach / _PHASE_PER_PANEL))
        step = (high - low) / panels
        for panel in range(panels):
            middle = low + (panel + 0.5) * step
            for node, node_weight in _gauss_legendre(_NODES):
                nu = middle + 0.5 * step * node
                radial = _radial(0.5 * step * node_weight, nu, air, sigma, resolution, eps)
                for k, (c, s) in enumerate(quarter):
                    share = 0.5 if k in (0, turns) else 1.0
                    weight = share * radial * _sinc(pixel * nu * c) * _sinc(pixel * nu * s)
                    terms.append((weight, 2.0 * math.pi * nu * c))
    return terms


def _sinc(x: float) -> float:
    return math.sin(math.pi * x) / (math.pi * x) if abs(x) > 1e-8 else 1.0


@lru_cache(maxsize=4)
def _gauss_legendre(count: int) -> tuple[tuple[float, float], ...]:
    """Return the nodes on -1..1 and weights of Gauss-Legendre quadrature (DLMF 3.5.15, nodes by Newton)."""
    pairs = []
    for i in range(1, count + 1):
        x = math.cos(math.pi * (i - 0.25) / (count + 0.5))
        slope = 1.0
        for _ in range(50):
            before, value = 1.0, x
            for degree in range(2, count + 1):
                before, value = value, ((2 * degree - 1) * x * value - (degree - 1) * before) / degree
            slope = count * (x * value - before) / (x * x - 1.0)
            change = value / slope
            x -= change
            if abs(change) < 1e-15:
                break
        pairs.append((x, 2.0 / ((1.0 - x * x) * slope * slope)))
    return tuple(pairs)
