"""What a function of the ground gives for arrays, place by place by its floats."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from server.out_of_range import OutOfRangeError


def one_by_one(function: Callable[..., float], *figures: np.ndarray) -> np.ndarray:
    """The function of floats at each place, nan where it refuses."""
    given = np.broadcast_arrays(*figures)
    found = [
        _or_none(function, place) for place in zip(*(one.ravel().tolist() for one in given), strict=True)
    ]
    return np.array(found).reshape(given[0].shape)


def _or_none(function: Callable[..., float], place: tuple[float, ...]) -> float:
    try:
        return function(*place)
    except OutOfRangeError:
        return math.nan
