"""An entry as a download: one self-contained page, or JSON."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from fastapi.responses import Response
from markupsafe import Markup

from server import paths
from server.domain.entry import EntryDocument
from server.domain.frames.measured import StoredMeasured
from server.domain.observer import UnitSystem
from server.rim.entry_file import SCRIPT_ID, embedded_json, entry_json, file_name
from server.web.logbook.sheet import Sheet, sheet_of
from server.web.rendering import Reading, environment

SHEETS = (
    "tokens",
    "base",
    "layout",
    "controls",
    "pieces",
    "findings",
    "drawing/drawing",
    "logbook/sheet",
    "print",
    "logbook/sheet_print",
)
"""The stylesheets that a self-contained page carries within itself, in this order."""
MEASURED_SHEETS = ("frames/frames", "logbook/measured")
"""Those that it carries besides, where something was measured."""


@dataclass(frozen=True)
class EntryFilePage:
    """A self-contained page.

    Attributes:
        sheet: the entry, read.
        style: the text of its stylesheets.
        data: the entry's JSON, escaped for a script element.
        data_id: the id of that element.
    """

    template: ClassVar[str] = "share/file.html"

    sheet: Sheet
    style: Markup
    data: Markup
    data_id: str


def html_file(
    document: EntryDocument, units: UnitSystem, measured: Sequence[StoredMeasured] = ()
) -> Response:
    """The entry with its measurements as one page that needs nothing else, to be saved."""
    text = page_text(document, units, measured)
    return _download(text, "text/html; charset=utf-8", file_name(document, "html"))


def page_text(document: EntryDocument, units: UnitSystem, measured: Sequence[StoredMeasured] = ()) -> str:
    """The entry with its measurements as one page that needs nothing else: no network, no script."""
    page = EntryFilePage(
        sheet_of(document, units, measured),
        _style(SHEETS + MEASURED_SHEETS if measured else SHEETS),
        # It holds neither < nor >, so it cannot end its element.
        Markup(embedded_json(document)),
        SCRIPT_ID,
    )
    reading = Reading(observer=None, units=units, theme="system", path="", guest=True)
    return environment().shown(page.template, page=page, reading=reading)


def json_file(document: EntryDocument) -> Response:
    """The entry as JSON, of the published schema."""
    return _download(entry_json(document), "application/json", file_name(document, "json"))


def _style(names: Sequence[str]) -> Markup:
    files = (paths.STATIC / "css" / f"{name}.css" for name in names)
    text = "\n".join(file.read_text(encoding="utf-8") for file in files if file.is_file())
    # No script and no server tells the page its theme: its own buttons do. `:where` leaves each rule as
    # strong as it is on the app's pages, so paper stays black on white.
    text = re.sub(r'html\[data-theme="(\w+)"\]', r"html[data-theme]:where(:has(#theme-\1:checked))", text)
    # Our own files; still, nothing in them may end the element.
    return Markup(text.replace("</", "<\\/"))


def _download(text: str, media_type: str, name: str) -> Response:
    return Response(
        text, media_type=media_type, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
