"""The club's pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from server.domain.account import ListedEntry
from server.flow.protocols import ShelfLine
from server.web.logbook.sheet import Sheet


@dataclass(frozen=True)
class ClubPage:
    """What members share.

    Attributes:
        gear: what the club lends, by name; more: whether it lends more than these.
        entries: what is shared, the last first; offset: how many stand on the pages before, of `total`.
        me: the number of the observer who reads.
        steward: whether the reader may work as the club.
    """

    template: ClassVar[str] = "club/club.html"
    limit: ClassVar[int] = 50

    gear: tuple[ShelfLine, ...]
    more: bool
    entries: tuple[ListedEntry, ...]
    offset: int
    total: int
    me: int
    steward: bool


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
