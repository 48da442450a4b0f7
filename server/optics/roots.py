"""Bisection: slow, sure and without a dependency."""

from collections.abc import Callable


def bisect(function: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """Return where `function` changes its sign between `low` and `high`, to within `tolerance`.

    low, high: the ends, in the argument's own unit, low < high. tolerance: in the same unit, above 0.
    It stops earlier only where floating point cannot split the interval again.

    Raises ValueError when the function has one sign at both ends.
    Source: the bisection method (any numerical analysis text).
    """
    at_low = function(low)
    at_high = function(high)
    if (at_low > 0.0) == (at_high > 0.0):
        raise ValueError(
            f"The function is {at_low:g} at {low:g} and {at_high:g} at {high:g}; "
            "the ends must have opposite signs. Widen the interval."
        )
    while high - low > tolerance:
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        if (function(middle) > 0.0) == (at_low > 0.0):
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
