"""Panels of a mosaic, against spherical geometry and areas by other libraries."""

from __future__ import annotations

import math

import astropy.units as u
import numpy as np
import pytest
import shapely
from astropy.coordinates import SkyCoord

from server.out_of_range import OutOfRangeError
from server.sky.framing import from_tangent, off_sensor, on_sensor, to_tangent
from server.sky.mosaic import mosaic, panels_needed

FRAME = (1.683, 1.122)
#: What a rounding leaves at an edge that two frames share, of half a frame.
HAIR = 1e-9


def half(frame_deg):
    return math.tan(math.radians(frame_deg) / 2.0)


def reach(frame_deg, count, overlap):
    return half(frame_deg) * (1.0 + (1.0 - overlap) * (count - 1))


def uncovered(made, points, frame):
    """Count the points (right ascension, declination) that lie in no panel."""
    ra, dec = points
    left = np.ones(len(ra), dtype=bool)
    for panel in made.panels:
        x, y = on_sensor(*to_tangent(ra, dec, panel.ra_deg, panel.dec_deg), panel.angle_deg)
        left &= ~((np.abs(x) <= half(frame[0]) * (1.0 + HAIR)) & (np.abs(y) <= half(frame[1]) * (1.0 + HAIR)))
    return int(left.sum())


def scattered(dec, angle, width, height, count):
    """Return points by chance within the outline of a mosaic about 10 degrees of right ascension."""
    x, y = np.random.default_rng(8).uniform(-1.0, 1.0, (2, count))
    return from_tangent(*off_sensor(x * width, y * height, angle), 10.0, dec)


@pytest.mark.parametrize("dec", [0.0, 20.0, 41.27, 60.0, 75.0, 85.0, 90.0])
def test_turned_to_each_panel_a_mosaic_has_no_hole(dec):
    made = mosaic(10.0, dec, *FRAME, 20.0, 3, 3, 0.15)
    points = scattered(dec, 20.0, reach(FRAME[0], 3, 0.15), reach(FRAME[1], 3, 0.15), 60_000)
    assert uncovered(made, points, FRAME) == 0
    assert made.turn_missing_deg == 0.0
    assert made.uncovered_share == 0.0


@pytest.mark.parametrize(("rows", "columns", "frame"), [(4, 3, (10.0, 7.0)), (2, 5, (12.0, 20.0))])
def test_wide_frames_leave_no_hole_even_without_overlap(rows, columns, frame):
    for dec in (-70.0, 5.0):
        made = mosaic(10.0, dec, frame[0], frame[1], -40.0, rows, columns, 0.0)
        points = scattered(dec, -40.0, reach(frame[0], columns, 0.0), reach(frame[1], rows, 0.0), 20_000)
        assert uncovered(made, points, frame) == 0


def test_each_turned_camera_stands_to_the_great_circle_from_the_middle_as_the_mosaic_does():
    # astropy's SkyCoord gives the bearing of that circle at both of its ends.
    for dec in (-35.0, 41.27, 85.0):
        middle = SkyCoord(358.0 * u.deg, dec * u.deg)
        for panel in mosaic(358.0, dec, 3.0, 2.0, 20.0, 4, 4, 0.2).panels:
            there = SkyCoord(panel.ra_deg * u.deg, panel.dec_deg * u.deg)
            on = middle.position_angle(there).deg - 20.0
            arrived = there.position_angle(middle).deg + 180.0 - panel.angle_deg
            assert (arrived - on + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-6)


def test_panels_stand_a_frame_less_the_overlap_apart_from_the_top_left():
    made = mosaic(10.0, 41.0, 2.0, 1.0, 0.0, 3, 3, 0.25)
    assert [(panel.row, panel.column) for panel in made.panels[:4]] == [(0, 0), (0, 1), (0, 2), (1, 0)]
    middle, below, aside = made.panels[4], made.panels[7], made.panels[5]
    assert (middle.ra_deg, middle.dec_deg, middle.angle_deg) == pytest.approx((10.0, 41.0, 0.0))
    # 0.75 of a frame, by hand: 0.75 degrees down, 1.5 degrees to the right, which is west; the plane's
    # stretch takes 0.7 arcsec of it.
    assert below.dec_deg == pytest.approx(40.25, abs=1e-4)
    separation = SkyCoord(aside.ra_deg, aside.dec_deg, unit="deg").separation(
        SkyCoord(10.0, 41.0, unit="deg")
    )
    assert separation.deg == pytest.approx(1.5, abs=3e-4)
    assert aside.ra_deg < 10.0


def test_one_panel_is_the_frame_itself():
    made = mosaic(10.0, -80.0, 2.0, 1.0, -30.0, 1, 1, 0.1, fixed=True)
    assert len(made.panels) == 1
    assert (made.panels[0].ra_deg, made.panels[0].dec_deg) == pytest.approx((10.0, -80.0))
    assert made.panels[0].angle_deg == pytest.approx(330.0)
    assert made.uncovered_share == made.turn_missing_deg == 0.0


