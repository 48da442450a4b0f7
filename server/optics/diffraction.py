"""The star image of a clear or centrally obstructed round aperture.

In the focal plane at a radius r, x = pi r / (lambda N); on the sky at an angle theta,
x = pi D theta / lambda. Radii and widths are given in lambda/D (on the sky), which is lambda N in
the focal plane. Not modelled anywhere here: spider vanes, aberrations, light of many colours.
"""

from __future__ import annotations

import math
from functools import lru_cache

from server.arrays import Number
from server.optics.imaging import ARCSEC_PER_RADIAN
from server.optics.ranges import checked, checked_length_mm, checked_obstruction, checked_wavelength_nm
from server.optics.roots import bisect

_MM_PER_NM = 1e-6
_LARGEST_BESSEL_ARGUMENT = 10_000.0
_LARGEST_RADIUS = 3000.0
#: Below this argument the quotient J1(x)/x would lose digits, and three terms of its series keep them all.
_SMALL_ARGUMENT = 0.01
_ROOT_TOLERANCE = 1e-12
#: Of Simpson's rule over the star's disc; even.
_DISC_STEPS = 60


def bessel_j1(x: float) -> float:
    """Return the Bessel function of the first kind and order one, J1(x), of either sign.

    x: a pure number from -10 000 to 10 000. Raises ValueError outside.
    Absolute error below 1e-13 for |x| <= 1000.

    J1(x) = (1/pi) * integral from 0 to pi of cos(t - x sin t) dt. The integrand is smooth, even and
    periodic, and the trapezoid rule with m steps on the half period is the rule with M = 2m on the
    whole one: it is exact but for aliases, whose sum is J_(M+1)(x) - J_(M-1)(x) and higher orders.
    A Bessel function whose order exceeds its argument is smaller than (x/2)^M / M!, so that a few
    dozen steps beyond |x| leave nothing above the rounding of the sum itself.

    Source: NIST Digital Library of Mathematical Functions, 10.9.2 (integral), 10.14.4 (bound); Trefethen &
    Weideman, SIAM Review 56, 385 (2014), for the trapezoid rule on periodic functions.
    """
    argument = checked(
        "The argument of J1",
        x,
        -_LARGEST_BESSEL_ARGUMENT,
        _LARGEST_BESSEL_ARGUMENT,
        "",
        "Ask for a point nearer to the star's centre.",
    )
    steps = 24 + int(abs(argument))
    width = math.pi / steps
    total = 0.5 * (math.cos(0.0) + math.cos(math.pi))  # The ends count half; there sin t is 0.
    for k in range(1, steps):
        t = k * width
        total += math.cos(t - argument * math.sin(t))  # DLMF 10.9.2 with n = 1.
    return total / steps


def annular_intensity(radius: float, obstruction: float = 0.0) -> float:
    """Return the star image's brightness at `radius`, as a share (0 to 1) of its peak.

    radius: from the star's centre in lambda/D, 0 to 3000. obstruction: linear, 0 to below 1.
    Raises ValueError outside. Absolute error below 1e-10 for obstructions up to 0.99.
    Source: Born & Wolf, Principles of Optics, sec. 8.5 and 8.6; Schroeder, Astronomical Optics, ch. 10
    (both from memory): [(2 J1(x)/x - eps^2 2 J1(eps x)/(eps x)) / (1 - eps^2)]^2.
    """
    eps = checked_obstruction(obstruction)
    x = math.pi * checked(
        "The radius", radius, 0.0, _LARGEST_RADIUS, "lambda/D", "Ask nearer to the star's centre."
    )
    amplitude = (_disc_amplitude(x) - eps * eps * _disc_amplitude(eps * x)) / (1.0 - eps * eps)
    return amplitude * amplitude


@lru_cache(maxsize=256)
def annular_first_zero(obstruction: float = 0.0) -> float:
    """Return the radius of the first dark ring, in lambda/D (1.2197 for a clear aperture).

    obstruction: linear, 0 to below 1. Raises ValueError outside.
    Source: as `annular_intensity`: the least root of J1(x) = eps J1(eps x). It lies between the first zeros
    of J0 (2.405, the thin ring) and of J1 (3.832, the disc).
    """
    eps = checked_obstruction(obstruction)

    def amplitude(x: float) -> float:
        return bessel_j1(x) - eps * bessel_j1(eps * x)

    return bisect(amplitude, 2.3, 3.9, _ROOT_TOLERANCE) / math.pi


