"""One figure or a whole array of them: what lets one formula of the ground serve both.

numpy is only imported where an array comes in, so that the bench starts without it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeAlias

from typing_extensions import TypeIs, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

Floats: TypeAlias = "npt.NDArray[np.float64]"
Number = TypeVar("Number", float, "Floats", default=float)
"""A float, or arrays of any shapes that go together by broadcasting."""


def is_array(value: object) -> TypeIs[Floats]:
    """Whether it is an array; a single number of numpy's is a plain number."""
    return not isinstance(value, float) and hasattr(value, "shape")


def each(function: Callable[..., float], *values: Number) -> Number:
    """Return a function of floats, or of each place of arrays: the same function, so that both are equal bit
    for bit. numpy's own of the same name mostly differs in the last one.
    """
    call: Any = function
    for value in values:
        if type(value) is float:
            continue
        if is_array(value):
            call = _at_each_place(function)
            break
    found: Number = call(*values)
    return found


def root(value: Number) -> Number:
    """Return the square root: IEEE 754 has it rounded right, so that numpy's own is equal bit for bit."""
    if type(value) is float:
        return math.sqrt(value)
    if is_array(value):
        import numpy as np

        return np.asarray(np.sqrt(value))
    return math.sqrt(value)


def largest(first: Number, *others: Number) -> Number:
    """Return the largest, of arrays that of each place, nan where one of these is nan."""
    found: Any = first
    for one in others:
        found = _larger(found, one)
    kept: Number = found
    return kept


def _larger(one: Any, other: Any) -> Any:
    if not is_array(one) and not is_array(other):
        return max(one, other)
    import numpy as np

    return np.asarray(np.maximum(one, other))


def _at_each_place(function: Callable[..., float]) -> Callable[..., Floats]:
    import numpy as np

    call = np.vectorize(function, otypes=[np.float64])

    def quietly(*values: Floats) -> Floats:
        # As floats do, whose comparisons with nan warn of nothing.
        with np.errstate(all="ignore"):
            found: Floats = call(*values)
        return found

    return quietly


def none_outside(
    values: Floats, low: float, high: float, *, above_low: bool = False, below_high: bool = False
) -> Floats:
    """Return an array with nan where a figure is not finite or not from low to high.

    above_low, below_high: that end itself is out.
    """
    import numpy as np

    figures = np.asarray(values, dtype=np.float64)
    high_enough = figures > low if above_low else figures >= low
    low_enough = figures < high if below_high else figures <= high
    return np.where(np.isfinite(figures) & high_enough & low_enough, figures, np.nan)
