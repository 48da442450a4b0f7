"""How far a plane-parallel plate of glass in the converging beam moves the focus."""

import math

from server.optics.ranges import checked, checked_focal_ratio, checked_length_mm

#: Refractive index of N-BK7 at 587.56 nm (d line), the usual glass of filters and windows.
#: Source: six-digit glass code 517642 and the published Sellmeier coefficients of this glass.
N_BK7_INDEX = 1.5168

#: Optical materials for visible light end below 3 (diamond has 2.4); 1 is no glass at all.
LOWEST_INDEX = 1.0
HIGHEST_INDEX = 3.0


def plate_shift_mm(thickness_mm: float, index: float, focal_ratio: float | None = None) -> float:
    """Return how far the plate moves the focus away from the sky, in mm (never negative).

    A spacing between corrector and sensor has to grow by this much when the plate stands in it.

    thickness_mm: 0 to 100 000 mm. index: refractive index, 1 to 3. focal_ratio: N of the beam, 0.5
    to 1000, for the ray from the aperture's edge; None for the ray near the axis, whose shift is
    smaller (in N-BK7 by 0.2 % at f/8, 3.2 % at f/2).

    Raises ValueError outside those ranges. Not modelled: tilt of the plate, dispersion (N-BK7 across
    486 to 656 nm: 0.7 % of the shift), and the spherical aberration that the plate adds.
    Source: Smith, Modern Optical Engineering, plane-parallel plate (from memory); Snell's law.
    """
    thickness = checked_length_mm("The plate's thickness", thickness_mm)
    n = checked(
        "The refractive index",
        index,
        LOWEST_INDEX,
        HIGHEST_INDEX,
        "",
        "Give the glass's index, such as 1.5168 for N-BK7.",
    )
    if focal_ratio is None:
        return thickness * (n - 1.0) / n  # Paraxial: t (n - 1) / n.
    # The edge ray leaves a flat pupil of diameter D at distance f: the tangent, not the sine, is 1/(2N).
    angle = math.atan(1.0 / (2.0 * checked_focal_ratio(focal_ratio)))
    return thickness * (1.0 - math.cos(angle) / math.sqrt(n * n - math.sin(angle) ** 2))  # Snell, exact.
