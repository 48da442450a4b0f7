"""Exposures: light of surfaces, lines and stars in electrons, and how far it stands out of the noise.

Numbers and arrays alike, which go together by broadcasting; a plain number gives a plain number's shape.
Signals are electrons, times s unless the name says hours. The sky's and the target's light are taken as flat
over a pixel. What is not modelled: noise that does not fall with more exposures (flat fields, banding), and
what is lost by stacking (rejection takes some per cent).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError
from server.sky.photons import photons_per_nm
from server.sky.ranges import Numbers, checked

Per = Literal["px", "arcsec2"]
#: Planck's constant times the speed of light, J m: exact by the SI.
_HC = 6.62607015e-34 * 299_792_458.0
_ERF = np.frompyfunc(math.erf, 1, 1)
_FIX = "Check the figure and its unit."


@dataclass(frozen=True)
class Rates:
    """Electrons per second on a sensor; numbers or arrays.

    target_per_arcsec2, sky_per_arcsec2: of a square arcsec. dark_per_px: of a pixel. pixel_arcsec: a pixel's
    side on the sky.
    """

    target_per_arcsec2: npt.ArrayLike
    sky_per_arcsec2: npt.ArrayLike
    dark_per_px: npt.ArrayLike
    pixel_arcsec: npt.ArrayLike


def surface_rate(
    magnitude_per_arcsec2: npt.ArrayLike,
    clear_area_mm2: npt.ArrayLike,
    band_nm: tuple[float, float],
    efficiency: npt.ArrayLike,
    extinction_mag: npt.ArrayLike = 0.0,
) -> Numbers:
    """Return the electrons per second of a square arcsec; of a star, given its magnitude.

    magnitude_per_arcsec2: -30 to 40, in the band. clear_area_mm2: of the pupil, above 0. band_nm: from, to.
    efficiency: of glass, mirrors, filter and sensor together, 0 to 1. extinction_mag: the air's, 0 to 50;
    none for a sky, whose brightness is as seen from below. Raises OutOfRangeError. By the band's middle:
    within 1 % of a measured V band and 5 % of R, 15 % in blue and near infrared; a band of 400 to 700 nm
    within 3 %.
    Source: `photons_per_nm` times the width times 10^(-0.4 m) (Pogson).
    """
    low, high = band_nm
    if not high > low:
        raise OutOfRangeError(f"The band runs from {low:g} to {high:g} nm; it must end above its beginning.")
    magnitude = checked("The magnitude", magnitude_per_arcsec2, -30.0, 40.0, "", _FIX)
    flux = photons_per_nm((low + high) / 2.0) * (high - low)
    return _caught(flux * 10.0 ** (-0.4 * magnitude), clear_area_mm2, efficiency, extinction_mag)


def line_rate(
    flux_w_m2_arcsec2: npt.ArrayLike,
    wavelength_nm: npt.ArrayLike,
    clear_area_mm2: npt.ArrayLike,
    efficiency: npt.ArrayLike,
    extinction_mag: npt.ArrayLike = 0.0,
) -> Numbers:
    """Return the electrons per second of a square arcsec that shines in one line.

    flux_w_m2_arcsec2: above the air, 0 to 1. wavelength_nm: 100 to 10 000. The rest as `surface_rate`. Raises
    OutOfRangeError. Source: a photon's energy is h c / wavelength (Planck).
    """
    flux = checked("The line's light", flux_w_m2_arcsec2, 0.0, 1.0, "W/m2", _FIX)
    nm = checked("The wavelength", wavelength_nm, 100.0, 10_000.0, "nm", _FIX)
    return _caught(flux * nm * 1e-9 / _HC, clear_area_mm2, efficiency, extinction_mag)


def signal_to_noise(
    rates: Rates, read_noise_e: npt.ArrayLike, sub_s: npt.ArrayLike, count: npt.ArrayLike, per: Per = "px"
) -> Numbers:
    """Return by how much a surface stands out of the noise in a stack, for a pixel or a square arcsec.

    read_noise_e: electrons, 0 to 1000. sub_s: of one exposure, above 0, to 1e6. count: how many, above 0.
    Raises OutOfRangeError; 0 for no target.
    Source: the CCD equation, S t / sqrt(S t + B t + D t + R^2) of each exposure, times sqrt(count); Howell,
    Handbook of CCD Astronomy, chapter 4 (from memory).
    """
    target, sky, dark, scale = _rates(rates)
    read, sub = _read(read_noise_e), _sub(sub_s)
    many = checked("The number of exposures", count, 0.0, 1e9, "", _FIX, above=True)
    noise2 = (target + sky) * scale**2 * sub + dark * sub + read**2
    ratio = _share(np.sqrt(many) * target * scale**2 * sub, np.sqrt(noise2))
    return ratio if per == "px" else np.asarray(ratio / scale)


def hours_for(
    rates: Rates, read_noise_e: npt.ArrayLike, sub_s: npt.ArrayLike, wanted_per_arcsec2: npt.ArrayLike
) -> Numbers:
    """Return the hours of exposure after which a square arcsec has a signal to noise ratio.

    read_noise_e, sub_s: as `signal_to_noise`. wanted_per_arcsec2: above 0, to 1e6. Raises OutOfRangeError;
    infinite for no target. Not rounded up to whole exposures. Source: `signal_to_noise` solved for the time.
    """
    target, sky, dark, scale = _rates(rates)
    read, sub = _read(read_noise_e), _sub(sub_s)
    wanted = checked("The ratio asked for", wanted_per_arcsec2, 0.0, 1e6, "", _FIX, above=True)
    noise2_per_s = target + sky + (dark + read**2 / sub) / scale**2
    with np.errstate(divide="ignore", invalid="ignore"):
        hours = wanted**2 * noise2_per_s / target**2 / 3600.0
    return np.asarray(np.where(target > 0.0, hours, np.inf))


def shortest_sub_s(rates: Rates, read_noise_e: npt.ArrayLike, share: npt.ArrayLike) -> Numbers:
    """Return the shortest exposure, s, whose read noise adds no more than a share to the noise of the dark
    sky.

    read_noise_e: 0 to 1000. share: above 0, to 10; 0.05 is common practice, no source. Raises
    OutOfRangeError; infinite with neither sky nor dark current. The target's own light is left out.
    Source: (1 + E)^2 = 1 + R^2 / ((B + D) t), the noises of the CCD equation (`signal_to_noise`).
    """
    _, sky, dark, scale = _rates(rates)
    extra = checked("The share", share, 0.0, 10.0, "", "Give a share such as 0.05.", above=True)
    light = (sky * scale**2 + dark) * ((1.0 + extra) ** 2 - 1.0)
    read2 = _read(read_noise_e) ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        seconds = read2 / light
    return np.asarray(np.where(read2 == 0.0, 0.0, seconds))


def star_signal_to_noise(
    star_e_s: npt.ArrayLike,
    sky_e_s_px: npt.ArrayLike,
    dark_e_s_px: npt.ArrayLike,
    read_noise_e: npt.ArrayLike,
    pixels_in_aperture: npt.ArrayLike,
    sub_s: npt.ArrayLike,
    count: npt.ArrayLike = 1.0,
) -> Numbers:
    """Return by how much a star stands out of the noise in a stack.

    star_e_s: electrons per s in the aperture, 0 to 1e15. sky_e_s_px, dark_e_s_px: per s and pixel, 0 to 1e12.
    pixels_in_aperture: above 0. The rest as `signal_to_noise`. Raises OutOfRangeError; 0 for no star. The sky
    beneath the star is taken as known without error.
    Source: S t / sqrt(S t + n ((B + D) t + R^2)) times sqrt(count); Howell, as there (from memory).
    """
    sub, noise2 = _background(sky_e_s_px, dark_e_s_px, read_noise_e, pixels_in_aperture, sub_s)
    signal = checked("The star's light", star_e_s, 0.0, 1e15, "electrons per s", _FIX) * sub
    many = checked("The number of exposures", count, 0.0, 1e9, "", _FIX, above=True)
    return _share(np.sqrt(many) * signal, np.sqrt(signal + noise2))


def faintest_star(
    zero_magnitude_e_s: npt.ArrayLike,
    sky_e_s_px: npt.ArrayLike,
    dark_e_s_px: npt.ArrayLike,
    read_noise_e: npt.ArrayLike,
    pixels_in_aperture: npt.ArrayLike,
    sub_s: npt.ArrayLike,
    count: npt.ArrayLike = 1.0,
    wanted: npt.ArrayLike = 5.0,
) -> Numbers:
    """Return the magnitude of the star that a stack shows at a signal to noise ratio, 5 unless told.

    zero_magnitude_e_s: electrons per s of a star of magnitude 0 (`surface_rate` of 0), above 0. wanted: above
    0, to 1e6. The rest as `star_signal_to_noise`. Raises OutOfRangeError.
    Source: `star_signal_to_noise` solved for the star (a quadratic equation).
    """
    sub, noise2 = _background(sky_e_s_px, dark_e_s_px, read_noise_e, pixels_in_aperture, sub_s)
    zero = checked("The light of magnitude 0", zero_magnitude_e_s, 0.0, 1e30, "", _FIX, above=True)
    many = checked("The number of exposures", count, 0.0, 1e9, "", _FIX, above=True)
    ratio2 = checked("The ratio asked for", wanted, 0.0, 1e6, "", _FIX, above=True) ** 2 / many
    signal = 0.5 * (ratio2 + np.sqrt(ratio2 * (ratio2 + 4.0 * noise2)))
    return np.asarray(2.5 * np.log10(zero * sub / signal), dtype=np.float64)


def peak_share(fwhm_px: npt.ArrayLike) -> Numbers:
    """Return the share of its light that a star leaves in its brightest pixel, when it stands in its middle.

    fwhm_px: the star's width at half height, pixels, above 0, to 10 000. Raises OutOfRangeError. Of a
    Gaussian; between four pixels a sharp star has a quarter of it, and wings take a tenth or so more.
    Source: the Gaussian's integral over a square, erf(1 / (2 sqrt 2 sigma))^2.
    """
    width = checked("The star's width", fwhm_px, 0.0, 10_000.0, "pixels", _FIX, above=True)
    sigma = width / (2.0 * math.sqrt(2.0 * math.log(2.0)))
    return np.asarray(np.asarray(_ERF(0.5 / (math.sqrt(2.0) * sigma)), dtype=np.float64) ** 2)


def saturating_magnitude(
    zero_magnitude_e_s: npt.ArrayLike,
    share_in_peak: npt.ArrayLike,
    full_well_e: npt.ArrayLike,
    sky_e_s_px: npt.ArrayLike,
    dark_e_s_px: npt.ArrayLike,
    sub_s: npt.ArrayLike,
) -> Numbers:
    """Return the magnitude of the star that just fills its brightest pixel in one exposure; brighter ones
    burn out.

    zero_magnitude_e_s: as `faintest_star`. share_in_peak: of `peak_share`, above 0, to 1. full_well_e:
    electrons, above 0, to 1e9. sky_e_s_px, dark_e_s_px, sub_s: as `star_signal_to_noise`. Raises
    OutOfRangeError; infinite where sky and dark current alone fill the pixel.
    Source: zero 10^(-0.4 m) share t + (B + D) t = full well, solved for m.
    """
    sub, behind = _background(sky_e_s_px, dark_e_s_px, 0.0, 1.0, sub_s)
    zero = checked("The light of magnitude 0", zero_magnitude_e_s, 0.0, 1e30, "", _FIX, above=True)
    peak = checked("The share in the peak", share_in_peak, 0.0, 1.0, "", _FIX, above=True)
    well = checked("The full well", full_well_e, 0.0, 1e9, "electrons", _FIX, above=True)
    left = np.maximum(well - behind, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(2.5 * np.log10(zero * peak * sub / left), dtype=np.float64)


def _caught(
    photons: Numbers, area_mm2: npt.ArrayLike, efficiency: npt.ArrayLike, extinction_mag: npt.ArrayLike
) -> Numbers:
    area = checked("The clear area", area_mm2, 0.0, 1e12, "mm2", _FIX, above=True)
    share = checked("The efficiency", efficiency, 0.0, 1.0, "", "Give a share such as 0.6.")
    lost = checked("The extinction", extinction_mag, 0.0, 50.0, "magnitudes", _FIX)
    return np.asarray(photons * area * 1e-6 * share * 10.0 ** (-0.4 * lost), dtype=np.float64)


def _rates(rates: Rates) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    return (
        checked("The target's light", rates.target_per_arcsec2, 0.0, 1e12, "electrons per s", _FIX),
        checked("The sky's light", rates.sky_per_arcsec2, 0.0, 1e12, "electrons per s", _FIX),
        checked("The dark current", rates.dark_per_px, 0.0, 1e12, "electrons per s", _FIX),
        checked("The pixel on the sky", rates.pixel_arcsec, 0.0, 1e5, "arcsec", _FIX, above=True),
    )


def _read(read_noise_e: npt.ArrayLike) -> Numbers:
    return checked("The read noise", read_noise_e, 0.0, 1000.0, "electrons", _FIX)


def _sub(sub_s: npt.ArrayLike) -> Numbers:
    return checked("The exposure", sub_s, 0.0, 1e6, "s", _FIX, above=True)


def _background(
    sky_e_s_px: npt.ArrayLike,
    dark_e_s_px: npt.ArrayLike,
    read_noise_e: npt.ArrayLike,
    pixels: npt.ArrayLike,
    sub_s: npt.ArrayLike,
) -> tuple[Numbers, Numbers]:
    """One exposure's time, and the square of what its pixels' noise is without the star."""
    sky = checked("The sky's light", sky_e_s_px, 0.0, 1e12, "electrons per s", _FIX)
    dark = checked("The dark current", dark_e_s_px, 0.0, 1e12, "electrons per s", _FIX)
    many = checked("The star's pixels", pixels, 0.0, 1e9, "", _FIX, above=True)
    sub = _sub(sub_s)
    return sub, np.asarray(many * ((sky + dark) * sub + _read(read_noise_e) ** 2), dtype=np.float64)


def _share(signal: Numbers, noise: Numbers) -> Numbers:
    """Signal over noise; 0 where there is no signal, and so perhaps no noise either."""
    with np.errstate(invalid="ignore"):
        return np.asarray(np.where(signal > 0.0, signal / noise, 0.0))
