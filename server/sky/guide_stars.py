"""How many stars there are to guide on, the chance to have one on the guide sensor, and how faint it may be.

Star counts are means over the sky: real fields clump, dark nebulae empty them, and open clusters fill
them. How far a count may be off grows with the magnitude: `count_error`.
"""

import math
from bisect import bisect_right
from dataclasses import dataclass

from server.out_of_range import OutOfRangeError

#: Stars brighter than V over the whole sky, per square degree. Source: counts of the Tycho-2 (Hog et al., A&A
#: 355, L27 (2000)) and UCAC4 (Zacharias et al., AJ 145, 44 (2013)) catalogues, from a published table of
#: them that was not recounted.
_COUNTS: tuple[tuple[float, float], ...] = (
    (8.0, 1.18),
    (9.0, 3.38),
    (10.0, 9.28),
    (11.0, 25.41),
    (12.0, 71.65),
    (13.0, 178.1),
    (14.0, 417.3),
    (15.0, 954.8),
    (16.0, 2154.9),
)
#: Galactic latitude (the middle of a band), density there over that of the whole sky at magnitude 10, and by
#: how much its logarithm grows with each magnitude. Source: counted in the Gaia catalogue (DR3) to G = 9 and
#: 10; carried on to fainter stars, of which none were counted.
_BANDS: tuple[tuple[float, float, float], ...] = (
    (2.5, 2.083, 0.033),
    (7.5, 1.752, 0.036),
    (15.0, 1.345, 0.020),
    (25.0, 0.958, -0.014),
    (35.0, 0.737, -0.027),
    (45.0, 0.595, -0.042),
    (55.0, 0.514, -0.055),
    (65.0, 0.462, -0.059),
    (80.0, 0.417, -0.066),
)
#: What keeps the whole sky's count as it is, now that its parts grow apart: their mean by magnitude.
_MEANS = ((11.0, 1.0), (12.0, 1.02), (13.0, 1.03), (14.0, 1.06), (15.0, 1.09), (16.0, 1.12))

#: A guide star's middle is found to such a part of a pixel (common practice, no source).
CENTROID_PX = 0.1
#: Photons of a star of V = 0 above the air, per s and m^2, in the V band (0.55 um, a width of 0.16 of it).
#: Source: 3640 Jy (Bessell 1979) at 1.51e7 photons per s, m^2 and Jy.
V_ZERO_PHOTONS = 8.7895e9


@dataclass(frozen=True)
class StarChance:
    """How many stars are to be expected on a sensor, and the chance of at least one, 0 to 1.

    low and high: with as many fewer and more stars as the count may be off. A chance, not a promise: see the
    module.
    """

    expected: float
    chance: float
    low: float
    high: float


@dataclass(frozen=True)
class GuideCamera:
    """What a guide star's signal depends on.

    aperture_mm: of the telescope, above 0, to 100 000. obstruction: linear, 0 to below 1. efficiency:
    electrons for each photon above the air, above 0, to 1: air, optics, prism, sensor. scale_arcsec: sky on
    one pixel, above 0, to 100. read_noise_e: 0 to 1000 electrons. dark_e_s: 0 to 10 000 electrons per s and
    pixel. star_pixels: that the star's light is measured on, at least 1, to 100 000. Raises ValueError
    outside.
    """

    aperture_mm: float
    obstruction: float
    efficiency: float
    scale_arcsec: float
    read_noise_e: float
    dark_e_s: float
    star_pixels: float

    def __post_init__(self) -> None:
        """Refuse figures outside their range."""
        _checked("The aperture", self.aperture_mm, 0.0, 100_000.0, "mm", above_low=True)
        _checked("The central obstruction", self.obstruction, 0.0, 1.0, "", below_high=True)
        _checked("The efficiency", self.efficiency, 0.0, 1.0, "", above_low=True)
        _checked("The scale", self.scale_arcsec, 0.0, 100.0, "arcsec", above_low=True)
        _checked("The read noise", self.read_noise_e, 0.0, 1000.0, "electrons")
        _checked("The dark current", self.dark_e_s, 0.0, 10_000.0, "electrons per s")
        _checked("The star's pixels", self.star_pixels, 1.0, 100_000.0, "")

    def electrons_per_s(self, magnitude: float) -> float:
        """Electrons per s from a star (or a square arcsec of sky) of a V magnitude of -30 to 40.

        Counted in the V band; a camera without a filter has more of both.
        Source: `V_ZERO_PHOTONS` x 10^(-0.4 m) x area x efficiency (Pogson).
        """
        m = _checked("The magnitude", magnitude, -30.0, 40.0, "")
        area_m2 = math.pi / 4.0 * (self.aperture_mm / 1000.0) ** 2 * (1.0 - self.obstruction**2)
        return V_ZERO_PHOTONS * math.pow(10.0, -0.4 * m) * area_m2 * self.efficiency


