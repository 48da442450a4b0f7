"""What one wants of the Scout: what may be said, and that every need is one that is judged."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from server.domain.scout.needs import FRONT_MEASURES, LIMITS, STEPS, USUAL_FRONT, USUAL_LIKES, Needs

NOT_LIMITS = {"targets", "site_id", "cameras", "mounts", "considered", "currency", "like", "front"}
FLAGS = {"collimate", "spikes", "guiding", "filters"}


def test_whoever_says_nothing_would_like_targets_that_fill_the_frame_and_a_load_that_is_usual():
    usual = Needs()
    said = {name for name, _, _ in LIMITS if getattr(usual, name) is not None}
    assert said == {*USUAL_LIKES, "payload_share"}
    assert set(usual.like) == set(USUAL_LIKES)
    assert (usual.collimate, usual.spikes) == (None, None)
    assert usual.front == USUAL_FRONT


def test_every_need_is_a_limit_or_a_flag_or_says_what_is_looked_at():
    assert set(Needs.model_fields) == {name for name, _, _ in LIMITS} | FLAGS | NOT_LIMITS


def test_more_light_and_a_larger_least_fill_are_better_and_less_of_all_else():
    assert {name for name, _, at_most in LIMITS if not at_most} == {"corner_light", "fill_least"}


def test_what_the_front_is_over_has_a_step_in_which_a_person_counts_or_goes_by_shares():
    assert {name for name in FRONT_MEASURES if name not in STEPS} == {"hours"}
    assert all(step > 0.0 for step in STEPS.values())
    assert "share" not in FRONT_MEASURES


@pytest.mark.parametrize(
    "wrong",
    [
        {"budget": -1.0},
        {"lift_kg": 0.0},
        {"payload_share": 1.1},
        {"hours": 0.0},
        {"corner_arcsec": -1.0},
        {"corner_light": 60.0},
        {"currency": "EURO"},
        {"front": ()},
        {"front": ("price",)},
        {"front": ("power",)},
        {"front": ("cost",) * 7},
        {"wish": 1},
    ],
)
def test_what_cannot_be_meant_is_refused(wrong):
    with pytest.raises(ValidationError):
        Needs.model_validate(wrong)


def test_a_budget_of_nothing_is_one():
    assert Needs(budget=0.0).budget == 0.0
