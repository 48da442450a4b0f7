"""The sensor against the back focus that the corrector asks for.

Sources: plane-parallel plate, the edge ray of the beam by Snell's law (Smith, Modern Optical Engineering,
from memory; the same by the open ray tracer optiland 0.6.3); quarter-wave depth of focus 2 lambda N^2 (Born &
Wolf, Principles of Optics, sec. 8.8, from memory): 17.6 um at f/4 and 550 nm; likely error as the root of
the sum of squares (JCGM 100:2008, 5.1.2, from memory): 3-4-5. Sums of lengths are worked by hand.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.connections import read_connection
from server.domain.parts.optical import BackFocusRow
from server.domain.rig import Rules
from server.domain.train import Place
from server.domain.workings.case import Case
from server.rim.wording import write_phrase
from tests.domain.rigs import (
    M42F,
    M48F,
    camera,
    case,
    corrector,
    finding,
    findings,
    focuser,
    glass,
    holding,
    input_named,
    item,
    mm,
    number,
    rig,
    ring,
    shim,
    tube,
    wheel,
)
from tests.told import check_spacing

ROUNDING_MM = 1e-9
"""Sums of a few lengths in double precision."""
PLATE_MM = 2e-5
"""The published shifts are printed to five decimals."""


def test_55_mm_behind_2_mm_of_crown_glass_at_f4_asks_for_55_687_mm():
    found = finding("spacing", tube(), corrector(), holding(wheel(37.5), glass(2.0)), camera())
    assert number(found, "asked") == pytest.approx(55.687, abs=5e-4)
    assert input_named(found, "shift by") == pytest.approx(0.68722, abs=PLATE_MM)
    assert number(found, "actual") == pytest.approx(55.0, abs=ROUNDING_MM)
    assert number(found, "error") == pytest.approx(0.68722, abs=PLATE_MM)
    assert found.code == "spacing.short"
    assert found.figure is not None
    assert found.figure.amount.value == pytest.approx(-0.68722, abs=PLATE_MM)


def test_a_third_of_the_thickness_is_only_for_glass_of_index_one_and_a_half():
    # n = 1.5, t = 2 mm, f/4 by hand: tan u = 1/8, 2 (1 - 0.992278 / sqrt(2.25 - 0.0153846)) = 0.672416 mm.
    # Near the axis it would be 0.666667. Malitson's silica at f/4: 0.63434 mm (references/glass.py).
    for index, shift in ((1.5, 0.672416), (1.458464, 0.63434)):
        found = finding(
            "spacing", tube(), corrector(), holding(wheel(37.5), glass(2.0, refractive_index=index)), camera()
        )
        assert number(found, "asked") == pytest.approx(55.0 + shift, abs=PLATE_MM)


def test_glass_is_counted_near_the_axis_where_nobody_knows_the_focal_ratio_and_the_working_says_so():
    parts = (corrector(), holding(wheel(37.5), glass(2.0)), camera())
    found = finding("spacing", tube(aperture_mm=None), *parts)
    # Near the axis 2 mm of N-BK7 shift by 0.68143 mm (references/glass.py).
    assert number(found, "asked") == pytest.approx(55.68143, abs=PLATE_MM)
    assert input_named(found, "shift by Sell Glass, near the axis") == pytest.approx(0.68143, abs=PLATE_MM)
    at_f4 = finding("spacing", tube(), *parts)
    assert input_named(at_f4, "shift by Sell Glass, edge ray at f/4") == pytest.approx(0.68722, abs=PLATE_MM)


def test_behind_a_reducer_the_glass_stands_in_the_faster_beam():
    # f/4 bare, f/2.8 behind a reducer of 0.7: 0.69316 mm (references/glass.py).
    found = finding("spacing", tube(), corrector(factor=0.7), holding(wheel(37.5), glass(2.0)), camera())
    assert number(found, "asked") == pytest.approx(55.69316, abs=PLATE_MM)


def test_only_the_filter_in_the_beam_counts():
    found = finding("spacing", tube(), corrector(), holding(wheel(37.5), glass(2.0), glass(3.0)), camera())
    assert number(found, "asked") == pytest.approx(55.68722, abs=PLATE_MM)


def test_glass_before_the_corrector_asks_for_nothing():
    found = finding("spacing", tube(), holding(wheel(20.0), glass(2.0)), corrector(), ring(37.5), camera())
    assert number(found, "asked") == 55.0
    assert found.code == "spacing.sound"


@pytest.mark.parametrize(("quoted", "asked"), [("mechanical", 55.68722), ("optical", 55.0)])
def test_a_window_counts_where_the_flange_distance_is_mechanical_and_not_where_it_is_optical(quoted, asked):
    found = finding(
        "spacing",
        tube(),
        corrector(),
        ring(37.5),
        camera(flange_quoted=quoted, window_thickness_mm=2.0),
    )
    assert number(found, "asked") == pytest.approx(asked, abs=PLATE_MM)


def test_a_flange_that_nobody_said_how_it_is_quoted_is_never_sound():
    found = finding(
        "spacing", tube(), corrector(), ring(37.5), camera(flange_quoted=None, window_thickness_mm=2.0)
    )
    assert found.weight == "unknown"
    assert number(found, "unsure") == pytest.approx(0.68722, abs=PLATE_MM)
    assert found.missing == ("whether the flange distance of Quill Cam is mechanical or optical",)


def test_a_camera_without_a_window_needs_no_word_on_how_its_flange_is_quoted():
    found = finding(
        "spacing", tube(), corrector(), ring(37.5), camera(flange_quoted=None, window_thickness_mm=0.0)
    )
    assert found.code == "spacing.sound"


def test_an_error_that_unknown_glass_may_take_back_is_not_judged():
    # 0.6 mm too far; a filter of 2 mm would ask for 0.68 more.
    found = finding("spacing", tube(), corrector(), holding(wheel(38.1), glass(None)), camera())
    assert found.code == "spacing.glass_unknown"
    assert not found.remedies


def test_an_error_that_no_glass_takes_back_is_judged_in_spite_of_it():
    too_long = finding("spacing", tube(), corrector(), holding(wheel(42.5), glass(None)), camera())
    assert (too_long.weight, too_long.code) == ("stop", "spacing.long")
    too_short = finding("spacing", tube(), corrector(), holding(wheel(36.9), glass(None)), camera())
    assert (too_short.weight, too_short.code) == ("watch", "spacing.short")
    assert too_short.missing == ("the glass thickness of Sell Glass",)


@pytest.mark.parametrize(
    ("rings", "code", "weight"),
    [
        (37.5, "spacing.sound", "sound"),
        (38.0, "spacing.sound", "sound"),  # On the window's edge.
        (37.0, "spacing.sound", "sound"),
        (38.2, "spacing.long", "watch"),
        (36.8, "spacing.short", "watch"),
        (38.6, "spacing.long", "stop"),  # More than twice the window.
        (36.4, "spacing.short", "stop"),
    ],
)
def test_the_window_of_half_a_millimetre_is_judged_to_both_sides(rings, code, weight):
    found = finding("spacing", tube(), corrector(), ring(rings), camera())
    assert (found.code, found.weight) == (code, weight)


def test_the_correctors_own_tolerance_comes_before_the_owners_rule():
    lopsided = corrector(back_focus_mm=mm(55.0, 0.1, 1.0))
    assert finding("spacing", tube(), lopsided, ring(37.7), camera()).code == "spacing.long"
    assert finding("spacing", tube(), lopsided, ring(36.6), camera()).code == "spacing.sound"


@given(st.integers(-5, 5), st.lists(st.integers(1, 200), min_size=1, max_size=12))
def test_rounding_never_turns_the_verdict_on_the_edge_of_the_window(side, tenths):
    # Rings of whole tenths that add up, with the camera, to what is asked plus or minus just the window.
    asked = 17.5 + sum(tenths) / 10 - side / 10
    train = [ring(t / 10) for t in tenths]
    found = finding(
        "spacing",
        tube(),
        corrector(back_focus_mm=asked),
        *train,
        camera(),
        rules=Rules(spacing_mm=max(abs(side) / 10, 0.01)),
    )
    assert found.code == "spacing.sound"


def test_inside_what_is_allowed_reads_as_inside_first_and_nothing_else_is_told_of_it():
    found = finding("spacing", tube(), corrector(back_focus_mm=mm(55.0, 0.5)), ring(37.81), camera())
    assert write_phrase(found.phrase, "metric") == (
        "The sensor sits where Halden Flat asks for it: 0.31 mm too far, of the 0.50 mm allowed (55.31 mm, "
        "of "
        "55.00 mm)."
    )


def test_tolerances_add_up_at_worst_and_as_a_root_of_squares_likely():
    found = finding(
        "spacing", tube(), corrector(), ring(mm(20.0, 0.3)), ring(mm(17.5, 0.4)), camera(flange_mm=17.5)
    )
    # What they may do to the verdict is the tolerances' own to say.
    assert (found.weight, found.code) == ("sound", "spacing.sound")
    assert number(found, "worst") == pytest.approx(0.7, abs=ROUNDING_MM)
    assert number(found, "likely") == pytest.approx(0.5, abs=ROUNDING_MM)
    assert found.figure is not None
    assert found.figure.uncertainty == pytest.approx(0.7, abs=ROUNDING_MM)


def test_the_tolerance_of_a_filters_thickness_counts_by_the_share_of_its_shift():
    # 0.3 mm of index 1.5 at f/4 shift by 0.3 x 0.336208, worked by hand.
    thick = glass(mm(3.0, 0.3), refractive_index=1.5)
    found = finding("spacing", tube(), corrector(), holding(wheel(38.5), thick), camera())
    assert input_named(found, "tolerances, worst") == pytest.approx(0.100862, abs=1e-6)


@pytest.mark.parametrize(
    ("plus", "minus", "worst"),
    [
        (0.3, 0.0, 0.2),  # Thicker glass asks for more: that side has 0.1009 mm, the ring's side its 0.2.
        (0.0, 0.3, 0.300862),  # Thinner glass asks for less, which a longer ring adds to.
        (0.3, 0.1, 0.233621),
    ],
)
def test_the_tolerance_of_what_glass_asks_for_counts_with_its_sides_swapped(plus, minus, worst):
    # 1 mm of index 1.5 at f/4 shifts by 0.336208 mm, worked by hand above.
    one_sided = ring(mm(10.0, 0.2, 0.0))
    thick = glass(mm(3.0, plus, minus), refractive_index=1.5)
    found = finding("spacing", tube(), corrector(), one_sided, holding(wheel(28.5), thick), camera())
    assert number(found, "worst") == pytest.approx(worst, abs=1e-6)


def test_thicker_glass_than_said_can_only_leave_the_sensor_too_close():
    # Up to 0.3 mm more of index 1.5 ask for up to 0.1009 mm more at f/4; the window is 0.5 mm.
    thick = glass(mm(3.0, 0.3, 0.0), refractive_index=1.5)
    # 3 mm shift by 1.008624. At 38.058 mm of wheel the sensor sits 0.4506 mm short, at 38.95 mm 0.4414 long.
    chances = []
    for wheel_mm in (38.058, 38.95):
        train = (tube(), corrector(), holding(wheel(wheel_mm), thick), camera())
        chances.append(number(findings("tolerances", *train)[0], "chance"))
    # Uniform between 0 and 0.1009 mm: 0.0494 / 0.1009, about half of them stay above -0.5.
    assert chances[0] == pytest.approx(0.5, abs=0.03)
    assert chances[1] == 1.0


def test_the_reference_shoulder_before_the_face_shortens_what_stands_behind_the_face():
    found = finding("spacing", tube(), corrector(reference_mm=3.0), ring(34.5), camera())
    assert number(found, "actual") == pytest.approx(55.0, abs=ROUNDING_MM)
    assert found.code == "spacing.sound"


def test_a_table_is_read_between_its_lines_and_never_beyond_them():
    rows = (
        BackFocusRow(tube_focal_length_mm=600, back_focus_mm=56.5),
        BackFocusRow(tube_focal_length_mm=900, back_focus_mm=55.0),
    )
    asks = corrector(back_focus_table=rows)
    found = finding("spacing", tube(focal_length_mm=750.0), asks, ring(38.25), camera())
    assert number(found, "asked") == pytest.approx(55.75, abs=ROUNDING_MM)
    assert input_named(found, "focal length, for the corrector's table") == 750.0
    beyond = finding("spacing", tube(focal_length_mm=901.0), asks, ring(38.25), camera())
    assert (beyond.code, beyond.weight) == ("spacing.asked", "unknown")
    assert "nothing is guessed beyond it" in beyond.phrase.template


def test_a_missing_length_is_named_and_the_known_ones_are_added_up():
    found = finding("spacing", tube(), corrector(), ring(None, model="Gap"), ring(10.0), camera())
    assert found.code == "spacing.unknown"
    assert found.missing == ("the optical length of Brask Gap",)
    assert number(found, "known") == pytest.approx(27.5, abs=ROUNDING_MM)


def test_known_lengths_that_are_too_long_by_themselves_are_a_stop_whatever_is_missing():
    found = finding("spacing", tube(), corrector(), ring(None), ring(40.0), camera())
    assert (found.weight, found.code) == ("stop", "spacing.long")
    assert number(found, "over") == pytest.approx(2.5, abs=ROUNDING_MM)


@pytest.mark.parametrize(("length", "code"), [(39.6, "spacing.unknown"), (39.8, "spacing.long")])
def test_they_are_a_stop_only_where_no_glass_could_ask_for_as_much(length, code):
    # The thickest glass there is, 5 mm, asks at f/4 for 2.5 x 0.68722 = 1.718 mm more (references/glass.py),
    # and 0.5 mm are allowed: 55 + 1.718 + 0.5 - 17.5 = 39.718 mm.
    found = finding("spacing", tube(), corrector(), ring(None), holding(wheel(length), glass(None)), camera())
    assert found.code == code
    assert "the glass thickness of Sell Glass" in found.missing


def test_what_they_are_too_long_by_at_least_leaves_to_unknown_glass_the_most_that_it_may_ask_for():
    parts = (tube(), corrector(), ring(None, model="Gap"))
    found = finding("spacing", *parts, holding(wheel(42.5), glass(None)), camera())
    # 42.5 + 17.5 - 55 - 1.718 (5 mm at f/4, as above) = 3.282 mm.
    assert number(found, "over") == pytest.approx(3.282, abs=5e-4)
    assert found.figure is not None
    assert (found.figure.amount, found.figure.at_least) == (found.phrase.amounts["over"], True)
    assert write_phrase(found.phrase, "metric") == (
        "The lengths known so far put the sensor behind Halden Flat at 60.00 mm or more, and 55.00 mm is "
        "asked for: 3.28 mm too far at least, whatever glass is still to be entered. "
        "Not known yet: enter the optical length of Brask Gap and the glass thickness of Sell Glass."
    )
    known = finding("spacing", *parts, holding(wheel(42.5), glass(2.0)), camera())
    # 42.5 + 17.5 - 55.687 = 4.313 mm.
    assert number(known, "over") == pytest.approx(4.313, abs=5e-4)
    assert "4.31 mm too far at least. " in write_phrase(known.phrase, "metric")


@pytest.mark.parametrize(("length", "code"), [(38.6, "spacing.unknown"), (38.8, "spacing.long")])
def test_nor_where_a_window_that_may_or_may_not_count_could(length, code):
    # 2 mm of it ask for 0.68722 mm, or nothing: 55 + 0.687 + 0.5 - 17.5 = 38.687 mm.
    unsaid = camera(flange_quoted=None, window_thickness_mm=2.0)
    assert finding("spacing", tube(), corrector(), ring(None), ring(length), unsaid).code == code


def test_nothing_is_said_without_a_corrector_or_a_camera():
    assert not findings("spacing", tube(), ring(10.0), camera())
    assert not findings("spacing", tube(), corrector(), ring(10.0))


def test_the_last_of_two_correctors_asks():
    found = finding("spacing", tube(), corrector(back_focus_mm=80.0), corrector(), ring(37.5), camera())
    assert number(found, "asked") == 55.0


def test_an_absurd_focal_ratio_takes_nothing_from_the_spacing():
    found = finding(
        "spacing", tube(aperture_mm=1.0, focal_length_mm=20000.0), corrector(), ring(37.5), camera()
    )
    assert found.code == "spacing.sound"
    assert "depth" not in found.phrase.amounts


# -- Remedies


def test_the_ring_that_is_too_much_is_told_and_taken_out():
    found = finding("spacing", tube(), corrector(), ring(37.5), ring(2.0, model="Extra"), camera())
    action = found.remedies[0].action
    assert action is not None
    assert (action.verb, action.place) == ("remove", 4)
    assert found.remedies[0].phrase.template.endswith("then the sensor sits in its place.")


def test_an_adapter_that_the_train_hangs_on_is_never_taken_out():
    to_m42 = ring(2.0, model="Extra", camera_side=M42F)
    small = camera(sky_side=read_connection("M42x0.75 male"))
    found = finding("spacing", tube(), corrector(), ring(37.5), to_m42, small)
    assert [r.action for r in found.remedies] == [None]
    assert number_of_change(found) == pytest.approx(2.0, abs=ROUNDING_MM)


def test_a_ring_between_neighbours_that_would_not_mate_without_it_stays():
    # The ring's own ends are counterparts of each other, but what stands above it has another thread.
    odd = ring(37.5, camera_side=read_connection("M54x0.75 female"))
    found = finding("spacing", tube(), corrector(), odd, ring(2.0), camera())
    assert [r.action for r in found.remedies] == [None]


def number_of_change(found):
    return found.remedies[0].phrase.amounts["change"].value


def test_a_shim_comes_out_of_any_joint():
    found = finding("spacing", tube(), corrector(), shim(1.0), ring(37.5), camera())
    action = found.remedies[0].action
    assert action is not None
    assert (action.verb, action.place) == ("remove", 3)


def test_an_adjustable_ring_is_set_to_the_length_that_is_asked():
    turning = ring(20.0, longest_mm=30.0, model="Turning")
    found = finding("spacing", tube(), corrector(), ring(10.0), turning, camera())
    action = found.remedies[0].action
    assert action is not None
    assert (action.verb, action.length_mm) == ("set_length", 27.5)


def test_an_adjustable_ring_is_set_by_its_own_steps():
    stepped = ring(20.0, longest_mm=30.0, step_mm=0.4)
    found = finding("spacing", tube(), corrector(), ring(10.0), stepped, camera())
    action = found.remedies[0].action
    assert action is not None
    assert action.length_mm == pytest.approx(27.6)
    assert found.remedies[0].phrase.template.endswith("too far.")


def test_of_the_rings_on_the_shelf_that_bring_it_inside_the_one_that_comes_nearest_is_told_first():
    # 2 mm too close: of 1.7, 2.2, 2 and 3 mm the last is too long, and the others leave 0.3, 0.2 and nothing.
    shelf = tuple(item(ring(long, model=f"R{long}")) for long in (1.7, 2.2, 2.0, 3.0))
    close = rig(tube(), corrector(), ring(35.5), camera())
    (found,) = check_spacing(Case(close, rings={1: shelf}))
    acts = [r.action for r in found.remedies]
    assert [a and (a.verb, a.part_id, a.at) for a in acts] == [
        ("add", one.id, 1) for one in (shelf[2], shelf[1], shelf[0])
    ]
    assert [r.phrase.amounts["left"].value for r in found.remedies] == pytest.approx([0.0, 0.2, 0.3])
    near, far, short = (r.phrase.template for r in found.remedies)
    assert near.endswith("in its place.")
    assert far.endswith("too far.")
    assert short.endswith("too close.")


@pytest.mark.parametrize(("behind", "set_to"), [(10.2, 27.3), (7.5, 30.0), (7.2, 30.0), (6.9, None)])
def test_an_adjustable_ring_is_set_as_far_as_it_goes_and_no_farther(behind, set_to):
    # 55 - 17.5 - behind is wanted of it; it goes to 30, in steps of which half is near enough.
    turning = ring(20.0, longest_mm=30.0, step_mm=0.1 if set_to == 27.3 else 1.0)
    found = finding("spacing", tube(), corrector(), ring(behind), turning, camera())
    action = found.remedies[0].action
    assert (action.length_mm if action else None) == set_to


def test_of_many_ways_the_three_are_told_that_come_nearest():
    # 10 + 12.5 + 12.5 + 2.02 + 2.1 + 17.5 mm are 1.62 too far: either turning ring mends it, without the thin
    # ones 0.4 or 0.48 is left.
    turning = [Place(0, item(ring(10.0, longest_mm=30.0)), set_length_mm=12.5) for _ in range(2)]
    thin = [ring(2.1, model="Thicker"), ring(2.02, model="Thin")]
    found = finding("spacing", tube(), corrector(), ring(10.0), *turning, *thin, camera())
    acts = [r.action for r in found.remedies]
    assert [a and (a.verb, a.place) for a in acts] == [("set_length", 4), ("set_length", 5), ("remove", 7)]


def test_an_adjustable_ring_that_is_set_counts_as_it_is_set():
    turning = Place(0, item(ring(20.0, longest_mm=30.0)), set_length_mm=27.5)
    found = finding("spacing", tube(), corrector(), ring(10.0), turning, camera())
    assert found.code == "spacing.sound"


def test_a_camera_that_is_too_deep_by_itself_is_told_so():
    found = finding("spacing", tube(), corrector(back_focus_mm=15.0), camera())
    assert found.weight == "stop"
    assert "No ring can mend this" in found.remedies[0].phrase.template


def test_a_focuser_behind_the_corrector_is_a_watch_where_its_draw_reaches_the_place():
    found = finding("spacing", tube(), corrector(back_focus_mm=100.0), focuser(), ring(10.0), camera())
    assert (found.weight, found.code) == ("watch", "spacing.focuser")
    unknown = finding(
        "spacing", tube(), corrector(back_focus_mm=100.0), focuser(travel_mm=None), ring(10.0), camera()
    )
    assert (unknown.weight, unknown.missing) == ("unknown", ("the travel of Brask Focuser",))


# -- Properties


@given(st.floats(0.0, 400.0), st.floats(0.01, 400.0))
def test_another_ring_raises_the_error_by_its_own_length(first, second):
    without = case(tube(), corrector(), ring(first), camera()).spacing
    with_it = case(tube(), corrector(), ring(first), ring(second), camera()).spacing
    assert without is not None
    assert with_it is not None
    assert without.error_mm is not None
    assert with_it.error_mm is not None
    assert with_it.error_mm - without.error_mm == pytest.approx(second, abs=ROUNDING_MM)


@given(st.lists(st.floats(0.0, 100.0), min_size=2, max_size=8), st.randoms())
def test_the_order_of_rings_does_not_matter(lengths, random):
    shuffled = list(lengths)
    random.shuffle(shuffled)
    errors = []
    for order in (lengths, shuffled):
        spacing = case(tube(), corrector(), *(ring(x) for x in order), camera()).spacing
        assert spacing is not None
        errors.append(spacing.error_mm)
    assert errors[0] == pytest.approx(errors[1], abs=ROUNDING_MM)


@given(st.floats(0.1, 100.0))
def test_turning_a_symmetric_reversible_ring_round_changes_no_figure(length):
    same = read_connection("bolts Q6 on 62 mm")
    part = ring(length, sky_side=same, camera_side=same, reversible=True)
    cam = camera(sky_side=same)
    glassy = corrector(camera_side=same)
    upright = finding("spacing", tube(), glassy, part, cam)
    turned = finding("spacing", tube(), glassy, Place(0, item(part), flipped=True), cam)
    assert upright.phrase == turned.phrase
    assert upright.figure == turned.figure


def test_an_m48_thread_on_both_sides_is_what_the_plain_rig_is_built_of():
    # Guards the fixtures: the plain rig has no fault but those that a test puts in.
    assert corrector().camera_side == M48F
    assert finding("joints", tube(), corrector(), ring(37.5), camera()).weight == "sound"
