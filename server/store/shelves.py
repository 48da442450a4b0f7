"""Looking through the catalogue and the shelves."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache, partial
from typing import Any

from sqlalchemy import ColumnElement, Select, Text, and_, bindparam, delete, exists, false, func, or_, select

from server.domain.connections import Connection, mate
from server.domain.errors import RefusedError
from server.domain.observer import Holding
from server.domain.parts import CataloguedPart, Part, PathPart
from server.flow.protocols import PartPage, PartQuery, Remembered, ShelfLine
from server.store import tables
from server.store.catalogue import PART_COLUMNS, PART_JOIN, Catalogue
from server.store.dialects import Among, Found, lexemes_of, on_postgres, put_or_replace
from server.store.mapping import read_catalogued, read_holding, side_rows
from server.store.searching import Columns, match_expression, matches, mates, offers, phrases_of
from server.store.unit import batches, not_found

COUNTED_TO = 500
"""How many hits are counted; beyond that a page says "more than"."""

LINES_AT_MOST = 200

NEWEST, OFFERED = 2000, 60
"""Among how many parts makers and connections are gathered, and how many of each are offered."""

JOINER_KINDS = ("adapter", "spacer_ring")

part, held = tables.part.c, tables.holding.c
HOLDING_COLUMNS = (held.owned, held.wished, held.considered)

# Put together once: every search and every bench asks them. The numbers are handed over as one value, however
# many they are.
_LINES = (
    select(*PART_COLUMNS, *HOLDING_COLUMNS)
    .select_from(
        PART_JOIN.outerjoin(
            tables.holding, and_(held.part_id == part.id, held.observer_id == bindparam("observer_id"))
        )
    )
    .where(part.id.in_(bindparam("numbers", expanding=True)))
)
_NAMED_AMONG = (
    select(part.id)
    .where(Among(part.id, bindparam("numbers", type_=Text())))
    .order_by(part.sort_key, part.id)
    .limit(bindparam("at_most"))
    .offset(bindparam("from_line"))
)

_HOLDINGS_OF = select(held.part_id, *HOLDING_COLUMNS).where(
    held.observer_id == bindparam("observer_id"), held.part_id.in_(bindparam("numbers", expanding=True))
)

SideCondition = Callable[[Columns], ColumnElement[bool]]

# Under a name of its own, since the question around it may go through the same table; made once, as naming
# its columns takes longer than asking some searches.
_ONE_SIDE = tables.part_side.alias("one_side")


def _side_exists(number: ColumnElement[int], condition: SideCondition) -> ColumnElement[bool]:
    """Whether a part has a side that fulfils the condition."""
    return exists().where(_ONE_SIDE.c.part_id == number, condition(_ONE_SIDE.c))


class _Search:
    """One search, taken apart into conditions, each of which can lead (give numbers) or be asked of a
    number.
    """

    def __init__(self, query: PartQuery, lender: int | None, *, on_postgres: bool) -> None:
        self.expression = match_expression(query.text, query.kind)
        self.phrases = phrases_of(query.text) if on_postgres and self.expression else None
        self.kind = query.kind
        self.held: ColumnElement[bool] | None = None
        if query.holding != "catalogue":
            self.held = _held_by(query, lender)
        self.twice = lender is not None and query.holding == "at_hand"
        self.sides: list[SideCondition] = []
        if query.connection is not None:
            self.sides.append(partial(offers, query.connection))
        if query.mates_with is not None:
            self.sides.append(partial(mates, query.mates_with))

    def numbers(self) -> Select[Any]:
        """Numbers of the parts found. The narrowest condition leads, and the others are asked of each
        number.
        """
        if self.phrases is not None:
            return self.narrowed(select(part.id).where(*self._phrases_found(self.phrases))).order_by(part.id)
        if self.expression:
            found = select(tables.search_rowid).select_from(tables.part_search)
            found = found.where(matches(self.expression), *self._asked(tables.search_rowid))
            # The index gives its hits in this order anyhow.
            return found.order_by(tables.search_rowid)
        if self.held is not None:
            found = select(held.part_id)
            if self.twice:
                found = found.distinct()
            return found.where(self.held, *self._asked(held.part_id, skip_held=True))
        if self.sides:
            side = tables.part_side.c
            found = select(side.part_id).where(self.sides[0](side)).distinct()
            return found.where(*self._asked(side.part_id, skip_sides=1))
        return self.narrowed(select(part.id))

    def narrowed(self, statement: Select[Any]) -> Select[Any]:
        """A select of parts, cut down to those found, but for the text."""
        if self.kind:
            statement = statement.where(part.kind == self.kind)
        return statement.where(*self._asked(part.id, skip_kind=True))

    def _phrases_found(self, phrases: list[list[str]]) -> list[ColumnElement[bool]]:
        """PostgreSQL's index finds the tokens; that those of a phrase stand side by side is asked beside."""
        if not all(phrases):
            # Something was typed that no index holds.
            return [false()]
        together = [" ".join(phrase) for phrase in phrases if len(phrase) > 1]
        spaced = " " + tables.part.c.words
        return [
            Found(part.words, lexemes_of(phrases)),
            *(spaced.contains(f" {phrase}", autoescape=True) for phrase in together),
        ]

    def _asked(
        self,
        number: ColumnElement[int],
        *,
        skip_kind: bool = False,
        skip_held: bool = False,
        skip_sides: int = 0,
    ) -> list[ColumnElement[bool]]:
        asked: list[ColumnElement[bool]] = []
        if self.kind and not skip_kind:
            asked.append(exists().where(part.id == number, part.kind == self.kind))
        if self.held is not None and not skip_held:
            # A shelf is short, so it is listed once and each number looked up in it. The sum keeps the
            # index from taking the list apart into one search for each number.
            asked.append((number + 0).in_(select(held.part_id).where(self.held)))
        return asked + [_side_exists(number, condition) for condition in self.sides[skip_sides:]]


