"""Focal length, focal ratio, scale, field and sampling: of one rig by floats, of many by arrays.

Arrays go together by broadcasting; where a float would raise ValueError they have nan, and where it would not
they have the very same figure.
"""

from __future__ import annotations

import math
from typing import Any

from server.arrays import Number, each
from server.optics.ranges import checked, checked_focal_ratio, checked_length_mm, checked_wavelength_nm

ARCSEC_PER_RADIAN = 3600.0 * 180.0 / math.pi

_MM_PER_UM = 1e-3
_UM_PER_NM = 1e-3
_SMALLEST_PIXEL_UM = 0.1
_LARGEST_PIXEL_UM = 1000.0
_SMALLEST_FACTOR = 0.05
_LARGEST_FACTOR = 20.0
_MOST_PIXELS = 1_000_000
#: f/D in excess of 1.5 times the pixel in um is held to be needlessly slow. Common practice, no source.
PIXEL_RULE_PER_UM = 1.5
#: Without a corrector the focal length stays; of any type, so that it goes with floats and arrays.
NO_FACTOR: Any = 1.0


def focal_ratio(focal_length_mm: Number, aperture_mm: Number) -> Number:
    """Return N = focal length / aperture, a pure number above 0.

    focal_length_mm, aperture_mm: above 0, to 100 000 mm. Raises ValueError outside.
    Source: definition. It says nothing about light lost to an obstruction.
    """
    return _checked_focal_length_mm(focal_length_mm) / _checked_aperture_mm(aperture_mm)


def effective_focal_length_mm(focal_length_mm: Number, factor: Number = NO_FACTOR) -> Number:
    """Return the focal length behind a corrector, in mm: the tube's own times the corrector's factor.

    focal_length_mm: above 0, to 100 000 mm. factor: 0.05 to 20; below 1 reduces. Raises ValueError outside.
    Holds at the spacing for which the maker quotes the factor; elsewhere the factor itself changes.
    Source: Gaussian optics, f' = m f.
    """
    return _checked_focal_length_mm(focal_length_mm) * _checked_factor(factor)


def effective_focal_ratio(focal_length_mm: Number, aperture_mm: Number, factor: Number = NO_FACTOR) -> Number:
    """Return the focal ratio behind a corrector, N' = m f / D, a pure number above 0.

    focal_length_mm, aperture_mm: above 0, to 100 000 mm. factor: 0.05 to 20. Raises ValueError outside.
    Source: Gaussian optics, N' = m N.
    """
    return focal_ratio(effective_focal_length_mm(focal_length_mm, factor), aperture_mm)


def pixel_scale_arcsec(pixel_um: Number, focal_length_mm: Number) -> Number:
    """Return the angle on the sky that one pixel at the field's centre takes in, arcsec.

    pixel_um: 0.1 to 1000 um. focal_length_mm: above 0, to 100 000 mm. Raises ValueError outside.
    Away from the centre of an undistorted field the scale shrinks by cos^2 of the field angle (radially).
    Source: small angle p/f in radians times 206 264.806 arcsec; below 1e-6 relative for any pixel here.
    """
    pixel_mm = _checked_pixel_um(pixel_um) * _MM_PER_UM
    return pixel_mm / _checked_focal_length_mm(focal_length_mm) * ARCSEC_PER_RADIAN


def field_of_view_deg(side_mm: Number, focal_length_mm: Number) -> Number:
    """Return the angle that a side (or the diagonal) of the sensor takes in, degrees, exact for no
    distortion.

    side_mm: 0 to 100 000 mm, centred on the axis. focal_length_mm: above 0, to 100 000 mm. Raises
    ValueError outside. Not modelled: distortion of the lens, a sensor off the axis.
    Source: 2 atan(w / (2 f)), the rectilinear projection. The small-angle form errs by 0.6 % at 15 degrees.
    """
    half = checked_length_mm("The sensor's side", side_mm) / 2.0
    return each(_opening_deg, half / _checked_focal_length_mm(focal_length_mm))


def _opening_deg(tangent: float) -> float:
    return math.degrees(2.0 * math.atan(tangent))


def nyquist_pixel_um(focal_ratio: Number, wavelength_nm: Number) -> Number:
    """Return the largest pixel, um, that still samples the finest detail the aperture passes.

    focal_ratio: N, 0.5 to 1000. wavelength_nm: 200 to 2500 nm. Raises ValueError outside.
    The pixel's own blur is left out. Seeing mostly allows far larger pixels.
    Source: cut-off 1/(lambda N) (Born & Wolf, sec. 9.5, from memory), two samples a period (Shannon 1949):
    lambda N / 2.
    """
    return checked_wavelength_nm(wavelength_nm) * _UM_PER_NM * checked_focal_ratio(focal_ratio) / 2.0


def samples_per_width(fwhm_arcsec: Number, scale_arcsec: Number) -> Number:
    """Return how many pixels lie across a star's full width at half maximum, a pure number.

    fwhm_arcsec: 0 to 3600 arcsec. scale_arcsec: arcsec per pixel, above 0, to 3600. Raises ValueError
    outside.
    Source: arithmetic. Two to three is common practice, no source.
    """
    width = checked("The star's width", fwhm_arcsec, 0.0, 3600.0, "arcsec", "Give the full width in arcsec.")
    scale = checked(
        "The scale", scale_arcsec, 0.0, 3600.0, "arcsec per pixel", "Give arcsec per pixel.", above_low=True
    )
    return width / scale


def pixel_rule_focal_ratio(pixel_um: Number, rule_per_um: float = PIXEL_RULE_PER_UM) -> Number:
    """Return the slowest focal ratio that the trade's rule still likes for this pixel, a pure number.

    pixel_um: 0.1 to 1000 um. rule_per_um: focal ratio per um of pixel, above 0, to 100. Raises ValueError
    outside.
    Source: common practice, no source: a rule to be weighed, never a law.
    """
    rule = checked(
        "The rule's number", rule_per_um, 0.0, 100.0, "per um", "Give a number such as 1.5.", above_low=True
    )
    return rule * _checked_pixel_um(pixel_um)


def _checked_focal_length_mm(focal_length_mm: Number) -> Number:
    return checked_length_mm("The focal length", focal_length_mm, above_zero=True)


def _checked_aperture_mm(aperture_mm: Number) -> Number:
    return checked_length_mm("The aperture", aperture_mm, above_zero=True)


def _checked_pixel_um(pixel_um: Number) -> Number:
    return checked(
        "The pixel",
        pixel_um,
        _SMALLEST_PIXEL_UM,
        _LARGEST_PIXEL_UM,
        "um",
        "Give the pixel's pitch in micrometres, such as 3.76.",
    )


def _checked_factor(factor: Number) -> Number:
    return checked(
        "The corrector's factor",
        factor,
        _SMALLEST_FACTOR,
        _LARGEST_FACTOR,
        "",
        "Give the factor, such as 0.8 for a reducer or 2 for an extender.",
    )
