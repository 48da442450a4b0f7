"""A check that fails hides no other: figures out of range are told as such, a fault as this program's own."""

from __future__ import annotations

import logging

import pytest

from server.domain.checks.registry import CHECKS
from server.domain.findings import Finding
from server.domain.guarded import log
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case, Check
from server.optics.ranges import checked_focal_ratio
from server.rim.wording import write_phrase
from tests.domain.rigs import camera, corrector, rig, ring, tube
from tests.told import run_checks

RIG = rig(tube(), corrector(), ring(39.0), camera())


def with_sampling(monkeypatch: pytest.MonkeyPatch, work) -> tuple[Finding, tuple[Finding, ...]]:
    """What is found when the check of the sampling does other work: its one finding, and all the rest."""

    def find(case: Case) -> tuple[Verdict, ...]:
        work()
        return ()

    checks = [Check(c.name, find) if c.name == "sampling" else c for c in CHECKS]
    monkeypatch.setattr("server.flow.run_checks.CHECKS", tuple(checks))
    found = run_checks(RIG)
    (one,) = [f for f in found if f.code.startswith("sampling.")]
    return one, tuple(f for f in found if f is not one)


def others() -> tuple[Finding, ...]:
    return tuple(f for f in run_checks(RIG) if not f.code.startswith("sampling."))


@pytest.mark.parametrize("error", [ValueError, KeyError, AssertionError, TypeError])
def test_a_fault_in_a_check_is_logged_with_its_trace_and_told_as_ours_and_all_else_stands(
    monkeypatch, caplog, faults, error
):
    def broken() -> None:
        raise error("broken on purpose")

    stood = others()
    one, rest = with_sampling(monkeypatch, broken)
    assert (one.code, one.weight) == ("sampling.fault", "unknown")
    assert write_phrase(one.phrase, "metric") == (
        "This is a fault of Trainwright's in the check Sampling: everything else stands."
    )
    assert rest == stood
    (record,) = caplog.records
    assert (record.name, record.levelno) == (log.name, logging.ERROR)
    assert record.exc_info is not None
    assert record.exc_info[0] is error
    assert len(faults) == 1  # By which a test that expects none would have failed.
    faults.clear()


def test_a_figure_outside_its_range_is_told_in_the_grounds_words_and_is_no_fault(monkeypatch, faults):
    one, rest = with_sampling(monkeypatch, lambda: checked_focal_ratio(0.1))
    assert (one.code, one.weight) == ("sampling.outside", "unknown")
    assert "The focal ratio is 0.1; it must be at least 0.5" in one.phrase.template
    assert rest
    assert not faults


def test_the_machines_own_words_for_a_number_beyond_all_are_never_shown(monkeypatch, faults):
    one, _ = with_sampling(monkeypatch, lambda: round(float("inf")))
    assert one.code == "sampling.outside"
    assert one.phrase.template == (
        "This could not be worked out. A figure is beyond all that is ever built. Check those of the parts."
    )
    assert not faults
