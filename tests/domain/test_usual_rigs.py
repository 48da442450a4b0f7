"""Eight rigs of usual kinds: what a practitioner would say of each, and that the app says it, first things
first, and nothing alarming beside it.

Each list was written down before the app was asked (common practice, no source). The figures are the tests'
own.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from server.domain.rig import Rig
from server.rim.wording import write_phrase
from tests.domain import usual_rigs
from tests.told import run_checks

WEIGHTS = ("stop", "watch", "unknown", "sound")

#: What is wrong with the rig, and what to do, each as (weight, code, words that must stand in sentence or
#: remedy).
SAID: dict[Callable[[], Rig], list[tuple[str, str, tuple[str, ...]]]] = {
    # Well made; the tube is heavier than many lift alone. At f/4 collimation is delicate, which is the
    # stars' page's.
    usual_rigs.fast_newtonian: [("watch", "lifting.heavy_alone", ("9.07 kg",))],
    # The M42 parts shut the corners out; wider ones help, and the reducer itself takes a third.
    usual_rigs.narrow_reducer: [
        ("stop", "beam.dark", ("Narrow", "Wider parts in place of Brask To M42 and Brask Narrow"))
    ],
    # Take the 12 mm ring out; the guide camera then wants other lengths too; the rear opening dims the
    # corners.
    usual_rigs.reduced_far_out: [
        ("stop", "spacing.long", ("12.00 mm too far", "Take out Brask Short")),
        ("stop", "guide_branch.short", ("too close to the prism",)),
        ("watch", "beam.corners", ("the drawtube of Halden Tube", "flat frames")),
    ],
    # Two people lift it, and the mount is at its rating: a bigger one. Nothing is wrong with the optics.
    usual_rigs.heavy_cassegrain: [
        ("stop", "lifting.over_limit", ("two people",)),
        ("watch", "payload.over_usable", ("33.1 kg",)),
    ],
    # No infinity: the adapter is 0.4 mm too long. At f/2 tilt shows, and a band of 3 nm loses most of its
    # line.
    usual_rigs.fast_lens: [
        ("stop", "reach.lens_long", ("0.40 mm too far", "Shorten the adapter")),
        ("watch", "tolerances.tilted", ("tilt",)),
        ("watch", "bands.lost", ("of the line is lost", "made for f/2")),
    ],
    # It cannot come to focus: nothing can be taken out, so a lower focuser or the mirror moved; two to lift
    # it.
    usual_rigs.out_of_reach: [
        ("stop", "lifting.above_constant", ("two people",)),
        (
            "stop",
            "reach.inwards",
            ("12.0 mm further in", "a focuser that is 12.0 mm lower", "primary mirror"),
        ),
    ],
    # The extender stands where its owner likes; so slow a beam and so fine a scale are for planets, not for
    # nebulae.
    usual_rigs.long_with_extender: [
        ("watch", "sampling.fine", ("binning",)),
        ("watch", "sampling.slow", ("longer exposures",)),
    ],
    # The battery is far too small.
    usual_rigs.cold_night_out: [("stop", "power.runs_out", ("empty after 1.5 hours", "Wh more"))],
}


def said_of(rig: Rig):
    found = sorted(run_checks(rig), key=lambda one: WEIGHTS.index(one.weight))
    return [one for one in found if one.weight in ("stop", "watch")]


@pytest.mark.parametrize("make", SAID, ids=lambda make: make.__name__)
def test_the_app_says_what_a_practitioner_would_and_nothing_alarming_beside_it(make):
    found = said_of(make())
    assert [(one.weight, one.code) for one in found] == [(weight, code) for weight, code, _ in SAID[make]]
    for one, (_, _, words) in zip(found, SAID[make], strict=True):
        text = " ".join(
            write_phrase(phrase, "metric") for phrase in (one.phrase, *(r.phrase for r in one.remedies))
        )
        assert [word for word in words if word not in text] == []


def test_an_extender_is_told_the_factor_that_its_distance_gives():
    # 1 + 90 / 60 with its lens at its shoulder would be 2.5; within its 40 mm of body it lies further from
    # the sensor.
    found = next(one for one in run_checks(usual_rigs.long_with_extender()) if one.code == "spacing.free")
    assert found.weight == "sound"
    assert 2.3 < found.phrase.amounts["factor"].value < 2.5


def test_following_the_remedy_of_the_narrow_ring_leads_where_it_says():
    from dataclasses import replace

    from server.domain.train import Train

    rig = usual_rigs.narrow_reducer()
    wide = tuple(
        replace(
            place, item=replace(place.item, part=place.part.model_copy(update={"clear_aperture_mm": None}))
        )
        if place.name in ("Brask To M42", "Brask Narrow")
        else place
        for place in rig.train
    )
    told = next(one for one in run_checks(rig) if one.code == "beam.dark").remedies[0].phrase.amounts["kept"]
    mended = next(one for one in run_checks(replace(rig, train=Train(wide))) if one.code.startswith("beam."))
    assert mended.figure is not None
    assert 1.0 - mended.figure.amount.value == pytest.approx(told.value, abs=1e-9)
