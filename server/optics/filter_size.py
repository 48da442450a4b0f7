"""How large a filter must be at its place so that it takes no light from the sensor."""

from server.optics.beam import Beam, diameter_for_share_mm
from server.optics.ranges import checked_length_mm

UNVIGNETTED = 0.99
"""A corner that keeps so much shows no vignetting by the filter (a choice of ours, no source)."""


def round_needed_mm(beam: Beam, distance_mm: float, width_mm: float, height_mm: float) -> float:
    """Return the smallest clear diameter, mm, that keeps 99 % of the light of a sensor's corners.

    distance_mm: before the sensor, in air, 0 or more. width_mm, height_mm: of the sensor, above 0. Raises
    ValueError outside. Source: plane geometry, `beam.share_through`.
    """
    width, height = _sides(width_mm, height_mm)
    return diameter_for_share_mm(beam, distance_mm, UNVIGNETTED, (width**2 + height**2) ** 0.5 / 2.0)


def square_needed_mm(beam: Beam, distance_mm: float, width_mm: float, height_mm: float) -> float:
    """Return the smallest clear side, mm, of a square, sides along the sensor's, that passes all its light.

    Arguments and errors as `round_needed_mm`. Source: the rectangle of the beams' middles with a border of
    half a beam all round.
    """
    width, height = _sides(width_mm, height_mm)
    return abs(beam.middle(distance_mm)) * max(width, height) + 2.0 * beam.half_mm(distance_mm)


def _sides(width_mm: float, height_mm: float) -> tuple[float, float]:
    return (
        checked_length_mm("The sensor's width", width_mm, above_zero=True),
        checked_length_mm("The sensor's height", height_mm, above_zero=True),
    )
