"""The error of the wave that forms a star, low orders only, and how it depends on the place in the field.

The pupil is the unit circle: x to the right and y upwards on the sensor as the picture shows it, seen along
the light (towards +z). W(x, y) is the path by which the wave leads or lags a perfect one, um, with
rho^2 = x^2 + y^2:

    W = defocus rho^2 + spherical rho^4 + (coma_x x + coma_y y) rho^2 + astig_0 (x^2 - y^2) + astig_45 (2 x y)

A ray from the point (x, y) of the pupil meets the sensor beside the star's place by -2 N dW/d(x, y), um, with
N the focal ratio. So a sensor that stands behind the focus by d mm has a defocus of +1000 d / (8 N^2) um, and
a star whose coma is drawn out away from the axis has a negative component along its own direction from it.
"""

from __future__ import annotations

from typing import Any, Generic

from server.arrays import Number
from server.frozen import frozen

#: Of any type, so that it goes with floats and arrays.
ZERO: Any = 0.0


@frozen
class Aberrations(Generic[Number]):
    """The wavefront of one star, um at the edge of the pupil; 0 where there is none.

    blur_um: RMS radius (both axes together), um on the sensor, of a round blur whose wave nobody knows: what
    a maker's spot size adds. It is no part of W. Floats, or arrays over many stars.
    """

    defocus_um: Number = ZERO
    spherical_um: Number = ZERO
    coma_x_um: Number = ZERO
    coma_y_um: Number = ZERO
    astig_0_um: Number = ZERO
    astig_45_um: Number = ZERO
    blur_um: Number = ZERO


@frozen
class FieldTerms(Generic[Number]):
    """How the wavefront grows from the axis outwards; a star's distance from the axis is h, mm on the sensor.
    Floats, or arrays over many telescopes.

    Attributes:
        spherical_um: the same in the whole field.
        coma_um_per_mm: along the star's direction from the axis, times h. Negative draws it outwards.
        astig_um_per_mm2: times h^2, added to (x^2 - y^2) with x along the star's direction from the axis.
        curve_um_per_mm2: times h^2, added to the defocus: of the surface of best focus, midway between the
            tangential and the sagittal one. Positive where the focus lies before the sensor's plane.
    """

    spherical_um: Number = ZERO
    coma_um_per_mm: Number = ZERO
    astig_um_per_mm2: Number = ZERO
    curve_um_per_mm2: Number = ZERO
