"""What stops the Scout's candidates once they stand on the bench."""

from __future__ import annotations

import time
from collections.abc import Sequence

from server.domain.findings import Finding
from server.domain.parts import CataloguedPart
from server.flow.workbench import Workbench

MOST_LOOKED_AT = 60
"""Rigs that are looked at together: what the Scout's page shows before anything is opened."""
LONGEST_S = 3.0
"""After so long no further one is begun: a gap that is hard to close takes the Bridge two seconds."""


def look_at_all(
    bench: Workbench, some: Sequence[tuple[CataloguedPart, ...]], longest_s: float = LONGEST_S
) -> tuple[tuple[Finding, ...] | None, ...]:
    """What the bench says of each candidate's parts, as one press puts them there; None for those that the
    time, or `MOST_LOOKED_AT`, does not do for.
    """
    began = time.monotonic()
    return tuple(
        bench.look_at(bench.closing_of(parts).rig)
        if nth < MOST_LOOKED_AT and (nth == 0 or time.monotonic() - began < longest_s)
        else None
        for nth, parts in enumerate(some)
    )
