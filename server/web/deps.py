"""What routes are handed: the workbench of the observer that this browser has chosen, over a unit of work of
`server/handed.py`.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from functools import partial
from typing import Annotated, cast

from fastapi import Depends, Request

from server.domain.errors import NotFoundError
from server.domain.observer import Observer
from server.flow.protocols import Store
from server.flow.workbench import Workbench
from server.handed import (
    FEW_READERS,
    ONE_WRITER,
    Unopened,
    bound_to,
    is_hosted,
    observer_signed_in,
    stores_of,
)
from server.handed.turns import Elsewhere, LongTurn
from server.rim.phrasebook.tell import tell
from server.settings import Settings

OBSERVER_COOKIE = "observer"

FEW_PATIENT = 4
"""How many answers wait for a search at once."""


class NoObserverError(Exception):
    """Nobody is at the bench: the browser is sent to the first page."""


def settings_of(request: Request) -> Settings:
    """This run's settings."""
    return cast(Settings, request.app.state.settings)


def chosen_observer(request: Request, store: Store) -> Observer | None:
    """The observer that this browser's cookie names, None where it names none of this install. In the hosted
    form: who is signed in.
    """
    number = request.cookies.get(OBSERVER_COOKIE, "")
    if is_hosted(request):
        number = str(observer_signed_in(request) or "")
    if not (number.isascii() and number.isdigit() and len(number) < 10):
        return None
    try:
        observer = store.observer(int(number))
    except NotFoundError:
        return None
    request.state.observer = observer
    return observer


def _bench(request: Request, store: Store) -> Workbench:
    observer = chosen_observer(request, store)
    if observer is None:
        raise NoObserverError
    return Workbench(bound_to(request, store, observer), observer, tell)


def _reading(request: Request) -> Unopened:
    return Unopened(stores_of(request).reading, partial(_bench, request))


async def reading_bench(request: Request) -> AsyncIterator[Unopened]:
    """The workbench of the chosen observer, for looking. Raises NoObserverError when opened."""
    yield _reading(request)


async def heavy_bench(request: Request, turn: LongTurn) -> Unopened:  # noqa: ARG001 - it stands before
    """As `reading_bench`, when the turn of what is worked out for long has come."""
    return _reading(request)


async def patient_bench(
    request: Request,
    elsewhere: Elsewhere,  # noqa: ARG001 - as above
) -> AsyncIterator[Unopened]:
    """As `reading_bench`, where searches are kept."""
    yield _reading(request)


async def writing_bench(request: Request) -> AsyncIterator[Unopened]:
    """The workbench of the chosen observer, for changing. Raises NoObserverError when opened."""
    yield Unopened(stores_of(request).writing, partial(_bench, request))


ReadingBench = Annotated[Workbench, Depends(reading_bench, scope="function", max_concurrency=FEW_READERS)]
HeavyBench = Annotated[Workbench, Depends(heavy_bench, scope="function")]
"""For answers that are worked out for long: they wait for each other, and light ones never for them."""
PatientBench = Annotated[Workbench, Depends(patient_bench, scope="function", max_concurrency=FEW_PATIENT)]
"""For answers that wait for a search."""
WritingBench = Annotated[Workbench, Depends(writing_bench, scope="function", max_concurrency=ONE_WRITER)]
"""`def page(request: Request, bench: WritingBench) -> Response` is all a route needs."""