def _held_by(query: PartQuery, lender: int | None) -> ColumnElement[bool]:
    """Which holdings are meant."""
    own = held.observer_id == query.observer_id
    lent = false() if lender is None else and_(held.observer_id == lender, held.owned > 0)
    if query.holding == "lent":
        return lent
    if query.holding == "at_hand":
        return own if lender is None else or_(own, lent)
    return own if query.holding == "shelf" else and_(own, held[query.holding] > 0)


class Shelves(Catalogue):
    """Searches, and what observers have."""

    def _lender(self, observer_id: int) -> int | None:  # noqa: ARG002 - a club knows
        """The observer whose parts this one may borrow: nobody, but in a club."""
        return None

    def _with_lent(
        self, observer_id: int, found: dict[int, Holding], part_ids: Iterable[int] | None = None
    ) -> dict[int, Holding]:
        """What an observer has, with what may be borrowed: of these parts, or of all."""
        lender = self._lender(observer_id)
        if lender is None:
            return found
        lent = select(held.part_id, held.owned).where(held.observer_id == lender, held.owned > 0)
        asked = [lent] if part_ids is None else [lent.where(held.part_id.in_(b)) for b in batches(part_ids)]
        for row in (row for one in asked for row in self._rows(one)):
            found[row.part_id] = replace(found.get(row.part_id, Holding()), lent=row.owned)
        return found

    def find_parts(self, query: PartQuery) -> PartPage:
        """One page of what a query finds.

        Ordered by maker and model without regard to letter case, then by number. A text that finds more
        than COUNTED_TO parts is the exception: those come in the order in which they were entered
        (`by_name` is False), since sorting them all would cost more than finding them; one more word brings
        the names back in order.
        """
        offset, limit = max(query.offset, 0), min(max(query.limit, 1), LINES_AT_MOST)
        search = _Search(query, self._lender(query.observer_id), on_postgres=on_postgres(self._connection))
        found = self._connection.execute(search.numbers().limit(COUNTED_TO + 1)).scalars().all()
        many = len(found) > COUNTED_TO
        by_name = not (many and search.expression)
        if not by_name and offset + limit <= len(found):
            page = found[offset : offset + limit]
        elif not by_name:
            later = search.numbers().limit(limit).offset(offset)
            page = self._connection.execute(later).scalars().all()
        else:
            named = select(part.id).order_by(part.sort_key, part.id).limit(limit).offset(offset)
            if many:
                rows = self._connection.execute(search.narrowed(named))
            else:
                rows = self._connection.execute(
                    _NAMED_AMONG, {"numbers": json.dumps(list(found)), "at_most": limit, "from_line": offset}
                )
            page = rows.scalars().all()
        return PartPage(self._lines(page, query.observer_id), len(found), COUNTED_TO, offset, by_name)

    def remembered(self, observer_id: int) -> Remembered:
        """Makers and connections of the observer's shelf and of the newest parts of the catalogue."""
        newest = select(part.id).order_by(part.id.desc()).limit(NEWEST)
        mine = select(held.part_id).where(held.observer_id == observer_id).limit(NEWEST)
        numbers = {*self._connection.execute(newest).scalars(), *self._connection.execute(mine).scalars()}
        listed = json.dumps(sorted(numbers))
        makers = (
            select(part.maker)
            .where(Among(part.id, listed), part.maker != "")
            .group_by(part.maker)
            .order_by(func.count().desc(), part.maker)
            .limit(OFFERED)
        )
        side = tables.part_side.c
        sides = (
            select(side.size_key, side.gender, func.max(side.part_id).label("part_id"))
            .where(Among(side.part_id, listed))
            .group_by(side.size_key, side.gender)
            .order_by(func.count().desc(), side.size_key, side.gender)
            .limit(OFFERED)
        )
        shown = list(self._rows(sides))
        statement = select(*PART_COLUMNS).select_from(PART_JOIN)
        statement = statement.where(part.id.in_({row.part_id for row in shown}))
        parts = {row.id: read_catalogued(row).part for row in self._rows(statement)}
        connections = (_bare(_side(row, parts[row.part_id])) for row in shown)
        return Remembered(
            tuple(self._connection.execute(makers).scalars()), tuple(dict.fromkeys(connections))
        )

    def joiners(
        self, camera_side: Connection, sky_side: Connection, observer_id: int, limit: int = 5
    ) -> tuple[ShelfLine, ...]:
        """Adapters and rings of the observer's shelf, and then of what may be borrowed, that join the two,
        turned round where they are reversible.

        Owned first, then short before long (an unknown length last). Only what is known to mate is
        returned.
        """
        statement = _joiners_between(camera_side, sky_side)
        found: dict[int, CataloguedPart] = {}
        holdings: dict[int, Holding] = {}
        lender = self._lender(observer_id)
        for whose in (observer_id,) if lender is None else (observer_id, lender):
            for row in self._connection.execute(statement, {"observer_id": whose}):
                if len(found) >= limit:
                    break
                (item,), holding = self._items([row]), read_holding(row)
                if whose == lender and not holding.owned:
                    continue
                if isinstance(item.part, PathPart) and _joins(item.part, camera_side, sky_side):
                    found.setdefault(item.id, item)
                    if whose == observer_id:
                        holdings[item.id] = holding
        holdings = self._with_lent(observer_id, holdings, found)
        return tuple(ShelfLine(item, holdings[number]) for number, item in found.items())

    def holdings(self, observer_id: int, part_ids: Iterable[int]) -> Mapping[int, Holding]:
        """What the observer has of these parts, and may borrow; parts of which there is nothing are left
        out.
        """
        found: dict[int, Holding] = {}
        part_ids = list(part_ids)
        for batch in batches(part_ids):
            asked = {"observer_id": observer_id, "numbers": batch}
            rows = self._connection.execute(_HOLDINGS_OF, asked)
            found.update((row.part_id, read_holding(row)) for row in rows)
        return self._with_lent(observer_id, found, part_ids)

    def shelf(self, observer_id: int) -> Mapping[int, Holding]:
        """All that an observer has, and may borrow, by the part's number."""
        rows = self._rows(select(held.part_id, *HOLDING_COLUMNS).where(held.observer_id == observer_id))
        return self._with_lent(observer_id, {row.part_id: read_holding(row) for row in rows})

    def set_holding(self, observer_id: int, part_id: int, holding: Holding) -> None:
        """Say what the observer has of a part. Raises NotFoundError for either, RefusedError below zero."""
        self.set_holdings(observer_id, {part_id: holding})

    def set_holdings(self, observer_id: int, holdings: Mapping[int, Holding]) -> None:
        """Say what the observer has of many parts, by their numbers. Raises as `set_holding` does."""
        for holding in holdings.values():
            below = [f"{name} {count}" for name, count in _counts(holding).items() if count < 0]
            if below:
                raise RefusedError(
                    f"Nobody has less than nothing of a part ({', '.join(below)}): use 0 or more."
                )
        self._one(
            select(tables.observer.c.id).where(tables.observer.c.id == observer_id), "observer", observer_id
        )
        for numbers in batches(holdings):
            known = {row.id for row in self._connection.execute(select(part.id).where(part.id.in_(numbers)))}
            for number in numbers:
                if number not in known:
                    raise not_found("part", number)
            nothing = [number for number in numbers if not holdings[number].any]
            if nothing:
                self._run(
                    delete(tables.holding).where(held.observer_id == observer_id, held.part_id.in_(nothing))
                )
            something = [
                {"observer_id": observer_id, "part_id": number, **_counts(holdings[number])}
                for number in numbers
                if holdings[number].any
            ]
            if something:
                dialect = self._connection.dialect.name
                self._run(put_or_replace(dialect, tables.holding, ("observer_id", "part_id")), something)

    def _lines(self, numbers: Sequence[int], observer_id: int) -> tuple[ShelfLine, ...]:
        """The lines of these parts, in this order."""
        if not numbers:
            return ()
        rows = list(self._connection.execute(_LINES, {"observer_id": observer_id, "numbers": list(numbers)}))
        items = {item.id: item for item in self._items(rows)}
        holdings = {row.id: read_holding(row) for row in rows}
        holdings = self._with_lent(observer_id, holdings, numbers)
        return tuple(ShelfLine(items[number], holdings[number]) for number in numbers)


