"""How much brighter the sky is for the Moon, after Krisciunas and Schaefer, PASP 103, 1033 (1991).

The constants are from memory and the paper's printed table was not compared; another program's published
figure agrees to 0.001 magnitudes (tests). The authors found their model good to 8 to 23 %.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from server.sky.ranges import Numbers, checked
from server.sky.sky_brightness import V_EXTINCTION, scattering_air_mass

#: Nearer than so many degrees to the Moon's middle is the Moon itself.
_MOON_RADIUS_DEG = 0.25


def nanolamberts(magnitude: npt.ArrayLike) -> Numbers:
    """Return the brightness, nanolambert, of a sky of a V magnitude in a square arcsec, -5 to 40.

    Raises OutOfRangeError. Source: the paper, equation 1.
    """
    sky = checked("The sky", magnitude, -5.0, 40.0, "", "Give magnitudes per square arcsec.")
    return np.asarray(34.08 * np.exp(20.7233 - 0.92104 * sky), dtype=np.float64)


def moonlight_nanolamberts(
    phase_angle_deg: npt.ArrayLike,
    moon_distance_deg: npt.ArrayLike,
    moon_altitude_deg: npt.ArrayLike,
    altitude_deg: npt.ArrayLike,
    extinction: npt.ArrayLike = V_EXTINCTION,
) -> Numbers:
    """Return the moonlight that the air scatters towards us, nanolambert; 0 with the Moon below the horizon.

    phase_angle_deg: 0 (full) to 180 (new). moon_distance_deg: on the sky from the Moon, 0 to 180.
    moon_altitude_deg: -90 to 90. altitude_deg: where we look, 0 to 90. extinction: magnitudes for each air
    mass, 0 to 5. Arrays go together by broadcasting. Raises OutOfRangeError. Without the surge of a full Moon
    within 7 degrees (up to 35 % more), clouds, and what the ground throws back. Within 10 degrees of the Moon
    dust alone has another law; there it jumps by up to a quarter.
    Source: the paper, equations 3, 15 to 17, 19 to 21.
    """
    phase = checked("The Moon's phase angle", phase_angle_deg, 0.0, 180.0, "degrees", "0 is full, 180 new.")
    apart = checked("The distance", moon_distance_deg, 0.0, 180.0, "degrees", "Give it from the Moon.")
    moon = checked("The Moon's altitude", moon_altitude_deg, -90.0, 90.0, "degrees", "Give degrees.")
    k = checked("The extinction", extinction, 0.0, 5.0, "", "Give magnitudes for each air mass, such as 0.2.")
    moon_air = scattering_air_mass(np.maximum(moon, 0.0))
    lost = 1.0 - 10.0 ** (-0.4 * k * scattering_air_mass(altitude_deg))
    from_moon = 10.0 ** (-0.4 * (3.84 + 0.026 * phase + 4e-9 * phase**4 + k * moon_air))  # (20)
    rho = np.maximum(apart, _MOON_RADIUS_DEG)
    air = 10.0**5.36 * (1.06 + np.cos(np.radians(rho)) ** 2)  # (17)
    dust = np.where(rho < 10.0, 6.2e7 / rho**2, 10.0 ** (6.15 - rho / 40.0))  # (19), (18)
    return np.asarray(np.where(moon > 0.0, (air + dust) * from_moon * lost, 0.0), dtype=np.float64)  # (15)


def moonlit_sky(
    dark_magnitude: npt.ArrayLike,
    phase_angle_deg: npt.ArrayLike,
    moon_distance_deg: npt.ArrayLike,
    moon_altitude_deg: npt.ArrayLike,
    altitude_deg: npt.ArrayLike,
    extinction: npt.ArrayLike = V_EXTINCTION,
) -> Numbers:
    """Return the sky's brightness with the Moon, V in a square arcsec.

    dark_magnitude: of the same place in the sky without the Moon (`sky_at`), 10 to 24; what is left as it is
    while the Moon is below the horizon. The rest as `moonlight_nanolamberts`. Raises OutOfRangeError.
    Source: the paper, equation 1: brightnesses add.
    """
    dark = checked("The sky", dark_magnitude, 10.0, 24.0, "", "Give magnitudes per square arcsec.")
    moon = moonlight_nanolamberts(
        phase_angle_deg, moon_distance_deg, moon_altitude_deg, altitude_deg, extinction
    )
    return np.asarray(dark - 2.5 * np.log10(1.0 + moon / nanolamberts(dark)), dtype=np.float64)
