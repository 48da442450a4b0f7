"""What the parts of the store have in common: the connection of their unit of work, and the clock."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import Connection, Executable, Row, Select

from server.domain.errors import NotFoundError

# SQLite takes at most 32,766 values in one statement (SQLite documentation, "Limits", section 9); a fixed,
# smaller number keeps statements in SQLAlchemy's cache.
_AT_ONCE = 500


Key = TypeVar("Key", int, str)


def batches(keys: Iterable[Key]) -> Iterator[list[Key]]:
    """The distinct keys in lists that fit one statement."""
    waiting = iter(sorted(set(keys)))
    while batch := list(islice(waiting, _AT_ONCE)):
        yield batch


class Unit:
    """A unit of work on one connection, whose transaction the caller ends."""

    def __init__(self, connection: Connection, now: Callable[[], datetime]) -> None:
        self._connection = connection
        self._now = now

    def _run(self, statement: Executable, values: Any = None) -> int:
        """Run a statement and return how many rows it touched."""
        return self._connection.execute(statement, values).rowcount

    def _rows(self, statement: Select[Any]) -> list[Row[Any]]:
        return list(self._connection.execute(statement))

    def _one(self, statement: Select[Any], what: str, number: object) -> Row[Any]:
        """The one row, or NotFoundError saying that there is no such `what`."""
        row = self._connection.execute(statement).first()
        if row is None:
            raise not_found(what, number)
        return row


def not_found(what: str, number: object) -> NotFoundError:
    """The error for a number that is not there."""
    return NotFoundError(
        f"There is no {what} number {number} here. It may have been removed; look in the list."
    )
