"""Opening the database, and units of work: all changes of one are kept together, or none is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, Engine, Transaction
from sqlalchemy.exc import OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from server.domain.errors import BusyError, DatabaseAwayError
from server.store import dialects
from server.store.dialects import PostgresAddress, database_at, is_busy
from server.store.logbook import Logbook
from server.store.measurements import Measurements
from server.store.observers import Observers
from server.store.prepare import check_is_prepared
from server.store.rigs import Rigs
from server.store.shelves import Shelves
from server.store.skies import Skies
from server.store.stock import Stocks


class SqlStore(Observers, Shelves, Stocks, Rigs, Skies, Measurements, Logbook):
    """One unit of work over the database; what it offers is `server.flow.protocols.Store`."""

    def is_steward(self, observer_id: int) -> bool:  # noqa: ARG002 - the hosted form asks for its account
        """Whether an observer looks after the club: here nobody does."""
        return False

    def log_steward(self, what: str, by: int, about: int) -> None:
        """Write a line of the log of stewards' acts, of whom there are none here."""
        raise AssertionError((what, by, about))


class Stores:
    """The open database. Any number of threads may take units of work from it at once."""

    def __init__(self, where: Path | str, now: Callable[[], datetime] | None = None) -> None:
        self._now = now or utc_now
        database = database_at(where)
        self._writing = database.writing()
        self._reading = database.reading()

    @contextmanager
    def writing(self) -> Iterator[SqlStore]:
        """A unit that may write. A clean exit keeps all of it, durably; an error keeps nothing of it.

        Raises BusyError where another unit held the write lock for more than BUSY_WAIT_MS.
        """
        connection, transaction = self._begun()
        with connection, transaction:
            yield SqlStore(connection, self._now)

    def _begun(self, *, again: bool = True) -> tuple[Connection, Transaction]:
        """A connection that holds the write lock. Where it is cut while it waits for that, nothing was
        written yet: another one waits, once.
        """
        connection = _connected(self._writing)
        try:
            return connection, connection.begin()
        except OperationalError as error:
            connection.close()
            if not is_busy(error):
                raise
            raise BusyError(
                f"Another change was being stored for over {dialects.BUSY_WAIT_MS // 1000} seconds, so "
                "this one was not made. Try again in a moment."
            ) from None
        except DatabaseAwayError as error:
            connection.close()
            if not (again and error.cut):
                raise
        return self._begun(again=False)

    @contextmanager
    def reading(self) -> Iterator[SqlStore]:
        """A unit that sees the database as it was at its first question, and cannot write."""
        with _connected(self._reading) as connection, connection.begin():
            yield SqlStore(connection, self._now)

    def close(self) -> None:
        """Close all connections; the last one to close folds SQLite's log into the file."""
        self._reading.dispose()
        self._writing.dispose()


def utc_now() -> datetime:
    """The time now, with its zone."""
    return datetime.now(UTC)


def _connected(engine: Engine) -> Connection:
    try:
        return engine.connect()
    except PoolTimeoutError:
        raise BusyError("Too many are at work here at this moment. Try again in a moment.") from None


def open_stores(where: Path | str, now: Callable[[], datetime] = utc_now) -> Stores:
    """Open a database that `prepare_database` has prepared: a file, or a postgresql+psycopg:// address. `now`
    tells the time rows are marked with.

    Raises RefusedError for a PostgreSQL database that cannot be opened, or is not of the newest schema.
    """
    database = database_at(where)
    if isinstance(database, PostgresAddress):
        check_is_prepared(database)
    return Stores(where, now)
