"""Share: one saved entry, read-only, to anyone who holds its link; and what its owner does with links.

`share_router` is all that the network sees. It asks for no observer and changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from fastapi import Request
from fastapi.responses import HTMLResponse, Response
from markupsafe import Markup

from server.domain.entry import Entry
from server.domain.errors import NotFoundError
from server.flow.protocols import Store
from server.flow.share_entry import open_share
from server.handed import Number, ReadingStore
from server.handed.routing import pages
from server.web.deps import WritingBench, chosen_observer, settings_of
from server.web.drawing.qr import qr_svg
from server.web.logbook.files import html_file, json_file
from server.web.logbook.routes import arrived
from server.web.logbook.sheet import Sheet, sheet_of
from server.web.rendering import THEMES, UNITS, URLS, Page, Reading, go_to, page_text, reading_of

router = pages()
share_router = pages()


@dataclass(frozen=True)
class SharedPage:
    """What a link shows.

    Attributes:
        token: of the link.
        sheet: the entry, read.
        address: the link itself, whole.
        qr: the link as a QR code.
        this_machine_only: whether the link leads nowhere from another machine.
        own_entry: the reader's own entry that this is, None for others and for guests.
    """

    template: ClassVar[str] = "share/shared.html"

    token: str
    sheet: Sheet
    address: str
    qr: Markup
    this_machine_only: bool
    own_entry: int | None


@dataclass(frozen=True)
class NothingPage:
    """What an unknown and a withdrawn link show, and it is the same."""

    template: ClassVar[str] = "share/nothing.html"


@share_router.get("/s/{token}")
def show_shared(request: Request, store: ReadingStore, token: str) -> Response:
    """The entry that a link shows."""
    entry = _entry(store, token)
    if entry is None:
        return _shown(request, NothingPage(), 404)
    observer = None if request.app.state.guest else chosen_observer(request, store)
    settings = settings_of(request)
    address = f"{settings.share_address}{URLS.shared(token)}"
    page = SharedPage(
        token=token,
        sheet=sheet_of(entry.document, _reading(request).units, store.measurements_of_entry(entry.id)),
        address=address,
        qr=qr_svg(address, "QR code of this page's address"),
        this_machine_only=not settings.links_lead_here,
        own_entry=entry.id if observer is not None and observer.id == entry.observer_id else None,
    )
    return _shown(request, page)


@share_router.get("/s/{token}/file.html")
def shared_page(request: Request, store: ReadingStore, token: str) -> Response:
    """What a link shows, as one self-contained page."""
    entry = _entry(store, token)
    if entry is None:
        return _shown(request, NothingPage(), 404)
    measured = store.measurements_of_entry(entry.id)
    return html_file(entry.document, _reading(request).units, measured)


@share_router.get("/s/{token}/file.json")
def shared_data(request: Request, store: ReadingStore, token: str) -> Response:
    """What a link shows, as JSON."""
    entry = _entry(store, token)
    return _shown(request, NothingPage(), 404) if entry is None else json_file(entry.document)


@router.post("/s/{token}/put-on-shelf")
def put_on_shelf(request: Request, bench: WritingBench, token: str) -> Response:
    """Copy what a link shows to the member's own: parts, rig and entry."""
    return go_to(request, arrived(bench.put_on_shelf(token)))


@router.post("/logbook/{entry_id}/share")
def share_entry(request: Request, bench: WritingBench, entry_id: Number) -> Response:
    """Make a link to an entry."""
    bench.share(entry_id)
    return go_to(request, f"{URLS.entry(entry_id)}#share")


@router.post("/logbook/{entry_id}/share/{share_id}/withdraw")
def withdraw_share(request: Request, bench: WritingBench, entry_id: Number, share_id: Number) -> Response:
    """Withdraw a link."""
    bench.withdraw(entry_id, share_id)
    return go_to(request, f"{URLS.entry(entry_id)}#share")


def _entry(store: Store, token: str) -> Entry | None:
    try:
        return open_share(store, token)
    except NotFoundError:
        return None


def _reading(request: Request) -> Reading:
    """Who reads, with the theme and units that the address names: a guest's browser keeps no choice."""
    reading = reading_of(request)
    theme, units = request.query_params.get("theme", ""), request.query_params.get("units", "")
    if theme in THEMES:
        reading = replace(reading, theme=theme)
    if units in UNITS:
        reading = replace(reading, units=units)
    return reading


def _shown(request: Request, page: Page, status: int = 200) -> HTMLResponse:
    text = page_text(page, _reading(request))
    # The address is the key: no search engine may keep it.
    return HTMLResponse(text, status, headers={"X-Robots-Tag": "noindex, nofollow", "Vary": "Cookie"})
