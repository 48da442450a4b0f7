"""The Bench: one rig's train put together, checked after each change, undone, saved.

Every change is a plain form that posts; htmx and the dragging make it quick. An answer to htmx is the block
`bench` of the rig's page, so that drawing, run and findings always belong to one version.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Form, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field, ValidationError

from server.domain.changes import Standing, standings_of, turned_standings
from server.domain.errors import FieldErrors, NotFoundError, RefusedError, StaleVersionError, TrainwrightError
from server.domain.findings import WEIGHT_WORDS
from server.domain.parts import KINDS, CataloguedPart, Filter, FilterWheel, OffAxisGuider
from server.domain.said import said
from server.domain.train import BRANCH_KINDS
from server.flow.assemble_train import CHANGE, Change, SetRules
from server.flow.protocols import PartQuery
from server.flow.workbench import BenchView, Workbench
from server.handed import Number
from server.rim.answer import counts_of, write_answer
from server.rim.changes import read_standings
from server.rim.phrasebook.forms import listed
from server.rim.phrasebook.tell import write_words
from server.rim.rules import RULE_SPECS, read_rules
from server.units import Limits, QuantityError, read_quantity
from server.web.bench.page import (
    BroughtBack,
    Offer,
    RigPage,
    RigsPage,
    Tray,
    rig_page,
    tray_parts,
)
from server.web.deps import ReadingBench, WritingBench
from server.web.rendering import URLS, go_to, render_block, render_page, wants_block

router = APIRouter()

TRAY_LINES = 30
FITTING_LINES = 8
RULE_LENGTH = 200
"""Characters of a typed rule that are looked at."""
STOOD = "Trainwright-Stood"
"""The header in which the page says how the findings stood before a change."""

RigVersion = Annotated[int, Form(ge=0, le=2**53)]


# Rigs


@router.get("/bench")
def show_rigs(request: Request, bench: ReadingBench) -> Response:
    """All rigs of the observer."""
    return render_page(request, RigsPage(bench.rigs()))


@router.post("/bench")
def begin_rig(request: Request, bench: WritingBench, name: Annotated[str, Form()] = "") -> Response:
    """Begin a rig."""
    try:
        stored = bench.new_rig(name)
    except FieldErrors as error:
        return render_page(request, RigsPage(bench.rigs(), name, error.errors["name"]), 422)
    return go_to(request, URLS.rig(stored.id))


@router.post("/bench/{rig_id}/name")
def rename_rig(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    version: RigVersion,
    name: Annotated[str, Form()] = "",
) -> Response:
    """Give a rig another name."""
    try:
        bench.rename_rig(rig_id, version, name)
    except FieldErrors as error:
        page = _page(bench, bench.bench(rig_id), Tray(), name_typed=name, name_error=error.errors["name"])
        return render_page(request, page, 422)
    return go_to(request, URLS.rig(rig_id))


@router.post("/bench/{rig_id}/remove")
def remove_rig(request: Request, bench: WritingBench, rig_id: Number, version: RigVersion) -> Response:
    """Remove a rig that has no entries."""
    try:
        bench.remove_rig(rig_id, version)
    except (RefusedError, StaleVersionError) as error:
        return _refused(request, bench, rig_id, Tray(), error)
    return go_to(request, URLS.bench())


# One rig


class TrayQuery(BaseModel):
    """What the address says of the tray: words, kind, where to look, and what the part is wanted for.

    `brought` is the entry that was brought back just now.
    """

    q: str = Field(default="", max_length=200)
    kind: str = Field(default="", max_length=40)
    whole: str = Field(default="", max_length=5)
    at: int | None = Field(default=None, ge=0, le=100)
    swap: int | None = Field(default=None, ge=0, le=2**53)
    wheel: int | None = Field(default=None, ge=0, le=2**53)
    guide: bool = False
    brought: int | None = Field(default=None, ge=0, le=2**53)

    def tray(self) -> Tray:
        """An empty tray that looks for this."""
        kind = self.kind if self.kind in KINDS else ""
        return Tray(self.q, kind, self.whole == "1", self.at, self.swap, self.wheel, self.guide)


@router.get("/bench/{rig_id}")
def show_rig(
    request: Request, bench: ReadingBench, rig_id: Number, query: Annotated[TrayQuery, Query()]
) -> Response:
    """One rig on the bench; to htmx, its tray alone."""
    view = bench.bench(rig_id)
    if wants_block(request):
        return render_block(request, _page(bench, view, query.tray()), "tray")
    page = _page(bench, view, query.tray(), brought=_brought_back(bench, view, query.brought))
    return render_page(request, page)


class ChangeForm(BaseModel):
    """One change as a form sends it: a verb, what it needs, and the tray's state to come back to."""

    version: int = Field(ge=0, le=2**53)
    verb: str = Field(default="", max_length=20)
    press: str = Field(default="", max_length=20)
    part_id: int | None = Field(default=None, ge=0, le=2**53)
    place: int | None = Field(default=None, ge=0, le=2**53)
    at: int | None = Field(default=None, ge=0, le=100)
    to: int | None = Field(default=None, ge=0, le=100)
    quantity: int | None = Field(default=None, ge=0, le=99)
    length: str = Field(default="", max_length=200)
    branch: bool = False
    q: str = Field(default="", max_length=200)
    kind: str = Field(default="", max_length=40)
    whole: str = Field(default="", max_length=5)

    def change(self) -> Change:
        """The change that is meant. Raises RefusedError where the form says none."""
        wanted = {"verb", "part_id", "place", "at", "to", "quantity"}
        values = self.model_dump(include=wanted, exclude_none=True)
        if self.branch:
            values["branch"] = True
        if self.press:
            # The row of a part has one form whose buttons say the verb and, for a move, whereto: "move 3".
            verb, _, to = self.press.partition(" ")
            values |= {"verb": verb} | ({"to": int(to)} if to.isdecimal() else {})
        if values["verb"] == "set_length":
            try:
                read = read_quantity(self.length, "length", None, Limits(0.0, 500.0, True))
            except QuantityError as error:
                raise RefusedError(error.message) from None
            values["length_mm"] = read.nominal
        try:
            return CHANGE.validate_python(values)
        except ValidationError:
            raise RefusedError("That is no change that the bench knows. Load the page again.") from None


