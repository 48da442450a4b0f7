"""What routes of both doors are handed: a unit of work, and how many are open at once.

A writing unit is committed when the route returns and before the answer starts (`scope="function"`): what is
acknowledged is stored, and a commit that fails is seen as a failure.

A unit is opened in one of the framework's threads, of which there are 40, and used and closed in others. If
all of them waited for the write lock, the unit that holds it could not go on; so those that may not begin yet
wait without a thread (`max_concurrency`), and the units that are open always leave some threads free.
"""

from __future__ import annotations

from collections.abc import Iterator
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


def reading_store(request: Request) -> Iterator[Store]:
    """A unit of work that only reads."""
    with stores_of(request).reading() as store:
        yield store


def writing_store(request: Request) -> Iterator[Store]:
    """A unit of work that may write."""
    with stores_of(request).writing() as store:
        yield store


ReadingStore = Annotated[Store, Depends(reading_store, scope="function", max_concurrency=FEW_READERS)]
WritingStore = Annotated[Store, Depends(writing_store, scope="function", max_concurrency=ONE_WRITER)]
