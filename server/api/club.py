"""What members of a club share with each other: in the hosted form alone."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Self, cast

from fastapi import Path, Query
from pydantic import BaseModel, Field

from server.api.deps import ReadingBench, WritingBench
from server.api.errors import CHANGING, LOOKING
from server.api.logbook import EntryAnswer, EntryNumber
from server.api.naming import operations
from server.api.reading import Body
from server.api.share import SharedEntry
from server.api.shelf import PartAnswer, PartBrief, PartNumber
from server.domain.account import ListedEntry
from server.domain.measure import Money
from server.flow.account_protocols import AccountStore
from server.flow.loan_gear import loan_gear
from server.flow.share_with_club import share_with_club, take_in_from_club, withdraw_from_club
from server.flow.workbench import Workbench
from server.handed import LARGEST_NUMBER, Number

router = operations("club", "/observers/{observer_id}")

ListedNumber = Annotated[Number, Path(description="The number of an entry that is shared with the club.")]


class SharedLineAnswer(BaseModel):
    """An entry that a member shares with the club."""

    entry_id: int
    shared_by: str
    rig: str = Field(description="The rig's name when it was saved.")
    title: str
    listed_at: datetime
    mine: bool = Field(description="Whether this observer shares it.")

    @classmethod
    def of(cls, one: ListedEntry, me: int) -> Self:
        """The answer for an entry."""
        return cls(
            entry_id=one.entry_id,
            shared_by=one.shared_by,
            rig=one.rig,
            title=one.title,
            listed_at=one.listed_at,
            mine=one.observer_id == me,
        )


class OwnPrice(Body):
    """What a part costs an observer; null where they do not know."""

    price: Money | None


class LoanAnswer(BaseModel):
    """A part that the club lends."""

    part: PartBrief
    lends: int = Field(description="How many there are; who has one just now is not kept.")


def _club(bench: Workbench) -> AccountStore:
    return cast(AccountStore, bench.store)


@router.put("/parts/{part_id}/price", responses=CHANGING)
def keep_price(bench: WritingBench, part_id: PartNumber, body: OwnPrice) -> PartAnswer:
    """Say what a part costs this observer, who alone is shown it."""
    number = bench.part(part_id).id
    bench.store.keep_price(bench.observer.id, number, body.price)
    return PartAnswer.of(bench.part(number), bench.holding(number))


@router.get("/club/gear", responses=LOOKING)
def list_loan_gear(bench: ReadingBench) -> tuple[LoanAnswer, ...]:
    """What the club lends."""
    gear, _ = loan_gear(_club(bench))
    return tuple(LoanAnswer(part=PartBrief.of(one.item), lends=one.holding.owned) for one in gear)


@router.get("/club/entries", responses=LOOKING)
def list_club_entries(
    bench: ReadingBench,
    limit: Annotated[int | None, Query(ge=1, le=LARGEST_NUMBER, description="None: all of them.")] = None,
    offset: Annotated[int, Query(ge=0, le=LARGEST_NUMBER)] = 0,
) -> tuple[SharedLineAnswer, ...]:
    """What members share, the last first, so much of the list as is asked for."""
    listed = _club(bench).listed_entries(limit, offset)
    return tuple(SharedLineAnswer.of(one, bench.observer.id) for one in listed)


@router.get("/club/entries/{entry_id}", responses=LOOKING)
def show_club_entry(bench: ReadingBench, entry_id: ListedNumber) -> SharedEntry:
    """An entry that a member shares."""
    return SharedEntry(document=_club(bench).listed_entry(entry_id).document)


@router.post("/club/entries/{entry_id}/take-in", status_code=201, responses=CHANGING)
def take_in_club_entry(bench: WritingBench, entry_id: ListedNumber) -> EntryAnswer:
    """Copy it to this observer: parts, rig and entry."""
    return EntryAnswer.of(take_in_from_club(_club(bench), bench, entry_id).entry)


@router.put("/entries/{entry_id}/club", status_code=204, responses=CHANGING)
def share_entry_with_club(bench: WritingBench, entry_id: EntryNumber) -> None:
    """Share an entry of this observer's with all members."""
    share_with_club(_club(bench), bench, entry_id)


@router.delete("/entries/{entry_id}/club", status_code=204, responses=CHANGING)
def withdraw_entry_from_club(bench: WritingBench, entry_id: EntryNumber) -> None:
    """Take that back."""
    withdraw_from_club(_club(bench), bench, entry_id)
