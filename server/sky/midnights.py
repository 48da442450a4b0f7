"""The Sun around midnight, for many nights at once."""

from __future__ import annotations

import math

import numpy as np

from server.sky.ephemeris import Floats, Spot, sun_turned

_PARALLAX_DEG = 8.794 / 3600.0
"""By how much the Sun at the horizon stands lower for the ground than for the Earth's middle."""


class SunOfNights:
    """The Sun around each of n local mean midnights.

    Hour angle and declination are parabolas of the days from mean midnight: three places, half a day apart,
    leave less than 0.1 arcsec. All times here are such days, (n,).
    """

    def __init__(self, spot: Spot, mean: Floats) -> None:
        """mean: the midnights, (n,), days UTC since 2000-01-01T12:00Z, 1972 to 2099."""
        turned, dec = sun_turned(spot, mean[:, None] + np.array([-0.5, 0.0, 0.5]))
        # From noon to noon: around 0, 180 and 360.
        angle = np.stack([(turned[:, at] + 180.0 - at * 180.0) % 360.0 - 180.0 for at in range(3)], axis=1)
        angle += np.array([0.0, 180.0, 360.0])
        self._angle, self._dec = (_parabola(np.radians(one)) for one in (angle, dec))
        self._phi = math.radians(spot.latitude_deg)

    def midnight(self) -> Floats:
        """Return when the hour angle is 180 degrees."""
        u = np.zeros(self._angle[0].shape)
        for _ in range(3):
            u = (math.pi - self._angle[0] - self._angle[2] * u * u) / self._angle[1]
        return u

    def altitude_deg(self, u: Floats) -> Floats:
        """Return the altitude from the ground, without air, at times (n,) or (steps, n), in their shape."""
        angle = self._angle[0] + u * (self._angle[1] + u * self._angle[2])
        dec = self._dec[0] + u * (self._dec[1] + u * self._dec[2])
        sine = math.sin(self._phi) * np.sin(dec) + math.cos(self._phi) * np.cos(dec) * np.cos(angle)
        height: Floats = np.arcsin(np.clip(sine, -1.0, 1.0))
        seen: Floats = np.degrees(height) - _PARALLAX_DEG * np.cos(height)
        return seen

    def lowest(self, middle: Floats) -> Floats:
        """Return when the Sun stands lowest within half a day of `middle`."""
        steps = np.linspace(-0.5, 0.5, 49)
        altitude = self.altitude_deg(middle + steps[:, None])
        at = np.argmin(altitude, axis=0)
        inner, column = np.clip(at, 1, steps.size - 2), np.arange(at.size)
        below, here, above = (altitude[inner + one, column] for one in (-1, 0, 1))
        bend = below - 2.0 * here + above
        shift = np.where(bend > 0.0, (below - above) / (2.0 * np.where(bend > 0.0, bend, 1.0)), 0.0)
        vertex = steps[inner] + np.clip(shift, -1.0, 1.0) * (steps[1] - steps[0])
        low: Floats = middle + np.where(at == inner, vertex, steps[at])
        return low

    def crossing(self, light: Floats, dark: Floats, sun_deg: float) -> Floats:
        """Return when the Sun passes an altitude between a time and its lowest.

        light: the time; it is the answer where the Sun is below the altitude there. dark: its lowest.
        """
        low, high = dark, light
        always = self.altitude_deg(light) < sun_deg
        for _ in range(26):  # Half a day into a thousandth of a second.
            half = (low + high) / 2.0
            below = self.altitude_deg(half) < sun_deg
            low, high = np.where(below, half, low), np.where(below, high, half)
        return np.where(always, light, low)


def _parabola(values: Floats) -> tuple[Floats, Floats, Floats]:
    """Coefficients of the parabolas through (n, 3) values at -1/2, 0, 1/2."""
    first, middle, last = values[:, 0], values[:, 1], values[:, 2]
    return middle, last - first, 2.0 * (first - 2.0 * middle + last)