def stars_per_square_degree(magnitude: float, latitude_deg: float) -> float:
    """Return how many stars brighter than a magnitude a square degree holds, on the mean.

    magnitude: V, 8 to 16. latitude_deg: galactic, -90 to 90 degrees. Raises ValueError outside. How far it
    may be off says `count_error`. Between the tables' magnitudes the logarithm goes straight, between their
    latitudes ratio and growth. Longitude is not modelled: towards the galactic centre there are more.
    Source: S(m) R(b) 10^(k(b) (m - 10)) / c(m), the whole sky's count spread by the bright stars' slopes; see
    `_COUNTS` and `_BANDS`. Bahcall and Soneira's model of the Galaxy (ApJS 44, 73, 1980), scaled to the same
    counts at magnitude 10, agrees to 15 % from 45 degrees up and 32 % at 20.
    """
    m = _checked("The magnitude", magnitude, _COUNTS[0][0], _COUNTS[-1][0], "")
    latitude = abs(_checked("The galactic latitude", latitude_deg, -90.0, 90.0, "degrees"))
    whole = math.exp(_between(tuple((at, math.log(count)) for at, count in _COUNTS), m))
    ratio = _between(tuple((b, at_ten) for b, at_ten, _ in _BANDS), latitude)
    growth = _between(tuple((b, by) for b, _, by in _BANDS), latitude)
    return whole * ratio * math.pow(10.0, growth * (m - 10.0)) / _between(_MEANS, m)


def count_error(magnitude: float, latitude_deg: float) -> tuple[float, float]:
    """Return by what a count of `stars_per_square_degree` is to be multiplied at the least and at the most.

    magnitude, latitude_deg: as there. To 10 a quarter either way, to 13 40 %; fainter a factor of 1.6, and 2
    within 20 degrees of the Milky Way, for its dust and the longitude. Raises ValueError outside.
    Source: spread of the catalogues' counts and of the model named there; beyond 10 nothing was counted.
    """
    m = _checked("The magnitude", magnitude, _COUNTS[0][0], _COUNTS[-1][0], "")
    latitude = abs(_checked("The galactic latitude", latitude_deg, -90.0, 90.0, "degrees"))
    if m <= 13.0:
        share = 0.25 if m <= 10.0 else 0.4
        return 1.0 - share, 1.0 + share
    factor = 2.0 if latitude < 20.0 else 1.6
    return 1.0 / factor, factor


def centroid_arcsec(pixel_um: float, focal_mm: float) -> float:
    """Return how finely a guide camera finds a star's middle, arcsec: a tenth of a pixel.

    pixel_um: above 0, to 1000. focal_mm: of the guide scope, above 0, to 100 000. Raises ValueError outside.
    Good to a factor of two: air, noise and focus decide. Source: pixel / f; the tenth as `CENTROID_PX`.
    """
    pixel = _checked("The pixel", pixel_um, 0.0, 1000.0, "um", above_low=True)
    focal = _checked("The focal length", focal_mm, 0.0, 100_000.0, "mm", above_low=True)
    return CENTROID_PX * math.degrees(pixel / 1000.0 / focal) * 3600.0


def focal_for_centroid_mm(pixel_um: float, error_arcsec: float) -> float:
    """Return the shortest focal length, mm, that finds a star's middle so finely: `centroid_arcsec` turned.

    pixel_um: as there. error_arcsec: above 0, to 100. Raises ValueError outside.
    Source: `centroid_arcsec` solved for the focal length.
    """
    error = _checked("The error asked for", error_arcsec, 0.0, 100.0, "arcsec", above_low=True)
    return centroid_arcsec(pixel_um, 1.0) / error


def field_square_degrees(width_mm: float, height_mm: float, focal_mm: float) -> float:
    """Return the sky on a sensor, square degrees, for small fields.

    width_mm, height_mm: of the sensor, above 0, to 1000 mm. focal_mm: above 0, to 100 000 mm. Raises
    ValueError outside. Flat: 1 % too large at 10 degrees. Source: w h / f^2 in square radians.
    """
    width = _checked("The sensor's width", width_mm, 0.0, 1000.0, "mm", above_low=True)
    height = _checked("The sensor's height", height_mm, 0.0, 1000.0, "mm", above_low=True)
    focal = _checked("The focal length", focal_mm, 0.0, 100_000.0, "mm", above_low=True)
    return math.degrees(width / focal) * math.degrees(height / focal)


