"""A sketch of a target on a rig: where things lie, how bright they are, and its noise.

Places are worked by hand: on a sensor whose upper side points to the position angle p, what lies to the
position angle q is turned by q - p anticlockwise from up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from server.domain.parts.cameras import DarkRow, GainRow
from server.domain.sky.around import Around
from server.domain.sky.depth import Depth, work_depth
from server.domain.sky.frame import Frame, frame_of
from server.domain.sky.reckoning import DepthWishes
from server.domain.sky.site import Site
from server.domain.sky.sketch import height_px, sky_noise_share, sky_slope, work_sketch
from server.domain.sky.target import Target
from server.domain.stars.field import StarField, work_stars
from server.domain.stars.telescope import telescope_of
from server.domain.stars.wishes import StarWishes
from tests.domain.rigs import camera, case, tube

SITE = Site(
    name="The garden",
    latitude_deg=50.0,
    longitude_deg=10.0,
    zone="Europe/Berlin",
    brightness_by="magnitude",
    brightness=20.5,
)
HOUR = 3600.0
COARSE = 0.02
"""So coarse a stretch, in shares of the sky, that neither the sky's slope nor its noise is seen."""
WIDTH = 180
EMPTY = Around((), 10.0, ())
GAINS = (GainRow(gain=0.0, read_noise_e=1.5, full_well_e=50_000.0, conversion_e=0.8),)
NEBULA = Target(name="N", kind="Neb", ra_deg=10.0, dec_deg=40.0, major_arcmin=20.0, surface_v_mag=21.0)


@dataclass(frozen=True)
class Drawn:
    """A rig with what a sketch of it needs."""

    frame: Frame
    stars: StarField
    depth: Depth

    def sketch(self, target=NEBULA, around=EMPTY, angle_deg=0.0, total_s=HOUR, noise_share=COARSE):
        given = (self.frame, self.stars, self.depth, target, around, angle_deg, total_s, noise_share)
        return work_sketch(*given, WIDTH).astype(float)


@cache
def drawn(focal_mm=400.0, aperture_mm=80.0, dark_e_s=0.002, mag=21.0) -> Drawn:
    """36 x 24 mm behind 400 mm: 309' x 206', 1.717' a pixel of a sketch of 180."""
    dark = (DarkRow(temperature_c=-10.0, dark_e_s=dark_e_s),)
    sensor = camera(colour="mono", quantum_efficiency=0.9, gains=GAINS, dark_current=dark)
    rig = case(tube(focal_length_mm=focal_mm, aperture_mm=aperture_mm, obstruction_mm=0.0), sensor)
    frame, telescope = frame_of(rig), telescope_of(rig)
    assert isinstance(frame, Frame)
    assert telescope is not None
    wishes = DepthWishes(sub_s=60.0, surface_mag=mag)
    depth = work_depth(telescope, SITE, NEBULA, wishes, 4.0, 60.0)
    assert isinstance(depth, Depth)
    return Drawn(frame, work_stars(rig, telescope, StarWishes(seeing_arcsec=3.0)), depth)


def spot(picture):
    """Right of and above the middle, pixels: of the light above the sky."""
    light = np.clip(picture - np.median(picture) - 40.0, 0.0, None)
    rows, columns = np.mgrid[0 : picture.shape[0], 0 : picture.shape[1]] + 0.5
    x = (light * columns).sum() / light.sum() - picture.shape[1] / 2.0
    y = picture.shape[0] / 2.0 - (light * rows).sum() / light.sum()
    return x, y


def test_a_sketch_has_the_sensors_shape():
    picture = drawn().sketch()
    assert picture.shape == (120, 180)
    assert height_px(drawn().frame, 600) == 400
    assert height_px(replace(drawn().frame, sensor_mm=(36.0, 0.01)), 100) == 1


def test_the_target_lies_in_the_middle_whatever_the_angle():
    for angle in (0.0, 33.0, 200.0):
        assert spot(drawn().sketch(angle_deg=angle)) == pytest.approx((0.0, 0.0), abs=0.3)


@pytest.mark.parametrize(
    ("angle", "right", "up"),
    [
        # 60' east and 30' north of the target; 1.717' a pixel: 34.9 and 17.5 pixels.
        (0.0, -34.9, 17.5),  # north up, east left
        (90.0, 17.5, 34.9),  # east up, north right
        (180.0, 34.9, -17.5),
        (270.0, -17.5, -34.9),
        # 63.43 degrees, where the neighbour lies: straight up, the root of 60^2 + 30^2 = 67.1'.
        (63.435, 0.0, 39.1),
    ],
)
def test_neighbours_and_stars_lie_where_the_frame_puts_them(angle, right, up):
    point = Target(name="P", ra_deg=10.0, dec_deg=40.0)
    neighbour = NEBULA.model_copy(update={"name": "Beside"})
    held = Around((), 10.0, ((60.0, 30.0, neighbour),))
    assert spot(drawn().sketch(point, held, angle)) == pytest.approx((right, up), abs=0.5)
    star = Around(((60.0, 30.0, 9.0),), 10.0, ())
    assert spot(drawn().sketch(point, star, angle)) == pytest.approx((right, up), abs=0.5)


