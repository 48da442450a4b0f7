"""Whether screwed joints close: worked by hand along the axis.

Sources: arithmetic; root of a male thread by the ISO 68-1 profile, d3 = d - 1.2269 P, as printed ISO 724
tables have it (M42x0.75: 41.080; M48x0.75: 47.080). Three turns to be stiff: common practice, no source.
"""

from __future__ import annotations

import pytest

from server.domain.connections import read_connection
from server.domain.train import Place
from tests.domain.rigs import (
    camera,
    corrector,
    finding,
    findings,
    glass,
    holding,
    item,
    number,
    ring,
    shim,
    tube,
    wheel,
)

END = read_connection
ROUNDING_MM = 1e-9


def joint(male: str, female: str, **given):
    """A ring with this male thread into a wide ring with this female one; the other joints say nothing."""
    upper = ring(10.0, model="Long", camera_side=END(male), clear_aperture_mm=40.0)
    lower = ring(20.0, model="Short", sky_side=END(female), camera_side=END("M48x0.75 female"))
    return (tube(), upper, lower, camera(), *given.values())


def codes(*parts):
    return [(f.code, f.weight) for f in findings("seating", *parts)]


def test_no_thread_length_known_is_passed_over():
    assert findings("seating", tube(), ring(10.0), camera()) == []


def test_a_male_thread_longer_than_its_hole_leaves_the_shoulders_apart_by_the_difference():
    found = findings("seating", *joint("M48x0.75 male, 6.5 mm long", "M48x0.75 female, 5 mm deep"))[0]
    assert (found.code, found.weight) == ("seating.bottoms", "watch")
    assert number(found, "gap") == pytest.approx(1.5, abs=ROUNDING_MM)
    assert "bottoms before its shoulder seats" in found.phrase.template


def test_a_shim_as_thick_as_the_gap_lets_it_seat():
    long, hole = "M48x0.75 male, 6.5 mm long", "M48x0.75 female, 5 mm deep"
    first, upper, lower, end = joint(long, hole)
    thick = shim(1.5)
    assert "seating.bottoms" not in [f.code for f in findings("seating", first, upper, thick, lower, end)]
    thin = findings("seating", first, upper, shim(0.5), lower, end)[0]
    assert number(thin, "gap") == pytest.approx(1.0, abs=ROUNDING_MM)


def test_a_long_thread_is_said_once_and_not_by_the_joints_as_well():
    parts = joint("M48x0.75 male, 6.5 mm long", "M48x0.75 female, 5 mm deep")
    assert [f.code for f in findings("joints", *parts)] == ["joints.mate"]


def test_a_thread_that_reaches_the_filter_of_a_wheel_is_a_stop():
    # The filter's middle 6 mm behind the shoulder, its near face 6 - 2 / 2 = 5 mm: a thread of 7 mm presses
    # 2 in.
    long = ring(10.0, model="Long", camera_side=END("M48x0.75 male, 7 mm long"))
    deep = wheel(
        20.0, sky_side=END("M48x0.75 female, 8 mm deep"), camera_side=END("M48x0.75 female"), filter_at_mm=6.0
    )
    found = next(
        f
        for f in findings("seating", tube(), long, holding(deep, glass(2.0)), camera())
        if f.code == "seating.touches"
    )
    assert found.weight == "stop"
    assert number(found, "over") == pytest.approx(2.0, abs=ROUNDING_MM)
    assert "can crack" in found.phrase.template


def test_the_thickest_filter_of_a_wheel_and_a_filter_by_itself_are_reached_as_well():
    # Near faces 6 - 4 / 2 = 4 and 6 - 2 / 2 = 5 mm behind the shoulder: a thread of 7 mm presses 3 and 2 in.
    ends = {"sky_side": END("M48x0.75 female, 8 mm deep"), "camera_side": END("M48x0.75 female")}
    long = ring(10.0, model="Long", camera_side=END("M48x0.75 male, 7 mm long"))
    for reached, over in (
        (holding(wheel(20.0, filter_at_mm=6.0, **ends), glass(2.0), glass(4.0, model="Thick")), 3.0),
        (glass(2.0, length_mm=20.0, aperture_at_mm=6.0, **ends), 2.0),
    ):
        found = findings("seating", tube(), long, reached, camera())
        touches = next(f for f in found if f.code == "seating.touches")
        assert number(touches, "over") == pytest.approx(over, abs=ROUNDING_MM)


def test_a_filter_of_no_known_thickness_is_reached_at_its_middle_at_the_latest():
    # 6 mm behind the shoulder: a thread of 7 mm presses 1 in whatever the glass.
    deep = {"sky_side": END("M48x0.75 female, 8 mm deep"), "camera_side": END("M48x0.75 female")}
    long = ring(10.0, model="Long", camera_side=END("M48x0.75 male, 7 mm long"))
    found = findings(
        "seating", tube(), long, holding(wheel(20.0, filter_at_mm=6.0, **deep), glass(None)), camera()
    )
    touches = next(f for f in found if f.code == "seating.touches")
    assert number(touches, "over") == pytest.approx(1.0, abs=ROUNDING_MM)


def test_from_the_camera_side_the_filter_lies_at_the_rest_of_the_wheels_length():
    # 20 - 8 = 12 mm behind the camera-side shoulder, the near face 11; again 2 mm too long.
    deep = wheel(20.0, camera_side=END("M48x0.75 female, 14 mm deep"), filter_at_mm=8.0)
    cam = camera(sky_side=END("M48x0.75 male, 13 mm long"))
    found = [
        f for f in findings("seating", tube(), holding(deep, glass(2.0)), cam) if f.code == "seating.touches"
    ]
    assert number(found[0], "over") == pytest.approx(2.0, abs=ROUNDING_MM)


