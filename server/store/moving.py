"""What one database holds, or one observer of it, brought into another: between files, PostgreSQL, or both.

What is there already stays as it is there, so that a second run changes nothing. A row is known again by who
made it and when, and by what it holds; see `_PAIRED_BY`. Numbers stay the same where they have never been
given there, and are new ones where they have: what names a part by its number is written anew then.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, insert, or_, select

from server.domain.entry import EntryDocument
from server.domain.errors import RefusedError
from server.domain.rig import RigPlan
from server.domain.scout.needs import Needs
from server.flow.save_entry import renumbered
from server.store import tables
from server.store.account_tables import club, club_entry, own_price
from server.store.clauses import words_renumbered
from server.store.dialects import SqliteFile, database_at, numbers_given, set_numbers_given
from server.store.mapping import read_part, words_of, write_plan
from server.store.observers import name_key
from server.store.prepare import prepare_database

Line = dict[str, Any]

_PAIRED_BY: dict[str, tuple[tuple[str, ...], ...]] = {
    "observer": (("name_key",),),
    "part": (("created_at", "kind", "document"), ("created_at", "kind", "sort_key")),
    "part_change": (("part_id", "at", "act", "was"),),
    "rig": (("observer_id", "created_at", "name"), ("observer_id", "created_at")),
    "entry": (("rig_id", "created_at", "number"), ("rig_id", "created_at")),
    "share": (("token",),),
    "site": (("observer_id", "sort_key", "document"), ("observer_id", "sort_key")),
    "target": (("observer_id", "sort_key"),),
    "needs": (("observer_id", "sort_key"),),
    "measured": (("observer_id", "rig_id", "name", "document"), ("observer_id", "rig_id", "document")),
}
"""By which columns rows of either side are taken for the same: the first pair off one by one in their order,
and what is left by the later ones where there is one on each side, since it may have been changed meanwhile.
"""


@dataclass(frozen=True)
class Moved:
    """What a move did: how many rows of each table are new there, and how many were there before."""

    new: dict[str, int]
    known: dict[str, int]


def move(source: Path | str, target: Path | str, observer: str | None = None) -> Moved:
    """Brings all of `source`, or one observer with the parts that this one needs, into `target`.

    All of it is kept, or nothing. Raises RefusedError where either is no database that can be used, or there
    is no such observer.
    """
    here, there = database_at(source), database_at(target)
    if here == there:
        raise RefusedError(f"{here} is named twice. Name two different databases.")
    if isinstance(here, SqliteFile) and not here.path.is_file():
        raise RefusedError(f"There is no file {here}.")
    prepare_database(source)
    prepare_database(target)
    reading, writing = here.reading(), there.writing()
    try:
        with reading.connect() as one, one.begin(), writing.connect() as other, other.begin():
            return _Move(one, other, observer).run()
    finally:
        reading.dispose()
        writing.dispose()


@dataclass
class _Numbers:
    """The numbers of one table: those of here by those of there, and the last one ever given there."""

    of: dict[int, int] = field(default_factory=dict)
    given: int = 0
    virgin: bool = False

    @property
    def same(self) -> bool:
        return all(one == other for one, other in self.of.items())

    def take(self, number: int) -> int:
        """A number for a new row: its own where nothing there has ever had it."""
        self.given = number if number > self.given else self.given + 1
        self.of[number] = self.given
        return self.given


class _Move:
    """One move, table by table, each after those that it names rows of."""

    def __init__(self, here: Connection, there: Connection, observer: str | None) -> None:
        self._here, self._there = here, there
        self._numbers: dict[str, _Numbers] = {}
        self._new_rigs: set[int] = set()
        self._moved = Moved({}, {})
        self._whose = None if observer is None else self._number_of(observer)

    def run(self) -> Moved:
        self._numbered(tables.observer, self._owned(tables.observer.c.id))
        self._parts()
        self._put(tables.holding, self._owned(tables.holding.c.observer_id), ("observer_id", "part_id"))
        self._put(own_price, self._owned(own_price.c.observer_id), ("observer_id", "part_id"))
        self._put(club, self._owned(club.c.observer_id), ("number",))
        self._rigs()
        own_rigs = self._owned(tables.rig.c.observer_id)
        self._numbered(tables.entry, self._owned(tables.entry.c.observer_id), self._entry)
        entries = select(tables.entry.c.id).where(self._owned(tables.entry.c.observer_id))
        self._numbered(tables.share, tables.share.c.entry_id.in_(entries))
        self._put(club_entry, club_entry.c.entry_id.in_(entries), ("entry_id",))
        self._numbered(tables.site, self._owned(tables.site.c.observer_id))
        sites = tables.rig_site.c.rig_id.in_(select(tables.rig.c.id).where(own_rigs))
        self._put(tables.rig_site, sites, ("rig_id",), only=lambda line: line["rig_id"] in self._new_rigs)
        self._numbered(tables.target, self._owned(tables.target.c.observer_id))
        self._numbered(tables.needs, self._owned(tables.needs.c.observer_id), self._needs)
        self._numbered(tables.measured, self._owned(tables.measured.c.observer_id))
        for name, numbers in self._numbers.items():
            set_numbers_given(self._there, name, numbers.given)
        return self._moved

    def _number_of(self, observer: str) -> int:
        people = self._lines(self._here, tables.observer)
        for line in people:
            if line["name_key"] == name_key(observer):
                return int(line["id"])
        names = ", ".join(line["name"] for line in people) or "nobody yet"
        raise RefusedError(f"There is no observer “{observer}” there. There is: {names}.")

    def _owned(self, column: ColumnElement[Any]) -> ColumnElement[bool]:
        return column.is_not(None) if self._whose is None else column == self._whose

    # -- Tables with more to them

    def _parts(self) -> None:
        part = tables.part.c
        wanted = self._owned(part.entered_by)
        if self._whose is not None:
            rigs = select(tables.rig.c.id).where(tables.rig.c.observer_id == self._whose)
            held, used, priced = tables.holding.c, tables.rig_state_part.c, own_price.c
            wanted = or_(
                wanted,
                part.id.in_(select(held.part_id).where(held.observer_id == self._whose)),
                part.id.in_(select(priced.part_id).where(priced.observer_id == self._whose)),
                part.id.in_(select(used.part_id).where(used.rig_id.in_(rigs))),
            )
            self._know_those_who_entered()
        new = self._numbered(tables.part, wanted, self._part)
        mine = self._lines(self._here, tables.part_side)
        sides = [line | {"part_id": new[line["part_id"]]} for line in mine if line["part_id"] in new]
        self._insert(tables.part_side, sides)
        self._part_changes(tables.part_change.c.part_id.in_(select(part.id).where(wanted)))

    def _part_changes(self, wanted: ColumnElement[bool]) -> None:
        """What was changed on the parts, and the numbers of doubles, which lead to what stands for them."""
        parts = self._numbers["part"]
        mine = {line["id"]: line for line in self._lines(self._here, tables.part_change, wanted)}
        known = self._numbers["observer"].of if self._whose is None else {}

        def made(line: Line) -> Line:
            one = mine[line["id"]]
            # Whoever stays behind is not named, and nobody else in their place.
            by = one["by_id"] if one["by_id"] in (*known, self._whose) else None
            named = None if by is None else self._numbers["observer"].of[by]
            return line | {"by_id": named, "of_id": self._number_once_had(one["of_id"])}

        new = self._numbered(tables.part_change, wanted, made)
        theirs = self._lines(self._there, tables.part_change)
        had = {line["id"]: line["of_id"] for line in theirs}
        for number, there in self._numbers["part_change"].of.items():
            if number not in new:
                parts.of.setdefault(mine[number]["of_id"], had[there])

    def _number_once_had(self, number: int) -> int:
        """The number there of a part that may have left the catalogue."""
        parts = self._numbers["part"]
        if number not in parts.of and parts.virgin:
            parts.of[number] = number
            parts.given = max(parts.given, number)
        return parts.of[number] if number in parts.of else parts.take(number)

    def _know_those_who_entered(self) -> None:
        """Of the parts of others, who stay behind: under the same name there, or else this observer's."""
        assert self._whose is not None
        known = {line["name_key"]: line["id"] for line in self._lines(self._there, tables.observer)}
        numbers = self._numbers["observer"].of
        for line in self._lines(self._here, tables.observer):
            numbers.setdefault(line["id"], known.get(line["name_key"], numbers[self._whose]))

    def _part(self, line: Line) -> Line:
        # PostgreSQL keeps the words in its own way, and they follow from the document.
        return line | {"words": words_of(read_part(line["document"]))}

    def _rigs(self) -> None:
        new = self._numbered(tables.rig, self._owned(tables.rig.c.observer_id))
        self._new_rigs = set(new.values())
        rigs = tables.rig_state.c.rig_id
        states = self._lines(self._here, tables.rig_state, rigs.in_(list(new)) if new else rigs.is_(None))
        parts = self._numbers["part"]
        for line in states:
            line["rig_id"] = new[line["rig_id"]]
            if not parts.same:
                plan = RigPlan.model_validate_json(line["plan"])
                line["plan"] = write_plan(renumbered(plan, parts.of))
                line["words"] = words_renumbered(line["words"], parts.of)
        self._insert(tables.rig_state, states)
        used = [
            line | {"rig_id": new[line["rig_id"]], "part_id": parts.of[line["part_id"]]}
            for line in self._lines(self._here, tables.rig_state_part)
            if line["rig_id"] in new
        ]
        self._insert(tables.rig_state_part, used)

    def _entry(self, line: Line) -> Line:
        """An entry under a number that is free in its rig, its parts under the numbers that they have there:
        else it would bring back other parts.
        """
        entry = tables.entry.c
        taken = set(self._there.execute(select(entry.number).where(entry.rig_id == line["rig_id"])).scalars())
        if line["number"] in taken:
            line = line | {"number": max(taken) + 1}
        parts = self._numbers["part"]
        if parts.virgin:
            return line
        document = EntryDocument.model_validate_json(line["document"])
        if all(parts.of.get(frozen.id) == frozen.id for frozen in document.parts):
            return line
        for frozen in document.parts:
            if frozen.id not in parts.of:
                # It has left the catalogue, and there its number must be nobody else's.
                parts.take(frozen.id)
        frozen_there = tuple(one.model_copy(update={"id": parts.of[one.id]}) for one in document.parts)
        changed = {"plan": renumbered(document.plan, parts.of), "parts": frozen_there}
        return line | {"document": document.model_copy(update=changed).model_dump_json()}

    def _needs(self, line: Line) -> Line:
        sites = self._numbers["site"]
        if sites.same:
            return line
        needs = Needs.model_validate_json(line["document"])
        site = None if needs.site_id is None else sites.of.get(needs.site_id)
        return line | {"document": needs.model_copy(update={"site_id": site}).model_dump_json()}

    # -- Any table

    def _numbered(
        self, table: Table, wanted: ColumnElement[bool], made: Callable[[Line], Line] = lambda line: line
    ) -> dict[int, int]:
        """Brings the rows of a table whose rows have numbers; the new rows' numbers there by those here."""
        given = numbers_given(self._there, table.name)
        numbers = self._numbers.setdefault(table.name, _Numbers())
        numbers.given, numbers.virgin = given, given == 0
        mine = [self._pointed(table, line) for line in self._lines(self._here, table, wanted)]
        theirs = self._lines(self._there, table)
        numbers.of.update(_paired(mine, theirs, _PAIRED_BY[table.name]))
        fresh = [line for line in mine if line["id"] not in numbers.of]
        new = {line["id"]: numbers.take(line["id"]) for line in fresh}
        if table is tables.entry:
            for line in fresh:
                # One by one, since one entry's number depends on those before it.
                self._insert(table, [made(line) | {"id": new[line["id"]]}])
        else:
            self._insert(table, [made(line) | {"id": new[line["id"]]} for line in fresh])
        if numbers.virgin and self._whose is None:
            numbers.given = max(numbers.given, numbers_given(self._here, table.name))
        self._moved.new[table.name] = len(fresh)
        self._moved.known[table.name] = len(mine) - len(fresh)
        return new

    def _put(
        self,
        table: Table,
        wanted: ColumnElement[bool],
        keys: Sequence[str],
        only: Callable[[Line], bool] = lambda _: True,
    ) -> None:
        """Brings the rows of a table whose rows have keys; what has the same key there stays as it is."""
        there = {tuple(line[key] for key in keys) for line in self._lines(self._there, table)}
        mine = [self._pointed(table, line) for line in self._lines(self._here, table, wanted)]
        fresh = [line for line in mine if tuple(line[key] for key in keys) not in there and only(line)]
        self._insert(table, fresh)
        self._moved.new[table.name] = len(fresh)
        self._moved.known[table.name] = len(mine) - len(fresh)

    def _pointed(self, table: Table, line: Line) -> Line:
        """A row that names others by the numbers that they have there."""
        pointed = dict(line)
        for column in table.c:
            for key in column.foreign_keys:
                numbers = self._numbers.get(key.column.table.name)
                if numbers is not None and line[column.name] is not None:
                    pointed[column.name] = numbers.of[line[column.name]]
        return pointed

    def _lines(
        self, connection: Connection, table: Table, wanted: ColumnElement[bool] | None = None
    ) -> list[Line]:
        asked = select(table).order_by(*table.primary_key.columns)
        rows = connection.execute(asked if wanted is None else asked.where(wanted))
        return [dict(row._mapping) for row in rows]

    def _insert(self, table: Table, lines: list[Line]) -> None:
        if lines:
            self._there.execute(insert(table), lines)


def _paired(mine: list[Line], theirs: list[Line], ways: Iterable[tuple[str, ...]]) -> dict[int, int]:
    """The numbers of theirs by those of mine, of rows that are the same."""
    found: dict[int, int] = {}
    taken: set[int] = set()
    for order, columns in enumerate(ways):
        sides: dict[tuple[Any, ...], tuple[list[int], list[int]]] = defaultdict(lambda: ([], []))
        for side, lines, done in ((0, mine, found.keys()), (1, theirs, taken)):
            for line in lines:
                if line["id"] not in done:
                    sides[tuple(line[name] for name in columns)][side].append(line["id"])
        for one, other in sides.values():
            if order == 0 or len(one) == len(other) == 1:
                pairs = dict(zip(one, other, strict=False))
                found |= pairs
                taken |= set(pairs.values())
    return found
