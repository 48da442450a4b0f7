"""The area that two discs have in common."""

import math

from server.optics.ranges import checked_length_mm


def disc_overlap_area_mm2(first_radius_mm: float, second_radius_mm: float, centres_mm: float) -> float:
    """Return the area that two discs have in common, mm^2 (0 where they are apart or touch).

    first_radius_mm, second_radius_mm: 0 to 100 000 mm. centres_mm: distance of their centres, same range.
    Raises ValueError outside. Source: plane geometry (two circular segments).
    """
    r1 = checked_length_mm("The first radius", first_radius_mm)
    r2 = checked_length_mm("The second radius", second_radius_mm)
    return _overlap(r1, r2, checked_length_mm("The distance of the centres", centres_mm))


def _overlap(r1: float, r2: float, d: float) -> float:
    if d >= r1 + r2:
        return 0.0
    # In units of the larger radius no product underflows; a distance that does is none.
    scale = max(r1, r2)
    if d <= abs(r1 - r2) or d / scale == 0.0:
        return math.pi * min(r1, r2) ** 2
    r1, r2, d = r1 / scale, r2 / scale, d / scale
    a = math.acos(_cosine((r1 * r1 + (d - r2) * (d + r2)) / (2.0 * d * r1)))
    b = math.acos(_cosine((r2 * r2 + (d - r1) * (d + r1)) / (2.0 * d * r2)))
    area = r1 * r1 * (a - math.sin(2.0 * a) / 2.0) + r2 * r2 * (b - math.sin(2.0 * b) / 2.0)
    return scale * scale * min(max(area, 0.0), math.pi * min(r1, r2) ** 2)


def _cosine(value: float) -> float:
    # Rounding may carry a cosine past 1 where the discs all but touch.
    return min(1.0, max(-1.0, value))
