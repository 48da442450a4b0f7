"""The beam's light against batoid's rays through the same openings, behind real conic mirrors and ideal thin
lenses.

Source of every expected value: batoid 0.9 (exact rays); the thin lens is u' = u - y / f on each ray, by hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import batoid
import numpy as np
import pytest

from server.optics.beam import Corrector, Tube, share_through, trace, two_mirror_per_pupil
from server.optics.two_mirror import TwoMirrors

#: The pupil's aberrations, which the paraxial beam leaves out.
AT_F8, AT_F4 = 0.003, 0.007
PITCH = 1.0 / 250.0

RC = TwoMirrors(660.0, 2.7, 455.0)
#: Schroeder's formulas for m = 2.7 and a focus 98.5 mm behind the primary (from memory).
RC_CONICS = (-1.1236, -6.331)


@dataclass(frozen=True)
class Seen:
    """A tube by batoid: rays behind its last mirror, from whose focus all distances count (positive to the
    sky).
    """

    focal_mm: float
    aperture_mm: float
    obstruction: float
    surfaces: batoid.CompoundOptic
    focus_z: float
    onward: float

    def rays(self, angle: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Heights x, y at the bare focus's plane and slopes over the way to it, of rays that fill the
        pupil.
        """
        side = np.arange(-1.0 + PITCH / 2.0, 1.0, PITCH)
        x, y = (one.ravel() for one in np.meshgrid(side, side))
        radius = np.hypot(x, y)
        keep = (radius <= 1.0) & (radius >= self.obstruction)
        x, y = x[keep] * self.aperture_mm / 2.0, y[keep] * self.aperture_mm / 2.0
        z = np.full_like(x, 3000.0)
        vx, vz = np.full_like(x, math.sin(angle)), np.full_like(x, -math.cos(angle))
        # They pass the pupil, the primary's vertex plane, at these places.
        rays = batoid.RayVector(x + vx / vz * z, y, z, vx, np.zeros_like(x), vz)
        out = self.surfaces.trace(rays).toCoordSys(batoid.CoordSys())
        way = (self.focus_z - out.z) / out.vz
        return (
            out.x + out.vx * way,
            out.y + out.vy * way,
            out.vx / (out.vz * self.onward),
            out.vy / (out.vz * self.onward),
        )


def paraboloid(focal: float, aperture: float, obstruction: float) -> Seen:
    mirror = batoid.CompoundOptic([batoid.Mirror(batoid.Paraboloid(2.0 * focal))])
    return Seen(focal, aperture, obstruction, mirror, focal, 1.0)


def cassegrain(tube: TwoMirrors, conics: tuple[float, float], aperture: float, obstruction: float) -> Seen:
    mirrors = batoid.CompoundOptic(
        [
            batoid.Mirror(batoid.Quadric(2.0 * tube.primary_focal_mm, conics[0])),
            batoid.Mirror(
                batoid.Quadric(2.0 * tube.secondary_focal_mm, conics[1]),
                coordSys=batoid.CoordSys(origin=[0, 0, tube.separation_mm]),
            ),
        ]
    )
    return Seen(tube.focal_mm, aperture, obstruction, mirrors, -tube.back_mm, -1.0)


def counted(seen: Seen, factor: float, at: float, opening: float, before_mm: float, height: float) -> float:
    """The share of rays to a star `height` off the axis that pass an opening `before_mm` before the
    sensor.
    """
    x, y, u, v = seen.rays(math.atan(height / (seen.focal_mm * factor)))
    if factor != 1.0:
        # The lens stands at / factor before the bare focus, and the sensor `at` behind it.
        bare = at / factor
        if before_mm > at:
            back = before_mm - at + bare
            return float(np.mean(np.hypot(x - u * back, y - v * back) <= opening / 2.0))
        lens = at / (1.0 - factor)
        x, y = x - u * bare, y - v * bare
        u, v = u - x / lens, v - y / lens
        x, y = x + u * at, y + v * at
    return float(np.mean(np.hypot(x - u * before_mm, y - v * before_mm) <= opening / 2.0))


@pytest.mark.parametrize(
    ("factor", "at", "opening", "before", "height", "tolerance"),
    [
        (1.0, 0.0, 50.0, 190.0, 21.64, AT_F8),
        (0.75, 94.0, 45.0, 70.0, 21.64, AT_F8),
        (0.75, 94.0, 56.0, 150.0, 21.64, AT_F8),
        (1.0, 0.0, 40.0, 60.0, 21.64, AT_F8),
    ],
)
def test_behind_two_mirrors_and_a_reducer_rays_pass_as_the_beam_says(
    factor, at, opening, before, height, tolerance
):
    seen = cassegrain(RC, RC_CONICS, 220.0, 0.46)
    tube = Tube(RC.focal_mm, 220.0, 0.46, two_mirror_per_pupil(RC))
    beam = trace(tube, [Corrector(at / (1.0 - factor), at)] if factor != 1.0 else [])
    share = share_through(beam, before, opening, height)
    assert share == pytest.approx(counted(seen, factor, at, opening, before, height), abs=tolerance)
    assert 0.1 < share < 1.0


@pytest.mark.parametrize(
    ("factor", "at", "opening", "before"),
    [(1.0, 0.0, 42.0, 80.0), (1.15, 68.0, 44.0, 60.0), (0.73, 60.0, 50.0, 45.0)],
)
def test_behind_a_paraboloid_and_a_corrector_rays_pass_as_the_beam_says(factor, at, opening, before):
    seen = paraboloid(900.0, 220.0, 0.30)
    beam = trace(
        Tube(900.0, 220.0, 0.30, 1.0 / 900.0), [Corrector(at / (1.0 - factor), at)] if factor != 1.0 else []
    )
    share = share_through(beam, before, opening, 21.64)
    assert share == pytest.approx(counted(seen, factor, at, opening, before, 21.64), abs=AT_F4)
    assert 0.1 < share < 1.0
