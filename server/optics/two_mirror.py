"""Tubes of two mirrors that focus by moving the primary: what more back distance does to them.

Paraxial and exact in that sense: the primary of focal length f1 > 0 and a convex secondary that magnifies by
m stand apart by a separation. p is the way from the secondary to the primary's focus, p' from the secondary
to the final one.
"""

import math
from dataclasses import dataclass

from server.optics.ranges import LONGEST_MM, checked, checked_length_mm, checked_wavelength_nm
from server.optics.roots import bisect
from server.out_of_range import OutOfRangeError

_MM_PER_NM = 1e-6
_RANGE_TOLERANCE_MM = 1e-4


@dataclass(frozen=True)
class TwoMirrors:
    """A tube as its maker set it: lengths mm.

    primary_focal_mm: f1, above 0, to 100 000 mm. magnification: m = f / f1 of the secondary, above 1, to 20.
    separation_mm: vertex to vertex, above 0, below f1. Raises ValueError outside.
    """

    primary_focal_mm: float
    magnification: float
    separation_mm: float

    def __post_init__(self) -> None:
        """Refuse figures that give no such tube."""
        f1 = checked_length_mm("The primary's focal length", self.primary_focal_mm, above_zero=True)
        checked(
            "The secondary's magnification",
            self.magnification,
            1.0,
            20.0,
            "",
            "Give the whole focal length over the primary's.",
            above_low=True,
        )
        checked(
            "The separation of the mirrors",
            self.separation_mm,
            0.0,
            f1,
            "mm",
            "The secondary stands between the primary and its focus.",
            above_low=True,
            below_high=True,
        )

    @property
    def focal_mm(self) -> float:
        """The whole focal length, mm."""
        return self.primary_focal_mm * self.magnification

    @property
    def secondary_focal_mm(self) -> float:
        """The secondary's focal length, mm, as a positive number (it is convex)."""
        p = self.primary_focal_mm - self.separation_mm
        return p * self.magnification / (self.magnification - 1.0)  # From 1/p' = 1/p - 1/f2, m = p'/p.

    @property
    def back_mm(self) -> float:
        """From the primary's vertex to the focus, mm; positive behind it (away from the sky)."""
        return self.magnification * (self.primary_focal_mm - self.separation_mm) - self.separation_mm


def moved_back(tube: TwoMirrors, further_mm: float) -> TwoMirrors:
    """Return the tube after its primary has moved so that the focus lies further behind the fixed secondary.

    further_mm: against the tube as given, away from the sky, of either sign; the focus must stay behind the
    secondary. Raises ValueError outside. The whole focal length changes by further x f1 / f2.
    Source: Gaussian optics: m = 1 + p'/f2, as any extender.
    """
    f2 = tube.secondary_focal_mm
    image = tube.magnification * (tube.primary_focal_mm - tube.separation_mm)
    further = checked(
        "The further back distance",
        further_mm,
        -image,
        LONGEST_MM,
        "mm",
        "The focus must stay behind the secondary.",
        above_low=True,
    )
    m = 1.0 + (image + further) / f2
    p = (image + further) / m
    return TwoMirrors(tube.primary_focal_mm, m, tube.primary_focal_mm - p)


def added_spherical_mm(
    tube: TwoMirrors, aperture_mm: float, secondary_conic: float, further_mm: float
) -> float:
    """Return the third-order spherical aberration W040, mm of wavefront, that moving the primary adds.

    aperture_mm: above 0, to 100 000 mm. secondary_conic: the secondary's conic constant, -100 to 100: 0 for a
    sphere. further_mm and errors as `moved_back`. Signed; 0 for the tube as given, which is taken as free of
    it whatever its design, since primary and corrector plate stay as they are for light from infinity.
    Positive where the light at the edge comes to focus nearer to the secondary.
    At the best focus the wavefront's valley is a quarter of it deep. Third order only: at a primary of f/2
    the next order adds some per cent.
    Source: third-order aberration of a conic mirror at finite conjugates, y^4 / (4 R^3) (K + ((m + 1) /
    (m - 1))^2); Schroeder, Astronomical Optics, chapters 5 and 6 (from memory).
    """
    diameter = checked_length_mm("The aperture", aperture_mm, above_zero=True)
    conic = checked("The conic constant", secondary_conic, -100.0, 100.0, "", "Give 0 for a sphere.")
    radius = 2.0 * tube.secondary_focal_mm
    return _secondary_term(moved_back(tube, further_mm), diameter, conic, radius) - _secondary_term(
        tube, diameter, conic, radius
    )


