"""The light that openings let through, drawn with polygons of many sides: an independent way (shapely).

Every point of an opening's rim is followed along the ray from the image point onto the directions of the
rays at the sensor, where the light is one disc. Holds for the stretch next to the sensor.
"""

import math

import numpy as np
import shapely
import shapely.affinity

from server.optics.beam import Beam
from server.optics.openings import Opening, Oval, Round

#: The largest error of a share of light that is allowed (polygons' own error is less).
STATED_ERROR = 1e-4
#: 4 x 256 sides are short of a disc's area by (2 pi / 1024)^2 / 6 = 6e-6 of it.
FINE = 256


def drawn_share(beam: Beam, openings: list[Opening], x: float, y: float, quad_segs: int = FINE) -> float:
    radius = 1.0 / (2.0 * beam.focal_ratio)
    # The middle ray's direction, away from the sensor.
    pupil = shapely.Point(-x * beam.per_pupil, -y * beam.per_pupil).buffer(radius, quad_segs=quad_segs)
    if beam.obstruction:
        pupil = pupil.difference(
            shapely.affinity.scale(pupil, beam.obstruction, beam.obstruction, origin="centroid")
        )
    light = pupil
    for one in openings:
        # The sides' arrows count against the beam there, which may be much smaller than the opening.
        half = one.distance_mm * radius
        wide = one.diameter_mm / 2.0 if isinstance(one, Round) else one.width_mm / 2.0
        finer = math.ceil(math.sqrt(max(1.0, wide / half)))
        rim = shapely.get_coordinates(_drawn(one, quad_segs * finer).exterior)
        shadow = shapely.Polygon(_directions(one, rim, x, y))
        passes = isinstance(one, Round | Oval) or not one.blocks
        light = light.intersection(shadow) if passes else light.difference(shadow)
    return light.area / pupil.area


def grid(width_mm: float, height_mm: float, columns: int, rows: int) -> tuple[np.ndarray, np.ndarray]:
    """x and y of even points over a sensor, from edge to edge, row after row."""
    x, y = (np.linspace(-side / 2.0, side / 2.0, n) for side, n in ((width_mm, columns), (height_mm, rows)))
    across, up = np.meshgrid(x, y)
    return across.ravel(), up.ravel()


def _directions(one: Opening, rim: np.ndarray, x: float, y: float) -> np.ndarray:
    distance = np.full(len(rim), one.distance_mm)
    if isinstance(one, Oval):
        distance += (rim - (one.x_mm, one.y_mm)) @ (one.lean_x, one.lean_y)
    return (rim - (x, y)) / distance[:, None]


def _drawn(one: Opening, quad_segs: int):
    if isinstance(one, Round):
        return shapely.Point(one.x_mm, one.y_mm).buffer(one.diameter_mm / 2.0, quad_segs=quad_segs)
    if isinstance(one, Oval):
        disc = shapely.Point(0.0, 0.0).buffer(0.5, quad_segs=quad_segs)
        oval = shapely.affinity.scale(disc, one.width_mm, one.height_mm, origin=(0.0, 0.0))
        return shapely.affinity.translate(oval, one.x_mm, one.y_mm)
    half, high = one.width_mm / 2.0, one.height_mm / 2.0
    turned = shapely.affinity.rotate(shapely.box(-half, -high, half, high), one.angle_deg, origin=(0.0, 0.0))
    return shapely.affinity.translate(turned, one.x_mm, one.y_mm)
