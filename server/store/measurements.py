"""What rigs' own frames said."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Select, delete, insert, select, update

from server.domain.frames.measured import Measured, StoredMeasured
from server.store import tables
from server.store.unit import Unit, not_found

measured = tables.measured.c


class Measurements(Unit):
    """The measurements of an observer's rigs."""

    def measurements(self, observer_id: int, rig_id: int) -> tuple[StoredMeasured, ...]:
        """What a rig's own frames said, newest first."""
        own = (measured.observer_id == observer_id) & (measured.rig_id == rig_id)
        return self._read(select(tables.measured).where(own))

    def measurements_of_entry(self, entry_id: int) -> tuple[StoredMeasured, ...]:
        """Those that belong to an entry, newest first."""
        return self._read(select(tables.measured).where(measured.entry_id == entry_id))

    def measured(self, measured_id: int) -> StoredMeasured:
        """One of them. Raises NotFoundError."""
        asked = select(tables.measured).where(measured.id == measured_id)
        return _stored(self._one(asked, "measurement", measured_id))

    def add_measured(
        self, observer_id: int, rig_id: int, entry_id: int | None, name: str, new: Measured
    ) -> StoredMeasured:
        """Keep one."""
        values = {
            "observer_id": observer_id,
            "rig_id": rig_id,
            "entry_id": entry_id,
            "name": name,
            "document": new.model_dump_json(),
        }
        made = self._connection.execute(insert(tables.measured).returning(measured.id), values).scalar_one()
        return self.measured(made)

    def change_measured(self, measured_id: int, new: Measured) -> None:
        """Store one anew. Raises NotFoundError."""
        changed = update(tables.measured).where(measured.id == measured_id)
        if not self._run(changed.values(document=new.model_dump_json())):
            raise not_found("measurement", measured_id)

    def remove_measured(self, measured_id: int) -> None:
        """Remove one. Raises NotFoundError."""
        if not self._run(delete(tables.measured).where(measured.id == measured_id)):
            raise not_found("measurement", measured_id)

    def _read(self, asked: Select[Any]) -> tuple[StoredMeasured, ...]:
        return tuple(map(_stored, self._rows(asked.order_by(measured.id.desc()))))


def _stored(row: Any) -> StoredMeasured:
    return StoredMeasured(
        id=row.id,
        observer_id=row.observer_id,
        rig_id=row.rig_id,
        entry_id=row.entry_id,
        name=row.name,
        measured=Measured.model_validate_json(row.document),
    )
