"""What an error of collimation costs: the coma that it draws into every star, and how large it may be.

Third order, magnitudes only. The coma of a secondary out of place is `third_order.secondary_misaligned`. A
lens out of place in its cell is not modelled: only its maker knows the curves.
"""

from __future__ import annotations

import math

from server.optics.ranges import checked, checked_focal_ratio, checked_obstruction, checked_wavelength_nm
from server.optics.third_order import Misaligned, paraboloid_terms

_LONGEST_COMET_UM = 100_000.0
_MOST_COMA_UM = 10_000.0


def newtonian_misaligned(focal_length_mm: float, focal_ratio: float) -> Misaligned:
    """Return the coma in the middle of the sensor of a Newtonian whose primary's axis misses that middle.

    per_mm: for each mm by which the axis misses it; the star there is drawn as one that stands so far off the
    axis. per_arcmin: for each arcminute by which the primary is tilted about its vertex, which moves the axis
    by the focal length times the tilt. The flat folds the light and draws no coma of its own.
    focal_length_mm: above 0, to 100 000 mm. focal_ratio: 0.5 to 1000. Raises ValueError outside.
    Good to 1 % within half a degree of the axis. With a coma corrector on the sensor's middle the same holds
    in rough: it takes the coma away that grows from its own axis, and leaves what is even over the field.
    Source: coma of a paraboloid (`paraboloid_terms`); a shift of the axis by geometry.
    """
    per_mm = abs(paraboloid_terms(focal_length_mm, focal_ratio).coma_um_per_mm)
    return Misaligned(per_mm, per_mm * focal_length_mm * math.radians(1.0 / 60.0))


def comet_um(coma_um: float, focal_ratio: float) -> float:
    """Return the length on the sensor, um (0 or more), of a comet from its head to the end of its tail.

    coma_um: of wave at the pupil's edge, of either sign, up to 10 000 um. focal_ratio: 0.5 to 1000. Raises
    ValueError outside. Rays alone: diffraction is left out. An obstruction does not change it.
    Source: tangential coma, the ray -2 N dW/dx at the pupil's edge, 6 N W131 (Welford, Aberrations of Optical
    Systems, from memory).
    """
    coma = checked("The coma", coma_um, -_MOST_COMA_UM, _MOST_COMA_UM, "um", "Give it in um of wave.")
    return 6.0 * checked_focal_ratio(focal_ratio) * abs(coma)


def coma_rms_um(coma_um: float, obstruction: float = 0.0) -> float:
    """Return the RMS of the wave that coma leaves when the star is looked at where it has moved to, um.

    coma_um: of wave at the pupil's edge, of either sign, up to 10 000 um. obstruction: linear, 0 to below 1.
    Raises ValueError outside. Without an obstruction W131 / sqrt(72); 1.6 % more at 0.35, 4 % less at 0.5.
    Source: Mahajan, J. Opt. Soc. Am. 71, 75 (1981), coma balanced by tilt over a ring (from memory).
    """
    coma = checked("The coma", coma_um, -_MOST_COMA_UM, _MOST_COMA_UM, "um", "Give it in um of wave.")
    e2 = checked_obstruction(obstruction) ** 2
    share = (1.0 - e2) ** 2 * (1.0 + 4.0 * e2 + e2 * e2) / (72.0 * (1.0 + e2))
    return abs(coma) * math.sqrt(share)


def coma_of_strehl_um(strehl: float, wavelength_nm: float, obstruction: float = 0.0) -> float:
    """Return the coma, um of wave at the pupil's edge, that lowers a perfect star's peak to this share of it.

    strehl: 0.5 to 1. wavelength_nm: 200 to 2500 nm. obstruction: linear, 0 to below 1. Raises ValueError
    outside. The share it returns to is true within 0.01 down to 0.8, and within 0.03 down to 0.5.
    Source: exp(-(2 pi s)^2) with s the RMS in waves (Marechal; Born & Wolf, Principles of Optics, sec. 9.3,
    from memory); the RMS as `coma_rms_um`.
    """
    s = checked("The Strehl ratio", strehl, 0.5, 1.0, "", "Give a share of 1, such as 0.8.")
    wavelength_um = checked_wavelength_nm(wavelength_nm) / 1000.0
    rms_waves = math.sqrt(-math.log(s)) / (2.0 * math.pi)
    return rms_waves * wavelength_um / coma_rms_um(1.0, obstruction)


def allowed_decentre_mm(coma_um: float, misaligned: Misaligned) -> float:
    """Return how far off the axis, mm, draws no more than this coma; infinity where a decentre draws none.

    coma_um: 0 to 10 000 um of wave, from `coma_of_strehl_um`. misaligned: what a mm
    draws. Raises ValueError outside. It takes the whole allowance: a tilt besides may add to it or take from
    it. Source: third-order coma grows evenly with the error.
    """
    return _allowed(coma_um, misaligned.per_mm)


def allowed_tilt_arcmin(coma_um: float, misaligned: Misaligned) -> float:
    """Return what tilt, arcminutes, draws no more than this coma; infinity where a tilt draws none.

    Arguments, errors and caution as `allowed_decentre_mm`. Source: as there.
    """
    return _allowed(coma_um, misaligned.per_arcmin)


def _allowed(coma_um: float, per_unit: float) -> float:
    coma = checked("The coma", coma_um, 0.0, _MOST_COMA_UM, "um", "Give it in um of wave, without a sign.")
    return math.inf if per_unit == 0.0 else coma / abs(per_unit)
