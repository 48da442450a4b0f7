"""Saved entries, which never change, and the links that share them."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import func, insert, select, update

from server.domain.entry import Entry, EntryDocument, Share
from server.domain.errors import NotFoundError
from server.flow.protocols import EntryName
from server.store import tables
from server.store.dialects import AsJson
from server.store.mapping import read_entry_name, read_logged, read_share
from server.store.unit import Unit

entry, share = tables.entry.c, tables.share.c

_ENTRY = select(entry.id, entry.rig_id, entry.observer_id, entry.number, entry.document)
_document = AsJson(entry.document)
_NAME = select(
    entry.id,
    entry.rig_id,
    entry.number,
    *(_document[name].as_string().label(name) for name in ("rig", "title", "saved_at")),
)
_SHARE = select(share.id, share.token, share.entry_id, share.created_at, share.withdrawn_at)


class Logbook(Unit):
    """Entries and shares."""

    def entries(
        self, observer_id: int, rig_id: int | None = None, *, limit: int | None = None, offset: int = 0
    ) -> tuple[Entry, ...]:
        """The observer's entries, of one rig or of all; newest first, at most `limit` behind the newest
        `offset`. Reading one takes some milliseconds: its document is checked.
        """
        statement = _ENTRY.where(entry.observer_id == observer_id).order_by(entry.id.desc())
        if rig_id is not None:
            statement = statement.where(entry.rig_id == rig_id)
        if limit is not None or offset:
            statement = statement.limit(limit).offset(offset)
        return tuple(read_logged(row) for row in self._rows(statement))

    def entry_names(self, observer_id: int) -> tuple[EntryName, ...]:
        """All of the observer's entries by name, newest first. The database itself takes the names out of
        the documents, which are not read otherwise.
        """
        statement = _NAME.where(entry.observer_id == observer_id).order_by(entry.id.desc())
        return tuple(read_entry_name(row) for row in self._rows(statement))

    def entry_before(self, one: Entry) -> Entry | None:
        """The entry before it of the same rig, None for the first."""
        statement = _ENTRY.where(entry.rig_id == one.rig_id, entry.number < one.number)
        row = self._connection.execute(statement.order_by(entry.number.desc()).limit(1)).first()
        return None if row is None else read_logged(row)

    def entry(self, entry_id: int) -> Entry:
        """One entry. Raises NotFoundError."""
        return read_logged(self._one(_ENTRY.where(entry.id == entry_id), "entry", entry_id))

    def add_entry(self, rig_id: int, document: EntryDocument) -> Entry:
        """Save an entry under the rig's next number, in its observer's logbook. Raises NotFoundError for
        the rig.
        """
        owner = select(tables.rig.c.observer_id).where(tables.rig.c.id == rig_id)
        observer_id = self._one(owner, "rig", rig_id).observer_id
        last = select(func.max(entry.number)).where(entry.rig_id == rig_id)
        number = (self._connection.execute(last).scalar_one() or 0) + 1
        values = {
            "rig_id": rig_id,
            "observer_id": observer_id,
            "number": number,
            "created_at": self._now(),
            "document": document.model_dump_json(),
        }
        made = self._connection.execute(insert(tables.entry).returning(entry.id), values).scalar_one()
        return self.entry(made)

    def shares(self, entry_id: int) -> tuple[Share, ...]:
        """The links to an entry, withdrawn ones as well; newest first. Raises NotFoundError for the entry."""
        self._one(select(entry.id).where(entry.id == entry_id), "entry", entry_id)
        statement = _SHARE.where(share.entry_id == entry_id).order_by(share.id.desc())
        return tuple(read_share(row) for row in self._rows(statement))

    def add_share(self, entry_id: int, token: str, at: datetime) -> Share:
        """A link to an entry. Raises NotFoundError for the entry."""
        self._one(select(entry.id).where(entry.id == entry_id), "entry", entry_id)
        values = {"token": token, "entry_id": entry_id, "created_at": at}
        made = self._connection.execute(insert(tables.share).returning(share.id), values).scalar_one()
        return read_share(self._one(_SHARE.where(share.id == made), "share", made))

    def share_by_token(self, token: str) -> Share:
        """The link that a token opens. Raises NotFoundError for an unknown or a withdrawn token, alike."""
        statement = _SHARE.where(share.token == token, share.withdrawn_at.is_(None))
        row = self._connection.execute(statement).first()
        if row is None:
            raise NotFoundError("This link leads to nothing: it was withdrawn, or it was not copied whole.")
        return read_share(row)

    def withdraw_share(self, share_id: int, at: datetime) -> Share:
        """Let a link lead nowhere from now on; one withdrawn already keeps its time. Raises NotFoundError."""
        open_ = update(tables.share).where(share.id == share_id, share.withdrawn_at.is_(None))
        self._run(open_.values(withdrawn_at=at))
        return read_share(self._one(_SHARE.where(share.id == share_id), "share", share_id))
