"""The one gate of the sky's array functions: figures, or whole arrays of them, within their range."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from server.out_of_range import OutOfRangeError

Numbers = npt.NDArray[np.float64]


def checked(
    what: str, value: npt.ArrayLike, low: float, high: float, unit: str, fix: str, *, above: bool = False
) -> Numbers:
    """Return the figures as an array of float64, of the same shape (none for a plain number).

    what: "The altitude"; unit: "degrees", or nothing; fix: the sentence that says what to do. above: the
    lower end itself is refused too. Raises OutOfRangeError, with the first figure that is beyond low and high
    or is no number.
    """
    figures = np.asarray(value, dtype=np.float64)
    wrong = ~((figures > low if above else figures >= low) & (figures <= high))
    if np.any(wrong):
        first = float(figures[wrong].flat[0]) if figures.ndim else float(figures)
        suffix = f" {unit}" if unit else ""
        least = f"more than {low:g} and at most {high:g}" if above else f"{low:g} to {high:g}"
        raise OutOfRangeError(f"{what} is {first:g}{suffix}; it must be {least}{suffix}. {fix}")
    return figures
