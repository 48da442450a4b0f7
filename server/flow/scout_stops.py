"""The Scout's candidates once they stand on the bench: closed by the Bridge and judged by the checks."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from server.domain.findings import Finding
from server.domain.parts import CataloguedPart
from server.flow.take_candidate import Closing
from server.flow.workbench import Workbench

MOST_LOOKED_AT = 60
"""Rigs that are asked for together by a program."""
LONGEST_S = 3.0
"""After so long no further one is begun: a gap that is hard to close takes the Bridge two seconds."""

_One = TypeVar("_One")


@dataclass(frozen=True)
class Looked:
    """A candidate as one press puts it on the bench: how its back focus is closed, what the bench says."""

    closing: Closing
    findings: tuple[Finding, ...]


def look_at(bench: Workbench, parts: tuple[CataloguedPart, ...]) -> Looked:
    """Look at a candidate, by its parts."""
    closing = bench.closing_of(parts)
    return Looked(closing, bench.look_at(closing.rig))


def as_time_does_for(some: Iterable[_One], longest_s: float = LONGEST_S) -> Iterator[_One]:
    """The first of these, and further ones until so long has been spent on those before."""
    began = time.monotonic()
    for nth, one in enumerate(some):
        if nth and time.monotonic() - began >= longest_s:
            return
        yield one
