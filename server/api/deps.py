"""What routes are handed: the workbench of the observer whom the path names, over a unit of work of
`server/handed.py`.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Annotated

from fastapi import Depends, Request

from server.domain.errors import NotFoundError
from server.flow.protocols import Store
from server.flow.workbench import Workbench
from server.handed import (
    Number,
    Reading,
    Unopened,
    Writing,
    bound_to,
    is_hosted,
    observer_signed_in,
)
from server.handed.turns import LongTurn
from server.rim.phrasebook.tell import tell


def _bench(request: Request, observer_id: int, store: Store) -> Workbench:
    if is_hosted(request) and observer_signed_in(request) != observer_id:
        raise NotFoundError(f"There is no observer number {observer_id} here for you.")
    # What is refused is written in the units of who asked.
    request.state.observer = observer = store.observer(observer_id)
    return Workbench(bound_to(request, store, observer), observer, tell)


async def reading_bench(request: Request, observer_id: Number, unit: Reading) -> Unopened:
    """The workbench of the path's observer, for looking. Raises NotFoundError when opened."""
    return replace(unit, give=partial(_bench, request, observer_id))


async def heavy_bench(
    request: Request,
    observer_id: Number,
    turn: LongTurn,  # noqa: ARG001 - it stands before
    unit: Reading,
) -> Unopened:
    """As `reading_bench`, for what is worked out for long."""
    return replace(unit, give=partial(_bench, request, observer_id))


async def writing_bench(request: Request, observer_id: Number, unit: Writing) -> Unopened:
    """The workbench of the path's observer, for changing. Raises NotFoundError when opened."""
    return replace(unit, give=partial(_bench, request, observer_id))


ReadingBench = Annotated[Workbench, Depends(reading_bench, scope="function")]
HeavyBench = Annotated[Workbench, Depends(heavy_bench, scope="function")]
WritingBench = Annotated[Workbench, Depends(writing_bench, scope="function")]
