"""A rig's frame on the sky, and a target on it. Angles and shares are worked by hand."""

from __future__ import annotations

import math

import pytest

from server.domain.sky.frame import Frame, frame_of, put_on
from server.domain.sky.target import Target
from server.domain.workings.case import Case
from tests.domain.rigs import camera, case, corrector, guider, rig, ring, tube

RIG = (tube(), corrector(factor=0.75), ring(37.5), camera())
"""800 mm, brought to 600 by the corrector, before 36 x 24 mm of 9000 x 6000 pixels."""


def frame_600() -> Frame:
    found = frame_of(case(*RIG))
    assert isinstance(found, Frame)
    return found


def target(**given):
    return Target(**({"name": "A", "ra_deg": 10.0, "dec_deg": 40.0} | given))


def test_a_frame_is_the_sensor_behind_the_focal_length_at_the_sensor():
    frame = frame_600()
    # 2 arctan(18 / 600) and 2 arctan(12 / 600); 4 um over 600 mm, times 206.265.
    assert frame.focal_mm == pytest.approx(600.0)
    assert frame.width_deg == pytest.approx(2.0 * math.degrees(math.atan(0.03)), abs=1e-6)
    assert frame.height_deg == pytest.approx(2.29152, abs=1e-5)
    assert frame.scale_arcsec == pytest.approx(1.37510, abs=1e-4)
    assert frame.sides_arcmin == pytest.approx((206.203, 137.491), abs=0.001)
    assert (frame.width_px, frame.height_px, frame.sensor_mm) == (9000, 6000, (36.0, 24.0))
    assert frame.name == "Test rig"


@pytest.mark.parametrize(
    ("parts", "fields"),
    [
        ((tube(), camera(width_px=None)), {"width_px"}),
        ((tube(), camera(pixel_um=None)), {"pixel_um"}),
        ((tube(focal_length_mm=None), camera()), {"focal_length_mm"}),
        ((tube(), corrector(factor=None), camera()), {"factor"}),
        ((tube(focal_length_mm=None), camera(pixel_um=None)), {"focal_length_mm", "pixel_um"}),
    ],
)
def test_what_is_missing_for_a_frame_is_named_and_nothing_more(parts, fields):
    found = frame_of(case(*parts))
    assert not isinstance(found, Frame)
    assert {one.field for one in found} == fields


@pytest.mark.parametrize("parts", [(), (tube(),), (camera(),), (tube(), ring(10.0), guider())])
def test_a_train_without_its_ends_asks_for_them(parts):
    found = frame_of(case(*parts))
    assert not isinstance(found, Frame)
    assert len(found) >= 1


def test_a_frame_needs_no_aperture():
    assert isinstance(frame_of(Case(rig(tube(aperture_mm=None), camera()))), Frame)


def test_a_target_fits_best_where_it_fills_both_sides_alike():
    # With the sensor's width along it a thin one would take tan(half of 100') over tan(half of the width).
    thin = put_on(frame_600(), target(major_arcmin=100.0, minor_arcmin=10.0, angle_deg=45.0), None)
    share = math.tan(math.radians(50.0 / 60.0)) / 0.03
    # Towards the diagonal it takes less.
    assert thin.best_fill is not None
    assert thin.best_fill < share
    assert thin.fill == pytest.approx(thin.best_fill)
    assert thin.angle_deg == thin.best_angle_deg
    off = math.radians(thin.best_angle_deg - 45.0)
    wide = math.hypot(100.0 * math.sin(off), 10.0 * math.cos(off)) / 206.203
    high = math.hypot(100.0 * math.cos(off), 10.0 * math.sin(off)) / 137.491
    assert wide == pytest.approx(high, rel=1e-3)
    assert thin.best_fill == pytest.approx(wide, rel=1e-3)


def test_an_angle_that_is_asked_for_is_kept_and_the_best_one_stands_beside_it():
    # Along the sensor's height, with its upper side to the target's own direction: 100' of 137.491', nearly.
    up = put_on(frame_600(), target(major_arcmin=100.0, minor_arcmin=10.0, angle_deg=45.0), 45.0)
    assert up.fill == pytest.approx(math.tan(math.radians(50.0 / 60.0)) / 0.02, rel=1e-6)
    assert up.angle_deg == 45.0
    assert up.best_fill is not None
    assert up.fill is not None
    assert up.best_fill < up.fill
    assert not up.any_angle


def test_a_round_target_fits_at_any_angle():
    round_one = put_on(frame_600(), target(major_arcmin=100.0, minor_arcmin=100.0, angle_deg=30.0), None)
    assert round_one.any_angle
    assert round_one.angle_deg == 0.0
    assert round_one.fill == pytest.approx(math.tan(math.radians(50.0 / 60.0)) / 0.02, rel=1e-6)


def test_a_target_of_unknown_direction_is_framed_at_its_best_one_whatever_the_cameras_angle():
    known = put_on(frame_600(), target(major_arcmin=150.0, minor_arcmin=20.0, angle_deg=0.0), None)
    for angle in (None, 0.0, 63.0):
        unknown = put_on(frame_600(), target(major_arcmin=150.0, minor_arcmin=20.0), angle)
        assert unknown.any_angle
        assert unknown.fill == pytest.approx(known.best_fill)
        assert unknown.angle_deg == (angle or 0.0)


@pytest.mark.parametrize("angle", [None, 63.0])
def test_a_target_of_unknown_direction_is_drawn_lying_as_its_share_was_reckoned(angle: float | None):
    unknown = target(major_arcmin=150.0, minor_arcmin=20.0)
    framed = put_on(frame_600(), unknown, angle)
    lies = framed.lying(unknown)
    assert put_on(frame_600(), lies, framed.angle_deg).fill == pytest.approx(framed.fill)
    known = target(major_arcmin=150.0, minor_arcmin=20.0, angle_deg=10.0)
    assert put_on(frame_600(), known, angle).lying(known) == known


def test_a_target_of_unknown_size_keeps_the_cameras_angle_and_has_no_share():
    point = put_on(frame_600(), target(), 63.0)
    assert (point.fill, point.best_fill, point.angle_deg) == (None, None, 63.0)
    assert point.frame is not None


def test_a_target_larger_than_the_frame_fills_more_than_all_of_it():
    large = put_on(frame_600(), target(major_arcmin=300.0, minor_arcmin=300.0), None)
    assert large.fill == pytest.approx(math.tan(math.radians(2.5)) / 0.02, rel=1e-6)
    # Three columns of 85 % steps span 2.7 widths, two 1.85: 300' are 1.46 widths and 2.19 heights.
    assert large.panels == (2, 3)


def test_only_what_is_too_large_wants_panels():
    assert put_on(frame_600(), target(major_arcmin=137.0, minor_arcmin=137.0), None).panels is None
    whole = put_on(frame_600(), target(major_arcmin=3600.0, minor_arcmin=3600.0), None)
    assert whole.panels is None, "more than the form takes"


def test_the_sensors_width_lies_along_the_target_for_its_panels():
    # Of a target to 20 degrees the width points there: the upper side is a quarter turn on.
    long = put_on(frame_600(), target(major_arcmin=400.0, minor_arcmin=60.0, angle_deg=20.0), None)
    assert long.along_deg == pytest.approx(110.0)
    assert long.panels == (3, 1)
