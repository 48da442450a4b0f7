"""A Newtonian's diagonal mirror: the circle that it lights fully, and what it takes of the rest.

The mirror lies at 45 degrees; seen from the sensor it is round, as wide as its minor axis, and nearer on one
side than on the other. Its offset is counted along the tube (towards the primary) and as much away from the
focuser.
"""

from server.optics.beam import Beam
from server.optics.openings import Oval
from server.optics.ranges import checked, checked_length_mm
from server.optics.roots import bisect

_TOLERANCE_MM = 1e-6


def fully_lit_mm(
    aperture_mm: float, focal_mm: float, minor_axis_mm: float, to_focus_mm: float, offset_mm: float = 0.0
) -> float:
    """Return the diameter, mm, of the circle in the focal plane that gets all of the primary's light; 0:
    none.

    All lengths above 0, to 100 000 mm, to_focus_mm (from the diagonal's middle to the focus, along the axis)
    below the focal length; offset_mm: of either sign, up to half the minor axis. Raises ValueError outside.
    Against a traced paraboloid too large by 0.7 to 2.1 % (f/4 to f/5), without offset by up to 1 %.
    Source: plane geometry: of all rays to a circle of radius r the outermost meet the diagonal's ends,
    (r + g l) / (1 + g) above and (r + g l) / (1 - g) below the axis, g = (D/2 - r) / f', f' from the
    primary's rim; with the best offset, a g / 2, that is a (1 - g^2) = 2 (r + g l).
    """
    half = checked_length_mm("The aperture", aperture_mm, above_zero=True) / 2.0
    focal = checked_length_mm("The focal length", focal_mm, above_zero=True)
    minor = checked_length_mm("The diagonal's minor axis", minor_axis_mm, above_zero=True)
    far = checked(
        "The way from diagonal to focus", to_focus_mm, 0.0, focal, "mm", "Check the figure.", above_low=True
    )
    offset = checked("The diagonal's offset", offset_mm, -minor / 2.0, minor / 2.0, "mm", "Check the figure.")
    rim = focal - half * half / (4.0 * focal)  # D^2 / 16 f of sagitta.

    def room(radius: float) -> float:
        g = (half - radius) / rim
        wide = radius + g * far
        return min(minor / 2.0 - offset - wide / (1.0 + g), minor / 2.0 + offset - wide / (1.0 - g))

    if room(0.0) <= 0.0:
        return 0.0
    return 2.0 * bisect(room, 0.0, half + minor, _TOLERANCE_MM)


def diagonal_opening(at_mm: float, minor_axis_mm: float, offset_mm: float, side: float) -> Oval:
    """Return the diagonal as an opening of the beam.

    at_mm: its middle before the sensor, in air, as if the tube were straight. side: 1 or -1, on which side of
    the sensor, along its width, the primary lies. Lengths as `fully_lit_mm`. Source: plane geometry.
    """
    return Oval(
        distance_mm=at_mm + offset_mm,
        width_mm=minor_axis_mm,
        height_mm=minor_axis_mm,
        x_mm=side * offset_mm,
        lean_x=side,
    )


def circle_of_share_mm(beam: Beam, opening: Oval, share: float, most_mm: float) -> float:
    """Return the diameter, mm, of the circle on which an opening alone lets a share of the light through, as
    the mean of all directions; most_mm where that circle is as large or larger, 0 where none is.

    share: above 0, below 1. Raises ValueError outside. Source: `light_map.light_at`, by bisection.
    """
    import numpy as np

    from server.optics.light_map import light_at

    wanted = checked("The share of light", share, 0.0, 1.0, "", "Give a share such as 0.7.", above_low=True)
    turn = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)

    def surplus(radius: float) -> float:
        found = light_at(beam, [opening], radius * np.cos(turn), radius * np.sin(turn))
        return float(found.through.mean()) - wanted

    if surplus(most_mm / 2.0) >= 0.0:
        return most_mm
    if surplus(0.0) <= 0.0:
        return 0.0
    return 2.0 * bisect(surplus, 0.0, most_mm / 2.0, 1e-2)
