"""How the stars of a kind of tube grow over the field, by third-order theory.

A tube of mirrors is summed surface by surface from two paraxial rays (Seidel's sums); a thin doublet has
closed forms. What comes out are `FieldTerms`: um of wave at the pupil's edge, against mm of image height.

Good to a part in a hundred or two for the fields and focal ratios of amateurs: at f/4 the exact coma is 0.6
% larger half a degree off the axis. Not modelled: higher orders, colour.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from server.optics.ranges import checked, checked_focal_ratio, checked_length_mm
from server.optics.two_mirror import TwoMirrors
from server.optics.wavefront import FieldTerms

#: Petzval's sum of a cemented crown-and-flint doublet (517642 with 620364), in units of 1/f; of a pair of
#: fluor crown with crown. Source: sum of power over index, with the glasses' catalogue figures (from
#: memory).
ACHROMAT_PETZVAL, APOCHROMAT_PETZVAL = 0.71425, 0.7696


@dataclass(frozen=True)
class _Mirror:
    """radius_mm: negative where the centre lies towards the sky. to_next_mm: signed way to the next one."""

    radius_mm: float
    conic: float
    to_next_mm: float = 0.0


@dataclass(frozen=True)
class _Sums:
    """W131, W222 and W220 (sagittal), and W040, um at the edge for a field of 1 mm of image height."""

    spherical: float
    coma: float
    astig: float
    sagittal: float


def _sums(mirrors: tuple[_Mirror, ...], aperture_mm: float, focal_mm: float, stop_before_mm: float) -> _Sums:
    """Seidel's sums over mirrors, the stop in the light's way `stop_before_mm` before the first one.

    Source: Welford, Aberrations of Optical Systems, ch. 8 (from memory).
    """
    y, u = aperture_mm / 2.0, 0.0
    angle = 1.0 / focal_mm
    y_bar, u_bar = stop_before_mm * angle, angle
    n = 1.0
    one = two = three = four = 0.0
    invariant = n * (u_bar * y - u * y_bar)
    for mirror in mirrors:
        c = 1.0 / mirror.radius_mm
        after = -n
        a, a_bar = n * (y * c + u), n * (y_bar * c + u_bar)
        u_after = (n * u - y * c * (after - n)) / after
        u_bar_after = (n * u_bar - y_bar * c * (after - n)) / after
        change = u_after / after - u / n
        one += -a * a * y * change
        two += -a * a_bar * y * change
        three += -a_bar * a_bar * y * change
        four += -invariant * invariant * c * (1.0 / after - 1.0 / n)
        figured = mirror.conic * c**3 * y**4 * (after - n)
        ratio = y_bar / y
        one += figured
        two += figured * ratio
        three += figured * ratio * ratio
        y, u, n = y + mirror.to_next_mm * u_after, u_after, after
        y_bar, u_bar = y_bar + mirror.to_next_mm * u_bar_after, u_bar_after
    return _Sums(one / 8.0 * 1000.0, two / 2.0 * 1000.0, three / 2.0 * 1000.0, (three + four) / 4.0 * 1000.0)


def _terms(sums: _Sums, *, corrected_sphere: bool = False) -> FieldTerms:
    # (x along the field)^2 is half of rho^2 and half of x^2 - y^2.
    return FieldTerms(
        spherical_um=0.0 if corrected_sphere else sums.spherical,
        coma_um_per_mm=sums.coma,
        astig_um_per_mm2=sums.astig / 2.0,
        curve_um_per_mm2=sums.sagittal + sums.astig / 2.0,
    )


def paraboloid_terms(focal_length_mm: float, focal_ratio: float) -> FieldTerms:
    """Return the terms of a paraboloid with its stop at the mirror: a Newtonian.

    focal_length_mm: above 0. focal_ratio: 0.5 to 1000. Raises ValueError outside.
    Source: Schroeder, Astronomical Optics, ch. 5: tangential coma 3 theta / (16 N^2), astigmatism theta^2 /
    (2 N), the sagittal surface flat (from memory).
    """
    f, n = _checked(focal_length_mm, focal_ratio)
    return FieldTerms(
        coma_um_per_mm=-1000.0 / (32.0 * n**3),
        astig_um_per_mm2=1000.0 / (16.0 * n * n * f),
        curve_um_per_mm2=1000.0 / (16.0 * n * n * f),
    )


@dataclass(frozen=True)
class Conics:
    """The conic constants of primary and secondary; a sphere has 0."""

    primary: float
    secondary: float


def ritchey_chretien(tube: TwoMirrors) -> Conics:
    """Return the conics that leave neither spherical aberration nor coma.

    Source: Schroeder, Astronomical Optics, ch. 6 (from memory).
    """
    m, beta = tube.magnification, tube.back_mm / tube.primary_focal_mm
    return Conics(
        -1.0 - 2.0 * (1.0 + beta) / (m * m * (m - beta)),
        -(((m + 1.0) / (m - 1.0)) ** 2) - 2.0 * m * (m + 1.0) / ((m - beta) * (m - 1.0) ** 3),
    )


def classical(tube: TwoMirrors) -> Conics:
    """Return a paraboloid with the hyperboloid that belongs to it. Source: as `ritchey_chretien`."""
    m = tube.magnification
    return Conics(-1.0, -(((m + 1.0) / (m - 1.0)) ** 2))


def two_mirror_terms(tube: TwoMirrors, focal_ratio: float, conics: Conics) -> FieldTerms:
    """Return the terms of two mirrors with the stop at the primary.

    focal_ratio: of the whole tube, 0.5 to 1000. Raises ValueError outside.
    Source: Seidel's sums; Welford, Aberrations of Optical Systems, ch. 8 (from memory).
    """
    _, n = _checked(tube.focal_mm, focal_ratio)
    return _terms(_sums(_mirrors(tube, conics), tube.focal_mm / n, tube.focal_mm, 0.0))


def plate_and_spheres_terms(tube: TwoMirrors, focal_ratio: float) -> FieldTerms:
    """Return the terms of two spheres behind a thin plate that stands beside the secondary and takes
    spherical aberration away: a Schmidt-Cassegrain, and in rough a Maksutov.

    focal_ratio: as `two_mirror_terms`. The plate is the stop, and adds nothing off the axis. What makers do
    with other figures of the mirrors is not known: use it as the size of the thing. Source: Seidel's sums; a
    plate at the stop (Schroeder, Astronomical Optics, ch. 7, from memory).
    """
    _, n = _checked(tube.focal_mm, focal_ratio)
    mirrors = _mirrors(tube, Conics(0.0, 0.0))
    sums = _sums(mirrors, tube.focal_mm / n, tube.focal_mm, tube.separation_mm)
    return _terms(sums, corrected_sphere=True)


def _mirrors(tube: TwoMirrors, conics: Conics) -> tuple[_Mirror, ...]:
    return (
        _Mirror(-2.0 * tube.primary_focal_mm, conics.primary, -tube.separation_mm),
        _Mirror(-2.0 * tube.secondary_focal_mm, conics.secondary),
    )


def doublet_terms(
    focal_length_mm: float, focal_ratio: float, petzval: float = ACHROMAT_PETZVAL
) -> FieldTerms:
    """Return the terms of a thin lens with its stop, corrected for spherical aberration and coma: a
    refractor.

    petzval: Petzval's sum in units of 1/f, 0 to 2. Raises ValueError outside. An objective of groups that
    stand apart has another field: give its own radius (`with_field_radius`). Source: thin lens at the stop:
    sagittal -f / (1 + P), tangential -f / (3 + P); Mahajan, Aberration Theory Made Easy (from memory,
    confirmed by a ray trace of cemented doublets to 3 %).
    """
    f, n = _checked(focal_length_mm, focal_ratio)
    p = checked("Petzval's sum", petzval, 0.0, 2.0, "", "Crown and flint have about 0.71.")
    sagittal, tangential = (1.0 + p) / f, (3.0 + p) / f
    return FieldTerms(
        astig_um_per_mm2=1000.0 * (tangential - sagittal) / (32.0 * n * n),
        curve_um_per_mm2=1000.0 * (tangential + sagittal) / (32.0 * n * n),
    )


def with_field_radius(terms: FieldTerms, radius_mm: float, focal_ratio: float) -> FieldTerms:
    """Return the terms with the curvature of a field whose surface of best focus has this radius.

    radius_mm: above 0, hollow towards the sky. focal_ratio: 0.5 to 1000. Raises ValueError outside.
    Source: sagitta h^2 / (2 R), and defocus d / (8 N^2).
    """
    radius = checked("The field's radius", radius_mm, 0.0, 1e6, "mm", "Give it in mm.", above_low=True)
    n = checked_focal_ratio(focal_ratio)
    return FieldTerms(
        terms.spherical_um, terms.coma_um_per_mm, terms.astig_um_per_mm2, 1000.0 / (16.0 * radius * n * n)
    )


def rescaled(terms: FieldTerms, factor: float) -> FieldTerms:
    """Return the terms behind a lens that changes the focal length by a factor and corrects nothing.

    factor: above 0. The wave at the pupil stays as it is; the heights change with the focal length.
    Source: Gaussian optics.
    """
    m = checked("The factor", factor, 0.0, 100.0, "", "Give a factor such as 0.8.", above_low=True)
    return FieldTerms(
        terms.spherical_um,
        terms.coma_um_per_mm / m,
        terms.astig_um_per_mm2 / (m * m),
        terms.curve_um_per_mm2 / (m * m),
    )


@dataclass(frozen=True)
class Misaligned:
    """Coma, um of wave at the edge, over the whole field: per mm that the secondary stands off the axis, and
    per arcminute that it is tilted about its vertex.
    """

    per_mm: float
    per_arcmin: float


def secondary_misaligned(tube: TwoMirrors, focal_ratio: float, conics: Conics) -> Misaligned:
    """Return the coma that a secondary out of place draws into every star.

    focal_ratio: as `two_mirror_terms`. Signs: magnitudes only. The shift of the picture, and the tilt of the
    field, are not looked at.
    Source: the secondary's own part of Seidel's sum for a chief ray that meets it off its vertex, or turned;
    compare Schroeder, Astronomical Optics, ch. 6 (from memory).
    """
    _, n = _checked(tube.focal_mm, focal_ratio)
    aperture = tube.focal_mm / n
    f1 = tube.primary_focal_mm
    y = aperture / 2.0 * (1.0 - tube.separation_mm / f1)
    c = -1.0 / (2.0 * tube.secondary_focal_mm)
    # Light comes back from the primary: index -1, and the marginal ray closes towards the axis along -z.
    u = aperture / 2.0 / f1
    a = -(y * c + u)
    u_after = -u - y * c * 2.0
    change = u_after + u
    figured = conics.secondary * c**3 * y**4 * 2.0
    # A sphere knows no vertex: only where its centre lies. The figure on it knows its vertex alone.
    decentred = -a * (-c) * y * change + figured / y
    tilted = -a * (-1.0) * y * change
    arcmin = math.radians(1.0 / 60.0)
    return Misaligned(abs(decentred) / 2.0 * 1000.0, abs(tilted) / 2.0 * 1000.0 * arcmin)


def left_over(terms: FieldTerms, error_mm: float, distance_mm: float) -> FieldTerms:
    """Return what a corrector leaves that takes all of a tube's terms away at its own distance, and stands
    off it.

    error_mm: how much further from the sensor it stands, of either sign; small against distance_mm, its own
    distance (above 0). The focus is set anew. The corrector's part of coma goes with the cube of the beam's
    radius at it, that of astigmatism and curvature with the square: what is left grows evenly with the
    error. Exact for a plate of fixed figure; a lens whose beam changes with it may leave up to about twice
    as much, or less. Raises ValueError outside. Source: third-order theory of a thin element: coma ~ y^3,
    astigmatism ~ y^2 (Welford, ch. 8, from memory).
    """
    d = checked_length_mm("The corrector's distance", distance_mm, above_zero=True)
    share = checked("The error of the distance", error_mm, -d, d, "mm", "Give less than the distance.") / d
    return FieldTerms(
        0.0,
        -3.0 * share * terms.coma_um_per_mm,
        -2.0 * share * terms.astig_um_per_mm2,
        -2.0 * share * terms.curve_um_per_mm2,
    )


def spherical_of_strehl_um(strehl: float, wavelength_nm: float) -> float:
    """Return the spherical aberration, um of wave at the edge at its best focus, that leaves a Strehl ratio.

    strehl: 0.1 to 1 on the axis. The maker's figure says nothing of its kind: taken as spherical, assumed.
    Source: exp(-(2 pi s)^2) with s = W040 / sqrt(180) at the best focus (Marechal; Born & Wolf, sec. 9.2 to
    9.3, from memory); good to a few percent above 0.5.
    """
    s = checked("The Strehl ratio", strehl, 0.1, 1.0, "", "Give a share of 1, such as 0.95.")
    waves = math.sqrt(-math.log(s)) / (2.0 * math.pi)
    return waves * math.sqrt(180.0) * wavelength_nm / 1000.0


def spot_at(rows: tuple[tuple[float, float], ...], height_mm: float) -> float | None:
    """Return the spot (um) at a height from rows of heights (mm, rising) and spots; None beyond the last row.

    Before the first row its own spot holds. Source: linear interpolation.
    """
    if not rows or height_mm > rows[-1][0] + 1e-9:
        return None
    if height_mm <= rows[0][0]:
        return rows[0][1]
    for (low, a), (high, b) in pairwise(rows):
        if low <= height_mm <= high + 1e-9:
            return a + (b - a) * (height_mm - low) / (high - low) if high > low else b
    return rows[-1][1]


def drawn_blur_um(rows: tuple[tuple[float, float], ...], height_mm: float) -> float:
    """Return the RMS radius (um) of a maker's spot at a height, 0 without any.

    rows: as `spot_at`, RMS diameters; beyond the last row its own spot holds. Source: `spot_at`.
    """
    if not rows:
        return 0.0
    found = spot_at(rows, height_mm)
    return (rows[-1][1] if found is None else found) / 2.0


def _checked(focal_length_mm: float, focal_ratio: float) -> tuple[float, float]:
    return checked_length_mm("The focal length", focal_length_mm, above_zero=True), checked_focal_ratio(
        focal_ratio
    )
