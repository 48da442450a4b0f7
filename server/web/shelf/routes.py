"""The shelf: search and filters over the catalogue, what one has of each part, and the pages of one part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, cast, get_args

from fastapi import Depends, Form, Path, Query, Request
from fastapi.responses import HTMLResponse, Response
from markupsafe import escape

from server.domain.connections import Connection, ConnectionTextError, print_connection, read_connection
from server.domain.errors import FieldErrors, NotFoundError, NotYoursError, RefusedError
from server.domain.observer import HOLDING_MAXIMUM, Holding
from server.domain.parts import KINDS, CataloguedPart, Part
from server.flow.keep_parts import demand_unmerged
from server.flow.protocols import HoldingFilter, PartQuery, ShelfLine, Whose
from server.flow.workbench import Workbench
from server.handed import is_hosted
from server.handed.routing import pages
from server.rim.cells import CellError, read_cell
from server.rim.forms import connection_words, part_texts, read_part, understood
from server.rim.sensor_size import size_instead
from server.rim.spec_reading import TEXT_MAXIMUM, kinds_spoken_of
from server.web.deps import ReadingBench, WritingBench
from server.web.rendering import URLS, came_from, go_to, render_block, render_page, wants_block
from server.web.shelf.form import (
    HOLDING_SPECS,
    FormPage,
    form_page,
    kept_texts,
    kinds_page,
    pasted_texts,
    write_connections,
)
from server.web.shelf.page import (
    HOLDING_FILTERS,
    LENT,
    LINES_A_PAGE,
    Filters,
    HoldingPiece,
    ShelfCard,
    ShelfPage,
    card_of,
    part_page,
)
from server.web.shelf.typed import Typed

router = pages("/shelf")

OFFSET_MAXIMUM = 1_000_000
CHANGES_SHOWN = 50
TYPED_MAXIMUM = 300
"""Characters of a search that are kept; the store looks at fewer."""

Short = Annotated[str, Query(max_length=2000)]
PartId = Annotated[int, Path(ge=1, le=2**53)]
RigToGoBackTo = Annotated[int | None, Query(ge=1, le=2**53)]


def filters_of(
    q: Short = "",
    kind: Short = "",
    connection: Short = "",
    mates: Short = "",
    holding: Short = "",
    start: Annotated[str, Query(alias="from", max_length=20)] = "",
) -> Filters:
    """What the address asks for; what it holds beyond that is left aside, as from an old bookmark."""
    known = holding if holding in (*get_args(HoldingFilter), LENT[0]) else "shelf"
    offset = int(start) if start.isascii() and start.isdigit() else 0
    return Filters(
        text=q.strip()[:TYPED_MAXIMUM],
        kind=kind if kind in KINDS else "",
        connection=connection.strip()[:TYPED_MAXIMUM],
        mates=mates.strip()[:TYPED_MAXIMUM],
        holding=cast(Whose, known),
        offset=min(offset, OFFSET_MAXIMUM),
    )


AskedFilters = Annotated[Filters, Depends(filters_of)]


def read_filters(filters: Filters) -> tuple[dict[str, Connection | None], dict[str, str]]:
    """The connections that the filters name, and a sentence for each that cannot be read."""
    read: dict[str, Connection | None] = {"connection": None, "mates": None}
    errors: dict[str, str] = {}
    for name, typed in (("connection", filters.connection), ("mates", filters.mates)):
        if typed:
            try:
                read[name] = read_connection(typed)
            except ConnectionTextError as error:
                errors[name] = error.message
    return read, errors


def part_query(filters: Filters, read: Mapping[str, Connection | None], observer_id: int) -> PartQuery:
    """The question to the catalogue."""
    return PartQuery(
        observer_id=observer_id,
        text=filters.text,
        kind=filters.kind,
        connection=read["connection"],
        mates_with=read["mates"],
        holding=filters.holding,
        offset=filters.offset,
        limit=LINES_A_PAGE,
    )


@router.get("")
def shelf(request: Request, bench: ReadingBench, filters: AskedFilters) -> Response:
    """The list, whole or as the block that changes while one types."""
    read, errors = read_filters(filters)
    units = bench.observer.units
    cards: tuple[ShelfCard, ...] = ()
    total = counted_to = 0
    if not errors:
        found = bench.find_parts(part_query(filters, read, bench.observer.id))
        cards = tuple(card_of(line, units) for line in found.lines)
        total, counted_to = found.total, found.counted_to
    anything = bool(cards) or bool(
        bench.find_parts(PartQuery(bench.observer.id, holding="catalogue", limit=1)).lines
    )
    words = {name: connection_words(value) for name, value in read.items() if value is not None}
    holdings = (*HOLDING_FILTERS, LENT) if is_hosted(request) else HOLDING_FILTERS
    page = ShelfPage(filters, errors, cards, total, counted_to, anything, holdings=holdings, understood=words)
    if not wants_block(request):
        return render_page(request, page, 422 if errors else 200)
    # While one types, a connection that is not finished yet is no error.
    response = render_block(request, page, "found")
    response.headers["HX-Replace-Url"] = URLS.shelf(**filters.query())
    return response


@router.post("/{part_id}/holding")
def change_holding(
    request: Request,
    bench: WritingBench,
    part_id: PartId,
    step: Annotated[str, Form(max_length=20)],
) -> Response:
    """One more or one fewer: `step` is such as "owned:1" or "wished:-1"."""
    name, _, by = step.partition(":")
    if name not in ("owned", "wished", "considered") or by not in ("1", "-1"):
        raise RefusedError("The step is not understood. Load the page again and press the button once more.")
    item = bench.part(part_id)
    holding = bench.holding(item.id)
    number = min(max(getattr(holding, name) + int(by), 0), HOLDING_MAXIMUM)
    changed = replace(holding, **{name: number})
    bench.set_holding(item.id, changed)
    if wants_block(request):
        return render_block(request, HoldingPiece(ShelfLine(item, changed)), "holding")
    return go_to(request, came_from(request))


# One part


def _known_kind(kind: str) -> str:
    if kind not in KINDS:
        raise NotFoundError("There is no such kind of part. Choose one from the list of kinds.")
    return kind


@router.get("/new")
def new_part(request: Request, bench: ReadingBench, kind: Short = "", after: Short = "") -> Response:
    """The choice of kinds, or the form of one. `after` is a part entered just before: its maker is kept,
    and where this is one more of its kind, what such parts share.
    """
    entered = bench.part(int(after)) if after.isascii() and after.isdigit() and len(after) < 10 else None
    if not kind:
        return render_page(request, kinds_page(entered=entered))
    texts = {"owned": "1", "basis": "typed"} | (kept_texts(entered.part, kind) if entered else {})
    page = form_page(_known_kind(kind), texts, bench.observer.units, holdings=True, entered=entered)
    return render_page(request, _with_memory(page, bench))


def _with_memory(page: FormPage, bench: Workbench) -> FormPage:
    """The form with the makers and connections that were typed before."""
    known = bench.remembered()
    return replace(page, makers=known.makers, connections=tuple(map(print_connection, known.connections)))


@router.post("/new")
def enter_part(request: Request, typed: Typed, bench: WritingBench, kind: Short = "") -> Response:
    """Enter a part, or show the form again with what is wrong beside each field."""
    _known_kind(kind)
    units = bench.observer.units
    texts, errors = write_connections(kind, typed, typed.get("write", ""))
    if written := _filled(typed):
        page = form_page(kind, _take_offer(texts), units, errors=errors, holdings=True, written=written)
        return _form_again(request, page, bench, 422 if errors else 200)
    holding, wrong = _read_holding(typed)
    part, unread = _read(kind, texts)
    errors = unread | wrong | errors
    if part is None or errors:
        page = form_page(kind, texts, units, errors=errors, holdings=True)
        return _form_again(request, page, bench)
    item = bench.add_part(part, holding)
    then = typed.get("then")
    if then in ("another", "kinds"):
        return go_to(request, URLS.new_part(kind if then == "another" else "", after=item.id))
    return go_to(request, URLS.part(item.id, said="entered"))


def _read(kind: str, texts: Mapping[str, str]) -> tuple[Part | None, dict[str, str]]:
    """The part that the texts describe, or a sentence for each field that cannot be taken."""
    try:
        return read_part(kind, texts), {}
    except FieldErrors as error:
        pixel = texts.get("pixel_um", "")
        said = {name: size_instead(name, texts.get(name, ""), pixel) for name in error.errors}
        return None, {name: said[name] or sentence for name, sentence in error.errors.items()}


@router.post("/new/paste")
def paste_part(request: Request, typed: Typed, bench: ReadingBench) -> Response:
    """Fill the form of the kind that a specification speaks of, or ask for the kind. Nothing is stored."""
    text, kind = typed.get("pasted", "").strip(), typed.get("kind", "")
    if not text or len(text) > TEXT_MAXIMUM:
        many = f"This has {len(text)} characters; at most {TEXT_MAXIMUM} are read. Leave lines out."
        return render_page(request, kinds_page(text, many if text else NOTHING_PASTED), 422)
    likely, sure = kinds_spoken_of(text)
    kind = _known_kind(kind) if kind else sure
    if not kind:
        return render_page(request, kinds_page(text, likely=likely))
    units = bench.observer.units
    texts = pasted_texts(kind, text, units)
    return render_page(request, _with_memory(form_page(kind, texts, units, holdings=True), bench))


NOTHING_PASTED = "Nothing was typed. Write or paste what you know, like the example under the box."


def _filled(typed: Mapping[str, str]) -> str:
    """The field that a form is to fill and be shown again, "" where it is to be stored."""
    filled = typed.get("write", "") or typed.get("take", "").partition("=")[0]
    return filled or ("sky_side" if typed.get("sides") else "")


def _take_offer(typed: Mapping[str, str]) -> dict[str, str]:
    """The texts of a form with what was offered put into its field: `take` is such as "factor=0.8".

    `sides` are two connections, the sky side's first: "M54 male|M48 female".
    """
    name, _, text = typed.get("take", "").partition("=")
    sky, _, camera = typed.get("sides", "").partition("|")
    sides = {"sky_side": sky, "camera_side": camera} if sky else {}
    return {**typed, **sides} | ({name: text} if name else {})


def _form_again(request: Request, page: FormPage, bench: Workbench, status: int = 422) -> Response:
    page = _with_memory(page, bench)
    if wants_block(request):
        return render_block(request, page, "form", status)
    return render_page(request, page, status)


def _read_holding(typed: Mapping[str, str]) -> tuple[Holding, dict[str, str]]:
    numbers: dict[str, int] = {}
    errors: dict[str, str] = {}
    for spec in HOLDING_SPECS:
        try:
            numbers[spec.name] = read_cell(spec, typed.get(spec.name, ""), "") or 0
        except CellError as error:
            errors[spec.name] = error.sentence
    return Holding() if errors else Holding(**numbers), errors


@router.get("/understood")
def understand(request: Request, kind: Short = "") -> Response:
    """What is understood of one field as it is typed: one short line, or why it cannot be taken."""
    _known_kind(kind)
    asked = {
        name: text.replace("\r\n", "\n") for name, text in request.query_params.items() if name != "kind"
    }
    # The pixel size comes along with a sensor's width or height.
    name = next((one for one in asked if one != "pixel_um"), "pixel_um" if asked else "")
    typed = asked.get(name, "")
    if said := size_instead(name, typed, asked.get("pixel_um", "")):
        return HTMLResponse(escape(said))
    try:
        words = understood(kind, name, typed)
    except FieldErrors as error:
        return HTMLResponse(f'<span class="not-understood">{escape(error.errors[name])}</span>')
    except KeyError:
        raise NotFoundError("A part of this kind has no such field.") from None
    return HTMLResponse(f"Understood: {escape(words)}" if words else "")


SAID = {
    "entered": "It is in the catalogue now, and on your shelf as you said.",
    "price": "The price is kept, for you alone.",
    "changed": "The change is kept. Saved entries in logbooks keep the part as it was.",
    "merged": "The two are one part now. Saved entries in logbooks keep what they held.",
}


@router.get("/{part_id}")
def show_part(request: Request, bench: ReadingBench, part_id: PartId, said: Short = "") -> Response:
    """One part: what is known of it, what is not, and where it is used."""
    item = bench.part(part_id)
    if item.id != part_id:
        # It was merged into another.
        return go_to(request, URLS.part(item.id))
    page = part_page(
        item,
        bench.holding(part_id),
        bench.rigs_using(part_id),
        bench.observer.id,
        bench.observer.units,
        SAID.get(said, ""),
        steward=bench.is_steward,
        changes=bench.part_changes(part_id, CHANGES_SHOWN) if is_hosted(request) else (),
    )
    return render_page(request, page)


@router.get("/{part_id}/edit")
def edit_part(
    request: Request, bench: ReadingBench, part_id: PartId, rig: RigToGoBackTo = None, said: Short = ""
) -> Response:
    """The form of a part of one's own, or for a steward of any. Raises NotYoursError for another's."""
    item = _own(bench, part_id)
    texts, units = part_texts(item.part), bench.observer.units
    page = form_page(item.kind, texts, units, item=item, revision=item.revision, rig=rig)
    return render_page(request, _with_memory(replace(page, copied=said == "copied"), bench))


@router.post("/{part_id}/edit")
def change_part(
    request: Request, typed: Typed, bench: WritingBench, part_id: PartId, rig: RigToGoBackTo = None
) -> Response:
    """Keep a change, or show the form again with what is wrong."""
    item = _own(bench, part_id)
    demand_unmerged({part_id: item})
    texts, errors = write_connections(item.kind, typed, typed.get("write", ""))
    if written := _filled(typed):
        page = _edit_page(item, _take_offer(texts), bench, errors, rig, written)
        return _form_again(request, page, bench, 422 if errors else 200)
    part, unread = _read(item.kind, texts)
    errors = unread | errors
    if part is None or errors:
        return _form_again(request, _edit_page(item, texts, bench, errors, rig), bench)
    if typed.get("revision") != str(item.revision):
        stale = (
            f"{item.name} was changed elsewhere since this form was opened, so nothing was stored. "
            "What you typed stands below; storing it now replaces that change."
        )
        units = bench.observer.units
        page = form_page(item.kind, texts, units, item=item, revision=item.revision, stale=stale, rig=rig)
        return _form_again(request, page, bench, 409)
    bench.change_part(item.id, item.revision, part, correcting=True)
    return go_to(request, URLS.part(item.id, said="changed") if rig is None else URLS.rig(rig))


def _own(bench: Workbench, part_id: int) -> CataloguedPart:
    item = bench.part(part_id)
    if item.entered_by != bench.observer.id and not bench.is_steward:
        raise NotYoursError(
            f"{item.name} was entered by {item.entered_by_name}, who alone can change it. "
            "Copy it and work on the copy."
        )
    return item


def _edit_page(
    item: CataloguedPart,
    typed: Mapping[str, str],
    bench: Workbench,
    errors: Mapping[str, str],
    rig: int | None,
    written: str = "",
) -> FormPage:
    # The revision that the form was opened on stays in it, so that a change made elsewhere is still noticed.
    opened_on = typed.get("revision", "")
    revision = int(opened_on) if opened_on.isascii() and opened_on.isdigit() and len(opened_on) < 10 else 0
    units = bench.observer.units
    return form_page(
        item.kind, typed, units, errors=errors, item=item, revision=revision, rig=rig, written=written
    )


@router.post("/{part_id}/copy")
def copy_part(request: Request, bench: WritingBench, part_id: PartId) -> Response:
    """Copy a part into an entry of one's own, owned once unless the first is a wish, and open its form."""
    held = bench.holding(bench.part(part_id).id)
    item = bench.copy_part(part_id)
    only_wished = held.any and not held.owned
    bench.set_holding(item.id, held if only_wished else Holding(owned=1))
    return go_to(request, URLS.edit_part(item.id, said="copied"))


@router.post("/{part_id}/remove")
def remove_part(request: Request, bench: WritingBench, part_id: PartId) -> Response:
    """Take a part out of the catalogue; refused with the list of rigs while any hold it."""
    bench.remove_part(part_id)
    return go_to(request, URLS.shelf())
