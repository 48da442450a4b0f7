"""Whether the focuser brings the sensor to the focus, without a corrector.

Source: lengths along the axis, worked by hand: move = back focus + shift by glass - train. Plane-parallel
plate: Smith, Modern Optical Engineering (from memory); 3 mm of index 1.5 shift by 1 mm, exactly.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.checks.slide import slide_mm
from server.domain.connections import Barrel
from tests.domain.rigs import (
    M48F,
    adapter,
    camera,
    corrector,
    finding,
    focuser,
    glass,
    holding,
    input_named,
    mm,
    number,
    ring,
    tube,
    wheel,
)

ROUNDING_MM = 1e-9


def open_tube(back=100.0, inwards=20.0, outwards=30.0, **given):
    return tube(back_focus_mm=back, focuser_in_mm=inwards, focuser_out_mm=outwards, **given)


def test_a_train_shorter_than_the_back_focus_moves_the_drawtube_out():
    # 100 - (72.5 + 17.5) = 10 mm outwards: 30 in and 20 out are left.
    found = finding("reach", open_tube(), ring(72.5), camera())
    assert found.code == "reach.sound"
    assert number(found, "move") == pytest.approx(10.0, abs=ROUNDING_MM)
    assert number(found, "inwards") == pytest.approx(30.0, abs=ROUNDING_MM)
    assert number(found, "outwards") == pytest.approx(20.0, abs=ROUNDING_MM)


def test_a_train_too_long_by_more_than_the_travel_inwards_never_comes_to_focus():
    # 100 - (107.5 + 17.5) = 25 mm inwards, and 20 are there.
    found = finding("reach", open_tube(), ring(107.5), camera())
    assert (found.weight, found.code) == ("stop", "reach.inwards")
    assert number(found, "short") == pytest.approx(5.0, abs=ROUNDING_MM)


def test_what_cannot_be_taken_out_is_not_asked_for():
    # A corrector straight on the tube: 40 - (30 + 37.5 + 17.5) = 45 mm inwards, and 20 are there.
    direct = finding("reach", open_tube(back=40.0), corrector(), ring(37.5), camera())
    assert direct.code == "reach.inwards"
    said = direct.remedies[0].phrase
    assert said.template.startswith("Nothing stands between the tube and the corrector")
    assert said.amounts["short"].value == pytest.approx(25.0, abs=ROUNDING_MM)
    assert "primary mirror" not in said.template
    newtonian = open_tube(back=40.0, design="newtonian")
    mirror = finding("reach", newtonian, corrector(), ring(37.5), camera())
    assert "Or move the primary mirror {short} or more towards the sky" in mirror.remedies[0].phrase.template
    # 30 mm of rings before it are enough to take 25 out; 10 are not.
    for length_mm, begins in (
        (30.0, "Take at least"),
        (10.0, "What stands between the tube and the corrector"),
    ):
        tube_ = open_tube(back=40.0 + length_mm)
        long = finding("reach", tube_, ring(length_mm), corrector(), ring(37.5), camera())
        assert long.remedies[0].phrase.template.startswith(begins)


def test_a_train_too_short_by_more_than_the_travel_outwards_needs_a_ring():
    # 100 - (42.5 + 17.5) = 40 mm outwards, and 30 are there.
    found = finding("reach", open_tube(), ring(42.5), camera())
    assert (found.weight, found.code) == ("stop", "reach.outwards")
    assert number(found, "short") == pytest.approx(10.0, abs=ROUNDING_MM)
    assert found.remedies[0].phrase.template.startswith("Add")


def test_glass_puts_the_focus_further_out():
    filtered = holding(wheel(72.5), glass(3.0, refractive_index=1.5))
    found = finding("reach", open_tube(), filtered, camera())
    assert number(found, "move") == pytest.approx(11.008624, abs=1e-6)
    # 3 mm of index 1.5 at f/4: 3 (1 - 0.992278 / sqrt(2.25 - 0.0153846)), by hand.
    assert input_named(found, "shift by") == pytest.approx(1.008624, abs=1e-6)


def test_an_added_focuser_lengthens_the_train_racked_in_and_adds_its_travel_outwards():
    # 100 - (60 + 17.5) = 22.5 mm outwards; 30 of the tube's own and 30 added.
    found = finding("reach", open_tube(), focuser(), camera())
    assert number(found, "outwards") == pytest.approx(37.5, abs=ROUNDING_MM)
    assert number(found, "inwards") == pytest.approx(42.5, abs=ROUNDING_MM)


def test_an_added_focuser_of_unknown_travel_is_named_and_never_sound():
    found = finding("reach", open_tube(), focuser(travel_mm=None), camera())
    assert (found.weight, found.missing) == ("unknown", ("the travel of Brask Focuser",))


def test_reaching_focus_at_the_very_end_of_the_travel_is_a_watch_not_a_stop():
    for tenths in ((0.1, 0.2), (0.3,)):
        found = finding("reach", open_tube(inwards=0.0, back=17.8), *(ring(x) for x in tenths), camera())
        assert (found.weight, found.code) == ("watch", "reach.tight")


def test_less_left_than_the_tolerances_is_a_watch():
    found = finding("reach", open_tube(), ring(mm(107.5 - 9.0, 4.5)), camera())
    assert number(found, "inwards") == pytest.approx(4.0, abs=ROUNDING_MM)
    assert found.code == "reach.tight"


def test_lacking_less_than_the_tolerances_is_a_watch_that_says_try_it():
    found = finding("reach", open_tube(), ring(mm(103.5, 2.0)), camera())
    assert (found.weight, found.code) == ("watch", "reach.inwards")
    assert "try it" in found.phrase.template


def test_the_unknown_travel_inwards_is_asked_for_and_the_move_is_told():
    found = finding("reach", open_tube(inwards=None), ring(72.5), camera())
    assert (found.weight, found.missing) == ("unknown", ("the travel inwards of Halden Tube",))
    assert number(found, "move") == pytest.approx(10.0, abs=ROUNDING_MM)


def test_what_is_known_to_fail_is_a_stop_whatever_else_is_missing():
    too_long = finding("reach", open_tube(outwards=None), ring(None), ring(107.5), camera())
    assert (too_long.weight, too_long.code) == ("stop", "reach.inwards")
    too_short = finding("reach", open_tube(inwards=None), ring(42.5), camera())
    assert (too_short.weight, too_short.code) == ("stop", "reach.outwards")


def test_a_train_that_seems_too_short_with_a_length_missing_is_not_judged():
    found = finding("reach", open_tube(), ring(None), camera())
    assert (found.weight, found.missing) == ("unknown", ("the optical length of Brask Ring",))


def test_glass_of_unknown_thickness_may_give_back_what_lacks_inwards_but_not_any_amount():
    near = finding("reach", open_tube(), holding(wheel(103.5), glass(None)), camera())
    assert (near.weight, near.code) == ("unknown", "reach.glass_unknown")
    far = finding("reach", open_tube(), holding(wheel(110.0), glass(None)), camera())
    assert (far.weight, far.code) == ("stop", "reach.inwards")


def test_unknown_glass_in_an_otherwise_sound_train_is_not_sound():
    found = finding("reach", open_tube(), holding(wheel(72.5), glass(None)), camera())
    assert (found.weight, found.missing) == ("unknown", ("the glass thickness of Sell Glass",))


def test_a_tube_that_does_not_say_where_its_focus_lies_is_asked():
    found = finding("reach", tube(), ring(72.5), camera())
    assert found.weight == "unknown"
    assert "how far behind Halden Tube its focal plane lies" in found.missing


@given(st.floats(0.0, 200.0), st.floats(0.1, 50.0))
def test_a_ring_more_takes_its_length_from_the_way_inwards_and_gives_it_outwards(first, more):
    # The drawtube's ways are wide enough for every case to be sound or a watch.
    wide = {"back": 200.0, "inwards": 400.0, "outwards": 400.0}
    before = finding("reach", open_tube(**wide), ring(first), camera())
    after = finding("reach", open_tube(**wide), ring(first), ring(more), camera())
    assert number(before, "inwards") - number(after, "inwards") == pytest.approx(more, abs=ROUNDING_MM)
    assert number(after, "outwards") - number(before, "outwards") == pytest.approx(more, abs=ROUNDING_MM)


def test_what_is_not_sure_is_told_as_may_not_and_what_is_as_cannot():
    sure = finding("reach", open_tube(), ring(107.5), camera())
    assert "cannot be brought to focus" in sure.phrase.template
    unsure = finding("reach", open_tube(), ring(mm(103.5, 2.0)), camera())
    assert "may not come to focus" in unsure.phrase.template


def test_a_nosepiece_in_a_holder_is_drawn_out_within_its_barrel():
    # 40 mm outwards are wanted, 30 are there; 30 mm of barrel less 10 that stay held give 20.
    for long, code, weight in (
        (30.0, "reach.slide", "watch"),
        (15.0, "reach.outwards", "stop"),
        (None, "reach.slide", "unknown"),
    ):
        nose = camera(sky_side=Barrel(diameter_mm=50.8, gender="male", thread_mm=long), flange_mm=60.0)
        found = finding("reach", open_tube(camera_side=Barrel(diameter_mm=50.8, gender="female")), nose)
        assert (found.code, found.weight) == (code, weight)


def test_a_nosepiece_no_longer_than_what_holds_it_is_not_drawn_out_at_all():
    lengths = [
        slide_mm(Barrel(diameter_mm=50.8, gender="male", thread_mm=long)) for long in (5.0, 10.0, 30.0)
    ]
    assert lengths == [0.0, 0.0, 20.0]


def test_a_nosepiece_that_was_counted_as_length_is_asked_about_where_focus_is_not_reached():
    holder = Barrel(diameter_mm=50.8, gender="female")
    nose = adapter(40.0, sky_side=Barrel(diameter_mm=50.8, gender="male"), camera_side=M48F)
    found = finding("reach", open_tube(back=30.0, camera_side=holder), nose, camera())
    assert found.code == "reach.inwards"
    assert "counts its nosepiece" in found.phrase.template
    threaded = finding("reach", open_tube(back=30.0), ring(40.0), camera())
    assert "nosepiece" not in threaded.phrase.template


LENS = {"design": "camera_lens", "focal_length_mm": 135.0, "aperture_mm": 67.5}


def lens(flange, **given):
    return tube(back_focus_mm=flange, **(LENS | given))


def test_a_camera_lens_is_held_to_its_flange_distance_and_not_asked_for_a_drawtube():
    # Flange distance of the trade's T thread, 55 mm: 37.5 + 17.5.
    right = finding("reach", lens(mm(55.0, 0.05)), ring(37.5), camera())
    assert (right.weight, right.code, right.missing) == ("sound", "reach.lens", ())
    long = finding("reach", lens(mm(55.0, 0.05)), ring(38.0), camera())
    assert (long.weight, long.code) == ("stop", "reach.lens_long")
    assert number(long, "error") == pytest.approx(0.5)
    assert long.remedies[0].phrase.template.startswith("Shorten the adapter")
    short = finding("reach", lens(mm(55.0, 0.05)), ring(37.0), camera())
    assert (short.weight, short.code) == ("watch", "reach.lens_short")


def test_a_lens_whose_way_past_infinity_nobody_knows_is_not_said_to_fail():
    found = finding("reach", lens(55.0), ring(37.8), camera())
    assert (found.weight, found.code) == ("unknown", "reach.lens_long")
    assert found.missing == (
        "how far past infinity Halden Tube focuses, or the tolerance of its flange distance",
    )
    passes = finding("reach", lens(55.0, focuser_in_mm=0.5), ring(37.8), camera())
    assert passes.weight == "sound"


@pytest.mark.parametrize(("length", "weight"), [(38.2, "unknown"), (38.3, "stop")])
def test_a_lens_is_said_to_fail_where_a_window_that_may_or_may_not_count_cannot_take_it_back(length, weight):
    # At f/2 tan u = 1/4: 2 mm of n = 1.5168 ask for 2 (1 - 0.970143 / sqrt(2.300682 - 0.058824)) = 0.704 mm
    # more, or for nothing; 0.05 mm are allowed: 55 + 0.704 + 0.05 - 17.5 = 38.254 mm.
    unsaid = camera(flange_quoted=None, window_thickness_mm=2.0)
    found = finding("reach", lens(mm(55.0, 0.05)), ring(length), unsaid)
    assert (found.weight, found.code) == (weight, "reach.lens_long")