@router.post("/bench/{rig_id}/change")
def change_rig(
    request: Request, bench: WritingBench, rig_id: Number, form: Annotated[ChangeForm, Form()]
) -> Response:
    """Make one change, and show what has become of the rig."""
    tray = Tray(form.q, form.kind if form.kind in KINDS else "", form.whole == "1")
    try:
        view = bench.change_rig(rig_id, form.version, form.change())
    except RefusedError as error:
        return _refused(request, bench, rig_id, tray, error, form.part_id)
    except StaleVersionError as error:
        return _refused(request, bench, rig_id, tray, error)
    return _changed(request, bench, view, tray, _done(bench, view, form.version))


async def rules_typed(request: Request) -> dict[str, str]:
    """What was typed of each rule, "" for one that the form did not hold."""
    async with request.form() as form:
        typed = {spec.name: form.get(spec.name, "") for spec in RULE_SPECS}
    return {name: text[:RULE_LENGTH] for name, text in typed.items() if isinstance(text, str)}


@router.post("/bench/{rig_id}/rules")
def change_rules(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    version: RigVersion,
    texts: Annotated[dict[str, str], Depends(rules_typed)],
) -> Response:
    """Change what the rig is judged by."""
    try:
        view = bench.change_rig(rig_id, version, SetRules(rules=read_rules(texts)))
    except FieldErrors as error:
        page = _page(bench, bench.bench(rig_id), Tray(), rules=texts, rule_errors=error.errors)
        return _answer(request, page, 422)
    except StaleVersionError as error:
        return _refused(request, bench, rig_id, Tray(), error)
    return _changed(request, bench, view, Tray(), _done(bench, view, version))


@router.post("/bench/{rig_id}/undo")
def undo(request: Request, bench: WritingBench, rig_id: Number, version: RigVersion) -> Response:
    """Take the last change back."""
    return _step(request, bench, rig_id, version, -1)


@router.post("/bench/{rig_id}/redo")
def redo(request: Request, bench: WritingBench, rig_id: Number, version: RigVersion) -> Response:
    """Make a change again that was taken back."""
    return _step(request, bench, rig_id, version, 1)


