"""Range checks that say the value, the allowed range and what to do about it.

Of an array each figure is looked at by itself: where a float would be refused it becomes nan.
"""

from __future__ import annotations

import math

from server.arrays import Number, is_array, none_outside
from server.out_of_range import OutOfRangeError

#: Longest length that any function here takes, mm. A hundred metres is beyond every amateur rig.
LONGEST_MM = 100_000.0
#: An aberration-free beam in air cannot be faster than f/0.5 (sine condition); slower is a slip.
FASTEST_FOCAL_RATIO = 0.5
SLOWEST_FOCAL_RATIO = 1000.0
#: Silicon sees about 300 to 1100 nm; the range is wider so that only slips of the unit are refused.
SHORTEST_WAVELENGTH_NM = 200.0
LONGEST_WAVELENGTH_NM = 2500.0


def checked(
    what: str,
    value: Number,
    low: float,
    high: float,
    unit: str,
    fix: str,
    *,
    above_low: bool = False,
    below_high: bool = False,
) -> Number:
    """Return `value` as a float when it lies in its range, else say so; an array with nan where it does not.

    what: the quantity in words, as the sentence begins. value, low, high: in `unit` ("" for a pure
    number), any sign. fix: a sentence that says what to do. above_low, below_high: that end itself
    is excluded.

    Raises ValueError when the value is outside the range or is not a finite number; never for an array.
    Source: none needed (a comparison).
    """
    if type(value) is float:
        number = value
    elif is_array(value):
        return none_outside(value, low, high, above_low=above_low, below_high=below_high)
    else:
        number = float(value)
    too_low = number <= low if above_low else number < low
    too_high = number >= high if below_high else number > high
    if not math.isfinite(number) or too_low or too_high:
        suffix = f" {unit}" if unit else ""
        lower = f"more than {low:g}" if above_low else f"at least {low:g}"
        upper = f"less than {high:g}" if below_high else f"at most {high:g}"
        raise OutOfRangeError(f"{what} is {number:g}{suffix}; it must be {lower} and {upper}{suffix}. {fix}")
    return number


def checked_focal_ratio(focal_ratio: Number) -> Number:
    """Return the focal ratio N = f/D (a pure number) when it lies from 0.5 to 1000.

    Raises ValueError outside that range. Source: the lower end is the sine condition in air
    (Born & Wolf, Principles of Optics, sec. 4.5, from memory); the upper end only catches slips.
    """
    return checked(
        "The focal ratio",
        focal_ratio,
        FASTEST_FOCAL_RATIO,
        SLOWEST_FOCAL_RATIO,
        "",
        "Give focal length divided by aperture, such as 5 for f/5.",
    )


def checked_wavelength_nm(wavelength_nm: Number) -> Number:
    """Return the wavelength in nm when it lies from 200 to 2500 nm.

    Raises ValueError outside that range. Source: none; the range only catches a slip of the unit.
    """
    return checked(
        "The wavelength",
        wavelength_nm,
        SHORTEST_WAVELENGTH_NM,
        LONGEST_WAVELENGTH_NM,
        "nm",
        "Give nanometres, such as 550 for green light.",
    )


def checked_length_mm(what: str, length_mm: Number, *, above_zero: bool = False) -> Number:
    """Return a length in mm when it lies from 0 (or above it) to 100 000 mm.

    what: the quantity in words. above_zero: zero itself is excluded.
    Raises ValueError outside that range. Source: none; the range only catches slips.
    """
    if (
        type(length_mm) is float and 0.0 < length_mm <= LONGEST_MM
    ):  # Nearly all are, and lengths are asked about by the thousand.
        return float(length_mm)
    return checked(
        what, length_mm, 0.0, LONGEST_MM, "mm", "Check the figure and its unit.", above_low=above_zero
    )


def checked_obstruction(obstruction: Number) -> Number:
    """Return the linear obstruction (a pure number) when it lies from 0 to below 1.

    Raises ValueError outside that range. Source: geometry (an obstruction of 1 leaves no light).
    """
    return checked(
        "The central obstruction",
        obstruction,
        0.0,
        1.0,
        "",
        "Give the secondary's diameter divided by the aperture, such as 0.35 for 35 %.",
        below_high=True,
    )
