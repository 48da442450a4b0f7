"""The checks as a reader hears them: each verdict put into words by the phrasebook."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from server.domain.checks import balance, joints, lifting, power
from server.domain.findings import Finding
from server.domain.verdicts import Judged
from server.domain.workings.case import Case
from server.flow import run_checks as running
from server.rim.phrasebook.tell import tell


def _told(check: Callable[[Case], Sequence[Judged]]) -> Callable[[Case], tuple[Finding, ...]]:
    return lambda case: tuple(map(tell, check(case)))


check_balance = _told(balance.check_balance)
check_joints = _told(joints.check_joints)
check_lifting = _told(lifting.check_lifting)
check_power = _told(power.check_power)


def run_checks(*args: Any, **given: Any) -> tuple[Finding, ...]:
    return tuple(map(tell, running.run_checks(*args, **given)))
