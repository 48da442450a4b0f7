"""What collects a target's light: numbers, or arrays that go together, for one rig or for thousands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from server.sky.exposure import Rates

    Given: TypeAlias = "npt.ArrayLike"
    Numbers: TypeAlias = "npt.NDArray[np.float64]"

PRACTICAL_SUBS_S = (5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900, 1200, 1800)
"""Lengths of exposures that people take (a choice of ours, no source)."""


@dataclass(frozen=True)
class Collector:
    """A rig beneath a site's sky.

    Attributes:
        area_mm2: clear. efficiency: of optics, filter and sensor. band_nm: from, to.
        scale_arcsec: of a pixel. read_e, dark_e: of a pixel, the latter per second.
        altitude_deg: of the target. zenith_mag: how dark the site's sky is overhead.
    """

    area_mm2: Given
    efficiency: Given
    band_nm: tuple[float, float]
    scale_arcsec: Given
    read_e: Given
    dark_e: Given
    altitude_deg: Given
    zenith_mag: Given

    @classmethod
    def stacked(cls, some: Sequence[Collector]) -> Collector:
        """Several of one band as one: arrays of (n,)."""
        import numpy as np

        names = (one.name for one in fields(cls) if one.name != "band_nm")
        return cls(
            band_nm=some[0].band_nm,
            **{name: np.array([getattr(one, name) for one in some]) for name in names},
        )

    @property
    def middle_nm(self) -> float:
        """The band's middle."""
        return sum(self.band_nm) / 2.0

    @property
    def dimmed_mag(self) -> Numbers:
        """What the air takes of the target's light, magnitudes."""
        from server.sky.sky_brightness import extinction_mag, extinction_per_air_mass

        return extinction_mag(self.altitude_deg, extinction_per_air_mass(self.middle_nm))

    @property
    def sky_mag(self) -> Numbers:
        """The sky's brightness about the target."""
        from server.sky.sky_brightness import sky_at

        return sky_at(self.altitude_deg, self.zenith_mag)

    @property
    def zero_e(self) -> Numbers:
        """Electrons per second of magnitude 0, through the air."""
        from server.sky.exposure import surface_rate

        return surface_rate(0.0, self.area_mm2, self.band_nm, self.efficiency, self.dimmed_mag)

    def sky_e(self, sky_mag: Given | None = None) -> Numbers:
        """Electrons per second and square arcsecond of the sky; what is seen from the ground has passed the
        air already.
        """
        from server.sky.exposure import surface_rate

        return surface_rate(
            self.sky_mag if sky_mag is None else sky_mag, self.area_mm2, self.band_nm, self.efficiency
        )

    def surface_e(self, magnitude: Given) -> Numbers:
        """Electrons per second and square arcsecond of a surface of a magnitude."""
        import numpy as np

        return self.zero_e * 10.0 ** (-0.4 * np.asarray(magnitude, dtype=np.float64))

    def rates(self, target_e: Given, sky_mag: Given | None = None) -> Rates:
        """All that falls on the sensor, for a target of so many electrons."""
        from server.sky.exposure import Rates

        return Rates(target_e, self.sky_e(sky_mag), self.dark_e, self.scale_arcsec)

    def shortest_s(self, share: float) -> Numbers:
        """The shortest exposure whose read noise adds no more than a share."""
        from server.sky.exposure import shortest_sub_s

        return shortest_sub_s(self.rates(0.0), self.read_e, share)

    def hours(self, target_e: Given, sub_s: Given, wanted: float, sky_mag: Given | None = None) -> Numbers:
        """Hours to a signal to noise per square arcsecond."""
        from server.sky.exposure import hours_for

        return hours_for(self.rates(target_e, sky_mag), self.read_e, sub_s, wanted)


def practical_sub_s(shortest_s: Given) -> Numbers:
    """The next length that people take; the longest of them for what wants longer."""
    import numpy as np

    subs = np.array(PRACTICAL_SUBS_S, dtype=np.float64)
    return subs[np.minimum(np.searchsorted(subs, shortest_s), subs.size - 1)]
