"""An interference filter in a converging beam: how far its band moves, and what is left of a line.

A slanting ray sees the band at lambda(theta) = lambda0 sqrt(1 - sin^2 theta / n^2), n the effective index of
the layers: further to the blue. Over a cone evenly filled from the obstruction eps to the edge the shifts lie
evenly between eps^2 E and E, E = lambda0 / (8 n^2 N^2), to second order. The line is taken to be thin.

Not modelled: the chief ray's own slope X, which away from the axis adds lambda0 sin^2 X / (2 n^2) and widens
the spread (6 degrees at f/2.8 take a fifth of the light besides); the band's change with temperature.
Source: Lissberger and Wilcock, J. Opt. Soc. Am. 49, 126 (1959) (from memory). The edge ray by
the sine condition, which optics free of coma keep; with a flat pupil in its place the share differs by up to
0.05 at f/1.9, 0.03 at f/2.8 and 0.015 at f/4.
"""

import math

from server.optics.ranges import (
    checked,
    checked_focal_ratio,
    checked_obstruction,
    checked_wavelength_nm,
)

#: Of usual layers 1.5 to 2.1 (common practice, no source).
USUAL_INDEX = 1.8
_GAUSS = 2.0 * math.sqrt(math.log(2.0))


def edge_shift_nm(line_nm: float, focal_ratio: float, index: float) -> float:
    """Return E, the shift to the blue for the edge of a cone, nm, to second order.

    line_nm: 200 to 2500. focal_ratio: 0.5 to 1000. index: 1 to 3. Raises ValueError outside.
    Source: see the module, sin theta = 1 / (2 N).
    """
    ratio, n = checked_focal_ratio(focal_ratio), _index(index)
    return checked_wavelength_nm(line_nm) / (8.0 * n * n * ratio * ratio)


def mean_shift_nm(edge_nm: float, obstruction: float = 0.0) -> float:
    """Return the mean shift over a cone, nm: E (1 + eps^2) / 2. edge_nm: E, 0 to 2500. obstruction: linear.

    Raises ValueError outside. Source: see the module.
    """
    return _edge(edge_nm) * (1.0 + checked_obstruction(obstruction) ** 2) / 2.0


def left_flat(width_nm: float, edge_nm: float, obstruction: float = 0.0, centre_nm: float = 0.0) -> float:
    """Return the share of a line, 0 to 1, that a band with steep sides lets through, its peak taken as 1.

    width_nm: full width at half of the peak, above 0, to 2000. edge_nm: E. centre_nm: how far the band's
    centre lies to the red of the line for parallel light, of either sign, to 2500. Raises ValueError outside.
    Source: the part of the even spread of shifts that lies within the band.
    """
    half, inner, outer = _width(width_nm) / 2.0, *_spread(edge_nm, obstruction)
    centre = _centre(centre_nm)
    if outer - inner < 1e-9:
        return 1.0 if abs(centre - outer) <= half else 0.0
    return max(0.0, min(outer, centre + half) - max(inner, centre - half)) / (outer - inner)


def left_gaussian(width_nm: float, edge_nm: float, obstruction: float = 0.0, centre_nm: float = 0.0) -> float:
    """Return the same of a band shaped like a bell (Gaussian). Arguments and errors as `left_flat`.

    Source: exp(-4 ln 2 (s - centre)^2 / width^2) over the even spread of shifts s.
    """
    width, (inner, outer) = _width(width_nm), _spread(edge_nm, obstruction)
    centre = _centre(centre_nm)
    if outer - inner < 1e-9:
        return math.exp(-((_GAUSS * (outer - centre) / width) ** 2))
    steps = math.erf(_GAUSS * (outer - centre) / width) - math.erf(_GAUSS * (inner - centre) / width)
    return width * math.sqrt(math.pi) / (2.0 * _GAUSS * (outer - inner)) * steps


def _spread(edge_nm: float, obstruction: float) -> tuple[float, float]:
    edge = _edge(edge_nm)
    return edge * checked_obstruction(obstruction) ** 2, edge


def _edge(edge_nm: float) -> float:
    return checked("The shift at the edge", edge_nm, 0.0, 2500.0, "nm", "Check ratio and index.")


def _centre(centre_nm: float) -> float:
    return checked("The band's centre off the line", centre_nm, -2500.0, 2500.0, "nm", "Check the band.")


def _width(width_nm: float) -> float:
    return checked(
        "The band's width", width_nm, 0.0, 2000.0, "nm", "Give its full width in nm.", above_low=True
    )


def _index(index: float) -> float:
    return checked("The effective index", index, 1.0, 3.0, "", "Give a figure such as 1.8.")
