"""How a rig stands: what comes first, and that nothing left open is said to work."""

from __future__ import annotations

import pytest

from server.domain.checks.joints import check_joints
from server.domain.findings import Finding, Phrase, Weight
from server.domain.rig import Rig
from server.domain.said import said
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case
from server.rim.answer import answer_of, in_order, write_answer
from server.rim.phrasebook.tell import tell, write_words
from tests.domain.rigs import mount, rig


def found(code: str, weight: Weight) -> Finding:
    return Finding(code=code, weight=weight, title=code, phrase=Phrase(template=f"{code} says so."))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (("lifting.over_limit", "stop"), ("joints.gender", "stop")),
        # As entries of an older day call them.
        (("load.over_rating", "stop"), ("joints.gender", "stop")),
        (("sun.behind", "stop"), ("payload.over_rating", "stop")),
        (("reach.inwards", "stop"), ("lifting.heavy_alone", "watch")),
        # What can start a fire, though its check is the last.
        (("power.lead_hot", "watch"), ("corners.blurred", "watch")),
        # A custom comes after what was worked out.
        (("payload.over_usable", "watch"), ("lifting.heavy_alone", "watch")),
        # A ring's mass turns little: the train's own figures are asked for first.
        (("spacing.unknown", "unknown"), ("payload.unknown", "unknown")),
        # Behind the corrector first: it moves the sensor against the focus.
        (("spacing.short", "stop"), ("reach.outwards", "stop")),
        (("spacing.long", "stop"), ("of_another_day.odd", "stop")),
    ],
)
def test_what_one_would_do_first_comes_first(first, second):
    one, other = found(*first), found(*second)
    assert in_order([other, one]) == (one, other)
    told = answer_of([other, one])
    assert told is not None
    assert told.first == one


@pytest.mark.parametrize(
    ("codes", "lead"),
    [
        ({"corners.blurred": "watch"}, "It works, at a cost."),
        ({"corners.blurred": "watch", "reach.unknown": "unknown"}, "As far as is known it works, at a cost."),
        ({"corners.blurred": "watch", "sun.cover_unknown": "unknown"}, "Do not point it at the Sun yet."),
        ({"corners.blurred": "watch", "joints.ends": "unknown"}, "It is not a whole rig yet."),
        (
            {"corners.blurred": "watch", "sun.fault": "unknown"},
            "Part of it could not be judged, by a fault of Trainwright's: take this for no verdict.",
        ),
        ({"joints.ends": "unknown", "sun.cover_unknown": "unknown"}, "Do not point it at the Sun yet."),
        ({"reach.inwards": "stop", "sun.cover_unknown": "unknown"}, "It does not come to focus yet."),
        ({"power.lead_starves": "stop"}, "A lead is too thin or too long."),
        ({"power.runs_out": "stop"}, "The power does not last."),
        ({"sun.behind": "stop"}, "Do not use it like this."),
        ({"stand.sound": "sound"}, "It works: nothing that was checked speaks against it."),
    ],
)
def test_nothing_that_is_left_open_is_said_to_work(codes, lead):
    told = answer_of([found(code, weight) for code, weight in codes.items()])
    assert told is not None
    assert told.lead == lead
    assert write_answer(told, "metric").startswith(lead)


def test_a_mount_alone_is_no_whole_rig_and_an_empty_one_is_not_judged():
    told = answer_of([tell(one) for one in check_joints(Case(rig(gear=[mount()])))])
    assert told is not None
    assert told.lead == "It is not a whole rig yet."
    assert check_joints(Case(Rig("Empty"))) == ()
    assert answer_of([]) is None


def test_a_verdict_without_words_costs_its_check_and_not_the_page(faults):
    told = tell(Verdict("sun.nowhere", "watch", (said("sun.nowhere"),)))
    assert (told.code, told.weight) == ("sun.fault", "unknown")
    assert "the words of sun.nowhere" in told.phrase.template
    assert write_words(said("did.nowhere")).startswith("This is a fault")
    assert len(faults) == 2
    faults.clear()
