"""The club's pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from server.domain.account import ListedEntry
from server.web.logbook.sheet import Sheet


@dataclass(frozen=True)
class ClubPage:
    """What members share.

    Attributes:
        entries: what is shared, the last first.
        me: the number of the observer who reads.
    """

    template: ClassVar[str] = "club/club.html"

    entries: tuple[ListedEntry, ...]
    me: int


@dataclass(frozen=True)
class ClubEntryPage:
    """An entry that a member shares.

    Attributes:
        sheet: the entry, read.
        shared_by: who shares it.
        mine: whether that is the reader.
    """

    template: ClassVar[str] = "club/entry.html"

    entry_id: int
    sheet: Sheet
    shared_by: str
    mine: bool
