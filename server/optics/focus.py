"""How far the sensor may stand from the focus before the star suffers."""

import math

from server.optics.ranges import (
    LONGEST_MM,
    checked,
    checked_focal_ratio,
    checked_obstruction,
    checked_wavelength_nm,
)

_MM_PER_NM = 1e-6
_UM_PER_MM = 1000.0
_WIDEST_BLUR_UM = 100_000.0


def depth_of_focus_mm(focal_ratio: float, wavelength_nm: float) -> float:
    """Return the one-sided depth of focus 2 lambda N^2, in mm: the sensor may stand this far to EITHER
    side.

    There the wavefront is a quarter wave out at the edge of an unobstructed aperture, and the
    star's peak has fallen to 81 % (Rayleigh's quarter-wave limit). Some texts print the whole zone,
    twice this value. A long exposure through seeing bears much more.

    focal_ratio: N, 0.5 to 1000. wavelength_nm: 200 to 2500 nm. Raises ValueError outside.
    Small-angle form: off by about 5 % at f/2 and 1 % at f/4.
    Source: W020 = defocus / (8 N^2) = lambda / 4; Born & Wolf, Principles of Optics, sec. 8.8 (from
    memory).
    """
    n = checked_focal_ratio(focal_ratio)
    return 2.0 * checked_wavelength_nm(wavelength_nm) * _MM_PER_NM * n * n  # 2 lambda N^2.


def blur_tolerance_mm(focal_ratio: float, blur_um: float) -> float:
    """Return how far, in mm to either side, the sensor may stand before the blur's diameter is `blur_um`.

    focal_ratio: N, 0.5 to 1000. blur_um: 0 to 100 000 um. Raises ValueError outside.
    Geometry alone: diffraction and seeing are left out.
    Source: similar triangles; the cone's diameter at a distance z from its tip is z/N.
    """
    blur = checked("The blur", blur_um, 0.0, _WIDEST_BLUR_UM, "um", "Give the diameter in micrometres.")
    return blur / _UM_PER_MM * checked_focal_ratio(focal_ratio)


def blur_diameter_um(defocus_mm: float, focal_ratio: float) -> float:
    """Return the diameter in um (never negative) of the geometric blur at `defocus_mm` from the focus.

    defocus_mm: of either sign, up to 100 000 mm. focal_ratio: N, 0.5 to 1000. Raises ValueError outside.
    Geometry alone: diffraction and seeing are left out.
    Source: similar triangles; the cone's diameter at a distance z from its tip is z/N.
    """
    return abs(_checked_defocus_mm(defocus_mm)) * _UM_PER_MM / checked_focal_ratio(focal_ratio)


def strehl_at_defocus(
    defocus_mm: float, focal_ratio: float, wavelength_nm: float, obstruction: float = 0.0
) -> float:
    """Return the star's peak at this defocus as a share (0 to 1) of its peak in focus.

    defocus_mm: of either sign, up to 100 000 mm. focal_ratio: N, 0.5 to 1000. wavelength_nm: 200 to
    2500 nm. obstruction: linear, 0 to below 1. Raises ValueError outside.
    Beyond one wave of defocus the axis is no longer the brightest point; read it there as "lost".
    Not modelled: other aberrations, seeing. Small-angle form, as `depth_of_focus_mm`.
    Source: Born & Wolf, Principles of Optics, sec. 8.8 (from memory): intensity on the axis of an aperture,
    (sin(pi W) / (pi W))^2 with W the defocus in waves between the pupil's inner and outer edge.
    """
    n = checked_focal_ratio(focal_ratio)
    eps = checked_obstruction(obstruction)
    wavelength_mm = checked_wavelength_nm(wavelength_nm) * _MM_PER_NM
    edge_waves = _checked_defocus_mm(defocus_mm) / (8.0 * n * n * wavelength_mm)  # W020 / lambda.
    phase = math.pi * edge_waves * (1.0 - eps * eps)
    if abs(phase) < 1e-8:
        # The next term of the series, phase^2 / 3, is below the last bit of 1.
        return 1.0
    return (math.sin(phase) / phase) ** 2


def _checked_defocus_mm(defocus_mm: float) -> float:
    return checked("The defocus", defocus_mm, -LONGEST_MM, LONGEST_MM, "mm", "Check the figure and its unit.")
