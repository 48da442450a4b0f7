"""A sensor that is not square to the axis: from the joints to the focus in its corners."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from server.optics.focus import depth_of_focus_mm
from server.optics.ranges import checked, checked_length_mm

_ARCMIN_PER_RADIAN = 60.0 * 180.0 / math.pi
_UM_PER_MM = 1000.0
_MOST_ARCMIN = 600.0


@dataclass(frozen=True)
class Tilt:
    """A sensor's tilt, arc-minutes: every joint the same way (`worst`), and the likely sum (`likely`)."""

    worst_arcmin: float
    likely_arcmin: float


@dataclass(frozen=True)
class TiltInFocus:
    """What a tilt does across the sensor, um; the focus is set for the middle.

    across_um: difference of focus from one corner to the opposite one. corner_um: half of it, how far the
    corner stands from its focus. allowed_um: the depth of focus to either side. share: corner over allowed;
    above 1 the tilt shows.
    """

    across_um: float
    corner_um: float
    allowed_um: float

    @property
    def share(self) -> float:
        """How much of the depth of focus the corner uses, 0 or more."""
        return self.corner_um / self.allowed_um

    @property
    def within(self) -> bool:
        """True while the corner stays within the depth of focus."""
        return self.corner_um <= self.allowed_um


def summed_tilt(joints_arcmin: Iterable[float]) -> Tilt:
    """Return the tilt of the sensor from that of each joint between it and the optics.

    joints_arcmin: 0 to 600 arc-minutes each, without a sign; none gives 0. Raises ValueError outside.
    worst: all joints lean the same way. likely: root sum square, the root mean square of the sum where
    each leans in a direction of its own by chance. Small angles: the error of adding them is below 0.1 %
    up to 100 arc-minutes.
    Source: JCGM 100:2008, 5.1.2 (from memory); vectors of random direction.
    """
    tilts = [_checked_tilt(one) for one in joints_arcmin]
    return Tilt(math.fsum(tilts), math.hypot(*tilts))


def tilt_in_focus(
    tilt_arcmin: float,
    sensor_width_mm: float,
    sensor_height_mm: float,
    focal_ratio: float,
    wavelength_nm: float,
) -> TiltInFocus:
    """Return what a tilt does to the focus across the sensor, against the depth of focus 2 lambda N^2.

    tilt_arcmin: 0 to 600, about an axis across the sensor's diagonal, the worst. sensor_width_mm,
    sensor_height_mm: above 0, to 100 000 mm. focal_ratio: N, 0.5 to 1000. wavelength_nm: 200 to 2500 nm.
    Raises ValueError outside. Not modelled: a curved field, a tilt of the corrector itself (joints before
    it tilt both), the sideways shift that goes with a tilt far from the sensor.
    Source: trigonometry, diagonal x tan(tilt); depth as `focus.depth_of_focus_mm`.
    """
    width = checked_length_mm("The sensor's width", sensor_width_mm, above_zero=True)
    height = checked_length_mm("The sensor's height", sensor_height_mm, above_zero=True)
    slope = math.tan(_checked_tilt(tilt_arcmin) / _ARCMIN_PER_RADIAN)
    across = math.hypot(width, height) * slope * _UM_PER_MM
    allowed = depth_of_focus_mm(focal_ratio, wavelength_nm) * _UM_PER_MM
    return TiltInFocus(across_um=across, corner_um=across / 2.0, allowed_um=allowed)


def _checked_tilt(arcmin: float) -> float:
    return checked(
        "The tilt", arcmin, 0.0, _MOST_ARCMIN, "arc-minutes", "Give how far a joint is from square."
    )
