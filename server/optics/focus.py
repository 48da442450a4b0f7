"""How far the sensor may stand from the focus before the star suffers."""

from server.optics.ranges import (
    checked,
    checked_focal_ratio,
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