def chance_of_a_star(
    density: float, area_square_degrees: float, error: tuple[float, float] = (1.0, 1.0)
) -> StarChance:
    """Return the chance that at least one star lies on the sensor where it happens to point.

    density: stars per square degree, 0 to 1e7. area_square_degrees: 0 to 41 253. error: as
    `count_error` gives it. Raises ValueError outside. Source: Poisson, 1 - exp(-N A).
    """
    n = _checked("The density of stars", density, 0.0, 1e7, "per square degree")
    area = _checked("The field", area_square_degrees, 0.0, 41_253.0, "square degrees")
    expected = n * area
    return StarChance(
        expected=expected,
        chance=-math.expm1(-expected),
        low=-math.expm1(-expected * error[0]),
        high=-math.expm1(-expected * error[1]),
    )


def signal_to_noise(
    star_e_s: float, sky_e_s: float, dark_e_s: float, read_noise_e: float, pixels: float, exposure_s: float
) -> float:
    """Return the signal to noise ratio of a star in one exposure, a pure number.

    star_e_s: electrons per s from the star, 0 to 1e12. sky_e_s, dark_e_s: per s and pixel, 0 to 1e9.
    read_noise_e: 0 to 1000. pixels: 1 to 100 000. exposure_s: above 0, to 100 000 s. Raises ValueError
    outside; 0 for no light at all.
    Source: the CCD equation, S t / sqrt(S t + n ((B + D) t + R^2)); Howell, Handbook of CCD Astronomy,
    chapter 4 (from memory).
    """
    star = _checked("The star's signal", star_e_s, 0.0, 1e12, "electrons per s")
    noise = _background(sky_e_s, dark_e_s, read_noise_e, pixels, exposure_s)
    signal = star * exposure_s
    return 0.0 if signal == 0.0 else signal / math.sqrt(signal + noise)


def faintest_magnitude(
    camera: GuideCamera, sky_magnitude: float, exposure_s: float, wanted_ratio: float
) -> float:
    """Return the faintest V magnitude whose star reaches a signal to noise ratio in one exposure.

    sky_magnitude: V per square arcsec, 10 to 25. exposure_s: above 0, to 100 000 s. wanted_ratio: above 0, to
    10 000; 10 to 20 is common practice for guiding, no source. Raises ValueError outside. In the V band: the
    zero point is good to 3 %, the efficiency usually much less; a camera without a filter sees up to a
    magnitude fainter.
    Source: `signal_to_noise` solved for the star (a quadratic equation).
    """
    sky = _checked("The sky's brightness", sky_magnitude, 10.0, 25.0, "magnitudes per square arcsec")
    ratio = _checked("The ratio asked for", wanted_ratio, 0.0, 10_000.0, "", above_low=True)
    sky_e_s = camera.electrons_per_s(sky) * camera.scale_arcsec**2
    noise = _background(sky_e_s, camera.dark_e_s, camera.read_noise_e, camera.star_pixels, exposure_s)
    signal = 0.5 * ratio * (ratio + math.sqrt(ratio * ratio + 4.0 * noise))
    return 2.5 * math.log10(camera.electrons_per_s(0.0) * exposure_s / signal)


def _background(
    sky_e_s: float, dark_e_s: float, read_noise_e: float, pixels: float, exposure_s: float
) -> float:
    sky = _checked("The sky's signal", sky_e_s, 0.0, 1e9, "electrons per s")
    dark = _checked("The dark current", dark_e_s, 0.0, 1e9, "electrons per s")
    noise = _checked("The read noise", read_noise_e, 0.0, 1000.0, "electrons")
    count = _checked("The star's pixels", pixels, 1.0, 100_000.0, "")
    time = _checked("The exposure", exposure_s, 0.0, 100_000.0, "s", above_low=True)
    return count * ((sky + dark) * time + noise * noise)


def _between(table: tuple[tuple[float, float], ...], at: float) -> float:
    """The table's value at a place: straight between its entries, and the end's beyond its ends."""
    if at <= table[0][0]:
        return table[0][1]
    if at >= table[-1][0]:
        return table[-1][1]
    upper = bisect_right([place for place, _ in table], at)
    (x0, y0), (x1, y1) = table[upper - 1], table[upper]
    return y0 + (y1 - y0) * (at - x0) / (x1 - x0)


def _checked(
    what: str,
    value: float,
    low: float,
    high: float,
    unit: str,
    *,
    above_low: bool = False,
    below_high: bool = False,
) -> float:
    number = float(value)
    outside = number <= low if above_low else number < low
    outside = outside or (number >= high if below_high else number > high)
    if not math.isfinite(number) or outside:
        suffix = f" {unit}" if unit else ""
        least = "more than" if above_low else "at least"
        most = "less than" if below_high else "at most"
        raise OutOfRangeError(
            f"{what} is {number:g}{suffix}; it must be {least} {low:g} and {most} {high:g}{suffix}. "
            "Check the figure and its unit."
        )
    return number
