"""The catalogue: parts in, changed, and out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Select, bindparam, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from server.domain.errors import PartInUseError
from server.domain.measure import Money
from server.domain.part_history import Act, PartChange
from server.domain.parts import CataloguedPart, Part
from server.flow.protocols import RigLine
from server.store import tables
from server.store.mapping import (
    part_row,
    read_catalogued,
    read_part_change,
    read_rig_line,
    side_rows,
    write_part,
)
from server.store.unit import Unit, batches, not_found

part, observer, change = tables.part.c, tables.observer.c, tables.part_change.c

PART_COLUMNS = (
    part.id,
    part.entered_by,
    observer.name.label("entered_by_name"),
    part.revision,
    part.document,
)
PART_JOIN = tables.part.join(tables.observer, part.entered_by == observer.id)

# Put together once: every change on a bench asks it.
_PARTS_BY_ID = (
    select(*PART_COLUMNS).select_from(PART_JOIN).where(part.id.in_(bindparam("numbers", expanding=True)))
)


def rig_lines() -> Select[tuple[object, ...]]:
    """The lines of a list of rigs, with their counts."""
    rig, state = tables.rig.c, tables.rig_state.c
    entries = (
        select(func.count())
        .select_from(tables.entry)
        .where(tables.entry.c.rig_id == rig.id)
        .scalar_subquery()
        .label("entries")
    )
    return select(
        rig.id, rig.observer_id, rig.name, rig.version, rig.changed_at, state.parts, entries
    ).join_from(
        tables.rig,
        tables.rig_state,
        (state.rig_id == rig.id) & (state.number == rig.state_number),
    )


class Catalogue(Unit):
    """Parts by number, and what changes them."""

    def part(self, part_id: int) -> CataloguedPart:
        """One part; of one that was merged into another, that one. Raises NotFoundError."""
        return self.parts([part_id])[part_id]

    def parts(self, part_ids: Iterable[int]) -> dict[int, CataloguedPart]:
        """Parts by number. Raises NotFoundError where one is missing."""
        asked = set(part_ids)
        found = self.known_parts(asked)
        if missing := asked - found.keys():
            raise not_found("part", min(missing))
        return found

    def known_parts(self, part_ids: Iterable[int]) -> dict[int, CataloguedPart]:
        """Those of the parts that are in the catalogue, by the numbers that were asked for; the others are
        left out. For one that was merged into another stands that one.
        """
        asked = set(part_ids)
        found = self._parts_of(asked)
        gone = asked - found.keys()
        if gone and (now := self._merged_into(gone)):
            there = self._parts_of(set(now.values()))
            found.update((number, there[kept]) for number, kept in now.items())
        return found

    def _parts_of(self, numbers: set[int]) -> dict[int, CataloguedPart]:
        found: dict[int, CataloguedPart] = {}
        for batch in batches(numbers):
            rows = self._connection.execute(_PARTS_BY_ID, {"numbers": batch})
            found.update((item.id, item) for item in self._items(rows))
        return found

    def _items(self, rows: Iterable[Any]) -> list[CataloguedPart]:
        """The parts of some rows, as who reads here is shown them."""
        return [read_catalogued(row) for row in rows]

    def _said(self, document: str) -> str:
        """What of a part's document is compared, where parts are to say the same."""
        return document

    def _merged_into(self, numbers: set[int]) -> dict[int, int]:
        """Those of the numbers that were merged into another part, with that part's."""
        asked = select(change.of_id, change.part_id).where(change.act == "merged")
        rows = (row for batch in batches(numbers) for row in self._rows(asked.where(change.of_id.in_(batch))))
        return {row.of_id: row.part_id for row in rows}

    def part_changes(self, part_id: int, limit: int) -> tuple[PartChange, ...]:
        """What was changed on a part and on doubles that were merged into it, the newest first."""
        asked = (
            select(tables.part_change, observer.name.label("by"))
            .select_from(tables.part_change.outerjoin(tables.observer, observer.id == change.by_id))
            .where(change.part_id == part_id)
            .order_by(change.id.desc())
            .limit(limit)
        )
        return tuple(read_part_change(row) for row in self._rows(asked))

    def _note_change(self, kept: int, of_id: int, act: Act, by: int, was: Part, became: Part) -> None:
        values = {
            "part_id": kept,
            "of_id": of_id,
            "act": act,
            "at": self._now(),
            "by_id": by,
            "was": write_part(was),
            "became": write_part(became),
        }
        self._run(insert(tables.part_change), values)

    def same_part(self, part: Part) -> CataloguedPart | None:
        """A catalogue entry that says word for word the same (the oldest of several), or None."""
        (number,) = self.same_parts([part])
        return None if number is None else self.part(number)

    def same_parts(self, parts: Sequence[Part]) -> list[int | None]:
        """For each part the number of the oldest entry that says word for word the same, or None."""
        columns = tables.part.c
        wanted = [part_row(one) for one in parts]
        # The name leads, since there is an index over it, and then the whole document decides.
        numbers: dict[tuple[str, str], int] = {}
        for keys in batches(row["sort_key"] for row in wanted):
            alike = select(columns.id, columns.kind, columns.document).where(columns.sort_key.in_(keys))
            for row in self._connection.execute(alike.order_by(columns.id)):
                numbers.setdefault((row.kind, self._said(row.document)), row.id)
        return [numbers.get((row["kind"], self._said(row["document"]))) for row in wanted]

    def add_part(self, part: Part, observer_id: int) -> CataloguedPart:
        """Enter a part. Raises NotFoundError for an unknown observer."""
        return self.part(self.add_parts([part], observer_id)[0])

    def add_parts(self, parts: Sequence[Part], observer_id: int) -> list[int]:
        """Enter many parts at once; their numbers in the same order. Raises NotFoundError for an unknown
        observer.
        """
        name = select(observer.name).where(observer.id == observer_id)
        self._one(name, "observer", observer_id)
        if not parts:
            return []
        common = {
            "entered_by": observer_id,
            "revision": 1,
            "created_at": self._now(),
            "changed_at": self._now(),
        }
        numbers = self._connection.execute(
            insert(tables.part).returning(tables.part.c.id, sort_by_parameter_order=True),
            [part_row(one) | common for one in parts],
        )
        made = [int(number) for number in numbers.scalars()]
        sides = [row for number, one in zip(made, parts, strict=True) for row in side_rows(number, one)]
        if sides:
            self._run(insert(tables.part_side), sides)
        return made

    def change_part(self, part_id: int, part: Part, by: int) -> CataloguedPart:
        """Store a new revision, and who changed what. Raises NotFoundError."""
        columns, before = tables.part.c, self._parts_of({part_id}).get(part_id)
        if before is None:
            raise not_found("part", part_id)
        values = part_row(part) | {"revision": columns.revision + 1, "changed_at": self._now()}
        self._run(update(tables.part).where(columns.id == part_id).values(values))
        if part != before.part:
            self._note_change(part_id, part_id, "changed", by, before.part, part)
        self._run(delete(tables.part_side).where(tables.part_side.c.part_id == part_id))
        sides = side_rows(part_id, part)
        if sides:
            self._run(insert(tables.part_side), sides)
        return self.part(part_id)

    def keep_price(self, observer_id: int, part_id: int, price: Money | None) -> None:
        """Say what a part costs this observer, where prices are each one's own; here they are the part's."""

    def remove_part(self, part_id: int) -> None:
        """Take a part out of the catalogue, its holdings with it.

        Raises PartInUseError where a rig's present state, or one that undo or redo can reach, holds it, and
        NotFoundError.
        """
        using = self.rigs_using(part_id)
        if using:
            names = tuple(line.name for line in using)
            listed = ", ".join(f"“{name}”" for name in names[:5]) + (" and others" if len(names) > 5 else "")
            raise PartInUseError(
                f"This part cannot be removed: it stands in {listed}, or undo could bring it back there. "
                "Swap it for another part, or remove the rig.",
                names,
            )
        try:
            gone = self._run(delete(tables.part).where(part.id == part_id))
        except IntegrityError as error:  # pragma: no cover - the question above comes first
            raise PartInUseError("This part cannot be removed: a rig holds it.", ()) from error
        if not gone:
            raise not_found("part", part_id)

    def rigs_using(self, part_id: int) -> tuple[RigLine, ...]:
        """Rigs of all observers whose present state, or a state that undo or redo can reach, holds the
        part.
        """
        needing = select(tables.rig_state_part.c.rig_id).where(tables.rig_state_part.c.part_id == part_id)
        statement = rig_lines().where(tables.rig.c.id.in_(needing)).order_by(tables.rig.c.name)
        return tuple(read_rig_line(row) for row in self._rows(statement))
