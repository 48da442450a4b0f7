"""The wave of one star from the terms of its tube, its place on the sensor, and how the sensor stands.

Places are mm on the sensor from its middle, x to the right and y upwards. Of one rig by floats, of many by
arrays that go together by broadcasting, with nan where a float would raise ValueError.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Generic

from server.arrays import Number, largest, root
from server.frozen import frozen
from server.optics.ranges import checked_focal_ratio, checked_obstruction
from server.optics.wavefront import ZERO, Aberrations, FieldTerms

ARCMIN = math.radians(1.0 / 60.0)


@frozen
class Standing(Generic[Number]):
    """How the sensor stands in the light.

    Attributes:
        focus_mm: how far it stands behind the focus on the axis, away from the sky.
        tilt_x_arcmin: by how much its right side is tilted away from the sky; tilt_y_arcmin its upper side.
        axis_x_mm, axis_y_mm: where the optical axis meets it; 0 for the middle.
        coma_x_um, coma_y_um: coma that every star has (a secondary out of place).
    """

    focus_mm: Number = ZERO
    tilt_x_arcmin: Number = ZERO
    tilt_y_arcmin: Number = ZERO
    axis_x_mm: Number = ZERO
    axis_y_mm: Number = ZERO
    coma_x_um: Number = ZERO
    coma_y_um: Number = ZERO


def aberrations_at(
    terms: FieldTerms[Number],
    x_mm: Number,
    y_mm: Number,
    focal_ratio: Number,
    standing: Standing[Number],
    blur_um: Number = ZERO,
) -> Aberrations[Number]:
    """Return the wave of the star at a place.

    focal_ratio: 0.5 to 1000. blur_um: RMS radius of a round blur of unknown wave there. Raises ValueError
    outside. Source: third-order theory, with defocus d / (8 N^2).
    """
    n = checked_focal_ratio(focal_ratio)
    x, y = x_mm - standing.axis_x_mm, y_mm - standing.axis_y_mm
    height2 = x * x + y * y
    tilted = x_mm * standing.tilt_x_arcmin * ARCMIN + y_mm * standing.tilt_y_arcmin * ARCMIN
    behind = standing.focus_mm + tilted
    # h^2 (x^2 - y^2) turned into the star's direction: cos and sin of twice its angle, times h^2.
    return Aberrations(
        defocus_um=1000.0 * behind / (8.0 * n * n) + terms.curve_um_per_mm2 * height2 - terms.spherical_um,
        spherical_um=terms.spherical_um,
        coma_x_um=terms.coma_um_per_mm * x + standing.coma_x_um,
        coma_y_um=terms.coma_um_per_mm * y + standing.coma_y_um,
        astig_0_um=terms.astig_um_per_mm2 * (x * x - y * y),
        astig_45_um=terms.astig_um_per_mm2 * 2.0 * x * y,
        blur_um=blur_um,
    )


def rms_spot_um(a: Aberrations[Number], focal_ratio: Number, obstruction: Number = ZERO) -> Number:
    """Return the RMS radius of the rays about their middle, um (both axes together), without diffraction.

    focal_ratio: 0.5 to 1000. obstruction: linear. Raises ValueError outside.
    Source: mean square of -2 N dW/d(x, y) over the ring, term by term (closed form).
    """
    n, e = checked_focal_ratio(focal_ratio), checked_obstruction(obstruction)
    e2 = e * e
    second, fourth = (1.0 + e2) / 2.0, (1.0 + e2 + e2 * e2) / 3.0
    sixth = (1.0 + e2) * (1.0 + e2 * e2) / 4.0
    coma2 = a.coma_x_um * a.coma_x_um + a.coma_y_um * a.coma_y_um
    astig2 = a.astig_0_um * a.astig_0_um + a.astig_45_um * a.astig_45_um
    # Never by +=, which would change an array of the caller's own, or its shape.
    even = 4.0 * (a.defocus_um * a.defocus_um + astig2) * second
    balanced = 16.0 * a.spherical_um * a.spherical_um * sixth
    balanced = balanced + 16.0 * a.defocus_um * a.spherical_um * fourth
    square = even + balanced + coma2 * (5.0 * fourth - 4.0 * second * second)
    # Rounding may carry a perfect star's below 0.
    whole: Number = largest(4.0 * n * n * square + a.blur_um * a.blur_um, ZERO)
    return root(whole)


def corner_spot_um(
    terms: FieldTerms[Number],
    width_mm: Number,
    height_mm: Number,
    focal_ratio: Number,
    standing: Standing[Number],
    obstruction: Number = ZERO,
    blur_um: Number = ZERO,
) -> Number:
    """Return the RMS radius of the widest corner's star without diffraction, um.

    width_mm, height_mm: of the sensor. The others as `aberrations_at` and `rms_spot_um`; blur_um is that of
    the corners. Raises ValueError outside. Source: as these.
    """
    x, y = width_mm / 2.0, height_mm / 2.0
    waves = [
        aberrations_at(terms, at_x, at_y, focal_ratio, standing, blur_um)
        for at_x, at_y in ((x, y), (x, -y), (-x, y), (-x, -y))
    ]
    found = [rms_spot_um(wave, focal_ratio, obstruction) for wave in waves]
    return largest(*found)


@dataclass(frozen=True)
class Compromise:
    """The one focus that serves a curved field best.

    Attributes:
        focus_mm: behind the focus on the axis; negative towards the sky.
        corner_before_um, corner_after_um: RMS radius of the corner star at the axis's focus and at this one.
    """

    focus_mm: float
    corner_before_um: float
    corner_after_um: float

    @property
    def share_removed(self) -> float:
        """The part of the corner's RMS blur that it takes away; negative where it adds."""
        return 0.0 if self.corner_before_um <= 0.0 else 1.0 - self.corner_after_um / self.corner_before_um


def compromise_focus_mm(
    terms: FieldTerms[Number], focal_ratio: Number, width_mm: Number, height_mm: Number
) -> Number:
    """Return the focus with the least mean square blur over the sensor, mm behind the focus on the axis.

    All as `compromise`. Raises ValueError outside. Source: as there.
    """
    n = checked_focal_ratio(focal_ratio)
    mean = terms.curve_um_per_mm2 * (width_mm * width_mm + height_mm * height_mm) / 12.0
    return -mean * 8.0 * n * n / 1000.0


def compromise(
    terms: FieldTerms, focal_ratio: float, width_mm: float, height_mm: float, obstruction: float = 0.0
) -> Compromise:
    """Return the focus with the least mean square blur over the sensor, and what the corner gains by it.

    focal_ratio: 0.5 to 1000. width_mm, height_mm: of the sensor. Raises ValueError outside.
    Source: the defocus over the field is d / (8 N^2) + c h^2; its mean square over the rectangle is least
    where d cancels the mean of c h^2, and the mean of h^2 is (w^2 + h^2) / 12.
    """
    n = checked_focal_ratio(focal_ratio)
    focus = compromise_focus_mm(terms, focal_ratio, width_mm, height_mm)
    x, y = width_mm / 2.0, height_mm / 2.0
    before, after = (
        rms_spot_um(aberrations_at(terms, x, y, n, Standing(focus_mm=at)), n, obstruction)
        for at in (0.0, focus)
    )
    return Compromise(focus, before, after)
