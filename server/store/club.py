"""What the members of a club have in common: of the hosted form alone."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import delete, insert, select

from server.domain.account import ListedEntry
from server.domain.entry import Entry
from server.domain.errors import NotFoundError
from server.store import tables
from server.store.account_tables import club, club_entry
from server.store.dialects import AsJson
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


class ClubStore(SqlStore):
    """A unit of work in which one observer reads, with what members share, and what the club lends."""

    _reader: int | None = None
    _club: int | None = None

    def read_by(self, observer_id: int) -> None:
        """From here on this unit is this observer's: it names nobody else's rigs."""
        self._reader = observer_id

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

    # What members share

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
