"""One part of the catalogue in the place of two: of the hosted form alone."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import bindparam, delete, func, select, update

from server.domain.observer import HOLDING_MAXIMUM
from server.domain.parts import CataloguedPart
from server.domain.scout.needs import Needs
from server.flow.account_protocols import Uses
from server.flow.save_entry import merged_needs, merged_plan
from server.store import tables
from server.store.catalogue import Catalogue
from server.store.clauses import words_renumbered
from server.store.dialects import put_or_replace
from server.store.mapping import read_plan, write_plan

held, used, change = tables.holding.c, tables.rig_state_part.c, tables.part_change.c
_COUNTS = ("owned", "wished", "considered")


class Merging(Catalogue):
    """Doubles."""

    def part_names(self) -> Iterator[tuple[int, str, str]]:
        """Number, kind and name of every part, in the order in which they were entered."""
        part = tables.part.c
        asked = select(part.id, part.kind, part.maker, part.model).order_by(part.id)
        for row in self._connection.execute(asked):
            yield row.id, row.kind, f"{row.maker} {row.model}"

    def uses_of(self, part_id: int) -> Uses:
        """In how many rigs a part stands, undo steps included, and on how many shelves."""
        rigs = select(func.count(used.rig_id.distinct())).where(used.part_id == part_id)
        shelves = select(func.count()).select_from(tables.holding).where(held.part_id == part_id)
        return Uses(*(self._connection.execute(asked).scalar_one() for asked in (rigs, shelves)))

    def merge_part(self, gone: CataloguedPart, kept: CataloguedPart, by: int) -> None:
        """Let one part stand for both wherever either is named, but in saved entries, and remove the other.
        Its number leads to the one that stays.
        """
        self._merge_holdings(gone.id, kept.id)
        self._merge_plans(gone.id, kept.id)
        self._merge_needs(gone.id, kept.id)
        moved = update(tables.part_change).where(change.part_id == gone.id)
        self._run(moved.values(part_id=kept.id))
        self._note_change(kept.id, gone.id, "merged", by, gone.part, kept.part)
        self._run(delete(tables.part).where(tables.part.c.id == gone.id))

    def _merge_holdings(self, gone: int, kept: int) -> None:
        sums: dict[int, dict[str, int]] = {}
        for row in self._rows(select(tables.holding).where(held.part_id.in_((gone, kept)))):
            counts = sums.setdefault(row.observer_id, dict.fromkeys(_COUNTS, 0))
            for name in _COUNTS:
                counts[name] = min(counts[name] + getattr(row, name), HOLDING_MAXIMUM)
        if sums:
            lines = [{"observer_id": one, "part_id": kept, **counts} for one, counts in sums.items()]
            put = put_or_replace(self._connection.dialect.name, tables.holding, ("observer_id", "part_id"))
            self._run(put, lines)

    def _merge_plans(self, gone: int, kept: int) -> None:
        """Every state that undo and redo can reach, of every rig that has held the part: a state may speak of
        the load of a part that only another one holds.
        """
        state = tables.rig_state.c
        rigs = self._rows(select(used.rig_id).where(used.part_id == gone).distinct())
        this = (state.rig_id == bindparam("of_rig")) & (state.number == bindparam("of_number"))
        changed = update(tables.rig_state).where(this)
        for rig_id in (row.rig_id for row in rigs):
            lines = []
            for row in self._rows(
                select(state.number, state.plan, state.words).where(state.rig_id == rig_id)
            ):
                plan = write_plan(merged_plan(read_plan(row.plan), gone, kept))
                words = words_renumbered(row.words, {gone: kept})
                lines.append({"of_rig": rig_id, "of_number": row.number, "plan": plan, "words": words})
            self._run(changed, lines)
        both = tables.rig_state_part.alias("both")
        there = select(both.c.number).where(
            both.c.rig_id == used.rig_id, both.c.number == used.number, both.c.part_id == kept
        )
        moved = update(tables.rig_state_part).where(used.part_id == gone, ~there.exists())
        self._run(moved.values(part_id=kept))
        self._run(delete(tables.rig_state_part).where(used.part_id == gone))

    def _merge_needs(self, gone: int, kept: int) -> None:
        needs = tables.needs.c
        for row in self._rows(select(needs.id, needs.document)):
            asked = Needs.model_validate_json(row.document)
            if gone in (*asked.cameras, *asked.mounts):
                document = merged_needs(asked, gone, kept).model_dump_json()
                self._run(update(tables.needs).where(needs.id == row.id).values(document=document))
