"""Judge a rig: run every check of the registry over it. There is no other judge."""

from __future__ import annotations

from collections.abc import Mapping

from server.domain.checks.case import Case, Check, outside
from server.domain.checks.registry import CHECKS
from server.domain.findings import Finding
from server.domain.parts import CataloguedPart
from server.domain.rig import Rig
from server.flow.protocols import Store

NO_JOINERS: Mapping[int, tuple[CataloguedPart, ...]] = {}


def run_checks(
    rig: Rig, joiners: Mapping[int, tuple[CataloguedPart, ...]] = NO_JOINERS
) -> tuple[Finding, ...]:
    """Return the findings of all checks, in the registry's order.

    `joiners` holds, by the index of a joint that does not mate, the parts that would join it.
    """
    case = Case(rig, joiners)
    return tuple(finding for check in CHECKS for finding in _guarded(check, case))


def _guarded(check: Check, case: Case) -> tuple[Finding, ...]:
    """A figure outside what a formula holds for is said in that formula's words; the other checks go on."""
    try:
        return check.find(case)
    except (ValueError, ArithmeticError) as error:
        return (outside(check.name, check.title, error),)


def find_joiners(store: Store, rig: Rig, observer_id: int) -> dict[int, tuple[CataloguedPart, ...]]:
    """Look on the observer's shelf for what would mend each joint that does not mate."""
    found: dict[int, tuple[CataloguedPart, ...]] = {}
    for joint in rig.train.joints:
        upper, lower = joint.upper.camera_connection, joint.lower.sky_connection
        if joint.mating.verdict in ("wrong_gender", "wrong_size", "wrong_kind") and upper and lower:
            lines = store.joiners(upper, lower, observer_id)
            found[joint.index] = tuple(line.item for line in lines)
    return found
