"""Planned lifts by the revised lifting equation (NIOSH 94-110; the exact values of
tests/mechanics/test_lifting.py).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from server.domain.checks.case import Case
from server.domain.checks.lifting import check_lifting
from server.domain.load.plan import Lift, LoadPlan
from server.domain.rig import Rig
from tests.domain.rigs import camera, number, rig, tube


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


def test_a_lift_by_two_is_held_to_nobodys_index() -> None:
    assert check_lifting(Case(lifted(45.0, people=2))) == ()


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
    }
    assert unsaid["hands' height where it is taken up"] == "typed"
    said = bases(twist_deg=0.0, to_reach_mm=300.0, hours=2.0)
    assert "assumed" not in said.values()


def test_what_is_left_of_the_tubes_load_is_still_held_to_the_lifters_limit() -> None:
    # The camera is lifted by itself; the tube of 12 kg stays.
    plain = rig(tube(mass_kg=12.0), camera(mass_kg=1.0))
    lift = Lift(name="camera", parts=(plain.train.places[1].item.id,), people=2)
    found = check_lifting(Case(replace(plain, load=LoadPlan(lifts=(lift,), lift_limit_kg=9.0))))
    assert found[0].code == "lifting.over_limit"
    assert "the rest of what rides on the saddle" in found[0].phrase.template
    assert number(found[0], "load_0") == pytest.approx(12.0)


def test_a_tube_that_comes_with_its_rings_is_lifted_with_them() -> None:
    plain = lifted(10.0)
    ringed = rig(tube(mass_kg=10.0, mass_with_rings_kg=11.5), camera())
    lift = plain.load.lifts[0].model_copy(update={"parts": (ringed.train.places[0].item.id,)})
    found = judged(replace(ringed, load=LoadPlan(lifts=(lift,))))
    assert number(found, "mass") == pytest.approx(11.5)