def _side(row: Any, part: Part) -> Connection:
    """The connection of a part that has the row's size and gender."""
    names = [
        side["side"]
        for side in side_rows(row.part_id, part)
        if (side["size_key"], side["gender"]) == (row.size_key, row.gender)
    ]
    found: Connection = getattr(part, names[0])
    return found


def _bare(connection: Connection) -> Connection:
    """The connection without its length, which is a part's own."""
    return (
        connection.model_copy(update={"thread_mm": None}) if hasattr(connection, "thread_mm") else connection
    )


def _counts(holding: Holding) -> dict[str, int]:
    return {"owned": holding.owned, "wished": holding.wished, "considered": holding.considered}


# Putting a statement together takes longer than asking it, and a bench asks the same again at each change
# until the joint is mended.
@lru_cache(256)
def _joiners_between(camera_side: Connection, sky_side: Connection) -> Select[Any]:
    return (
        select(*PART_COLUMNS, *HOLDING_COLUMNS)
        .select_from(PART_JOIN.join(tables.holding, held.part_id == part.id))
        .where(
            held.observer_id == bindparam("observer_id"),
            part.kind.in_(JOINER_KINDS),
            _side_exists(part.id, partial(mates, camera_side)),
            _side_exists(part.id, partial(mates, sky_side)),
        )
        .order_by(held.owned == 0, part.length_mm.is_(None), part.length_mm, part.id)
    )


def _joins(part: PathPart, camera_side: Connection, sky_side: Connection) -> bool:
    """Whether a part fits between the two, either way round if it may be turned."""
    if mate(camera_side, part.sky_side).holds and mate(part.camera_side, sky_side).holds:
        return True
    turned = mate(camera_side, part.camera_side).holds and mate(part.sky_side, sky_side).holds
    return bool(part.reversible) and turned
