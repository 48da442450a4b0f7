"""Light through a round stop in the converging beam, and the natural fall-off of a wide field.

The beam of one image point is a cone: its tip on the sensor, its base in the exit pupil. A stop at
a distance x before the sensor sees a disc of it. Where glass stands between stop and sensor, x is
the distance in air, that is, the mechanical one less `glass.plate_shift_mm`.
"""

import math
from collections.abc import Iterable

from server.optics.ranges import checked, checked_focal_ratio, checked_length_mm
from server.optics.roots import bisect

_APERTURE_TOLERANCE_MM = 1e-9


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


def beam_diameter_mm(distance_mm: float, focal_ratio: float) -> float:
    """Return the diameter, mm, of one image point's cone at a distance before the sensor.

    distance_mm: 0 to 100 000 mm towards the sky, in air. focal_ratio: N at the sensor, 0.5 to 1000.
    Raises ValueError outside. Source: similar triangles, x / N.
    """
    return checked_length_mm("The distance before the sensor", distance_mm) / checked_focal_ratio(focal_ratio)


def beam_offset_mm(height_mm: float, distance_mm: float, pupil_distance_mm: float = math.inf) -> float:
    """Return how far from the axis, mm, the middle of the cone stands at a distance before the sensor.

    height_mm: image height, 0 to 100 000 mm. distance_mm: 0 to the exit pupil, towards the sky, in air.
    pupil_distance_mm: exit pupil before the sensor, above 0, to 100 000 mm, or infinity (beams parallel to
    the axis, the widest case for a pupil on the sky's side). Raises ValueError outside.
    Source: similar triangles, h (1 - x / L).
    """
    height = checked_length_mm("The image height", height_mm)
    distance = checked_length_mm("The distance before the sensor", distance_mm)
    if pupil_distance_mm == math.inf:
        return height
    pupil = checked_length_mm("The exit pupil's distance", pupil_distance_mm, above_zero=True)
    checked(
        "The distance before the sensor",
        distance,
        0.0,
        pupil,
        "mm",
        "The stop must stand between the exit pupil and the sensor.",
    )
    return height * (1.0 - distance / pupil)


def fraction_through(
    stop_diameter_mm: float,
    distance_mm: float,
    focal_ratio: float,
    height_mm: float,
    pupil_distance_mm: float = math.inf,
) -> float:
    """Return the share (0 to 1) of one image point's light that a centred round stop lets through.

    stop_diameter_mm: clear diameter, 0 to 100 000 mm. distance_mm: 0 to the exit pupil, towards the sky, in
    air. focal_ratio: N at the sensor, 0.5 to 1000. height_mm: image height, 0 to 100 000 mm.
    pupil_distance_mm: exit pupil before the sensor, or infinity. Raises ValueError outside.
    Not modelled: the shadow of a central obstruction (the cone is taken as evenly filled), stops off the
    axis, square stops, other stops in the same beam (see `bounds_on_combined_fraction`).
    Source: overlap of two discs over the cone's area (plane geometry).
    """
    stop = checked_length_mm("The stop's clear diameter", stop_diameter_mm)
    cone = beam_diameter_mm(distance_mm, focal_ratio)
    offset = beam_offset_mm(height_mm, distance_mm, pupil_distance_mm)
    return _share_through(stop / 2.0, cone / 2.0, offset)


def _share_through(stop: float, cone: float, offset: float) -> float:
    if offset + cone <= stop:
        return 1.0
    if cone == 0.0:
        return 0.0
    # In units of the cone's radius a tiny cone keeps its digits.
    return min(1.0, _overlap(stop / cone, 1.0, offset / cone) / math.pi)


def aperture_for_full_light_mm(
    distance_mm: float, focal_ratio: float, height_mm: float, pupil_distance_mm: float = math.inf
) -> float:
    """Return the smallest clear diameter, mm, that lets all light of this image height through.

    Arguments, ranges and errors as `fraction_through`.
    Source: plane geometry, 2 h (1 - x / L) + x / N.
    """
    offset = beam_offset_mm(height_mm, distance_mm, pupil_distance_mm)
    return 2.0 * offset + beam_diameter_mm(distance_mm, focal_ratio)


def aperture_for_fraction_mm(
    fraction: float,
    distance_mm: float,
    focal_ratio: float,
    height_mm: float,
    pupil_distance_mm: float = math.inf,
) -> float:
    """Return the smallest clear diameter, mm, that lets a chosen share of the light through.

    fraction: above 0, to 1. The others, ranges and errors as `fraction_through`.
    Good to 1e-9 mm. Source: `fraction_through` (plane geometry), solved by bisection.
    """
    wanted = checked(
        "The share of light to keep",
        fraction,
        0.0,
        1.0,
        "",
        "Give a share such as 0.9 for 90 %.",
        above_low=True,
    )
    full = aperture_for_full_light_mm(distance_mm, focal_ratio, height_mm, pupil_distance_mm)
    cone = beam_diameter_mm(distance_mm, focal_ratio)
    if wanted == 1.0 or cone == 0.0:
        return full  # On the sensor itself the cone is a point: all or nothing.
    offset = beam_offset_mm(height_mm, distance_mm, pupil_distance_mm)

    def surplus(diameter: float) -> float:
        return _share_through(diameter / 2.0, cone / 2.0, offset) - wanted

    return bisect(surplus, 0.0, full, _APERTURE_TOLERANCE_MM)


def natural_falloff(field_angle_deg: float) -> float:
    """Return the brightness (0 to 1) at a field angle against the centre, by the cosine-fourth law.

    field_angle_deg: 0 to below 90 degrees, in the space where the cone meets the flat sensor. Raises
    ValueError outside. For a telescope of a few degrees it is below 1 %; pupil aberrations of wide lenses
    change it.
    Source: cosine-fourth law; Smith, Modern Optical Engineering (from memory).
    """
    angle = checked(
        "The field angle", field_angle_deg, 0.0, 90.0, "degrees", "Give half the field.", below_high=True
    )
    return math.cos(math.radians(angle)) ** 4


def bounds_on_combined_fraction(fractions: Iterable[float]) -> tuple[float, float]:
    """Return (at least, at most) of the light that passes several stops, each known only alone.

    fractions: the share that each stop alone lets through, 0 to 1; none at all gives (1, 1). Raises
    ValueError outside. At most: all cut the same part of the cone. At least: each cuts another part.
    Source: Frechet's inequalities for the measure of an intersection (Frechet 1935): max(0, 1 - sum of
    losses) and min.
    """
    least_loss = 0.0
    summed_loss = 0.0
    for fraction in fractions:
        loss = 1.0 - checked(
            "The share of light through a stop", fraction, 0.0, 1.0, "", "Give a share from 0 to 1."
        )
        least_loss = max(least_loss, loss)
        summed_loss += loss
    return max(0.0, 1.0 - summed_loss), 1.0 - least_loss


def _cosine(value: float) -> float:
    # Rounding may carry a cosine past 1 where the discs all but touch.
    return min(1.0, max(-1.0, value))