@router.post("/bench/{rig_id}/save")
def save_rig(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    version: RigVersion,
    title: Annotated[str, Form(max_length=2000)] = "",
    note: Annotated[str, Form(max_length=20_000)] = "",
) -> Response:
    """Save the rig as it is into the logbook."""
    try:
        entry = bench.save_entry(rig_id, version, title, note)
    except FieldErrors as error:
        page = _page(bench, bench.bench(rig_id), Tray(), title=title, note=note, save_errors=error.errors)
        return _answer(request, page, 422)
    except (RefusedError, StaleVersionError) as error:
        page = _page(bench, bench.bench(rig_id), Tray(), title=title, note=note, trouble=_why(bench, error))
        return _answer(request, page, 409 if isinstance(error, StaleVersionError) else 422)
    return go_to(request, URLS.entry(entry.id))


# How these answer


def _step(request: Request, bench: Workbench, rig_id: int, version: int, step: Literal[-1, 1]) -> Response:
    try:
        view = bench.step_rig(rig_id, version, step)
    except (RefusedError, StaleVersionError) as error:
        return _refused(request, bench, rig_id, Tray(), error)
    # What was taken back is what could be made again now, and the other way round.
    taken = view.stored.redo_words if step == -1 else view.stored.undo_words
    done = f"{'Undone' if step == -1 else 'Made again'}: {write_words(taken, bench.observer.units)}"
    return _changed(request, bench, view, Tray(), done)


def _refused(
    request: Request,
    bench: Workbench,
    rig_id: int,
    tray: Tray,
    error: TrainwrightError,
    filter_id: int | None = None,
) -> Response:
    status = 409 if isinstance(error, StaleVersionError) else 422
    view = bench.bench(rig_id)
    offers = () if filter_id is None else _wheels_for(bench.part(filter_id), view)
    return _answer(request, _page(bench, view, tray, trouble=_why(bench, error), offers=offers), status)


def _why(bench: Workbench, error: TrainwrightError) -> str:
    return write_words(error.message, bench.observer.units)


def _wheels_for(item: CataloguedPart, view: BenchView) -> tuple[Offer, ...]:
    """The wheels and drawers of a train that would take a filter that has no cell of its own."""
    if not (isinstance(item.part, Filter) and item.part.unmounted):
        return ()
    wheels = [place for place in view.rig.train if isinstance(place.part, FilterWheel)]
    return tuple(Offer(item.id, place.key, f"Put it into {place.name}") for place in wheels)


def _changed(request: Request, bench: Workbench, view: BenchView, tray: Tray, done: str) -> Response:
    """Show the rig after a change; a screen reader says what was `done`, and what turned by it."""
    if not wants_block(request):
        return go_to(request, URLS.rig(view.stored.id, **tray.query))
    page = _on_page(bench, view, Tray())
    stood = read_standings(request.headers.get(STOOD, ""))
    now = write_answer(page.answer, bench.observer.units) if stood is None else _turned(stood, view)
    return render_block(request, replace(page, status=f"{done}. {now}"), "bench")


def _answer(request: Request, page: RigPage, status: int) -> Response:
    if wants_block(request):
        return render_block(request, page, "bench", status)
    return render_page(request, page, status)


def _done(bench: Workbench, view: BenchView, version: int) -> str:
    """What a change did that was made on a version."""
    words = write_words(view.stored.undo_words, bench.observer.units)
    if view.stored.version == version or not words:
        return "Nothing was changed"
    return f"{words[0].upper()}{words[1:]}"


def _turned(stood: tuple[Standing, ...], view: BenchView) -> str:
    """Which findings a change turned, that stood otherwise on the page before it."""
    came, went = turned_standings(stood, standings_of(view.findings))
    said = []
    for weight in ("stop", "watch", "unknown"):
        titles = dict.fromkeys(one.title for one in came if one.weight == weight)
        if titles:
            said.append(f"{WEIGHT_WORDS[weight]}: {listed(tuple(titles))}.")
    # A joint that is mended while another breaks is not told as both.
    new = {one.title for one in came}
    gone = tuple(dict.fromkeys(one.title for one in went if one.title not in new))
    if gone:
        said.append(f"No longer: {listed(gone)}.")
    return " ".join(said) or "What is found stays the same."


def _page(bench: Workbench, view: BenchView, tray: Tray, **more: Any) -> RigPage:
    return _on_page(bench, view, fill_tray(bench, view, tray), **more)


