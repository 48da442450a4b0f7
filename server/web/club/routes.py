"""What members share with each other, and what the club lends."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from server.flow.share_with_club import share_with_club, take_in_from_club, withdraw_from_club
from server.handed import Number
from server.web.club.deps import club_store
from server.web.club.page import ClubEntryPage, ClubPage
from server.web.deps import ReadingBench, WritingBench
from server.web.logbook.routes import arrived
from server.web.logbook.sheet import sheet_of
from server.web.rendering import URLS, go_to, render_page

router = APIRouter()


@router.get("/club")
def show_club(request: Request, bench: ReadingBench) -> Response:
    """What is shared, by whom and since when."""
    return render_page(request, ClubPage(club_store(bench).listed_entries(), bench.observer.id))


@router.get("/club/entries/{entry_id}")
def show_club_entry(request: Request, bench: ReadingBench, entry_id: Number) -> Response:
    """An entry that a member shares, to be read only."""
    entry = club_store(bench).listed_entry(entry_id)
    measured = bench.store.measurements_of_entry(entry_id)
    page = ClubEntryPage(
        entry_id,
        sheet_of(entry.document, bench.observer.units, measured),
        bench.store.observer(entry.observer_id).name,
        entry.observer_id == bench.observer.id,
    )
    return render_page(request, page)


@router.post("/club/entries/{entry_id}/take-in")
def take_in(request: Request, bench: WritingBench, entry_id: Number) -> Response:
    """Copy it to the reader's own: parts, rig and entry."""
    return go_to(request, arrived(take_in_from_club(club_store(bench), bench, entry_id)))


@router.post("/logbook/{entry_id}/club")
def share(request: Request, bench: WritingBench, entry_id: Number) -> Response:
    """List an entry of one's own for all members."""
    share_with_club(club_store(bench), bench, entry_id)
    return go_to(request, f"{URLS.entry(entry_id)}#share")


@router.post("/logbook/{entry_id}/club/withdraw")
def withdraw(request: Request, bench: WritingBench, entry_id: Number) -> Response:
    """List it no more."""
    withdraw_from_club(club_store(bench), bench, entry_id)
    return go_to(request, f"{URLS.entry(entry_id)}#share")
