import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.glass import plate_shift_mm
from server.optics.reach import focuser_reach

lengths = st.floats(0.0, 500.0)


def test_a_camera_that_stands_too_near_needs_the_drawtube_out():
    # By hand: focus 120 mm behind the rear connection, sensor at 90: 30 mm out, 50 of 80 mm left.
    reach = focuser_reach(120.0, 10.0, 80.0, 90.0)
    assert (reach.move_mm, reach.margin_in_mm, reach.margin_out_mm) == pytest.approx((30.0, 40.0, 50.0))


def test_a_camera_that_stands_too_far_back_lacks_travel_inwards():
    # By hand: focus at 60 mm, sensor at 75: 15 mm in, but only 5 are there.
    reach = focuser_reach(60.0, 5.0, 40.0, 75.0)
    assert (reach.move_mm, reach.margin_in_mm, reach.margin_out_mm) == pytest.approx((-15.0, -10.0, 55.0))


def test_glass_in_the_beam_gives_room_inwards():
    # A 2 mm plate of index 1.5168 puts the focus 0.68143 mm further out (tests/references/glass.py).
    bare = focuser_reach(60.0, 5.0, 40.0, 65.5)
    behind_glass = focuser_reach(60.0, 5.0, 40.0, 65.5, plate_shift_mm(2.0, 1.5168))
    assert bare.margin_in_mm < 0.0
    assert behind_glass.margin_in_mm == pytest.approx(0.18143, abs=1e-5)


def test_a_focus_inside_the_tube_is_out_of_reach_without_travel():
    assert focuser_reach(-3.0, 2.0, 40.0, 0.0).margin_in_mm == pytest.approx(-1.0)


def test_at_the_very_end_of_the_travel_nothing_is_left_and_nothing_is_missing():
    assert focuser_reach(60.0, 5.0, 40.0, 65.0).margin_in_mm == 0.0


@given(back_focus=lengths, travel_in=lengths, travel_out=lengths, train=lengths)
def test_the_two_margins_share_the_whole_travel(back_focus, travel_in, travel_out, train):
    reach = focuser_reach(back_focus, travel_in, travel_out, train)
    assert reach.margin_in_mm + reach.margin_out_mm == pytest.approx(travel_in + travel_out, abs=1e-9)


@given(back_focus=lengths, train=lengths, spacer=st.floats(0.0, 100.0))
def test_a_spacer_trades_room_inwards_for_room_outwards(back_focus, train, spacer):
    before = focuser_reach(back_focus, 50.0, 50.0, train)
    after = focuser_reach(back_focus, 50.0, 50.0, train + spacer)
    assert after.margin_in_mm == pytest.approx(before.margin_in_mm - spacer, abs=1e-9)
    assert after.margin_out_mm == pytest.approx(before.margin_out_mm + spacer, abs=1e-9)


def test_a_negative_travel_is_refused():
    with pytest.raises(ValueError, match="The travel inwards is -5 mm"):
        focuser_reach(60.0, -5.0, 40.0, 60.0)
