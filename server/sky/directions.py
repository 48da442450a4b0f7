"""Places on the sky as unit vectors."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError

Floats = npt.NDArray[np.float64]


def checked_on_sky(ra_deg: npt.ArrayLike, dec_deg: npt.ArrayLike) -> None:
    """Raise ValueError unless each right ascension is a number and each declination -90 to 90 degrees."""
    if not (np.all(np.isfinite(ra_deg)) and np.all(np.abs(dec_deg) <= 90.0)):
        raise OutOfRangeError(
            "A place lies off the sky: its right ascension must be a number, its declination -90 to 90. "
            "Give both in degrees."
        )


def directions(ra_deg: npt.ArrayLike, dec_deg: npt.ArrayLike) -> Floats:
    """Return unit vectors (..., 3) towards places: x to 0 h, y to 6 h on the equator, z to the pole.

    ra_deg: any turn. dec_deg: -90 to 90. Raises ValueError outside. Source: definition.
    """
    checked_on_sky(ra_deg, dec_deg)
    ra, dec = np.radians(ra_deg), np.radians(dec_deg)
    x, y, z = np.broadcast_arrays(np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec))
    return np.stack((x, y, z), axis=-1)


def sine_of_half(one: Floats, other: Floats) -> Floats:
    """Return the sine of half the angle between unit vectors (..., 3): half the line between them.

    Exact for small angles too; it grows with the angle up to 180 degrees. Source: definition of the chord.
    """
    apart = one - other
    return np.asarray(0.5 * np.sqrt(np.einsum("...i,...i->...", apart, apart)))
