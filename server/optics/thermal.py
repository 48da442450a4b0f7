"""How a tube's length, and with it the focus, follows the temperature."""

import math
from dataclasses import dataclass

from server.optics.ranges import checked, checked_length_mm

_WIDEST_CHANGE_K = 150.0
_STEEPEST_PER_K = 100e-6


@dataclass(frozen=True)
class Material:
    """How much a tube's material grows, per K: the usual value, and the range it is found in."""

    per_k: float
    low_per_k: float
    high_per_k: float


#: Linear expansion near 20 C. Values: the thermal-expansion table of a general encyclopaedia
#: (liquisearch.com, "thermal expansion"); carbon-fibre tube from memory: its lay-up decides, and a maker's
#: figure is better.
MATERIALS: dict[str, Material] = {
    "aluminium": Material(23.1e-6, 21e-6, 24e-6),
    "carbon steel": Material(10.8e-6, 10.8e-6, 13e-6),
    "stainless steel": Material(17.3e-6, 10e-6, 17.3e-6),
    "invar": Material(1.2e-6, 0.6e-6, 2.0e-6),
    "carbon fibre": Material(1.0e-6, -0.5e-6, 3.0e-6),
    "borosilicate glass": Material(3.3e-6, 3.2e-6, 3.3e-6),
    "fused quartz": Material(0.59e-6, 0.5e-6, 0.6e-6),
}


def expansion_mm(length_mm: float, per_k: float, change_k: float) -> float:
    """Return how much longer (negative: shorter) a tube becomes, mm.

    length_mm: 0 to 100 000 mm at the first temperature. per_k: -100e-6 to 100e-6. change_k: -150 to 150 K,
    positive for warmer. Raises ValueError outside. Linear: the coefficient itself changes by some per cent
    over 50 K, which is not modelled.
    Source: definition of the coefficient of linear expansion, dL = alpha L dT.
    """
    length = checked_length_mm("The tube's length", length_mm)
    alpha = checked(
        "The expansion",
        per_k,
        -_STEEPEST_PER_K,
        _STEEPEST_PER_K,
        "per K",
        "Give it per kelvin, such as 23.1e-6 for aluminium.",
    )
    change = checked(
        "The change of temperature",
        change_k,
        -_WIDEST_CHANGE_K,
        _WIDEST_CHANGE_K,
        "K",
        "Give the difference between two temperatures.",
    )
    return alpha * length * change


def focus_drift_mm(growth_mm: float, magnification: float | None = None) -> float:
    """Return how far the focus moves away from the sky, mm, against the tube's rear end.

    growth_mm: of the length between the first optics and the rear end, or of the separation of two mirrors;
    of either sign, up to 1000 mm. magnification: of the secondary, 1 to 20; None for a tube with one group
    (a refractor, a Newtonian), whose focus stays where it was while the rear end goes outwards. Raises
    ValueError outside. The answer is negative (the focus goes in) when the tube grows. Not modelled: the
    change of the lenses and mirrors themselves, which for a refractor can be as large as the tube's.
    Source: arithmetic; for two mirrors -(m^2 + 1) x the change of separation, as `two_mirror`.
    """
    growth = checked("The growth", growth_mm, -1000.0, 1000.0, "mm", "Check the figure and its unit.")
    if magnification is None:
        return -growth
    m = checked("The secondary's magnification", magnification, 1.0, 20.0, "", "Give f over f1.")
    return -(m * m + 1.0) * growth


def change_for_drift_k(drift_mm: float, drift_per_k_mm: float) -> float:
    """Return the change of temperature, K (0 or more), after which the focus has moved by so much.

    drift_mm: 0 to 1000 mm, such as the depth of focus. drift_per_k_mm: of either sign, up to 10 mm/K; 0 gives
    infinity. Raises ValueError outside. Source: arithmetic.
    """
    drift = checked("The drift", drift_mm, 0.0, 1000.0, "mm", "Give it without a sign.")
    rate = checked("The drift per K", drift_per_k_mm, -10.0, 10.0, "mm/K", "Check the figure and its unit.")
    return math.inf if rate == 0.0 else drift / abs(rate)
