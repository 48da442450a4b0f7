"""The plate and the two-mirror tube against batoid, an open ray tracer that shares no code with us.

Source of every expected value: batoid 0.9, exact rays through the surfaces as they stand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import batoid
import numpy as np
import pytest

from server.optics.glass import plate_shift_mm
from server.optics.two_mirror import TwoMirrors, moved_back

TRACED_MM = 1e-7
"""Double precision over some hundred millimetres."""
NEAR_AXIS_MM = 1e-3
"""A ray a tenth of a millimetre from the axis is paraxial to better than this."""


def _one_ray(place: Sequence[float], flight: Sequence[float]) -> batoid.RayVector:
    return batoid.RayVector(*[np.array([float(value)]) for value in (*place, *flight)])


def _crossing(rays: batoid.RayVector) -> float:
    """Where the first ray crosses the axis, z of the coordinates that it is given in."""
    x, z, vx, vz = (float(a[0]) for a in (rays.x, rays.z, rays.vx, rays.vz))
    return z - x * vz / vx


@pytest.mark.parametrize("focal_ratio", [2.0, 4.0, 5.0, 8.0])
@pytest.mark.parametrize(("index", "thickness_mm"), [(1.5168, 3.0), (1.5, 2.0), (1.458464, 1.0)])
def test_a_plate_shifts_the_edge_ray_as_it_is_traced(focal_ratio, index, thickness_mm):
    # A ray from the edge of a pupil of diameter 1/N at distance 1 meets the axis 50 mm behind z = 0 in air.
    slope = 1.0 / (2.0 * focal_ratio)
    length = math.hypot(slope, 1.0)
    rays = _one_ray((50.0 * slope, 0.0, 0.0), (-slope / length, 0.0, 1.0 / length))
    air, glass = batoid.ConstMedium(1.0), batoid.ConstMedium(index)
    system = batoid.CompoundOptic(
        [
            batoid.RefractiveInterface(batoid.Plane(), inMedium=air, outMedium=glass),
            batoid.RefractiveInterface(
                batoid.Plane(),
                inMedium=glass,
                outMedium=air,
                coordSys=batoid.CoordSys(origin=[0, 0, thickness_mm]),
            ),
        ]
    )
    traced = system.trace(rays).toCoordSys(batoid.CoordSys())
    shift = plate_shift_mm(thickness_mm, index, focal_ratio)
    assert _crossing(traced) - 50.0 == pytest.approx(shift, abs=TRACED_MM)


def _two_mirrors(tube: TwoMirrors, conics: tuple[float, float]) -> batoid.CompoundOptic:
    """Light goes along -z to the primary at 0, concave towards +z, and back from the secondary."""
    r1 = 2.0 * tube.primary_focal_mm
    r2 = 2.0 * tube.secondary_focal_mm
    return batoid.CompoundOptic(
        [
            batoid.Mirror(batoid.Quadric(r1, conics[0])),
            batoid.Mirror(
                batoid.Quadric(r2, conics[1]), coordSys=batoid.CoordSys(origin=[0, 0, tube.separation_mm])
            ),
        ]
    )


def _traced(tube: TwoMirrors, conics: tuple[float, float], height_mm: float) -> tuple[float, float]:
    """Focal length (height over tangent) and the focus behind the primary's vertex."""
    rays = _one_ray((height_mm, 0.0, 2.0 * tube.primary_focal_mm), (0.0, 0.0, -1.0))
    out = _two_mirrors(tube, conics).trace(rays).toCoordSys(batoid.CoordSys())
    tangent = abs(float(out.vx[0]) / float(out.vz[0]))
    return height_mm / tangent, -_crossing(out)


@pytest.mark.parametrize("further_mm", [0.0, 25.0, 50.0, -20.0])
@pytest.mark.parametrize(
    ("tube", "conics"),
    [
        # A Ritchey-Chretien of 200 mm, primary of 600 mm, m = 8/3, focus 180 mm behind the primary.
        (TwoMirrors(600.0, 8.0 / 3.0, 600.0 - 600.0 * 1.3 / (8.0 / 3.0 + 1.0)), (-1.154489, -6.624789)),
        # A tube of spheres, as one that focuses by its primary has: 400 mm, m = 5.
        (TwoMirrors(400.0, 5.0, 316.67), (0.0, 0.0)),
    ],
    ids=["ritchey-chretien", "spheres"],
)
def test_a_moved_primary_gives_the_traced_focal_length_and_focus(tube, conics, further_mm):
    moved = moved_back(tube, further_mm)
    focal, focus = _traced(moved, conics, 0.1)
    assert focal == pytest.approx(moved.focal_mm, abs=NEAR_AXIS_MM)
    assert focus == pytest.approx(moved.back_mm, abs=NEAR_AXIS_MM)
    # Behind the fixed secondary the focus lies further by what was asked.
    stated_focus = tube.back_mm + tube.separation_mm
    assert focus + moved.separation_mm - stated_focus == pytest.approx(further_mm, abs=NEAR_AXIS_MM)


def test_the_ritchey_chretien_focuses_its_edge_rays_where_the_middle_ones_meet():
    # Its conics take third-order spherical aberration away: the focus at the edge stays within the depth.
    tube = TwoMirrors(600.0, 8.0 / 3.0, 600.0 - 600.0 * 1.3 / (8.0 / 3.0 + 1.0))
    edge = _traced(tube, (-1.154489, -6.624789), 100.0)[1]
    assert edge == pytest.approx(tube.back_mm, abs=0.07)
