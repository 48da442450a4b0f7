"""Planned lifts by the revised lifting equation (NIOSH 94-110; the exact values of
tests/mechanics/test_lifting.py).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.domain.load.lifts import ASKED, work_lifts
from server.domain.load_plan import Lift, LoadPlan
from server.domain.rig import Rig
from server.domain.workings.case import Case
from tests.domain.rigs import camera, number, rig, tube
from tests.told import check_lifting


def lifted(mass_kg: float | None, **given: Any) -> Rig:
    """A rig whose tube is lifted: from 70 cm by 45 cm, 35 cm before the ankles, fairly held, unless said."""
    plain = rig(tube(mass_kg=mass_kg), camera())
    usual: dict[str, Any] = {
        "from_height_mm": 700.0,
        "to_height_mm": 1150.0,
        "reach_mm": 350.0,
        "coupling": "fair",
    }
    lift = Lift(name="tube onto the saddle", parts=(plain.train.places[0].item.id,), **(usual | given))
    return replace(plain, load=LoadPlan(lifts=(lift,)))


def judged(of: Rig):
    return check_lifting(Case(of))[0]


def test_a_lift_within_the_limit_is_sound_and_says_its_index() -> None:
    found = judged(lifted(10.0))
    # At the start 14.1432 kg; at the end 115 cm high: 23 x 25/35 x (1 - 0.003 x 40) x 0.92 x 1 = 13.3006 kg,
    # the worse.
    assert (found.code, found.weight) == ("lifting.index_sound", "sound")
    assert number(found, "limit") == pytest.approx(13.3006, rel=1e-3)
    assert number(found, "index") == pytest.approx(10.0 / 13.3006, rel=1e-3)


def test_a_lift_above_the_limit_is_a_watch_and_far_above_it_a_stop_with_what_to_change() -> None:
    watch, stop = judged(lifted(18.0)), judged(lifted(45.0))
    assert (watch.code, watch.weight) == ("lifting.index", "watch")
    assert (stop.code, stop.weight) == ("lifting.index_high", "stop")
    for found in (watch, stop):
        assert "ask a clinician" in found.phrase.template
        assert found.remedies


def test_a_reach_beyond_the_equation_gives_its_sentence_and_no_number() -> None:
    found = judged(lifted(5.0, reach_mm=700.0))
    assert (found.code, found.weight) == ("lifting.outside", "stop")
    assert "outside the equation's range: do not lift so" in found.phrase.template
    assert found.figure is None


@pytest.mark.parametrize(
    ("left_out", "asked"),
    [
        ("from_height_mm", "the height where it is taken up"),
        ("to_height_mm", "the height where it is set down"),
        ("reach_mm", "how far before you the hands are"),
        ("coupling", "how well the hands hold it"),
    ],
)
def test_what_the_plan_does_not_say_is_asked_for_and_never_sound(left_out: str, asked: str) -> None:
    found = judged(lifted(10.0, **{left_out: None}))
    assert (found.code, found.weight, found.missing) == ("lifting.plan_unknown", "unknown", (asked,))
    assert asked in found.phrase.template
    assert "ask a clinician" in found.phrase.template
    assert found.figure is None


@pytest.mark.parametrize(
    "given",
    [
        {"reach_mm": 631.0},
        {"to_reach_mm": 631.0},
        {"from_height_mm": 1751.0},
        {"to_height_mm": 1751.0},
        {"twist_deg": 136.0},
        {"per_minute": 12.5},
        {"per_minute": 15.5, "from_height_mm": 800.0},
        {"per_minute": 9.5, "hours": 8.0},
    ],
)
def test_beyond_each_end_of_the_equations_range_no_load_is_fit(given: dict[str, Any]) -> None:
    # NIOSH 94-110: H 63 cm, V 175 cm, A 135 degrees, and where table 5 has 0.
    found = judged(lifted(0.1, **given))
    assert (found.code, found.weight) == ("lifting.outside", "stop")
    assert "outside the equation's range: do not lift so." in found.phrase.template


@pytest.mark.parametrize("given", [{"reach_mm": 900.0}, {"to_height_mm": 1800.0}, {"twist_deg": 140.0}])
def test_out_of_the_equations_range_nobody_lifts_be_they_one_or_two(given: dict[str, Any]) -> None:
    for people in (1, 2, 8):
        found = judged(lifted(0.1, people=people, **given))
        assert (found.code, found.weight) == ("lifting.outside", "stop")
        assert "outside the equation's range: do not lift so." in found.phrase.template


def test_a_lift_by_two_is_judged_by_no_equation_and_its_even_share_is_called_no_limit() -> None:
    # 12 kg by two: 6 kg each. The equation is for one person (NIOSH 94-110, limitations of the task).
    found = check_lifting(Case(lifted(12.0, people=2)))
    assert [(one.code, one.weight) for one in found] == [("lifting.team_unknown", "unknown")]
    assert number(found[0], "share") == pytest.approx(6.0)
    assert "the equation is for one person" in found[0].phrase.template
    assert "not a safe limit for a team" in found[0].phrase.template
    assert found[0].missing == (
        "how its weight is shared among 2 people",
        "the most that each of them lifts alone",
    )
    assert found[0].figure is None


def test_a_lift_by_two_is_held_to_each_ones_share_of_the_own_limit() -> None:
    # 60 kg, reach 90 cm, from the floor to 170 cm, by two, own limit 8 kg: 30 kg each.
    heavy = lifted(60.0, people=2, reach_mm=900.0, from_height_mm=0.0, to_height_mm=1700.0)
    found = check_lifting(Case(limited(heavy, 8.0)))
    assert [one.code for one in found] == [
        "lifting.over_limit",
        "lifting.outside",
        "lifting.above_constant",
    ]
    assert {one.weight for one in found} == {"stop"}
    assert number(found[0], "mass") == pytest.approx(30.0)
    assert "each of 2 carries {mass}" in found[0].phrase.template
    # 15 kg by two is 7.5 kg each: within 8, and all the same nothing that is called sound.
    within = check_lifting(Case(limited(lifted(15.0, people=2), 8.0)))
    assert [one.code for one in within] == ["lifting.sound", "lifting.team_unknown"]
    assert "one person lifts" in within[0].phrase.template
    assert within[0].figure is not None
    assert within[0].figure.amount.value == pytest.approx(0.6)


def test_a_share_of_more_than_the_load_constant_is_a_stop_for_a_team_too() -> None:
    # 23 kg: the load constant of NIOSH 94-110, metric.
    assert judged(lifted(46.0, people=2)).code == "lifting.team_unknown"
    over = check_lifting(Case(lifted(46.1, people=2)))
    assert [(one.code, one.weight) for one in over] == [("lifting.above_constant", "stop")]
    assert "more people, or smaller loads" in over[0].phrase.template


def limited(of: Rig, limit_kg: float) -> Rig:
    return replace(of, load=of.load.model_copy(update={"lift_limit_kg": limit_kg}))


def test_a_figure_that_is_missing_is_judged_at_its_best_first() -> None:
    # Reach 70 cm is out of range (63 cm) whatever the grip.
    outside = judged(lifted(5.0, coupling=None, reach_mm=700.0, from_height_mm=0.0, to_height_mm=1600.0))
    assert (outside.code, outside.weight) == ("lifting.outside", "stop")
    assert "even with the best grip" in outside.phrase.template
    # By hand, good grip, at the end: 23 x 25/35 x 0.88 x 0.92 = 13.3006 kg; 18 / 13.3006 = 1.3533.
    over = judged(lifted(18.0, coupling=None))
    assert (over.code, over.weight) == ("lifting.over_at_best", "stop")
    assert "even with the best grip" in over.phrase.template
    assert number(over, "index") == pytest.approx(18.0 / 13.3006, rel=1e-3)
    assert over.figure is not None
    assert over.figure.at_least
    assert "how well the hands hold it" in over.missing
    # No lift is better than the load constant: with everything open 22.9 kg is not known, 23.1 is a stop.
    nothing: dict[str, Any] = dict.fromkeys(("from_height_mm", "to_height_mm", "reach_mm", "coupling"))
    assert judged(lifted(22.9, **nothing)).code == "lifting.plan_unknown"
    assert judged(lifted(23.1, **nothing)).code == "lifting.over_at_best"


@given(
    st.floats(0, 1750),
    st.floats(0, 1750),
    st.floats(0, 630),
    st.sampled_from(["good", "fair", "poor"]),
    st.sets(st.sampled_from(sorted(ASKED)), min_size=1),
)
@settings(max_examples=60, deadline=None)
def test_no_real_lift_has_a_lower_index_than_the_best_of_what_is_open(
    start: float, end: float, reach: float, coupling: str, left_out: set[str]
) -> None:
    full = {"from_height_mm": start, "to_height_mm": end, "reach_mm": reach, "coupling": coupling}
    real = work_lifts(Case(lifted(10.0, **full)))[0].ends
    best = work_lifts(Case(lifted(10.0, **(full | dict.fromkeys(left_out)))))[0].at_best
    for one, other in zip(real, best, strict=True):
        assert one.index is not None
        assert other.index is not None
        assert other.index <= one.index * (1.0 + 1e-9)


def test_an_index_of_a_load_that_is_not_all_known_is_said_to_be_at_least_that() -> None:
    of = lifted(18.0)
    nameless = rig(tube(mass_kg=18.0), camera(mass_kg=None))
    lift = of.load.lifts[0].model_copy(update={"parts": tuple(p.item.id for p in nameless.train)})
    found = judged(replace(nameless, load=LoadPlan(lifts=(lift,))))
    assert found.code == "lifting.index"
    assert "is at least {mass}" in found.phrase.template
    assert "a lifting index of at least {index}" in found.phrase.template
    assert "at least {index}" not in judged(of).phrase.template


@pytest.mark.parametrize(
    ("hours", "limit_kg", "recovery"),
    [(0.5, 10.6405, "1.2 times"), (1.0, 10.6405, "1.2 times"), (2.0, 7.9804, "0.3 times"), (8.0, 4.6552, "")],
)
def test_how_long_it_goes_on_chooses_the_column_of_the_table_and_tells_its_rest(
    hours: float, limit_kg: float, recovery: str
) -> None:
    # NIOSH 94-110, table 5, V below 75 cm, 5 lifts a minute: 0.80, 0.60, 0.35 of the 13.3006 kg at the end.
    found = judged(lifted(1.0, per_minute=5.0, hours=hours))
    assert number(found, "limit") == pytest.approx(limit_kg, rel=1e-3)
    told = next(one for one in found.inputs if one.label == "for how long")
    assert recovery in told.text
    assert told.basis == ("assumed" if hours == 1.0 else "typed")


def test_the_equations_own_limits_are_all_shown() -> None:
    # NIOSH 94-110, the section on the limitations of the task; the list from memory.
    source = judged(lifted(10.0)).source
    for words in (
        "both hands",
        "one hand",
        "seated or kneeling",
        "tight place",
        "unstable",
        "carrying, pushing or pulling",
        "wheelbarrow or shovel",
        "fast lifts",
        "slippery",
        "19 to 26",
        "healthy workers",
        "from memory",
        "A cold field at night on a slope is outside it: take it as a least.",
    ):
        assert words in source


def test_a_load_of_which_a_mass_is_unknown_is_never_sound() -> None:
    found = judged(lifted(None))
    assert (found.code, found.weight) == ("lifting.index_unknown", "unknown")
    assert found.figure is None
    assert found.missing == ("the mass of Halden Tube",)


def test_what_nobody_said_of_the_lift_is_shown_as_assumed_and_the_rest_as_typed() -> None:
    def bases(**given: Any) -> dict[str, str]:
        return {one.label: one.basis for one in judged(lifted(10.0, **given)).inputs}

    unsaid = bases()
    assert {label for label, basis in unsaid.items() if basis == "assumed"} == {
        "turned aside",
        "hands before the ankles, set down",
        "how often",
        "for how long",
    }
    assert unsaid["hands' height where it is taken up"] == "typed"
    said = bases(twist_deg=0.0, to_reach_mm=300.0, hours=2.0, per_minute=1.0)
    assert "assumed" not in said.values()
    often = bases(per_minute=1.0)
    assert (often["how often"], often["for how long"]) == ("typed", "assumed")


def test_what_is_left_of_the_tubes_load_is_still_held_to_the_lifters_limit() -> None:
    # The camera is lifted by itself; the tube of 12 kg stays.
    plain = rig(tube(mass_kg=12.0), camera(mass_kg=1.0))
    lift = Lift(name="camera", parts=(plain.train.places[1].item.id,), people=2)
    found = check_lifting(Case(replace(plain, load=LoadPlan(lifts=(lift,), lift_limit_kg=9.0))))
    assert found[0].code == "lifting.over_limit"
    assert "the rest of what rides on the saddle" in found[0].phrase.template
    assert number(found[0], "mass") == pytest.approx(12.0)


def test_a_tube_that_comes_with_its_rings_is_lifted_with_them() -> None:
    plain = lifted(10.0)
    ringed = rig(tube(mass_kg=10.0, mass_with_rings_kg=11.5), camera())
    lift = plain.load.lifts[0].model_copy(update={"parts": (ringed.train.places[0].item.id,)})
    found = judged(replace(ringed, load=LoadPlan(lifts=(lift,))))
    assert number(found, "mass") == pytest.approx(11.5)


def test_a_load_of_which_a_part_is_known_is_shown_by_what_is_known_of_it() -> None:
    plain = rig(tube(mass_kg=10.0), camera(mass_kg=None))
    both = tuple(place.item.id for place in plain.train.places)
    lift = lifted(10.0).load.lifts[0].model_copy(update={"parts": both})
    found = judged(replace(plain, load=LoadPlan(lifts=(lift,))))
    assert found.missing == ("the mass of Quill Cam",)
    shown = next(one for one in found.inputs if one.label == "tube onto the saddle")
    assert shown.amount is not None
    assert shown.amount.value == pytest.approx(10.0)
    bare = next(one for one in judged(lifted(None)).inputs if one.label == "tube onto the saddle")
    assert bare.amount is None
