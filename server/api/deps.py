"""What routes are handed: a unit of work, and the workbench of the observer whom the path names.

A writing unit is committed when the route returns and before the answer starts (`scope="function"`): what is
acknowledged is stored, and a commit that fails is seen as a failure.

Units that may not begin yet wait without a thread (`max_concurrency`): if all threads waited for the write
lock, the unit that holds it could not go on.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, cast

from fastapi import Depends, Path, Request

from server.flow.protocols import Store, Stores
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell

ONE_WRITER = 1
"""How many units that write are open at once at this door; SQLite has one write lock."""
FEW_READERS = 8
"""How many units that only read are open at once at this door."""
ONE_HEAVY = 1
"""How many answers are worked out for long at once at this door; light ones never wait for them."""
LARGEST_NUMBER = 2**53 - 1
"""The largest whole number that every JSON reader keeps exactly (RFC 8259, section 6)."""

Number = Annotated[int, Path(ge=1, le=LARGEST_NUMBER)]
"""The number of a thing, in a path."""


def _stores(request: Request) -> Stores:
    return cast(Stores, request.app.state.stores)


def reading_store(request: Request) -> Iterator[Store]:
    """A unit of work that only reads."""
    with _stores(request).reading() as store:
        yield store


def writing_store(request: Request) -> Iterator[Store]:
    """A unit of work that may write."""
    with _stores(request).writing() as store:
        yield store


ReadingStore = Annotated[Store, Depends(reading_store, scope="function", max_concurrency=FEW_READERS)]
HeavyStore = Annotated[Store, Depends(reading_store, scope="function", max_concurrency=ONE_HEAVY)]
WritingStore = Annotated[Store, Depends(writing_store, scope="function", max_concurrency=ONE_WRITER)]


def _bench(request: Request, observer_id: int, store: Store) -> Workbench:
    # What is refused is written in the units of who asked.
    request.state.observer = store.observer(observer_id)
    return Workbench(store, request.state.observer, tell)


def reading_bench(request: Request, observer_id: Number, store: ReadingStore) -> Workbench:
    """The workbench of the path's observer, for looking. Raises NotFoundError."""
    return _bench(request, observer_id, store)


def heavy_bench(request: Request, observer_id: Number, store: HeavyStore) -> Workbench:
    """The workbench of the path's observer, for what is worked out for long. Raises NotFoundError."""
    return _bench(request, observer_id, store)


def writing_bench(request: Request, observer_id: Number, store: WritingStore) -> Workbench:
    """The workbench of the path's observer, for changing. Raises NotFoundError."""
    return _bench(request, observer_id, store)


ReadingBench = Annotated[Workbench, Depends(reading_bench, scope="function")]
HeavyBench = Annotated[Workbench, Depends(heavy_bench, scope="function")]
WritingBench = Annotated[Workbench, Depends(writing_bench, scope="function")]
