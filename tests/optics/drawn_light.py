"""The light that openings let through, drawn with polygons of many sides: an independent way (shapely).

Everything is projected from the image point onto the plane of the exit pupil (or, with the pupil at infinity,
onto the directions of the rays), where the cone is one disc.
"""

import math

import shapely
import shapely.affinity

from server.optics.openings import Beam, Opening, Round

#: 4 x 256 sides are short of a disc's area by (2 pi / 1024)^2 / 6 = 6e-6 of it.
FINE = 256


def drawn_share(beam: Beam, openings: list[Opening], x: float, y: float, quad_segs: int = FINE) -> float:
    parallel = math.isinf(beam.pupil_distance_mm)
    radius = 1.0 / (2.0 * beam.focal_ratio) if parallel else beam.pupil_distance_mm / (2.0 * beam.focal_ratio)
    pupil = shapely.Point(0.0, 0.0).buffer(radius, quad_segs=quad_segs)
    if beam.obstruction:
        hole = shapely.Point(0.0, 0.0).buffer(radius * beam.obstruction, quad_segs=quad_segs)
        pupil = pupil.difference(hole)
    light = pupil
    for one in openings:
        larger = (1.0 if parallel else beam.pupil_distance_mm) / one.distance_mm
        # The sides' arrows count against the beam there, which may be much smaller than the opening.
        beam_there = one.distance_mm / (2.0 * beam.focal_ratio)
        finer = (
            math.ceil(math.sqrt(max(1.0, one.diameter_mm / 2.0 / beam_there)))
            if isinstance(one, Round)
            else 1
        )
        shape = _drawn(one, quad_segs * finer)
        # A ray from (x, y) through a place goes on to (x, y) + (place - (x, y)) x larger; with the pupil at
        # infinity only its direction counts.
        at = 0.0 if parallel else 1.0
        shadow = shapely.affinity.affine_transform(
            shape, [larger, 0.0, 0.0, larger, x * (at - larger), y * (at - larger)]
        )
        passes = isinstance(one, Round) or not one.blocks
        light = light.intersection(shadow) if passes else light.difference(shadow)
    return light.area / pupil.area


def _drawn(one: Opening, quad_segs: int):
    if isinstance(one, Round):
        return shapely.Point(one.x_mm, one.y_mm).buffer(one.diameter_mm / 2.0, quad_segs=quad_segs)
    half, high = one.width_mm / 2.0, one.height_mm / 2.0
    turned = shapely.affinity.rotate(shapely.box(-half, -high, half, high), one.angle_deg, origin=(0.0, 0.0))
    return shapely.affinity.translate(turned, one.x_mm, one.y_mm)
