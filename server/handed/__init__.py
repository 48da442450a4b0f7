"""What routes of both doors are handed: a unit of work, and how many are open at once.

A dependency hands a unit over `Unopened`. The thread that runs the route opens it before, and closes it when
the route returns and before the answer starts (server/handed/routing.py): what is acknowledged is stored, and
a commit that fails is seen as a failure. So a request changes threads once, not three times, each of which
costs a tenth of a millisecond and more.

There are 40 such threads. Those that may not begin yet wait without one (`max_concurrency`), so that the
units that are open always leave some free.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from typing import Annotated, Any, cast

from fastapi import Depends, Path, Request

from server.domain.observer import Observer
from server.flow.protocols import Store, Stores

ONE_WRITER = 1
"""How many units that write each dependency on them opens at once; SQLite has one write lock."""
FEW_READERS = 8
"""How many units that only read each dependency opens at once: more than there are cores to work for them."""
LARGEST_NUMBER = 2**53 - 1
"""The largest whole number that every JSON reader keeps exactly (RFC 8259, section 6)."""

Number = Annotated[int, Path(ge=1, le=LARGEST_NUMBER)]
"""The number of a part, a rig, an entry in an address: one that the database can hold."""


def stores_of(request: Request) -> Stores:
    """The open database."""
    return cast(Stores, request.app.state.stores)


def is_hosted(request: Request) -> bool:
    """Whether this is the hosted form, where the observer is whoever is signed in."""
    return bool(request.app.state.hosted)


def observer_signed_in(request: Request) -> int | None:
    """The number of the observer who is signed in, in the hosted form."""
    who = getattr(request.state, "signed_in", None)
    return None if who is None else cast(int, who.observer_id)


def bound_to(request: Request, store: Store, observer: Observer) -> Store:
    """The unit, which in the hosted form names nothing that is another observer's."""
    if is_hosted(request):
        cast(Any, store).read_by(observer.id)
    return store


def _itself(store: Store) -> Store:
    return store


@dataclass(frozen=True)
class Unopened:
    """A unit of work that is yet to be opened, and what the route is given of it."""

    unit: Callable[[], AbstractContextManager[Store]]
    give: Callable[[Store], object] = _itself

    @contextmanager
    def opened(self) -> Iterator[Any]:
        """Open the unit for as long as the block lasts."""
        with self.unit() as store:
            yield self.give(store)


async def reading_store(request: Request) -> AsyncIterator[Unopened]:
    """A unit of work that only reads."""
    yield Unopened(stores_of(request).reading)


async def writing_store(request: Request) -> AsyncIterator[Unopened]:
    """A unit of work that may write."""
    yield Unopened(stores_of(request).writing)


READING = Depends(reading_store, scope="function", max_concurrency=FEW_READERS)
WRITING = Depends(writing_store, scope="function", max_concurrency=ONE_WRITER)
ReadingStore = Annotated[Store, READING]
WritingStore = Annotated[Store, WRITING]
Reading = Annotated[Unopened, READING]
Writing = Annotated[Unopened, WRITING]
"""What other dependencies are handed."""
