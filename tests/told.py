"""The checks as a reader hears them: each verdict put into words by the phrasebook."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

import pytest

from server.domain.checks import balance, joints, lifting, power, spacing
from server.domain.errors import TrainwrightError
from server.domain.findings import Finding
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case
from server.flow import run_checks as running
from server.rim.phrasebook.tell import tell, write_words


def _told(check: Callable[[Case], Sequence[Verdict]]) -> Callable[[Case], tuple[Finding, ...]]:
    return lambda case: tuple(map(tell, check(case)))


check_balance = _told(balance.check_balance)
check_joints = _told(joints.check_joints)
check_lifting = _told(lifting.check_lifting)
check_power = _told(power.check_power)
check_spacing = _told(spacing.check_spacing)


E = TypeVar("E", bound=TrainwrightError)


@contextmanager
def refused(kind: type[E], words: str) -> Iterator[pytest.ExceptionInfo[E]]:
    with pytest.raises(kind) as caught:
        yield caught
    assert re.search(words, write_words(caught.value.message))


def run_checks(*args: Any, **given: Any) -> tuple[Finding, ...]:
    return tuple(map(tell, running.run_checks(*args, **given)))