@lru_cache(maxsize=256)
def annular_disc_share(obstruction: float = 0.0) -> float:
    """Return the share (0 to 1) of a star's light within the disc that a clear aperture's first dark ring
    bounds, 0.8378 for a clear aperture.

    obstruction: linear, 0 to below 1. Raises ValueError outside. Absolute error below 1e-6.
    Source: as `annular_intensity`, integrated over the disc by Simpson's rule; over the plane the integral of
    its x dx is 2 / (1 - eps^2), since the peak goes with the square of the clear area and all light with it.
    """
    eps = checked_obstruction(obstruction)
    edge = annular_first_zero()
    step = edge / _DISC_STEPS
    total = 0.0
    for k in range(_DISC_STEPS + 1):
        weight = 1.0 if k in (0, _DISC_STEPS) else 4.0 if k % 2 else 2.0
        total += weight * annular_intensity(k * step, eps) * k * step
    return math.pi * math.pi * total * step / 3.0 * (1.0 - eps * eps) / 2.0


def annular_fwhm(obstruction: float = 0.0) -> float:
    """Return the full width at half maximum of the star image, in lambda/D (1.0290 for a clear aperture).

    obstruction: linear, 0 to below 1. Raises ValueError outside. An obstruction narrows the core
    while it moves light into the rings.
    Source: as `annular_intensity`, solved for one half.
    """
    return _fwhm(checked_obstruction(obstruction))


def diffraction_fwhm_arcsec(aperture_mm: float, wavelength_nm: float, obstruction: float = 0.0) -> float:
    """Return the full width at half maximum of the star image on the sky, arcsec, without air.

    aperture_mm: above 0, to 100 000 mm. wavelength_nm: 200 to 2500 nm. obstruction: linear, 0 to below 1.
    Raises ValueError outside. Source: as `annular_fwhm`, times lambda/D.
    """
    return annular_fwhm(obstruction) * lambda_over_d_arcsec(aperture_mm, wavelength_nm)


def lambda_over_d_arcsec(aperture_mm: Number, wavelength_nm: Number) -> Number:
    """Return lambda/D, the unit of this module's angles, arcsec, of floats or arrays.

    aperture_mm: above 0, to 100 000 mm. wavelength_nm: 200 to 2500 nm. Raises ValueError outside.
    Source: definition, small angle.
    """
    aperture = checked_length_mm("The aperture", aperture_mm, above_zero=True)
    return checked_wavelength_nm(wavelength_nm) * _MM_PER_NM / aperture * ARCSEC_PER_RADIAN


def annular_mtf(u: float, eps: float) -> float:
    """Return the contrast (0 to 1) that the aperture passes at a spatial frequency, for the inside of an
    integral: nothing is checked.

    u: share of the cut-off D/lambda, 0 or more; at 1 and beyond the contrast is 0. eps: linear obstruction,
    0 to below 1.
    Source: O'Neill, J. Opt. Soc. Am. 46, 285 (1956) (from memory): the aperture's overlap with itself, A +
    B + C.
    """
    if u >= 1.0:
        return 0.0
    disc = 2.0 / math.pi * (math.acos(u) - u * math.sqrt(1.0 - u * u))  # A, the outer edge with itself.
    if eps == 0.0:
        return disc
    hole = 0.0
    if u < eps:
        v = u / eps
        hole = (
            2.0 * eps * eps / math.pi * (math.acos(v) - v * math.sqrt(1.0 - v * v))
        )  # B, the hole with itself.
    cross = 0.0
    if 2.0 * u <= 1.0 - eps:
        cross = -2.0 * eps * eps  # C, the hole wholly inside the shifted disc.
    elif 2.0 * u < 1.0 + eps:
        p = math.acos((1.0 + eps * eps - 4.0 * u * u) / (2.0 * eps))
        cross = (
            2.0 * eps / math.pi * math.sin(p)
            + (1.0 + eps * eps) / math.pi * p
            - 2.0 * (1.0 - eps * eps) / math.pi * math.atan((1.0 + eps) / (1.0 - eps) * math.tan(p / 2.0))
            - 2.0 * eps * eps
        )  # C, the hole partly inside it.
    return (disc + hole + cross) / (1.0 - eps * eps)


def _disc_amplitude(x: float) -> float:
    if x < _SMALL_ARGUMENT:
        return 1.0 - x * x / 8.0 + x**4 / 192.0  # DLMF 10.2.2 with order 1, times 2/x.
    return 2.0 * bessel_j1(x) / x


@lru_cache(maxsize=256)
def _fwhm(eps: float) -> float:
    def above_half(radius: float) -> float:
        return annular_intensity(radius, eps) - 0.5

    return 2.0 * bisect(above_half, 0.0, annular_first_zero(eps), _ROOT_TOLERANCE)
