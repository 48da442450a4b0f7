"""What routes are handed: a unit of work, and the workbench of the observer that this browser has chosen.

A writing unit is committed when the route returns and before the answer starts (`scope="function"`): what is
acknowledged is stored, and a commit that fails is seen as a failure.

A unit is opened in one of the framework's threads, of which there are 40, and used and closed in others. If
all of them waited for the write lock, the unit that holds it could not go on; so those that may not begin yet
wait without a thread (`max_concurrency`), and the units that are open always leave some threads free.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, cast

from fastapi import Depends, Path, Request

from server.domain.errors import NotFoundError
from server.domain.observer import Observer
from server.flow.protocols import Store, Stores
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.settings import Settings

OBSERVER_COOKIE = "observer"

RowId = Annotated[int, Path(ge=1, le=2**53)]
"""The number of a part, a rig, an entry in an address: one that the database can hold."""


ONE_WRITER = 1
"""How many units that write each of the dependencies below opens at once; SQLite has one write lock."""
FEW_READERS = 8
"""How many units that only read each of them opens at once: more than there are cores to work for them."""
ONE_HEAVY = 1
"""How many answers are worked out for long at once: a second one would take the light ones' turn."""
FEW_PATIENT = 4
"""How many answers wait for a search at once."""


class NoObserverError(Exception):
    """Nobody is at the bench: the browser is sent to the first page."""


def settings_of(request: Request) -> Settings:
    """This run's settings."""
    return cast(Settings, request.app.state.settings)


def stores_of(request: Request) -> Stores:
    """The open database."""
    return cast(Stores, request.app.state.stores)


def chosen_observer(request: Request, store: Store) -> Observer | None:
    """The observer that this browser's cookie names, None where it names none of this install."""
    number = request.cookies.get(OBSERVER_COOKIE, "")
    if not (number.isascii() and number.isdigit() and len(number) < 10):
        return None
    try:
        observer = store.observer(int(number))
    except NotFoundError:
        return None
    request.state.observer = observer
    return observer


def reading_store(request: Request) -> Iterator[Store]:
    """A unit of work that only reads."""
    with stores_of(request).reading() as store:
        yield store


def writing_store(request: Request) -> Iterator[Store]:
    """A unit of work that may write."""
    with stores_of(request).writing() as store:
        yield store


def _bench(request: Request, store: Store) -> Workbench:
    observer = chosen_observer(request, store)
    if observer is None:
        raise NoObserverError
    return Workbench(store, observer, tell)


ReadingStore = Annotated[Store, Depends(reading_store, scope="function", max_concurrency=FEW_READERS)]
WritingStore = Annotated[Store, Depends(writing_store, scope="function", max_concurrency=ONE_WRITER)]


# These open their unit themselves, since each dependency of a route costs a change of thread and back.


def reading_bench(request: Request) -> Iterator[Workbench]:
    """The workbench of the chosen observer, for looking. Raises NoObserverError."""
    with stores_of(request).reading() as store:
        yield _bench(request, store)


def writing_bench(request: Request) -> Iterator[Workbench]:
    """The workbench of the chosen observer, for changing. Raises NoObserverError."""
    with stores_of(request).writing() as store:
        yield _bench(request, store)


ReadingBench = Annotated[Workbench, Depends(reading_bench, scope="function", max_concurrency=FEW_READERS)]
HeavyBench = Annotated[Workbench, Depends(reading_bench, scope="function", max_concurrency=ONE_HEAVY)]
"""For answers that are worked out for long: they wait for each other, and light ones never for them."""
PatientBench = Annotated[Workbench, Depends(reading_bench, scope="function", max_concurrency=FEW_PATIENT)]
"""For answers that wait for a search."""
WritingBench = Annotated[Workbench, Depends(writing_bench, scope="function", max_concurrency=ONE_WRITER)]
"""`def page(request: Request, bench: WritingBench) -> Response` is all a route needs."""
