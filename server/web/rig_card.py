"""A rig in a list: how it stands, what it weighs and costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.domain.findings import Weight
from server.flow.protocols import RigLine
from server.flow.workbench import Workbench
from server.rim.answer import Answer, answer_of, counts_of
from server.rim.totals import write_totals

RIGS_CHECKED = 12
"""How many rigs a list checks; the others are listed without what the checks say."""


@dataclass(frozen=True)
class RigCard:
    """A rig with how many findings of each weight its train has now, how it stands, and what it weighs and
    costs; None and "" where it was not checked.
    """

    line: RigLine
    weights: tuple[tuple[Weight, int], ...] | None = None
    answer: Answer | None = None
    totals: str = ""


def cards_of(bench: Workbench, lines: Sequence[RigLine]) -> tuple[RigCard, ...]:
    """Rigs as cards, the first of them checked."""
    return tuple(
        _checked(bench, line) if index < RIGS_CHECKED and line.parts else RigCard(line)
        for index, line in enumerate(lines)
    )


def _checked(bench: Workbench, line: RigLine) -> RigCard:
    view = bench.bench(line.id)
    return RigCard(
        line,
        counts_of(view.short_findings),
        answer_of(view.short_findings),
        write_totals(view.rig, bench.observer.units),
    )
