"""What a step of the load page says by itself."""

from __future__ import annotations

from typing import Any

from server.domain.load.bodies import work_balance
from server.domain.load.lifts import work_lifts
from server.domain.load.rough import work_rough
from server.domain.load_plan import LoadPlan
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import sentence_of
from server.web.load.steps import balance_says, lifts_say
from tests.domain.checks.test_balance import carried, weight
from tests.domain.load.test_rough import mount

NOTHING = LoadPlan()


def said_of(*gear: Any) -> str:
    case = Case(carried(*gear, plan=NOTHING))
    told = balance_says(work_balance(case), work_rough(case), NOTHING, ())
    return " ".join(sentence_of(one, "metric") for one in told)


def test_a_rig_without_counterweights_is_told_once_that_it_has_none_and_how_much_it_wants_where() -> None:
    said = said_of(mount())
    assert said.count("No counterweight is in the rig.") == 1
    assert "do not balance" not in said
    # 8 kg at 250 mm to 350, less the bar's 1 kg at 250 mm, over 400 mm.
    assert "At the bar's end, 400 mm from the axis, it wants 4.4 kg to 6.4 kg" in said


def test_weights_that_are_too_light_at_both_ends_of_it_are_said_so_once() -> None:
    assert said_of(mount(), weight(0.5)).count("do not balance the load") == 1


def test_the_heaviest_load_is_written_as_in_the_list_below_it() -> None:
    # 6.09 kg of tube and 3 behind it: "20.0 lb" would read as within a limit of 20 lb.
    (told,) = lifts_say(work_lifts(Case(carried(plan=NOTHING, mass_kg=6.09))))
    assert sentence_of(told, "imperial").endswith("20.04 lb.")
