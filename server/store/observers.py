"""Observers: the people of this install."""

from __future__ import annotations

import unicodedata

from sqlalchemy import bindparam, insert, select, update

from server.domain.errors import FieldErrors
from server.domain.observer import Observer, UnitSystem
from server.store import tables
from server.store.mapping import read_observer
from server.store.unit import Unit, not_found

_OBSERVER = select(tables.observer.c.id, tables.observer.c.name, tables.observer.c.units)
# Put together once: every request asks it.
_OBSERVER_BY_ID = _OBSERVER.where(tables.observer.c.id == bindparam("number"))


def name_key(name: str) -> str:
    """Equal for names that people take for the same: letter case, spaces and ways of writing a letter
    apart.
    """
    return unicodedata.normalize("NFKC", " ".join(name.split())).casefold()


class Observers(Unit):
    """Who is there, and in which units they read."""

    def observers(self) -> tuple[Observer, ...]:
        """All observers, by name."""
        ordered = _OBSERVER.order_by(tables.observer.c.name_key)
        return tuple(read_observer(row) for row in self._rows(ordered))

    def observer(self, observer_id: int) -> Observer:
        """One observer. Raises NotFoundError."""
        row = self._connection.execute(_OBSERVER_BY_ID, {"number": observer_id}).first()
        if row is None:
            raise not_found("observer", observer_id)
        return read_observer(row)

    def add_observer(self, name: str, units: UnitSystem) -> Observer:
        """A new observer. Raises FieldErrors("name") where the name is taken (letter case apart)."""
        key = name_key(name)
        taken = self._rows(_OBSERVER.where(tables.observer.c.name_key == key))
        if taken:
            raise FieldErrors(
                {"name": f"“{taken[0].name}” is here already: pick it from the list, or choose another name."}
            )
        values = {"name": name, "name_key": key, "units": units, "created_at": self._now()}
        made = self._connection.execute(
            insert(tables.observer).returning(tables.observer.c.id), values
        ).scalar_one()
        return Observer(made, name, units)

    def set_units(self, observer_id: int, units: UnitSystem) -> None:
        """Let an observer read in other units. Raises NotFoundError."""
        change = update(tables.observer).where(tables.observer.c.id == observer_id).values(units=units)
        if not self._run(change):
            raise not_found("observer", observer_id)
