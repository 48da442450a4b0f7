"""A mosaic of a target. Sizes and edges are worked by hand; the ground has its own tests of the grid."""

from __future__ import annotations

import math

import pytest

from server.domain.sky.frame import Frame, frame_of
from server.domain.sky.panels import work_panels
from server.domain.sky.target import Target
from server.out_of_range import OutOfRangeError
from tests.domain.rigs import camera, case, tube


def frame() -> Frame:
    """36 x 24 mm behind 800 mm: 2.5779 x 1.7187 degrees."""
    found = frame_of(case(tube(), camera()))
    assert isinstance(found, Frame)
    return found


def at(dec_deg: float) -> Target:
    return Target(name="A", ra_deg=100.0, dec_deg=dec_deg)


def test_a_mosaic_shares_its_edges_and_takes_in_the_rest():
    made = work_panels(at(20.0), frame(), 0.0, rows=2, columns=3, overlap=0.15, fixed=False)
    # 15 % of 154.67' and 103.12'; 2.5779 x (1 + 2 x 0.85) and 1.7187 x (1 + 0.85).
    assert made.shared_arcmin == pytest.approx((23.20, 15.47), abs=0.01)
    assert made.covered_deg == pytest.approx((6.960, 3.180), abs=0.001)
    assert [(one.row, one.column) for one in made.panels] == [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2)]
    assert (made.turn_missing_deg, made.uncovered_share, made.better_turned) == (0.0, 0.0, False)


def test_with_north_up_the_first_panel_lies_north_and_east_of_the_target():
    # East lies to the left where north is up.
    first = work_panels(at(0.0), frame(), 0.0, 2, 2, 0.0, False).panels[0]
    # Half a step in each: arctan(tan(w / 2)) of 18 / 800 and 12 / 800 east and north, on the equator.
    assert first.ra_deg == pytest.approx(100.0 + math.degrees(math.atan(18.0 / 800.0)), abs=1e-3)
    assert first.dec_deg == pytest.approx(math.degrees(math.atan(12.0 / 800.0)), abs=1e-3)


def test_the_middle_panel_looks_at_the_target_at_the_cameras_angle():
    middle = work_panels(at(41.0), frame(), 35.0, 3, 3, 0.15, False).panels[4]
    assert (middle.ra_deg, middle.dec_deg, middle.angle_deg) == pytest.approx((100.0, 41.0, 35.0))


def test_one_panel_is_the_frame_itself():
    made = work_panels(at(41.0), frame(), 35.0, 1, 1, 0.15, True)
    assert len(made.panels) == 1
    assert made.covered_deg == (frame().width_deg, frame().height_deg)
    assert made.uncovered_share == 0.0


def test_a_fixed_camera_misses_the_more_the_nearer_the_pole_and_is_then_better_turned():
    fixed = [work_panels(at(dec), frame(), 0.0, 3, 3, 0.15, True) for dec in (0.0, 41.0, 85.0)]
    turns = [one.turn_missing_deg for one in fixed]
    assert turns == sorted(turns)
    # The meridians of a corner panel's middle and the target's meet at sin(dec) times their difference:
    # 2.19 degrees east / cos 41 x sin 41 = 1.9, and near the pole much more.
    assert turns[1] == pytest.approx(1.97, abs=0.15)
    assert fixed[2].uncovered_share > fixed[1].uncovered_share > 0.0
    assert [one.better_turned for one in fixed] == [False, False, True]
    assert not work_panels(at(85.0), frame(), 0.0, 3, 3, 0.15, False).better_turned
    assert work_panels(at(-85.0), frame(), 0.0, 3, 3, 0.15, True).better_turned


def test_a_mosaic_that_reaches_too_far_is_refused():
    wide = frame_of(case(tube(focal_length_mm=20.0, aperture_mm=10.0), camera()))
    assert isinstance(wide, Frame)
    with pytest.raises(OutOfRangeError):
        work_panels(at(0.0), wide, 0.0, 10, 10, 0.15, False)