def _on_page(bench: Workbench, view: BenchView, tray: Tray, **more: Any) -> RigPage:
    return rig_page(view, tray, bench.observer, bench.holdings(view.stored.plan.part_ids), **more)


def _brought_back(bench: Workbench, view: BenchView, entry_id: int | None) -> BroughtBack | None:
    """What to say of an entry that was brought back, as long as its train is what stands there."""
    if entry_id is None:
        return None
    try:
        opened = bench.entry(entry_id)
    except NotFoundError:
        return None
    entry, stored = opened.entry, view.stored
    back = said("did.brought_back", number=entry.number)
    as_it_was = stored.undo_words == back or stored.plan == entry.document.plan
    if entry.rig_id != stored.id or not as_it_was:
        return None
    return BroughtBack(
        entry.id,
        entry.number,
        entry.document.title,
        counts_of(entry.document.findings),
        tuple(item.name for item in opened.revised),
        tuple(frozen.part.name for frozen in opened.gone),
    )


def fill_tray(bench: Workbench, view: BenchView, tray: Tray) -> Tray:
    """Look up the tray's parts; where a joint or a place is meant, what fits there comes first."""
    query = PartQuery(
        bench.observer.id,
        text=tray.text,
        kind=tray.kind,
        holding="catalogue" if tray.whole else "shelf",
        limit=TRAY_LINES,
    )
    if tray.wheel is not None:
        query = replace(query, kind="filter")
    found = bench.find_parts(query)
    fitting, words, meant = _fitting(bench, view, tray, query)
    known = {item.id for item in fitting}
    others = tuple(item for item in tray_parts(found) if item.id not in known)
    if tray.guide:
        others = tuple(item for item in others if item.kind in BRANCH_KINDS)
    return replace(
        tray,
        meant=meant,
        fitting=fitting,
        fitting_words=words,
        others=others,
        total=found.total,
        more=found.total > len(found.lines),
    )


def _fitting(
    bench: Workbench, view: BenchView, tray: Tray, query: PartQuery
) -> tuple[tuple[CataloguedPart, ...], str, str]:
    """(parts that fit, in what way, what they are wanted for) at the joint or place that is meant."""
    train = view.rig.train
    if tray.guide:
        return _before_guide_camera(bench, view, query)
    place = next((p for p in train if p.key in (tray.swap, tray.wheel)), None)
    if place is not None and tray.wheel is not None:
        return (), "", f"A filter for {place.name}"
    if place is not None:
        index = train.index_of(place)
        meant = f"In place of {place.name}"
    elif tray.at is not None and len(train):
        index = min(tray.at, len(train))
        meant = f"After {train.places[index - 1].name}" if index else f"Before {train.places[0].name}"
    else:
        return (), "", ""
    upper = train.places[index - 1].camera_connection if index else None
    lower_at = index + 1 if place is not None else index
    lower = train.places[lower_at].sky_connection if lower_at < len(train) else None
    if place is not None and place.part.kind in ("optical_tube", "camera"):
        query = replace(query, kind=place.part.kind)
    sides = [side for side in (upper, lower) if side is not None]
    lists = [tray_parts(bench.find_parts(replace(query, mates_with=side))) for side in sides]
    if not lists:
        return (), "", meant
    both = [item for item in lists[0] if all(item in other for other in lists[1:])]
    some = [item for found in lists for item in found if item not in both]
    fitting = tuple(dict.fromkeys([*both, *some]))[:FITTING_LINES]
    return fitting, "Mate at this joint", meant


def _before_guide_camera(
    bench: Workbench, view: BenchView, query: PartQuery
) -> tuple[tuple[CataloguedPart, ...], str, str]:
    """What mates at the end of the guide camera's branch as it stands, as `_fitting` says it."""
    rig = view.rig
    side = None if rig.guider is None else rig.guider.part
    upper = side.side_port if isinstance(side, OffAxisGuider) else None
    for place in rig.branch:
        if place.item.kind != "shim":
            upper = place.camera_connection
    meant = "Before the guide camera"
    if upper is None:
        return (), "", meant
    found = tray_parts(bench.find_parts(replace(query, mates_with=upper)))
    fitting = tuple(item for item in found if item.kind in BRANCH_KINDS)[:FITTING_LINES]
    return fitting, "Mate at the end of the guide chain", meant
