"""One figure or a whole array of them: what lets one formula of the ground serve both.

numpy is only imported where an array comes in, so that the bench starts without it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from typing_extensions import TypeIs, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]

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
    if any(map(is_array, values)):
        import numpy as np

        call = np.vectorize(function, otypes=[np.float64])
    found: Number = call(*values)
    return found


def none_outside(values: Floats, within: Callable[[Floats], Any]) -> Floats:
    """Return an array with nan wherever a figure is not within; nan itself never is."""
    import numpy as np

    figures = np.asarray(values, dtype=np.float64)
    kept: Floats = np.where(within(figures), figures, np.nan)
    return kept
