import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.mechanics.seating import seat


def test_a_thread_shorter_than_its_hole_seats_on_its_shoulder():
    found = seat(4.0, 5.0, 0.75, floor_depth_mm=5.5)
    assert found.seats
    assert found.stopped_by == "shoulder"
    assert found.engaged_mm == pytest.approx(4.0)
    # By hand: 4 / 0.75.
    assert found.turns == pytest.approx(5.333, abs=1e-3)
    assert found.holds


def test_a_thread_longer_than_its_hole_leaves_the_shoulders_open_by_the_difference():
    found = seat(6.0, 4.5, 0.75, floor_depth_mm=5.0)
    assert not found.seats
    assert found.stopped_by == "floor"
    assert (found.gap_mm, found.engaged_mm) == pytest.approx((1.0, 4.5))


def test_a_filter_cell_stops_a_long_thread_before_the_floor_does():
    found = seat(6.0, 5.0, 0.75, floor_depth_mm=8.0, part_depth_mm=4.2)
    assert found.stopped_by == "part"
    # The male reaches in by 4.2 mm, all of it in the female's thread.
    assert (found.gap_mm, found.engaged_mm) == pytest.approx((1.8, 4.2))


def test_a_thread_that_just_touches_seats():
    assert seat(5.0, 5.0, 0.75, part_depth_mm=5.0).seats


def test_where_the_hole_goes_through_a_long_thread_is_in_mesh_over_the_holes_thread_only():
    found = seat(9.0, 3.0, 1.0)
    assert found.seats
    assert found.engaged_mm == pytest.approx(3.0)


def test_two_turns_do_not_hold():
    found = seat(1.5, 5.0, 0.75)
    assert found.turns == pytest.approx(2.0)
    assert not found.holds


def test_bare_metal_at_the_beginning_of_either_thread_holds_nothing():
    # 4 mm of male, of which the first 1 mm at the shoulder is bare; the female begins 1.5 mm in: 1.5 to 4.
    assert seat(4.0, 6.0, 0.75, male_lead_mm=1.0, female_lead_mm=1.5).engaged_mm == pytest.approx(2.5)
    # Left 2 mm open by a filter, the male's bare metal lies outside: 1.5 to 2.
    stopped = seat(4.0, 6.0, 0.75, part_depth_mm=2.0, male_lead_mm=1.0, female_lead_mm=1.5)
    assert stopped.engaged_mm == pytest.approx(0.5)


@given(
    male=st.floats(0.5, 20.0),
    depth=st.floats(0.0, 20.0),
    pitch=st.floats(0.5, 1.5),
    extra=st.floats(0.0, 5.0),
    part=st.one_of(st.none(), st.floats(0.0, 20.0)),
)
def test_nothing_reaches_past_what_stops_it(male, depth, pitch, extra, part):
    floor = depth + extra
    found = seat(male, depth, pitch, floor_depth_mm=floor, part_depth_mm=part)
    reached = male - found.gap_mm
    assert reached <= min(floor, math.inf if part is None else part) + 1e-9
    assert 0.0 <= found.engaged_mm <= min(male, depth) + 1e-9


def test_a_thread_deeper_than_its_hole_is_refused():
    with pytest.raises(ValueError, match="hole is 4 mm deep and its thread 5 mm"):
        seat(4.0, 5.0, 0.75, floor_depth_mm=4.0)


def test_a_thread_of_no_length_is_refused():
    with pytest.raises(ValueError, match="male thread's length is 0 mm; it must be more than 0"):
        seat(0.0, 5.0, 0.75)


def test_a_pitch_in_turns_is_refused():
    with pytest.raises(ValueError, match="pitch is 24 mm"):
        seat(4.0, 5.0, 24.0)
