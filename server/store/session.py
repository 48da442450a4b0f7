"""Opening the database, and units of work: all changes of one are kept together, or none is.

Python's sqlite3 module would begin transactions late and by its own rules, which loses updates between
threads; so it is told to keep out (isolation_level None) and each unit begins its own: IMMEDIATE where it
will write, which takes the one write lock before anything is read, and DEFERRED where it only reads (SQLite
documentation, "Transactions", section 2.2).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, ExceptionContext, create_engine, event
from sqlalchemy.exc import OperationalError

from server.domain.errors import NotFoundError, RefusedError
from server.store.logbook import Logbook
from server.store.measurements import Measurements
from server.store.observers import Observers
from server.store.rigs import Rigs
from server.store.shelves import Shelves
from server.store.skies import Skies
from server.store.stock import Stocks
from server.store.trouble import trouble_with

BUSY_WAIT_MS = 5000
"""How long a unit waits for another one's write to end."""

# Connections kept open; more are opened while they are needed, as many as there may be threads, and closed
# after.
_KEPT_OPEN = 4
_AT_MOST = 64


class SqlStore(Observers, Shelves, Stocks, Rigs, Skies, Measurements, Logbook):
    """One unit of work over the database; what it offers is `server.flow.protocols.Store`."""


def _set_up(connection: sqlite3.Connection, *, foreign_keys: bool, query_only: bool) -> None:
    connection.isolation_level = None
    for pragma in (
        f"busy_timeout={BUSY_WAIT_MS}",
        "journal_mode=WAL",
        # A laptop in a field dies without warning: FULL makes every commit reach the disk before it is
        # acknowledged (SQLite documentation, "PRAGMA synchronous").
        "synchronous=FULL",
        f"foreign_keys={'ON' if foreign_keys else 'OFF'}",
        # Without it INSERT OR REPLACE would remove rows behind the back of the triggers that refuse removal.
        "recursive_triggers=ON",
        f"query_only={'ON' if query_only else 'OFF'}",
    ):
        connection.execute(f"PRAGMA {pragma}").close()


def make_engine(path: Path, begin: str, *, foreign_keys: bool = True, query_only: bool = False) -> Engine:
    """An engine on the file whose transactions start with the statement `begin`."""
    engine = create_engine(
        f"sqlite:///{path.absolute()}", pool_size=_KEPT_OPEN, max_overflow=_AT_MOST - _KEPT_OPEN
    )

    @event.listens_for(engine, "connect")
    def on_connect(connection: Any, record: object) -> None:  # noqa: ARG001 - SQLAlchemy's signature
        _set_up(connection, foreign_keys=foreign_keys, query_only=query_only)

    @event.listens_for(engine, "handle_error")
    def on_error(context: ExceptionContext) -> None:
        if isinstance(context.original_exception, OverflowError):
            # A number beyond the 64 bits that SQLite has for one: no row carries it.
            raise NotFoundError("There is nothing here by so large a number.") from None
        trouble = trouble_with(path, context.original_exception)
        if trouble is not None:
            raise trouble from context.original_exception

    @event.listens_for(engine, "begin")
    def on_begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


class Stores:
    """The open database. Any number of threads may take units of work from it at once."""

    def __init__(self, path: Path, now: Callable[[], datetime]) -> None:
        self._now = now
        self._writing = make_engine(path, "BEGIN IMMEDIATE")
        self._reading = make_engine(path, "BEGIN DEFERRED", query_only=True)

    @contextmanager
    def writing(self) -> Iterator[SqlStore]:
        """A unit that may write. A clean exit keeps all of it, durably; an error keeps nothing of it.

        Raises RefusedError where another unit held the write lock for more than BUSY_WAIT_MS.
        """
        with self._writing.connect() as connection:
            try:
                transaction = connection.begin()
            except OperationalError as error:
                if getattr(error.orig, "sqlite_errorcode", None) != sqlite3.SQLITE_BUSY:
                    raise
                raise RefusedError(
                    f"Another change was being stored for over {BUSY_WAIT_MS // 1000} seconds, so this one "
                    "was not made. Try again in a moment."
                ) from None
            with transaction:
                yield SqlStore(connection, self._now)

    @contextmanager
    def reading(self) -> Iterator[SqlStore]:
        """A unit that sees the database as it was at its first question, and cannot write."""
        with self._reading.connect() as connection, connection.begin():
            yield SqlStore(connection, self._now)

    def close(self) -> None:
        """Close all connections; the last one to close folds SQLite's log into the file."""
        self._reading.dispose()
        self._writing.dispose()


def utc_now() -> datetime:
    """The time now, with its zone."""
    return datetime.now(UTC)


def open_stores(path: Path, now: Callable[[], datetime] = utc_now) -> Stores:
    """Open a database that `prepare_database` has prepared. `now` tells the time rows are marked with."""
    return Stores(path, now)
