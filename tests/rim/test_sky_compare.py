"""Why one rig needs longer than another, in sentences."""

from __future__ import annotations

from dataclasses import replace

from server.domain.sky.reckoning import Span
from server.flow.plan_sky import TargetSky
from server.rim.sky_compare import reasons
from tests.rim.test_sky_words import is_plain, planned


def both(other: TargetSky) -> TargetSky:
    return replace(planned(), rigs=(*planned().rigs, *other.rigs))


def test_a_rig_that_takes_longer_says_how_many_times_and_why():
    # The same camera behind twice the focal ratio collects a quarter of the light: half the aperture here.
    view = both(planned(focal_mm=800.0))
    slow = view.rigs[0]
    assert slow.depth is not None
    dimmer = replace(
        slow,
        rig=replace(slow.rig, name="The slow"),
        depth=replace(slow.depth, sky_e=slow.depth.sky_e / 4.0, hours=Span(40.0, 30.0, 50.0)),
    )
    quick = replace(slow, depth=replace(slow.depth, hours=Span(10.0, 8.0, 12.0)))
    (told,) = reasons(replace(view, rigs=(dimmer, quick)))
    assert told.startswith("The slow takes 4 times the hours of The 400: it collects 0.25 times the light")
    assert is_plain(told)


def test_the_times_of_rigs_that_take_it_in_in_different_panels_are_those_of_all_their_panels():
    # 40 h in one panel against 10 h in each of three: 1.33 times as long. In five it turns round.
    (one,) = planned().rigs
    assert one.depth is not None
    wide = replace(one, depth=replace(one.depth, hours=Span(40.0, 30.0, 50.0)))
    depth = replace(one.depth, hours=Span(10.0, 8.0, 12.0))
    narrow = replace(one, rig=replace(one.rig, name="The narrow"), depth=depth)
    view = replace(planned(), rigs=(wide, narrow))
    for count, told in (
        (3, "The 400 takes 1.3 times the hours of The narrow, in 1 panel against 3."),
        (4, "The narrow takes about as long as The 400, in 4 panels against 1."),
        (5, "The narrow takes 1.2 times the hours of The 400, in 5 panels against 1."),
    ):
        panels = {"The 400": 1, "The narrow": count}
        assert reasons(view, lambda one: panels[one.rig.name]) == (told,)  # noqa: B023


def test_rigs_that_take_as_long_are_told_as_alike_and_one_alone_needs_no_reason():
    view = planned()
    (one,) = view.rigs
    assert reasons(view) == ()
    assert one.depth is not None
    assert one.depth.hours is not None
    again = replace(
        one, depth=replace(one.depth, hours=replace(one.depth.hours, value=1.1 * one.depth.hours.value))
    )
    (told,) = reasons(replace(view, rigs=(one, again)))
    assert told == "The 400 takes about as long as The 400."
