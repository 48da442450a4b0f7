"""Two spacings of the sensor behind its corrector, and where each aberration would vanish."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from server.frames.surface import Told

#: Of the way from the spacings: how far a line may be off what a corrector does (common practice, no source).
_BENT = 0.02
_NOT_IN_LINE = 4.0


class NotInLineError(ValueError):
    """What was measured at three or more spacings lies on no line: something else changed between them."""


def vanishes_at_mm(spacings_mm: Sequence[float], values: Sequence[Told]) -> Told | None:
    """Return the spacing at which what was measured at two or more spacings is 0, with its standard error.

    The slope belongs to the corrector and is taken as one over so small a change: a share of that is added to
    the error. None where the spacings are the same, or the slope is within twice its error. Raises
    NotInLineError where three or more do not lie on a line. Source: a straight line by least squares; the
    error of its zero to first order.
    """
    place, value = np.array(spacings_mm, dtype=float), np.array([one.value for one in values])
    weight = np.array([one.error for one in values]) ** -2.0
    if len(place) < 2 or float(np.ptp(place)) <= 0.0:
        return None
    middle = float((weight * place).sum() / weight.sum())
    height = float((weight * value).sum() / weight.sum())
    lever = float((weight * (place - middle) ** 2).sum())
    slope = float((weight * (place - middle) * (value - height)).sum()) / lever
    slope_error = lever**-0.5
    off = (value - height - slope * (place - middle)) ** 2 * weight
    if float(off.max()) > _NOT_IN_LINE**2:
        raise NotInLineError
    if abs(slope) <= 2.0 * slope_error:
        return None
    away = -height / slope
    error = math.sqrt(1.0 / float(weight.sum()) + (away * slope_error) ** 2) / abs(slope)
    furthest = max(float(np.ptp(place)), float(np.abs(place - middle - away).max()))
    return Told(middle + away, math.hypot(error, _BENT * furthest))
