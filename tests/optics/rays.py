"""Spots of mirror tubes by batoid, an open ray tracer: real rays through the surfaces as they stand."""

from __future__ import annotations

import math

import batoid
import numpy as np

from server.optics.third_order import Conics
from server.optics.two_mirror import TwoMirrors


def even_pupil(rings=24):
    """Points of the unit disc that each stand for the same area, x and y."""
    x, y = [], []
    for ring in range(rings):
        count = 6 * (2 * ring + 1)
        radius = math.sqrt(((ring + 1) ** 2 + ring**2) / 2.0) / rings
        for i in range(count):
            angle = 2.0 * math.pi * (i + 0.5) / count
            x.append(radius * math.cos(angle))
            y.append(radius * math.sin(angle))
    return np.array(x), np.array(y)


def paraboloid(focal_mm):
    """A paraboloid at z = 0 that looks to +z, and its sensor."""
    return batoid.CompoundOptic(
        [
            batoid.Mirror(batoid.Paraboloid(2.0 * focal_mm)),
            batoid.Detector(batoid.Plane(), coordSys=batoid.CoordSys(origin=[0, 0, focal_mm])),
        ]
    )


def _conic(radius_mm, conic):
    # The general quadric has no answer where the conic is that of a paraboloid.
    return batoid.Paraboloid(radius_mm) if conic == -1.0 else batoid.Quadric(radius_mm, conic)


def two_mirrors(tube: TwoMirrors, conics: Conics, off_mm=0.0, tilt_arcmin=0.0):
    """Primary at 0, secondary before it, sensor behind; the secondary off the axis along x, or tilted about
    y.
    """
    rotation = batoid.RotY(math.radians(tilt_arcmin / 60.0))
    where = batoid.CoordSys(origin=[off_mm, 0, tube.separation_mm], rot=rotation)
    return batoid.CompoundOptic(
        [
            batoid.Mirror(_conic(2.0 * tube.primary_focal_mm, conics.primary)),
            batoid.Mirror(_conic(2.0 * tube.secondary_focal_mm, conics.secondary), coordSys=where),
            batoid.Detector(batoid.Plane(), coordSys=batoid.CoordSys(origin=[0, 0, -tube.back_mm])),
        ]
    )


def spot_um(system, aperture_mm, angle_x_deg, far_mm, px, py):
    """Where the rays of a star at an angle fall, um from the middle of them all, x and y, and that middle's
    x, mm.
    """
    t = math.radians(angle_x_deg)
    flight = np.array([math.sin(t), 0.0, -math.cos(t)])
    x, y = px * aperture_mm / 2.0, py * aperture_mm / 2.0
    start = np.array([x, y, np.zeros_like(x)]) - flight[:, None] * far_mm
    rays = batoid.RayVector(*start, *(np.full_like(x, v) for v in flight))
    out = system.trace(rays)
    middle_x, middle_y = out.x.mean(), out.y.mean()
    return (out.x - middle_x) * 1000.0, (out.y - middle_y) * 1000.0, float(middle_x)