# Turn that the corner panel lacks and what stays uncovered, worked by another program before this code with
# points by chance (0.02 % of them): 3 x 3 of 1.683 x 1.122 degrees, overlap 15 %.
@pytest.mark.parametrize(
    ("dec", "turn_deg", "percent"),
    [(41.0, 1.3, 0.24), (60.0, 2.6, 0.52), (75.0, 5.7, 1.1), (85.0, 19.4, 3.1)],
)
def test_a_camera_that_is_never_turned_leaves_out_what_was_found_before(dec, turn_deg, percent):
    made = mosaic(10.0, dec, *FRAME, 0.0, 3, 3, 0.15, fixed=True)
    assert made.turn_missing_deg == pytest.approx(turn_deg, abs=0.05)
    assert 100.0 * made.uncovered_share == pytest.approx(percent, abs=0.05)
    assert {panel.angle_deg for panel in made.panels} == {0.0}


@pytest.mark.parametrize(("dec", "angle"), [(20.0, 0.0), (41.0, 30.0), (-60.0, 75.0), (85.0, 130.0)])
def test_what_a_fixed_camera_leaves_out_is_the_area_outside_its_panels(dec, angle):
    # shapely's areas of the panels in the middle's tangent plane, where great circles are straight.
    made = mosaic(10.0, dec, *FRAME, angle, 3, 4, 0.1, fixed=True)
    corners = half(FRAME[0]) * np.array([-1, 1, 1, -1]), half(FRAME[1]) * np.array([-1, -1, 1, 1])
    frames = []
    for panel in made.panels:
        places = from_tangent(*off_sensor(*corners, panel.angle_deg), panel.ra_deg, panel.dec_deg)
        frames.append(shapely.Polygon(np.transpose(on_sensor(*to_tangent(*places, 10.0, dec), angle))))
    width, height = reach(FRAME[0], 4, 0.1), reach(FRAME[1], 3, 0.1)
    whole = shapely.box(-width, -height, width, height)
    share = whole.difference(shapely.union_all(frames)).area / whole.area
    assert made.uncovered_share == pytest.approx(share, abs=2e-4)


@pytest.mark.parametrize("angle", [-50.0, 50.0])
def test_the_turn_that_a_fixed_camera_lacks_is_the_largest_to_either_side(angle):
    turned = mosaic(10.0, 65.0, FRAME[0], FRAME[1], angle, 3, 3, 0.15)
    turns = [(panel.angle_deg - angle + 180.0) % 360.0 - 180.0 for panel in turned.panels]
    assert max(turns) != pytest.approx(-min(turns), abs=0.01)
    made = mosaic(10.0, 65.0, FRAME[0], FRAME[1], angle, 3, 3, 0.15, fixed=True)
    assert made.turn_missing_deg == pytest.approx(max(map(abs, turns)))


def test_as_many_panels_as_the_size_needs():
    # 3 frames of 2 degrees with 0.2 of overlap reach 5.2 degrees (by hand; the plane's stretch is 0.1 %).
    assert panels_needed(2.0, 5.19, 0.1) == 3
    assert panels_needed(2.0, 5.7, 0.1) == 4
    assert panels_needed(2.0, 2.0, 0.1) == 1
    assert panels_needed(2.0, 0.1, 0.9) == 1
    assert panels_needed(2.0, 2.01, 0.9) == 2


@pytest.mark.parametrize(("frame", "overlap"), [(1.5, 0.15), (9.0, 0.0), (20.0, 0.3)])
def test_panels_needed_cover_the_size_and_one_less_does_not(frame, overlap):
    for wanted in np.linspace(frame * 1.01, 70.0, 23):
        count = panels_needed(frame, wanted, overlap)
        assert reach(frame, count, overlap) >= half(wanted) * (1.0 - HAIR)
        assert reach(frame, count - 1, overlap) < half(wanted)


def test_a_size_that_some_panels_just_cover_needs_no_more():
    for count in range(1, 20):
        for overlap in (0.0, 0.1, 0.15, 1.0 / 3.0):
            wanted = 2.0 * math.degrees(math.atan(reach(1.9, count, overlap)))
            assert panels_needed(1.9, wanted, overlap) == count


@pytest.mark.parametrize(
    "refused",
    [
        lambda: mosaic(10.0, 91.0, 2.0, 1.0, 0.0, 2, 2, 0.1),
        lambda: mosaic(10.0, 0.0, 0.0, 1.0, 0.0, 2, 2, 0.1),
        lambda: mosaic(10.0, 0.0, 2.0, 61.0, 0.0, 2, 2, 0.1),
        lambda: mosaic(10.0, 0.0, 2.0, 1.0, 0.0, 0, 2, 0.1),
        lambda: mosaic(10.0, 0.0, 2.0, 1.0, 0.0, 2, 31, 0.1),
        lambda: mosaic(10.0, 0.0, 2.0, 1.0, 0.0, 2, 2, 1.0),
        lambda: mosaic(10.0, 0.0, 50.0, 50.0, 0.0, 5, 5, 0.1),
        lambda: panels_needed(2.0, 121.0, 0.1),
        lambda: panels_needed(2.0, 10.0, -0.1),
    ],
)
def test_what_no_mosaic_can_be_is_refused_with_what_to_do(refused):
    with pytest.raises(OutOfRangeError, match=r"\. (Give|Use|Make|Choose)"):
        refused()
