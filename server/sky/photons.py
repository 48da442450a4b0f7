"""How many electrons a star or the sky leaves in an exposure."""

from __future__ import annotations

import math

from server.out_of_range import OutOfRangeError

#: Middle of the band (nm) and photons per second, square metre and nm of a star of magnitude 0 above the air.
#: Source: the bands of Bessell 1979 (U 1810, B 4260, V 3640, R 3080, I 2550 Jy; 1 Jy is 1.5092e7
#: photons/s/m^2 for each part of wavelength); sources differ by 15 % at the blue end and by 3 % in V.
ZERO_POINTS = ((360.0, 7.588e7), (440.0, 1.4612e8), (550.0, 9.988e7), (640.0, 7.263e7), (790.0, 4.871e7))


def photons_per_nm(wavelength_nm: float) -> float:
    """Return photons per second, square metre and nm of a white star of magnitude 0 at a wavelength.

    wavelength_nm: 300 to 1100; beyond the table's ends its last value holds. Raises ValueError outside.
    Source: `ZERO_POINTS`, linear between.
    """
    if not 300.0 <= wavelength_nm <= 1100.0:
        raise OutOfRangeError(
            f"The wavelength is {wavelength_nm:g} nm; it must be 300 to 1100 nm. Give the band's middle."
        )
    low = ZERO_POINTS[0]
    for high in ZERO_POINTS[1:]:
        if wavelength_nm <= high[0]:
            share = max(0.0, (wavelength_nm - low[0]) / (high[0] - low[0]))
            return low[1] + share * (high[1] - low[1])
        low = high
    return low[1]


def star_electrons(
    magnitude: float,
    exposure_s: float,
    clear_area_mm2: float,
    band_nm: tuple[float, float],
    efficiency: float,
) -> float:
    """Return the electrons that a star leaves, without the air's extinction.

    magnitude: -2 to 25. exposure_s: above 0. clear_area_mm2: of the pupil. band_nm: from, to. efficiency: of
    glass, mirrors and sensor together, 0 to 1. Raises ValueError outside. Source: Howell, Handbook of CCD
    Astronomy, ch. 4 (from memory); zero points as `photons_per_nm`.
    """
    low, high = band_nm
    if not -2.0 <= magnitude <= 25.0:
        raise OutOfRangeError(f"The magnitude is {magnitude:g}; it must be -2 to 25. Give the star's.")
    if not (exposure_s > 0.0 and math.isfinite(exposure_s)):
        raise OutOfRangeError(f"The exposure is {exposure_s:g} s; it must be more than 0 s.")
    if not 0.0 <= efficiency <= 1.0:
        raise OutOfRangeError(
            f"The efficiency is {efficiency:g}; it must be 0 to 1. Give a share such as 0.6."
        )
    if not high > low:
        raise OutOfRangeError(f"The band runs from {low:g} to {high:g} nm; it must end above its beginning.")
    flux = photons_per_nm((low + high) / 2.0) * (high - low)
    return flux * math.pow(10.0, -0.4 * magnitude) * clear_area_mm2 * 1e-6 * exposure_s * efficiency
