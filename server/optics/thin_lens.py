"""A reducer or extender away from its nominal spacing, as one thin lens.

Distances run from the lens's rear principal plane to the sensor. Makers quote from a flange: where that plane
lies d_pp before the flange (towards the sky), the focal length found here from (factor, distance) is wrong by
d_pp / (1 - m0), and the change of the factor with the spacing with it. Good while d_pp is small against that
focal length. Real correctors are made for one spacing: how their aberrations grow is not modelled.
"""

from dataclasses import dataclass

from server.optics.ranges import checked, checked_length_mm
from server.out_of_range import OutOfRangeError

#: Factors nearer to 1 than this belong to flatteners, whose power says nothing.
_LEAST_POWER = 1e-6
_SMALLEST_FACTOR = 0.05
_LARGEST_FACTOR = 20.0


@dataclass(frozen=True)
class ThinLens:
    """A reducer (focal length above 0) or an extender (below 0), mm."""

    focal_mm: float

    @property
    def reduces(self) -> bool:
        """True for a reducer."""
        return self.focal_mm > 0.0


def thin_lens(factor: float, distance_mm: float) -> ThinLens:
    """Return the thin lens that works by a factor at a distance before the sensor.

    factor: 0.05 to 20, not 1; below 1 for a reducer. distance_mm: above 0, to 100 000 mm. Raises ValueError
    outside, and for a factor of 1, which a flattener has at every distance.
    Source: Gaussian optics, fR = d0 / (1 - m0).
    """
    m0 = checked(
        "The factor", factor, _SMALLEST_FACTOR, _LARGEST_FACTOR, "", "Give the factor, such as 0.8 or 2."
    )
    d0 = checked_length_mm("The distance", distance_mm, above_zero=True)
    if abs(1.0 - m0) < _LEAST_POWER:
        raise OutOfRangeError(
            f"The factor is {m0:g}; a lens that changes nothing has no focal length. "
            "Leave a flattener's factor at 1 at every distance."
        )
    return ThinLens(d0 / (1.0 - m0))


def working_factor(lens: ThinLens, distance_mm: float) -> float:
    """Return the factor at which the lens works at a distance before the sensor; above 0.

    distance_mm: 0 to 100 000 mm; for a reducer below its focal length. Raises ValueError outside.
    Source: Gaussian optics, m = 1 - d / f; an extender's f is negative.
    """
    d = checked_length_mm("The distance", distance_mm)
    if lens.reduces:
        checked(
            "The distance",
            d,
            0.0,
            lens.focal_mm,
            "mm",
            "A reducer forms no image further away than its focal length.",
            below_high=True,
        )
    return 1.0 - d / lens.focal_mm


def factor_per_mm(lens: ThinLens) -> float:
    """Return by how much the factor changes for each mm that the sensor stands further away (1/mm).

    Source: Gaussian optics, dm/dd = -1 / f.
    """
    return -1.0 / lens.focal_mm


def longitudinal_magnification(factor: float) -> float:
    """Return how far the image behind a corrector moves for each mm by which the image before it moves.

    factor: at which it works at the actual distance, 0.05 to 20. Raises ValueError outside. For moves that
    are small against the corrector's focal length; the same whether a drawtube that carries corrector and
    camera moves, or the focus of the tube before them. Source: longitudinal magnification m^2 (any text on
    Gaussian optics).
    """
    m = checked(
        "The factor", factor, _SMALLEST_FACTOR, _LARGEST_FACTOR, "", "Give the factor, such as 0.8 or 2."
    )
    return m * m


def in_travel_mm(lens: ThinLens, distance_mm: float) -> float:
    """Return how far before the bare tube's focus the new one lies, mm; negative for an extender (further
    out).

    Measured for a lens put into a given tube: the bare focus would lie d / m behind the lens. distance_mm and
    errors as `working_factor`. Source: Gaussian optics, d / m - d.
    """
    return distance_mm / working_factor(lens, distance_mm) - distance_mm
