"""Rigs: their present state, and the states that undo and redo step through."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

from sqlalchemy import Update, bindparam, case, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from server.domain.errors import RefusedError, StaleVersionError
from server.domain.rig import RigPlan
from server.domain.said import Words, said
from server.flow.protocols import RigLine, StoredRig
from server.store import tables
from server.store.catalogue import rig_lines
from server.store.clauses import read_done, write_done
from server.store.dialects import tried
from server.store.mapping import pieces_of, read_rig, read_rig_line, write_plan
from server.store.unit import Unit, not_found

STATES_KEPT = 200
"""How many states of a rig are kept; undo goes back to the oldest of them."""

rig, state = tables.rig.c, tables.rig_state.c

_before = tables.rig_state.alias("before")
_after = tables.rig_state.alias("after")
_RIG = (
    select(
        rig.id,
        rig.observer_id,
        rig.name,
        rig.version,
        rig.state_number,
        tables.rig_site.c.site_id,
        state.plan,
        state.words,
        # Undo takes back what made the present state, where the one before it is still kept.
        case((_before.c.number.is_not(None), state.words)).label("undo_words"),
        _after.c.words.label("redo_words"),
        _before.c.number.is_not(None).label("can_undo"),
        _after.c.number.is_not(None).label("can_redo"),
    )
    .select_from(tables.rig)
    .join(tables.rig_state, (state.rig_id == rig.id) & (state.number == rig.state_number))
    .outerjoin(tables.rig_site, tables.rig_site.c.rig_id == rig.id)
    .outerjoin(_before, (_before.c.rig_id == rig.id) & (_before.c.number == rig.state_number - 1))
    .outerjoin(_after, (_after.c.rig_id == rig.id) & (_after.c.number == rig.state_number + 1))
)


# Put together once, since a change on the bench asks them all, and SQLAlchemy takes longer to put a question
# together than SQLite to answer it.
_RIG_BY_ID = _RIG.where(rig.id == bindparam("rig_id"))
_STATE_IN = insert(tables.rig_state)
_STATE_PART_IN = insert(tables.rig_state_part)
_FROM_STATE_OFF = delete(tables.rig_state).where(
    state.rig_id == bindparam("of_rig"), state.number >= bindparam("from_number")
)
_UP_TO_STATE_OFF = delete(tables.rig_state).where(
    state.rig_id == bindparam("of_rig"), state.number <= bindparam("to_number")
)
_RAISE = update(tables.rig).where(rig.id == bindparam("of_rig"), rig.version == bindparam("expected"))
_RAISE_WITH_STATE = _RAISE.values(
    version=bindparam("new_version"), changed_at=bindparam("now"), state_number=bindparam("number")
)
_RAISE_WITH_NAME = _RAISE.values(
    version=bindparam("new_version"), changed_at=bindparam("now"), name=bindparam("new_name")
)


class Rigs(Unit):
    """Rigs with their versions."""

    def rigs(self, observer_id: int) -> tuple[RigLine, ...]:
        """The observer's rigs, last changed first."""
        statement = rig_lines().where(rig.observer_id == observer_id)
        ordered = statement.order_by(rig.changed_at.desc(), rig.id.desc())
        return tuple(read_rig_line(row) for row in self._rows(ordered))

    def rig(self, rig_id: int) -> StoredRig:
        """One rig as it stands. Raises NotFoundError."""
        return read_rig(self._rig_row(rig_id))

    def add_rig(self, observer_id: int, name: str, plan: RigPlan) -> StoredRig:
        """A new rig in its first state. Raises NotFoundError for the observer, or a part that the plan
        names.
        """
        self._one(
            select(tables.observer.c.id).where(tables.observer.c.id == observer_id), "observer", observer_id
        )
        now = self._now()
        values = {
            "observer_id": observer_id,
            "name": name,
            "version": 1,
            "state_number": 1,
            "created_at": now,
            "changed_at": now,
        }
        rig_id = self._connection.execute(insert(tables.rig).returning(rig.id), values).scalar_one()
        self._add_state(rig_id, 1, plan, "")
        return self.rig(rig_id)

    def rename_rig(self, rig_id: int, expected_version: int, name: str) -> StoredRig:
        """Give a rig another name. Raises NotFoundError, StaleVersionError."""
        self._rig_row(rig_id, expected_version)
        self._raise_version(rig_id, expected_version, _RAISE_WITH_NAME, new_name=name)
        return self.rig(rig_id)

    def remove_rig(self, rig_id: int) -> None:
        """Remove a rig with its states. Raises RefusedError where it has entries, and NotFoundError."""
        name = self._rig_row(rig_id).name
        count = select(func.count()).select_from(tables.entry).where(tables.entry.c.rig_id == rig_id)
        entries = self._connection.execute(count).scalar_one()
        if entries:
            logged = "1 entry" if entries == 1 else f"{entries} entries"
            raise RefusedError(
                f"“{name}” has {logged} in the logbook, and entries never lose their rig: it stays. "
                "Rename it if it is in the way."
            )
        self._run(delete(tables.rig).where(rig.id == rig_id))

    def change_rig(self, rig_id: int, expected_version: int, plan: RigPlan, done: Words) -> StoredRig:
        """Append a state; what could be redone is forgotten, and so is what lies more than STATES_KEPT back.

        Raises NotFoundError for the rig, or a part that the plan names, and StaleVersionError.
        """
        row = self._rig_row(rig_id, expected_version)
        number = row.state_number + 1
        if row.can_redo:
            self._run(_FROM_STATE_OFF, {"of_rig": rig_id, "from_number": number})
        words = write_done(done)
        self._add_state(rig_id, number, plan, words)
        self._raise_version(rig_id, expected_version, _RAISE_WITH_STATE, number=number)
        if number > STATES_KEPT:
            self._run(_UP_TO_STATE_OFF, {"of_rig": rig_id, "to_number": number - STATES_KEPT})
        return replace(
            read_rig(row),
            version=expected_version + 1,
            plan=plan,
            undo_words=read_done(words),
            redo_words="",
        )

    def step_rig(self, rig_id: int, expected_version: int, step: Literal[-1, 1]) -> StoredRig:
        """Undo (-1) or redo (1). Raises StaleVersionError, RefusedError where there is nothing,
        NotFoundError.
        """
        row = self._rig_row(rig_id, expected_version)
        if step == -1 and not row.can_undo:
            raise RefusedError(
                f"There is nothing to undo on “{row.name}”: only the last {STATES_KEPT} states are kept."
                if row.state_number > 1
                else f"There is nothing to undo on “{row.name}”: this is how it began."
            )
        if step == 1 and not row.can_redo:
            raise RefusedError(f"There is nothing to redo on “{row.name}”: this is its latest state.")
        self._raise_version(rig_id, expected_version, _RAISE_WITH_STATE, number=row.state_number + step)
        return self.rig(rig_id)

    def _rig_row(self, rig_id: int, expected_version: int | None = None) -> Any:
        row = self._connection.execute(_RIG_BY_ID, {"rig_id": rig_id}).first()
        if row is None:
            raise not_found("rig", rig_id)
        if expected_version is not None and row.version != expected_version:
            raise _stale(row, expected_version)
        return row

    def _raise_version(
        self, rig_id: int, expected_version: int, statement: Update, **changes: object
    ) -> None:
        """The change itself, on condition that the version is still the expected one."""
        values = {
            "of_rig": rig_id,
            "expected": expected_version,
            "new_version": expected_version + 1,
            "now": self._now(),
            **changes,
        }
        # A unit holds the write lock since before it read the version, so this cannot miss.
        if self._run(statement, values) != 1:
            raise _stale(self._rig_row(rig_id), expected_version)

    def _add_state(self, rig_id: int, number: int, plan: RigPlan, words: str) -> None:
        values = {
            "rig_id": rig_id,
            "number": number,
            "words": words,
            "parts": pieces_of(plan),
            "made_at": self._now(),
            "plan": write_plan(plan),
        }
        self._run(_STATE_IN, values)
        needed = [{"rig_id": rig_id, "number": number, "part_id": one} for one in sorted(plan.part_ids)]
        if not needed:
            return
        try:
            with tried(self._connection):
                self._run(_STATE_PART_IN, needed)
        except IntegrityError:
            there = set(
                self._connection.execute(
                    select(tables.part.c.id).where(tables.part.c.id.in_(plan.part_ids))
                ).scalars()
            )
            missing = sorted(plan.part_ids - there)
            if not missing:
                raise
            raise not_found("part", missing[0]) from None


def _stale(row: Any, expected_version: int) -> StaleVersionError:
    last, now = read_done(row.words), row.version
    return StaleVersionError(
        said("refused.stale_stored", rig=row.name, shown=expected_version, now=now, last=last), now
    )
