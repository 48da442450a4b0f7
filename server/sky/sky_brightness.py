"""How bright the night sky is, and what the air takes of a light that comes through it.

Magnitudes are V in a square arcsec unless said; altitudes are degrees, as seen. All functions but those that
make a `SkyBrightness` take numbers and arrays alike and answer in their shape.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError
from server.sky.ranges import Numbers, checked

#: The darkest zenith that the natural sky has, V in a square arcsec; common practice, no source.
DARKEST = 22.0
#: How far a sky told by eye may be off, magnitudes: a judgement, not a measurement.
BY_EYE = 0.5
#: The ends between the nine classes, V in a square arcsec at the zenith, the darkest class first. Source: the
#: classes are Bortle's (Sky & Telescope, February 2001), who gave no such figures; these are the common
#: practice of observers, and other lists lie up to 0.5 beside them. That between 8 and 9 is a judgement.
CLASS_ENDS = (21.99, 21.89, 21.69, 20.49, 19.50, 18.94, 18.38, 17.8)
#: How bright the middle of the brightest class is: a judgement.
_INNER_CITY = 17.5
#: Extinction of an ordinary clear night, magnitudes of V for each air mass; as in `moonlight`.
V_EXTINCTION = 0.172
#: Dust and haze of an ordinary low site, magnitudes at 510 nm, and how it falls with the wavelength. Source:
#: Green, International Comet Quarterly 14, 55 (1992), and Angstrom's law (from memory).
_HAZE, _HAZE_POWER = 0.120, -1.3
#: Ozone's visible band, magnitudes for 300 Dobson units. Source: its absorption cross-section, rounded (from
#: memory).
_OZONE_NM = (430.0, 450.0, 500.0, 550.0, 575.0, 602.0, 650.0, 700.0, 800.0, 900.0)
_OZONE_MAG = (0.0, 0.0015, 0.0105, 0.029, 0.041, 0.045, 0.022, 0.0076, 0.001, 0.0)
_MAGNITUDE = 2.5 / math.log(10.0)
_AIR_FIX = "Give magnitudes for each air mass, such as 0.2."
_SKY_FIX = "Give the sky's brightness in magnitudes per square arcsec."


@dataclass(frozen=True)
class SkyBrightness:
    """How bright a moonless sky is at the zenith.

    magnitude: V in a square arcsec; the larger, the darker. uncertainty: so many magnitudes either way.
    """

    magnitude: float
    uncertainty: float


def from_naked_eye_limit(limit_mag: float) -> SkyBrightness:
    """Return the sky of whoever just sees stars of a magnitude, good to half a magnitude (a judgement).

    limit_mag: V, 1 to 8. Never darker than `DARKEST`: who sees more has better eyes. Raises OutOfRangeError.
    Source: Schaefer, PASP 102, 212 (1990), in the form 21.58 - 5 log(10^(1.586 - N / 5) - 1) (from memory).
    """
    limit = float(checked("The faintest star", limit_mag, 1.0, 8.0, "", "Give its magnitude, such as 5.5."))
    contrast = math.pow(10.0, 1.586 - limit / 5.0) - 1.0
    if contrast <= 0.0:
        return SkyBrightness(DARKEST, BY_EYE)
    return SkyBrightness(min(DARKEST, 21.58 - 5.0 * math.log10(contrast)), BY_EYE)


def from_sky_class(sky_class: int) -> SkyBrightness:
    """Return the middle of one of the nine classes and half its width, or `BY_EYE` where that is more.

    sky_class: 1 (darkest) to 9 (inner city). Raises OutOfRangeError. Source: `CLASS_ENDS`.
    """
    if sky_class not in range(1, 10):
        raise OutOfRangeError(f"The sky's class is {sky_class}; it must be 1 to 9. Give a whole number.")
    if sky_class == 9:
        return SkyBrightness(_INNER_CITY, BY_EYE)
    darker, brighter = ((DARKEST, *CLASS_ENDS)[sky_class - 1], CLASS_ENDS[sky_class - 1])
    return SkyBrightness((darker + brighter) / 2.0, max(BY_EYE, (darker - brighter) / 2.0))


def naked_eye_limit(magnitude: float) -> float:
    """Return the V magnitude of the faintest star that an eye sees in a sky: `from_naked_eye_limit` turned.

    magnitude: of the sky, 10 to 24. Raises OutOfRangeError. Source: as there,
    7.93 - 5 log(10^(4.316 - mu / 5) + 1) (from memory).
    """
    sky = float(checked("The sky", magnitude, 10.0, 24.0, "", _SKY_FIX))
    return 7.93 - 5.0 * math.log10(math.pow(10.0, 4.316 - sky / 5.0) + 1.0)


def sky_class(magnitude: float) -> int:
    """Return the class, 1 (darkest) to 9, of a sky; at an end between two the darker one.

    magnitude: 10 to 24. Raises OutOfRangeError. Source: `CLASS_ENDS`.
    """
    sky = float(checked("The sky", magnitude, 10.0, 24.0, "", _SKY_FIX))
    return 9 - bisect.bisect_right(CLASS_ENDS[::-1], sky)


def air_mass(altitude_deg: npt.ArrayLike) -> Numbers:
    """Return how much air a light comes through, 1 at the zenith and 38 at the horizon.

    altitude_deg: 0 to 90. Raises OutOfRangeError. Good to 0.5 % of the tables it was fitted to.
    Source: Kasten and Young, Applied Optics 28, 4735 (1989), equation 3 (from memory).
    """
    altitude = checked("The altitude", altitude_deg, 0.0, 90.0, "degrees", "Wait until the target is up.")
    return np.asarray(
        1.0 / (np.sin(np.radians(altitude)) + 0.50572 * (altitude + 6.07995) ** -1.6364), dtype=np.float64
    )


def extinction_mag(altitude_deg: npt.ArrayLike, per_air_mass: npt.ArrayLike) -> Numbers:
    """Return how many magnitudes the air takes: k X.

    altitude_deg: 0 to 90. per_air_mass: magnitudes at the zenith, 0 to 5. Raises OutOfRangeError.
    Source: Bouguer's law, with `air_mass`.
    """
    k = checked("The extinction", per_air_mass, 0.0, 5.0, "", _AIR_FIX)
    return np.asarray(k * air_mass(altitude_deg), dtype=np.float64)


def sky_at(
    altitude_deg: npt.ArrayLike, zenith_magnitude: npt.ArrayLike, extinction: npt.ArrayLike = V_EXTINCTION
) -> Numbers:
    """Return the moonless sky's brightness at an altitude, V in a square arcsec: lower down it is brighter.

    altitude_deg: 0 to 90. zenith_magnitude: 10 to 24. extinction: magnitudes for each air mass, 0 to 5.
    Raises OutOfRangeError. The natural glow of the high air alone: the dome of light over a town, often a
    magnitude or more on its side and below 30 degrees, is not in it, nor the Milky Way.
    Source: Krisciunas and Schaefer, PASP 103, 1033 (1991), equation 2, after Garstang: brightness X times
    10^(-0.4 k (X - 1)), with `scattering_air_mass` (from memory).
    """
    zenith = checked("The sky", zenith_magnitude, 10.0, 24.0, "", _SKY_FIX)
    k = checked("The extinction", extinction, 0.0, 5.0, "", _AIR_FIX)
    air = scattering_air_mass(altitude_deg)
    return np.asarray(zenith - 2.5 * np.log10(air) + k * (air - 1.0), dtype=np.float64)


def scattering_air_mass(altitude_deg: npt.ArrayLike) -> Numbers:
    """Return how much of the glowing and scattering air lies in a direction: 1 at the zenith, 5 at the
    horizon.

    altitude_deg: 0 to 90. Raises OutOfRangeError. For the sky's own light only; a star's is dimmed by
    `air_mass`. Source: Krisciunas and Schaefer, PASP 103, 1033 (1991), equation 3,
    (1 - 0.96 sin^2 Z)^-0.5 (from memory).
    """
    altitude = checked("The altitude", altitude_deg, 0.0, 90.0, "degrees", "Wait until the target is up.")
    return np.asarray((1.0 - 0.96 * np.cos(np.radians(altitude)) ** 2) ** -0.5, dtype=np.float64)


def extinction_per_air_mass(wavelength_nm: npt.ArrayLike) -> Numbers:
    """Return what the air of an ordinary clear night at sea level takes, magnitudes for each air mass.

    wavelength_nm: 340 to 1100. Raises OutOfRangeError. Air, haze and ozone; haze may be half or three times
    that much. Without the bands of oxygen and water in the red, and without height: a mountain has less.
    Source: air by Hansen and Travis, Space Science Reviews 16, 527 (1974), equation 2.30 (from memory); haze
    and ozone as `_HAZE` and `_OZONE_MAG`.
    """
    nm = checked("The wavelength", wavelength_nm, 340.0, 1100.0, "nm", "Give the band's middle.")
    um2 = (nm / 1000.0) ** -2
    air = _MAGNITUDE * 0.008569 * um2**2 * (1.0 + 0.0113 * um2 + 0.00013 * um2**2)
    haze = _HAZE * (nm / 510.0) ** _HAZE_POWER
    return np.asarray(air + haze + np.interp(nm, _OZONE_NM, _OZONE_MAG), dtype=np.float64)
