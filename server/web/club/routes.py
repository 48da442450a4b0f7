"""What members share with each other, and what the club lends."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from fastapi import Form, Query, Request
from fastapi.responses import Response

from server.flow.loan_gear import loan_gear
from server.flow.share_with_club import share_with_club, take_in_from_club, withdraw_from_club
from server.handed import LARGEST_NUMBER, Number
from server.handed.routing import pages
from server.rim.cells import CellError, read_cell
from server.web.account.deps import Steward, TheClub, Who
from server.web.account.gate import signed_in
from server.web.club.deps import club_store
from server.web.club.page import ClubEntryPage, ClubPage
from server.web.deps import ReadingBench, WritingBench
from server.web.logbook.routes import arrived
from server.web.logbook.sheet import sheet_of
from server.web.paging import offset_within
from server.web.rendering import URLS, go_to, render_page
from server.web.shelf.page import part_page

router = pages()


@router.get("/club")
def show_club(
    request: Request,
    bench: ReadingBench,
    start: Annotated[int, Query(alias="from", ge=0, le=LARGEST_NUMBER)] = 0,
) -> Response:
    """What the club lends; what is shared, by whom and since when."""
    store, who = club_store(bench), signed_in(request)
    gear, more = loan_gear(store)
    steward = who is not None and who.account.is_steward
    total = store.listed_count()
    offset = offset_within(start, total, ClubPage.limit)
    entries = store.listed_entries(ClubPage.limit, offset)
    page = ClubPage(gear, more, entries, offset, total, bench.observer.id, steward)
    return render_page(request, page)


@router.post("/club/prices/{part_id}")
def keep_price(
    request: Request, bench: WritingBench, part_id: Number, price: Annotated[str, Form(max_length=200)] = ""
) -> Response:
    """Say what a part costs the reader, in place of what they said before."""
    item = bench.part(part_id)
    spec = next(one for one in item.part.specs() if one.name == "price")
    try:
        bench.store.keep_price(bench.observer.id, item.id, read_cell(spec, price, ""))
    except CellError as error:
        holding, rigs = bench.holding(item.id), bench.rigs_using(item.id)
        page = part_page(item, holding, rigs, bench.observer.id, bench.observer.units)
        return render_page(request, replace(page, price=price, price_error=error.sentence), 422)
    return go_to(request, URLS.part(item.id, said="price"))


@router.post("/club/as-club")
def work_as_club(request: Request, club: TheClub, by: Steward) -> Response:
    """Let a steward work as the club, on its shelf."""
    club.work_as_club(by)
    return go_to(request, URLS.shelf())


@router.post("/club/as-oneself")
def work_as_oneself(request: Request, club: TheClub, who: Who) -> Response:
    """Let a steward work as themselves again."""
    club.work_as_oneself(who)
    return go_to(request, URLS.club())


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
