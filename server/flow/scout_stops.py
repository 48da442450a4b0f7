"""The Scout's candidates once they stand on the bench: closed by the Bridge and judged by the checks."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

from server.domain.findings import Finding
from server.domain.parts import CataloguedPart
from server.flow.take_candidate import Closing
from server.flow.workbench import Workbench

MOST_LOOKED_AT = 60
"""Rigs that are asked for together by a program."""
LONGEST_S = 3.0
"""After so long no further one is begun: a gap that is hard to close takes the Bridge two seconds."""


@dataclass(frozen=True)
class Looked:
    """A candidate as one press puts it on the bench: how its back focus is closed, what the bench says."""

    closing: Closing
    findings: tuple[Finding, ...]


def look_at_all(
    bench: Workbench, some: Sequence[tuple[CataloguedPart, ...]], longest_s: float = LONGEST_S
) -> tuple[Looked, ...]:
    """Look at some candidates, by their parts, in their order: one, and as many as the time does for."""
    began, found = time.monotonic(), list[Looked]()
    for parts in some:
        if found and time.monotonic() - began >= longest_s:
            break
        closing = bench.closing_of(parts)
        found.append(Looked(closing, bench.look_at(closing.rig)))
    return tuple(found)
