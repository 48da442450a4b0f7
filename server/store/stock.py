"""What stacks can be built of: every ring, adapter and shim of the catalogue, read once for each of its
states.
"""

from __future__ import annotations

from threading import Lock
from weakref import WeakKeyDictionary

from sqlalchemy import Engine, func, select

from server.domain.much import much_is_made
from server.flow.protocols import STOCK_KINDS, Stock
from server.store import tables
from server.store.catalogue import PART_COLUMNS, PART_JOIN
from server.store.mapping import read_catalogued
from server.store.unit import Unit

part = tables.part.c

_kept: WeakKeyDictionary[Engine, Stock] = WeakKeyDictionary()
_lock = Lock()


class Stocks(Unit):
    """The stock of the catalogue."""

    def stock(self) -> Stock:
        """Every part that a stack can be built of; the same object as long as the catalogue stays the same.

        A part's number is never given twice and its revision only grows, so that how many parts there are,
        the largest number and the sum of the revisions name a state of the catalogue.
        """
        counted = select(func.count(), func.max(part.id), func.sum(part.revision)).select_from(tables.part)
        found = self._connection.execute(counted).one()
        stamp = (found[0], found[1] or 0, found[2] or 0)
        engine = self._connection.engine
        with _lock:
            kept = _kept.get(engine)
        if kept is not None and kept.stamp == stamp:
            return kept
        asked = (
            select(*PART_COLUMNS).select_from(PART_JOIN).where(part.kind.in_(STOCK_KINDS)).order_by(part.id)
        )
        known = {} if kept is None else {item.id: item for item in kept.parts}
        parts = []
        with much_is_made():
            for row in self._connection.execute(asked):
                item = known.get(row.id)
                same = item is not None and item.revision == row.revision
                parts.append(item if item is not None and same else read_catalogued(row))
        stock = Stock(stamp, tuple(parts))
        with _lock:
            _kept[engine] = stock
        return stock