def test_a_wheel_turned_round_is_measured_from_its_other_side():
    deep = wheel(
        20.0,
        sky_side=END("M48x0.75 male"),
        camera_side=END("M48x0.75 female, 8 mm deep"),
        filter_at_mm=14.0,
        reversible=True,
    )
    turned = Place(0, item(deep), True, (item(glass(2.0)),))
    long = ring(10.0, camera_side=END("M48x0.75 male, 7 mm long"))
    found = [
        f
        for f in findings("seating", tube(), long, turned, camera(sky_side=END("M48x0.75 female")))
        if f.code == "seating.touches"
    ]
    assert number(found[0], "over") == pytest.approx(2.0, abs=ROUNDING_MM)


@pytest.mark.parametrize(
    ("male", "turns", "weight"),
    # Pitch 0.75 mm: 1.5 mm are 2 turns, 0.6 mm are 0.8.
    [("M48x0.75 male, 1.5 mm long", 2.0, "watch"), ("M48x0.75 male, 0.6 mm long", 0.8, "stop")],
)
def test_fewer_than_three_turns_hold_badly(male, turns, weight):
    found = findings("seating", *joint(male, "M48x0.75 female, 5 mm deep"))[0]
    assert (found.code, found.weight) == ("seating.turns", weight)
    assert number(found, "turns") == pytest.approx(turns)


def test_a_hole_of_two_turns_holds_badly_however_long_the_thread():
    found = findings("seating", *joint("M48x0.75 male", "M48x0.75 female, 1.5 mm deep"))[0]
    assert found.code == "seating.turns"
    assert "at most" in found.phrase.template


def test_what_is_not_known_of_a_joint_is_asked_for():
    found = findings("seating", *joint("M48x0.75 male, 4 mm long", "M48x0.75 female"))[-1]
    assert found.weight == "unknown"
    assert found.missing == (
        "how long the thread at the sky side of Brask Long is",
        "how deep the thread at the camera side of Halden Tube is",
        "how deep the thread at the sky side of Brask Short is",
        "how long the thread at the sky side of Quill Cam is",
        "how deep the thread at the camera side of Brask Short is",
    )


def test_a_bore_wider_than_its_own_male_thread_leaves_is_doubted():
    wide = ring(
        10.0, sky_side=END("M42x0.75 male"), camera_side=END("M48x0.75 female"), clear_aperture_mm=41.2
    )
    found = finding("seating", tube(camera_side=END("M42x0.75 female")), wide, camera())
    assert (found.code, found.weight) == ("seating.bore", "watch")
    assert number(found, "root") == pytest.approx(41.080, abs=0.001)
    fits = ring(
        10.0, sky_side=END("M42x0.75 male"), camera_side=END("M48x0.75 female"), clear_aperture_mm=41.0
    )
    assert codes(tube(camera_side=END("M42x0.75 female")), fits, camera()) == []


def test_a_whole_train_of_known_threads_that_fit_is_sound():
    male, female = "M48x0.75 male, 4 mm long", "M48x0.75 female, 5 mm deep"
    parts = (
        tube(camera_side=END(female)),
        ring(10.0, sky_side=END(male), camera_side=END(female)),
        camera(sky_side=END(male)),
    )
    assert codes(*parts) == [("seating.sound", "sound")]


@pytest.mark.parametrize(
    ("male_mm", "code", "weight"),
    [(5.0, "spacing.sound", "sound"), (5.3, "spacing.sound", "sound"), (6.5, "spacing.open", "watch")],
)
def test_a_thread_that_bottoms_takes_the_sensor_out_of_the_place_that_the_lengths_add_up_to(
    male_mm: float, code: str, weight: str
):
    # 17.5 + 20 + 17.5 = 55 mm asked for, 0.5 mm allowed; a hole of 5 mm leaves 0, 0.3 and 1.5 mm open.
    long = ring(17.5, camera_side=END(f"M48x0.75 male, {male_mm:g} mm long"))
    hole = ring(20.0, sky_side=END("M48x0.75 female, 5 mm deep"))
    found = finding("spacing", tube(), corrector(), long, hole, camera())
    assert (found.code, found.weight) == (code, weight)
    firsts = [one.phrase.template for one in found.remedies]
    assert firsts == (["Let the threads close first: see Threads."] if weight == "watch" else [])
    if male_mm > 5.0:
        assert number(found, "open") == pytest.approx(male_mm - 5.0, abs=ROUNDING_MM)
        assert "sits that much further out" in found.phrase.template
        assert ("sits where" in found.phrase.template) == (code == "spacing.sound")


def test_no_ring_is_told_before_threads_that_bottom_have_closed():
    # 17.5 + 18.5 + 17.5 = 53.5 of 55 mm, and 1.5 mm open: as it stands the sensor is in its place.
    long = ring(17.5, camera_side=END("M48x0.75 male, 6.5 mm long"))
    hole = ring(18.5, sky_side=END("M48x0.75 female, 5 mm deep"))
    found = finding("spacing", tube(), corrector(), long, hole, camera())
    assert found.code == "spacing.short"
    assert found.remedies[0].phrase.template == "Let the threads close first: see Threads."
    assert found.remedies[1].phrase.template.startswith("Add ")
