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


def test_what_the_plan_does_not_say_is_asked_for_and_not_judged() -> None:
    of = lifted(10.0, coupling=None)
    assert check_lifting(Case(of)) == ()


def test_a_lift_by_two_is_held_to_nobodys_index() -> None:
    assert check_lifting(Case(lifted(45.0, people=2))) == ()


def test_a_load_of_which_a_mass_is_unknown_is_never_sound() -> None:
    found = judged(lifted(None))
    assert (found.code, found.weight) == ("lifting.index_unknown", "unknown")
    assert found.figure is None
    assert found.missing == ("the mass of Halden Tube",)


def test_a_twist_that_nobody_gave_is_shown_as_assumed() -> None:
    assumed = [one.label for one in judged(lifted(10.0)).inputs if one.basis == "assumed"]
    assert assumed == ["turned aside"]
    assert all(one.basis != "assumed" for one in judged(lifted(10.0, twist_deg=0.0)).inputs)
