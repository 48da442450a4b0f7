"""How far the searches are that the processes of the hosted form run."""

from __future__ import annotations

from sqlalchemy import ColumnElement, delete, insert, select, update

from server.flow.search_notes import Noted
from server.store.account_tables import noted_search as table
from server.store.unit import Unit

KEPT = 8
"""So many searches of one member are noted, the last ones."""


class NotedSearches(Unit):
    """What `server.flow.account_protocols.AccountStore` says of them."""

    def noted_search(self, observer_id: int, key: str) -> tuple[Noted, float, float] | None:
        """How far one is, when that was noted, and when it was last asked after."""
        row = self._connection.execute(select(table).where(*_this(observer_id, key))).first()
        if row is None:
            return None
        noted = Noted(row.found, row.seconds, row.ended, row.stopped)
        return noted, row.noted_at, row.seen_at

    def note_search(self, observer_id: int, key: str, noted: Noted, at: float) -> None:
        """Note how far it is, in place of what was noted."""
        values = {
            "found": noted.found,
            "seconds": noted.seconds,
            "ended": noted.ended,
            "stopped": noted.stopped,
            "noted_at": at,
        }
        if not self._run(update(table).where(*_this(observer_id, key)).values(values)):
            of = table.c
            mine = select(of.key).where(of.observer_id == observer_id).order_by(of.noted_at.desc())
            older = [row.key for row in self._rows(mine.offset(KEPT - 1))]
            self._run(delete(table).where(of.observer_id == observer_id, of.key.in_(older)))
            self._run(insert(table), {"observer_id": observer_id, "key": key, "seen_at": at, **values})

    def see_search(self, observer_id: int, key: str, at: float) -> None:
        """Note that it was asked after."""
        self._run(update(table).where(*_this(observer_id, key)).values(seen_at=at))

    def stop_search(self, observer_id: int, key: str) -> None:
        """Note that it shall end."""
        self._run(update(table).where(*_this(observer_id, key)).values(stopped=True))


def _this(observer_id: int, key: str) -> tuple[ColumnElement[bool], ...]:
    return table.c.observer_id == observer_id, table.c.key == key