def _secondary_term(tube: TwoMirrors, diameter: float, conic: float, radius: float) -> float:
    f1, m = tube.primary_focal_mm, tube.magnification
    height = diameter / 2.0 * (f1 - tube.separation_mm) / f1  # The marginal ray on the secondary.
    bending = conic + ((m + 1.0) / (m - 1.0)) ** 2
    return -(height**4) / (4.0 * radius**3) * bending


def good_range_mm(
    tube: TwoMirrors,
    aperture_mm: float,
    secondary_conic: float,
    wavelength_nm: float,
    least_mm: float = -200.0,
    most_mm: float = 500.0,
) -> tuple[float, float]:
    """Return (nearest, furthest) change of back distance, mm, that keeps the star within a quarter wave.

    Arguments as `added_spherical_mm`. wavelength_nm: 200 to 2500 nm. least_mm (below 0), most_mm (above 0):
    how far is looked; an answer at such an end means that it is at least as far. Raises ValueError outside.
    An estimate: the maker's own spacing is taken as the one without spherical aberration; coma and the
    curved field, which change more slowly for the axis but not for the corner, are left out.
    Source: W040 of one wave is a quarter wave at the best focus (Rayleigh); `added_spherical_mm`.
    """
    wave = checked_wavelength_nm(wavelength_nm) * _MM_PER_NM
    image = tube.magnification * (tube.primary_focal_mm - tube.separation_mm)
    least = checked("The nearest change", least_mm, -LONGEST_MM, 0.0, "mm", "Give it below 0.")
    most = checked("The furthest change", most_mm, 0.0, LONGEST_MM, "mm", "Give it above 0.")
    # Half of the way to the secondary is far beyond any use, and keeps the equations from their poles.
    least = max(least, -0.5 * image)

    def surplus(further: float) -> float:
        return abs(added_spherical_mm(tube, aperture_mm, secondary_conic, further)) - wave

    ends = []
    for end in (least, most):
        if surplus(end) <= 0.0:
            ends.append(end)
        else:
            ends.append(bisect(surplus, min(0.0, end), max(0.0, end), _RANGE_TOLERANCE_MM))
    return ends[0], ends[1]


def separation_for_back_mm(primary_focal_mm: float, magnification: float, back_mm: float) -> float:
    """Return the separation of the mirrors, mm, from the place of the focus behind the primary's vertex.

    primary_focal_mm: above 0, to 100 000 mm. magnification: above 1, to 20. back_mm: above -f1, to 100 000
    mm. Raises ValueError outside. Source: Gaussian optics, (1 - k) f1 with k = (1 + beta) / (m + 1).
    """
    f1 = checked_length_mm("The primary's focal length", primary_focal_mm, above_zero=True)
    m = checked(
        "The secondary's magnification", magnification, 1.0, 20.0, "", "Give f over f1.", above_low=True
    )
    back = checked(
        "The back distance",
        back_mm,
        -f1,
        LONGEST_MM,
        "mm",
        "Measure it from the primary's vertex.",
        above_low=True,
    )
    separation = f1 - (f1 + back) / (m + 1.0)
    if separation <= 0.0 or not math.isfinite(separation):
        raise OutOfRangeError(
            f"A focus {back:g} mm behind a primary of {f1:g} mm focal length leaves no room for a secondary "
            f"that magnifies {m:g} times. Check the three figures."
        )
    return separation
