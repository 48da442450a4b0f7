"""Whether a corrector is meant for the tube's design and focal ratio.

Source: ratios worked by hand (800 mm over 200 mm is f/4; a factor of 0.8 before makes it f/3.2). That a
corrector should be meant for its tube: common practice, no source. The half tenth by which quoted ratios are
rounded: a choice of ours.
"""

from __future__ import annotations

import pytest

from server.domain.checks.registry import CHECKS
from server.rim.wording import write_phrase
from tests.domain.rigs import camera, corrector, finding, findings, input_named, number, tube


def meant(*, designs=(), fastest=None, slowest=None, **given):
    return corrector(for_designs=designs, fastest_ratio=fastest, slowest_ratio=slowest, **given)


def test_a_corrector_that_names_the_tubes_design_and_ratio_is_sound():
    found = finding("suits", tube(), meant(designs=("apochromat",), fastest=4.0, slowest=7.0), camera())
    assert (found.weight, found.code) == ("sound", "suits.sound")
    assert input_named(found, "focal ratio that it gets") == pytest.approx(4.0)
    assert write_phrase(found.phrase, "metric") == "Halden Flat is meant for a tube like Halden Tube."


def test_a_corrector_for_another_design_is_a_watch_that_names_both():
    found = finding("suits", tube(), meant(designs=("newtonian",)), camera())
    assert (found.weight, found.code) == ("watch", "suits.design")
    said = write_phrase(found.phrase, "metric")
    assert "Newtonian" in said
    assert "apochromatic refractor" in said


@pytest.mark.parametrize(
    ("fastest", "slowest", "code"),
    [
        (4.0, None, "suits.sound"),
        (4.04, None, "suits.sound"),
        (4.5, None, "suits.fast"),
        (None, 4.0, "suits.sound"),
        (None, 3.96, "suits.sound"),
        (None, 3.5, "suits.slow"),
        (5.0, 8.0, "suits.fast"),
    ],
)
def test_a_ratio_outside_what_it_is_meant_for_is_a_watch_and_a_quoted_one_may_be_rounded(
    fastest, slowest, code
):
    found = finding("suits", tube(), meant(fastest=fastest, slowest=slowest), camera())
    assert found.code == code
    assert number(found, "ratio") == pytest.approx(4.0)


def test_a_corrector_behind_a_reducer_gets_the_reduced_ratio():
    found = finding("suits", tube(), corrector(factor=0.8), meant(fastest=3.5), camera())
    assert found.code == "suits.fast"
    assert number(found, "ratio") == pytest.approx(3.2)


def test_the_correctors_own_factor_does_not_count():
    found = finding("suits", tube(), meant(fastest=4.0, slowest=4.0, factor=0.5), camera())
    assert found.code == "suits.sound"


def test_what_the_tube_does_not_say_is_asked_for():
    found = finding(
        "suits", tube(design=None, aperture_mm=None), meant(designs=("newtonian",), fastest=4.0), camera()
    )
    assert found.weight == "unknown"
    assert found.missing == ("the design of Halden Tube", "the aperture of Halden Tube")


def test_a_known_fault_stands_although_something_else_is_missing():
    found = finding("suits", tube(aperture_mm=None), meant(designs=("newtonian",), fastest=4.0), camera())
    assert (found.weight, found.missing) == ("watch", ("the aperture of Halden Tube",))


def test_a_corrector_that_asks_for_nothing_and_a_train_without_a_tube_are_not_judged():
    assert findings("suits", tube(), corrector(), camera()) == []
    assert findings("suits", meant(designs=("newtonian",)), camera()) == []


def test_the_check_stands_in_the_registry():
    assert "suits" in [check.name for check in CHECKS]
