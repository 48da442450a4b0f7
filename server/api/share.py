"""Links to entries: made and withdrawn by their observer, opened by whoever holds one."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Self

from fastapi import Path
from pydantic import BaseModel, Field

from server.api.deps import ReadingBench, WritingBench
from server.api.errors import CHANGING, LOOKING
from server.api.logbook import EntryAnswer, EntryNumber
from server.api.naming import operations
from server.api.reading import Body, SavedDocument
from server.domain.entry import Share
from server.flow.share_entry import open_share
from server.handed import Number, ReadingStore

router = operations("share")

TOKEN = r"^[A-Za-z0-9_-]{1,100}$"
Token = Annotated[str, Path(pattern=TOKEN, description="The secret of a link.")]


class ShareAnswer(BaseModel):
    """A link to an entry."""

    id: int
    token: str = Field(description="Whoever holds it may read the entry until it is withdrawn.")
    entry_id: int
    created_at: datetime
    withdrawn_at: datetime | None

    @classmethod
    def of(cls, share: Share) -> Self:
        """The answer for a link."""
        return cls(
            id=share.id,
            token=share.token,
            entry_id=share.entry_id,
            created_at=share.created_at,
            withdrawn_at=share.withdrawn_at,
        )


class SharedEntry(BaseModel):
    """What a link shows."""

    document: SavedDocument


class PutOnShelf(Body):
    """A link whose entry is wanted."""

    token: str = Field(pattern=TOKEN)


_SHARES = "/observers/{observer_id}/entries/{entry_id}/shares"


@router.get(_SHARES, responses=LOOKING)
def list_shares(bench: ReadingBench, entry_id: EntryNumber) -> tuple[ShareAnswer, ...]:
    """The links to an entry, newest first, withdrawn ones too."""
    return tuple(ShareAnswer.of(share) for share in bench.entry(entry_id).shares)


@router.post(_SHARES, status_code=201, responses=CHANGING)
def add_share(bench: WritingBench, entry_id: EntryNumber) -> ShareAnswer:
    """Make a link to an entry."""
    return ShareAnswer.of(bench.share(entry_id))


@router.delete(_SHARES + "/{share_id}", responses=CHANGING)
def withdraw_share(bench: WritingBench, entry_id: EntryNumber, share_id: Number) -> ShareAnswer:
    """Withdraw a link: from now on it answers as if it had never been."""
    return ShareAnswer.of(bench.withdraw(entry_id, share_id))


@router.get("/shares/{token}", responses=LOOKING)
def open_link(store: ReadingStore, token: Token) -> SharedEntry:
    """The entry that a link shows."""
    return SharedEntry(document=open_share(store, token).document)


@router.post("/observers/{observer_id}/put-on-shelf", status_code=201, responses=CHANGING)
def put_on_shelf(bench: WritingBench, body: PutOnShelf) -> EntryAnswer:
    """Copy what a link shows to this observer: parts, rig and entry."""
    return EntryAnswer.of(bench.put_on_shelf(body.token).entry)
