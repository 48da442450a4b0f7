"""The focus through a night: the zone that the air's star leaves, a motor's steps in it, when to refocus."""

from __future__ import annotations

import math

from server.optics.focus import blur_tolerance_mm
from server.optics.ranges import checked, checked_obstruction
from server.optics.thermal import change_for_drift_k

#: A star of width w under a disc of diameter b has the width sqrt(w^2 + k (1 + e^2) b^2), with e the
#: obstruction. k at no growth, and how it rises with the growth: fitted to the convolution of Kolmogorov's
#: star with the disc, which the tests repeat by another program.
_K_AT_NO_GROWTH, _K_PER_GROWTH = 0.42, 0.34
_WIDEST_STAR_UM = 10_000.0


def seeing_depth_mm(focal_ratio: float, star_um: float, growth: float, obstruction: float = 0.0) -> float:
    """Return how far the sensor may stand to EITHER side of the focus, mm, before a star's width grows by a
    share of itself.

    focal_ratio: 0.5 to 1000. star_um: the star's full width at half maximum in focus, air and all, 0 to 10
    000 um on the sensor. growth: 0 to 0.3, such as 0.1 for a tenth. obstruction: linear, 0 to below 1 (the
    figures hold to 0.5). Raises ValueError outside.
    For a star that the air alone has widened it is true within 4 % up to a growth of 0.2 and within 6 % up to
    0.3. Pixel and guiding make the star more like a Gaussian, whose zone is up to 12 % longer: it errs to the
    safe side. Diffraction is left out: where the telescope's own star is not small against the air's, the
    depth by the wave (`focus.depth_of_focus_mm`) counts as well.
    The plain root of the sum of squares, the disc's whole diameter for its width, gives two thirds of this.
    Source: Kolmogorov's star (Fried, J. Opt. Soc. Am. 56, 1372 (1966), from memory) folded with the cone's
    disc.
    """
    star = checked("The star's width", star_um, 0.0, _WIDEST_STAR_UM, "um", "Give it in um on the sensor.")
    g = checked("The growth", growth, 0.0, 0.3, "", "Give a share, such as 0.1 for a tenth.")
    e2 = checked_obstruction(obstruction) ** 2
    k = (_K_AT_NO_GROWTH + _K_PER_GROWTH * g) * (1.0 + e2)
    return blur_tolerance_mm(focal_ratio, star * math.sqrt(((1.0 + g) ** 2 - 1.0) / k))


def motor_steps(depth_mm: float, step_um: float) -> float:
    """Return how many steps of a focus motor lie in the zone from one side of the focus to the other.

    depth_mm: to one side, 0 to 1000 mm. step_um: what one step moves the sensor, or the focus, above 0, to
    10 000 um. Raises ValueError outside. Backlash is not looked at. Source: arithmetic.
    """
    depth = checked("The depth of focus", depth_mm, 0.0, 1000.0, "mm", "Give it to one side.")
    step = checked(
        "The motor's step",
        step_um,
        0.0,
        10_000.0,
        "um",
        "Give what one step moves the drawtube.",
        above_low=True,
    )
    return 2.0 * depth * 1000.0 / step


def refocus_hours(depth_mm: float, drift_mm_per_k: float, cooling_k_per_hour: float) -> float:
    """Return the hours from a good focus until it has drifted by the depth; infinity where it does not drift.

    depth_mm: to one side, 0 to 1000 mm. drift_mm_per_k: of the focus, of either sign, up to 10 mm/K.
    cooling_k_per_hour: -20 to 20 K/h; negative for a night that warms. Raises ValueError outside. Taken as
    even: most nights cool fastest in the first hours, when it is wanted sooner. The tube is taken to follow
    the air at once. Source: arithmetic on `thermal.change_for_drift_k`.
    """
    rate = checked("The cooling", cooling_k_per_hour, -20.0, 20.0, "K/h", "Give kelvins per hour.")
    change = change_for_drift_k(depth_mm, drift_mm_per_k)
    return math.inf if rate == 0.0 else change / abs(rate)
