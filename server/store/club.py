"""What the members of a club have in common: of the hosted form alone."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from hashlib import sha256
from threading import Lock
from typing import Any
from weakref import WeakKeyDictionary

from sqlalchemy import delete, func, insert, select, update

from server.domain.account import ListedEntry
from server.domain.entry import Entry, priceless
from server.domain.errors import NotFoundError
from server.domain.measure import Money
from server.domain.part_history import Act, PartChange
from server.domain.parts import CataloguedPart, Part
from server.flow.protocols import Stock
from server.store import tables
from server.store.account_tables import club, club_entry, maybe_moment, moment_of, own_price, seconds_of
from server.store.catalogue import PART_COLUMNS, PART_JOIN
from server.store.dialects import AsJson, put_or_replace
from server.store.mapping import part_row, read_catalogued, read_part, write_part
from server.store.session import SqlStore

entry, observer = tables.entry.c, tables.observer.c

_document = AsJson(entry.document)
_LISTED = (
    select(
        club_entry.c.entry_id,
        club_entry.c.listed_at,
        entry.observer_id,
        observer.name,
        *(_document[name].as_string().label(name) for name in ("rig", "title")),
    )
    .join_from(club_entry, tables.entry, entry.id == club_entry.c.entry_id)
    .join(tables.observer, observer.id == entry.observer_id)
    .order_by(club_entry.c.listed_at.desc(), club_entry.c.entry_id.desc())
)


STOCKS_KEPT = 32
"""For so many readers the stock is kept as they are shown it: what differs are but the parts with prices."""

_stocks: WeakKeyDictionary[Stock, tuple[tuple[CataloguedPart, ...], OrderedDict[Hashable, Stock]]] = (
    WeakKeyDictionary()
)
_lock = Lock()


class ClubStore(SqlStore):
    """A unit of work in which one observer reads, with what members share, and what the club lends."""

    _reader: int | None = None
    _club: int | None = None
    _prices: Mapping[int, Money] | None = None

    def read_by(self, observer_id: int) -> None:
        """From here on this unit is this observer's: it names nobody else's rigs."""
        self._reader, self._prices = observer_id, None

    # What the club lends

    def club_id(self) -> int | None:
        """The observer whose shelf is what the club lends, None where there is none yet."""
        if self._club is None:
            self._club = self._connection.execute(select(club.c.observer_id)).scalar()
        return self._club

    def set_club(self, observer_id: int) -> None:
        """Let an observer be the club's."""
        self._run(insert(club), {"number": 1, "observer_id": observer_id})

    def _lender(self, observer_id: int) -> int | None:
        found = self.club_id()
        return None if found == observer_id else found

    # Prices: of a part that the reader entered as it says, of another's as the reader says

    def own_prices(self) -> Mapping[int, Money]:
        """What the reader says parts cost that others have entered, by their numbers."""
        if self._prices is None:
            asked = select(own_price.c.part_id, own_price.c.price_hundredths, own_price.c.currency)
            rows = self._rows(asked.where(own_price.c.observer_id == (self._reader or 0)))
            self._prices = {
                row.part_id: Money(hundredths=row.price_hundredths, currency=row.currency) for row in rows
            }
        return self._prices

    def keep_price(self, observer_id: int, part_id: int, price: Money | None) -> None:
        """Say what a part costs this observer, None for nobody knows. Raises NotFoundError."""
        item = self._whole(part_id)
        if item.entered_by == observer_id:
            if item.part.price != price:
                self.change_part(part_id, _with_price(item, price).part, observer_id)
            return
        self._prices = None
        if price is None:
            of = own_price.c
            self._run(delete(own_price).where(of.observer_id == observer_id, of.part_id == part_id))
            return
        values = {
            "observer_id": observer_id,
            "part_id": part_id,
            "price_hundredths": price.hundredths,
            "currency": price.currency,
        }
        put = put_or_replace(self._connection.dialect.name, own_price, ("observer_id", "part_id"))
        self._run(put, values)

    def move_prices(self, gone_id: int, kept_id: int) -> None:
        """Let what was said of one part be said of another, by those who have not said anything of that."""
        known = self._said_of(kept_id)
        for observer_id, price in self._said_of(gone_id).items():
            if observer_id not in known:
                self.keep_price(observer_id, kept_id, price)

    def _said_of(self, part_id: int) -> dict[int, Money]:
        """What each says that a part costs, the one who entered it as well."""
        asked = select(own_price).where(own_price.c.part_id == part_id)
        said = {
            row.observer_id: Money(hundredths=row.price_hundredths, currency=row.currency)
            for row in self._rows(asked)
        }
        item = self._whole(part_id)
        return said | ({item.entered_by: item.part.price} if item.part.price else {})

    def _whole(self, part_id: int) -> CataloguedPart:
        statement = select(*PART_COLUMNS).select_from(PART_JOIN).where(tables.part.c.id == part_id)
        return read_catalogued(self._one(statement, "part", part_id))

    def change_part(self, part_id: int, part: Part, by: int) -> CataloguedPart:
        """Store a new revision. Of another's part the price stays theirs, and what is said here is one's own.
        Raises NotFoundError.
        """
        was = self._whole(part_id)
        if was.entered_by == by:
            return super().change_part(part_id, part, by)
        super().change_part(part_id, part.model_copy(update={"price": was.part.price}), by)
        self.keep_price(by, part_id, part.price)
        return self.part(part_id)

    def part_changes(self, part_id: int, limit: int) -> tuple[PartChange, ...]:
        """What was changed, but for prices."""
        changes = (
            replace(one, was=priceless(one.was), became=priceless(one.became))
            for one in super().part_changes(part_id, limit)
        )
        return tuple(one for one in changes if one.act != "changed" or one.was != one.became)

    def _note_change(self, kept: int, of_id: int, act: Act, by: int, was: Part, became: Part) -> None:
        was, became = priceless(was), priceless(became)
        if act != "changed" or was != became:
            super()._note_change(kept, of_id, act, by, was, became)

    def forget_prices(self, observer_id: int) -> None:
        """Forget what an observer said of parts, those that they entered as well."""
        self._run(delete(own_price).where(own_price.c.observer_id == observer_id))
        part = tables.part.c
        asked = select(part.id, part.document).where(
            part.entered_by == observer_id, part.price_hundredths.is_not(None)
        )
        for row in self._rows(asked):
            without = priceless(read_part(row.document))
            self._run(update(tables.part).where(part.id == row.id).values(part_row(without)))

    def _items(self, rows: Iterable[Any]) -> list[CataloguedPart]:
        return [self._priced(read_catalogued(row)) for row in rows]

    def _priced(self, item: CataloguedPart) -> CataloguedPart:
        mine = item.entered_by == self._reader
        return item if mine else _with_price(item, self.own_prices().get(item.id))

    def _said(self, document: str) -> str:
        # Whoever asks for a part with a price is not told whether another says the same.
        return write_part(priceless(read_part(document)))

    def stock(self) -> Stock:
        """As the reader is shown it; the same object as long as catalogue and prices stay the same."""
        whole = super().stock()
        mine = {item.id: item for item in whole.parts if item.entered_by == self._reader and item.part.price}
        prices = self.own_prices()
        said = frozenset((*((n, item.part.price) for n, item in mine.items()), *prices.items()))
        key = (self._reader, said)
        with _lock:
            bare, kept = _stocks.get(whole, ((), OrderedDict()))
            found = kept.get(key)
        if found is not None:
            return found
        bare = bare or tuple(_with_price(item, None) for item in whole.parts)
        parts = tuple(
            mine.get(item.id) or _with_price(item, prices.get(item.id)) if said else item for item in bare
        )
        # The same in every process, since searches are known by it.
        prices_of = repr(sorted((number, str(price)) for number, price in said)).encode()
        found = Stock((*whole.stamp, int(sha256(prices_of).hexdigest()[:12], 16)), parts)
        with _lock:
            kept[key] = found
            while len(kept) > STOCKS_KEPT:
                kept.popitem(last=False)
            _stocks[whole] = bare, kept
        return found

    # What members share

    def entry(self, entry_id: int) -> Entry:
        """A saved entry, another's without prices. Raises NotFoundError."""
        found = super().entry(entry_id)
        if found.observer_id == self._reader:
            return found
        return replace(found, document=found.document.for_others())

    def listed_count(self) -> int:
        """How many entries are listed."""
        return int(self._connection.execute(select(func.count()).select_from(club_entry)).scalar_one())

    def listed_entries(self, limit: int | None = None, offset: int = 0) -> tuple[ListedEntry, ...]:
        """At most `limit` of them behind the last `offset`, by name, the last listed first."""
        return tuple(
            ListedEntry(
                row.entry_id,
                row.observer_id,
                row.name,
                row.rig,
                row.title,
                moment_of(row.listed_at),
            )
            for row in self._rows(_LISTED.limit(limit).offset(offset))
        )

    def listed_since(self, entry_id: int) -> datetime | None:
        """Since when an entry is listed, None where it is not."""
        asked = select(club_entry.c.listed_at).where(club_entry.c.entry_id == entry_id)
        found = self._connection.execute(asked).scalar()
        return maybe_moment(found)

    def listed_entry(self, entry_id: int) -> Entry:
        """One that is listed. Raises NotFoundError for any other, in the same words."""
        if self.listed_since(entry_id) is None:
            raise NotFoundError("This entry is not shared with the club, or not any more.")
        return self.entry(entry_id)

    def list_entry(self, entry_id: int, at: datetime) -> None:
        """List an entry; one that is listed keeps its time."""
        if self.listed_since(entry_id) is None:
            self._run(insert(club_entry), {"entry_id": entry_id, "listed_at": seconds_of(at)})

    def unlist_entry(self, entry_id: int) -> None:
        """List it no more."""
        self._run(delete(club_entry).where(club_entry.c.entry_id == entry_id))


def _with_price(item: CataloguedPart, price: Money | None) -> CataloguedPart:
    """The part at another price."""
    if item.part.price == price:
        return item
    return replace(item, part=item.part.model_copy(update={"price": price}))