@pytest.mark.parametrize(("direction", "angle"), [(0.0, 0.0), (40.0, 0.0), (40.0, 75.0), (120.0, 330.0)])
def test_a_long_target_points_to_its_direction_from_the_sensors(direction, angle):
    long = NEBULA.model_copy(update={"major_arcmin": 90.0, "minor_arcmin": 15.0, "angle_deg": direction})
    picture = drawn().sketch(long, angle_deg=angle)
    light = np.clip(picture - np.median(picture) - 40.0, 0.0, None)
    rows, columns = np.mgrid[0:120, 0:180] + 0.5
    x, y = columns - 90.0, 60.0 - rows
    # The axis of its second moments, anticlockwise from up.
    xx, yy, xy = ((light * one).sum() for one in (x * x, y * y, x * y))
    axis = math.degrees(0.5 * math.atan2(-2.0 * xy, yy - xx))
    apart = (axis - (direction - angle) + 90.0) % 180.0 - 90.0
    assert abs(apart) < 2.0


def test_a_brighter_target_is_drawn_brighter_and_one_of_unknown_brightness_not_at_all():
    middle = (slice(57, 63), slice(87, 93))
    greys = [drawn(mag=mag).sketch()[middle].mean() for mag in (23.0, 22.0, 21.0, 20.0)]
    assert greys == sorted(greys)
    assert len(set(greys)) == 4
    rig = drawn()
    unknown = replace(rig, depth=replace(rig.depth, target_e=None))
    empty = unknown.sketch()
    assert empty[middle].mean() == pytest.approx(empty.mean(), abs=4.0)


def test_what_shines_as_bright_is_drawn_as_bright_on_every_rig():
    # By one stretch: the sky, and a nebula of 21 under a sky of 20.5, on half the focal length, on twice the
    # aperture, and on a warm sensor, whose dark current is as much as its sky.
    rigs = (drawn(), drawn(focal_mm=200.0), drawn(aperture_mm=160.0), drawn(dark_e_s=2.0))
    assert rigs[3].depth.dark_e > 0.5 * rigs[3].depth.sky_e * rigs[3].frame.scale_arcsec ** 2
    large = NEBULA.model_copy(update={"major_arcmin": 80.0})
    pictures = [one.sketch(large) for one in rigs]
    nebula = [picture[58:62, 88:92].mean() for picture in pictures]
    sky = [picture[55:65, 5:15].mean() for picture in pictures]
    assert sky == pytest.approx([sky[0]] * 4, abs=1.0)
    assert nebula == pytest.approx([nebula[0]] * 4, abs=1.5)
    assert nebula[0] > sky[0] + 30.0


def test_the_sky_grows_brighter_downwards_as_the_air_above_it_does():
    # Krisciunas and Schaefer (1991), equations 2 and 3, by hand: 3.433 degrees about 60 reach from Z = 28.283
    # to 31.717, X = 1.1291 to 1.1667, and X 10^(-0.4 x 0.172 (X - 1)) = 1.1062 to 1.1363, 1.1207 between.
    assert sky_slope(60.0, 3.433) == pytest.approx(0.0269, abs=1e-4)
    assert sky_slope(90.0, 3.433) == pytest.approx(0.0, abs=1e-12)
    assert sky_slope(88.0, 20.0) > 0.0, "more of it lies on the near side of the zenith"
    assert sky_slope(20.0, 3.433) > 2.5 * sky_slope(60.0, 3.433)
    rig = drawn()
    low = replace(rig, depth=replace(rig.depth, altitude_deg=20.0)).sketch(noise_share=0.01)
    assert low[-10:, :40].mean() > low[:10, :40].mean() + 10.0


def test_noise_falls_with_the_root_of_the_time():
    rig = drawn()
    share = sky_noise_share(rig.depth, rig.frame, 60.0, WIDTH)
    # Four times as long is half the noise, of photons and of read noise alike.
    assert sky_noise_share(rig.depth, rig.frame, 240.0, WIDTH) == pytest.approx(share / 2.0)
    short, long = (rig.sketch(total_s=time, noise_share=share) for time in (60.0, 240.0))
    # Along the middle rows, where the sky is even.
    grains = [np.std(np.diff(picture[55:65, 5:75], axis=1)) for picture in (short, long)]
    assert grains[0] / grains[1] == pytest.approx(2.0, rel=0.1)


def test_the_noise_of_an_empty_pixel_is_that_of_the_electrons_in_it():
    rig = drawn()
    depth, frame = rig.depth, rig.frame
    # 9000 sensor pixels on 180: 50 x 50 of 2.0627 arcsec; an hour in exposures of a minute, 1.5 e each.
    sky = depth.sky_e * 2500.0 * 2.06265**2 * HOUR
    noise = math.sqrt(sky + 0.002 * 2500.0 * HOUR + 60 * 2500.0 * 1.5**2)
    assert sky_noise_share(depth, frame, HOUR, WIDTH) == pytest.approx(noise / sky, rel=1e-4)


def test_the_same_sketch_is_drawn_twice_alike():
    assert np.array_equal(drawn().sketch(), drawn().sketch())


def test_stars_are_as_bright_as_their_magnitudes_say():
    # Greys of the brightest pixel: a magnitude fainter is darker, and one of 20 is lost in the sky.
    point = Target(name="P", ra_deg=10.0, dec_deg=40.0)
    peaks = [drawn().sketch(point, Around(((1.0, 1.0, g),), 20.0, ())).max() for g in (7.0, 8.0, 9.0, 10.0)]
    assert peaks == sorted(peaks, reverse=True)
    assert len(set(peaks)) == 4
    lost = drawn().sketch(point, Around(((1.0, 1.0, 20.0),), 20.0, ()))
    assert lost.max() == drawn().sketch(point).max()
