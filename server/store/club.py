"""What the members of a club have in common: of the hosted form alone."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import delete, insert, select

from server.domain.account import ListedEntry
from server.domain.entry import Entry
from server.domain.errors import NotFoundError
from server.store import tables
from server.store.account_tables import club_entry
from server.store.dialects import AsJson
from server.store.logbook import Logbook

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


class ClubEntries(Logbook):
    """Saved entries that are listed for all members."""

    def listed_entries(self) -> tuple[ListedEntry, ...]:
        """All of them by name, the last listed first."""
        return tuple(
            ListedEntry(
                row.entry_id,
                row.observer_id,
                row.name,
                row.rig,
                row.title,
                datetime.fromtimestamp(row.listed_at, UTC),
            )
            for row in self._rows(_LISTED)
        )

    def listed_since(self, entry_id: int) -> datetime | None:
        """Since when an entry is listed, None where it is not."""
        asked = select(club_entry.c.listed_at).where(club_entry.c.entry_id == entry_id)
        found = self._connection.execute(asked).scalar()
        return None if found is None else datetime.fromtimestamp(found, UTC)

    def listed_entry(self, entry_id: int) -> Entry:
        """One that is listed. Raises NotFoundError for any other, in the same words."""
        if self.listed_since(entry_id) is None:
            raise NotFoundError("This entry is not shared with the club, or not any more.")
        return self.entry(entry_id)

    def list_entry(self, entry_id: int, at: datetime) -> None:
        """List an entry; one that is listed keeps its time."""
        if self.listed_since(entry_id) is None:
            self._run(insert(club_entry), {"entry_id": entry_id, "listed_at": int(at.timestamp())})

    def unlist_entry(self, entry_id: int) -> None:
        """List it no more."""
        self._run(delete(club_entry).where(club_entry.c.entry_id == entry_id))
