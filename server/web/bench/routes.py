"""The Bench: one rig's train put together, checked after each change, undone, saved.

Every change is a plain form that posts; htmx and the dragging make it quick. An answer to htmx is the block
`bench` of the rig's page, so that drawing, run and findings always belong to one version.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any, Literal
from urllib.parse import parse_qsl

from fastapi import Depends, Form, Path, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field, ValidationError

from server.domain.errors import FieldErrors, NotFoundError, RefusedError, StaleVersionError, TrainwrightError
from server.domain.parts import KINDS, CataloguedPart, Filter, FilterWheel
from server.domain.said import said
from server.flow.assemble_train import CHANGE, Change, SetRules
from server.flow.views import BenchView
from server.flow.workbench import Workbench
from server.handed import Number
from server.handed.routing import pages
from server.rim.answer import counts_of, write_answer
from server.rim.changes import read_standings
from server.rim.forms import part_texts, read_part
from server.rim.phrasebook.tell import write_words
from server.rim.rules import RULE_SPECS, read_rules
from server.units import Limits, QuantityError, read_quantity
from server.web.bench.page import (
    BroughtBack,
    Offer,
    RigPage,
    RigsPage,
    WorkingPage,
    rig_page,
)
from server.web.bench.tray import Tray, fill_tray
from server.web.bench.turned import NOTHING_TURNED, Turned
from server.web.bench.unknowns import Settling
from server.web.deps import ReadingBench, WritingBench
from server.web.drawing import SIZES
from server.web.rendering import URLS, go_to, numbered, render_block, render_page, wants_block
from server.web.rig_card import cards_of

router = pages()

NO_CHANGE = "That is no change that the bench knows. Load the page again."
NOTHING_TYPED = "Type the figure, or press “I can't find out”."
RULE_LENGTH = 200
"""Characters of a typed rule that are looked at."""
DRAWN = "Trainwright-Drawn"
"""The header in which the page says which size of the section it shows."""
STOOD = "Trainwright-Stood"
"""The header in which the page says how the findings stood before a change."""

RigVersion = Annotated[int, Form(ge=0, le=2**53)]


# Rigs


@router.get("/bench")
def show_rigs(request: Request, bench: ReadingBench) -> Response:
    """All rigs of the observer."""
    return render_page(request, RigsPage(cards_of(bench, bench.rigs())))


@router.post("/bench")
def begin_rig(request: Request, bench: WritingBench, name: Annotated[str, Form()] = "") -> Response:
    """Begin a rig."""
    try:
        stored = bench.new_rig(name)
    except FieldErrors as error:
        return render_page(request, RigsPage(cards_of(bench, bench.rigs()), name, error.errors["name"]), 422)
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
    shown: bool = Field(default=False, alias="tray")
    brought: int | None = Field(default=None, ge=0, le=2**53)

    def tray(self) -> Tray:
        """An empty tray that looks for this."""
        kind = self.kind if self.kind in KINDS else ""
        asked = self.shown or bool(self.q or kind or self.whole)
        return Tray(self.q, kind, self.whole == "1", self.at, self.swap, self.wheel, self.guide, asked)


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
    press: str = Field(default="", max_length=2000)
    part_id: int | None = Field(default=None, ge=0, le=2**53)
    place: int | None = Field(default=None, ge=0, le=2**53)
    at: int | None = Field(default=None, ge=0, le=100)
    to: int | None = Field(default=None, ge=0, le=100)
    quantity: int | None = Field(default=None, ge=0, le=99)
    length: str = Field(default="", max_length=200)
    branch: bool = False
    field: str = Field(default="", max_length=60)
    ask: bool = False
    q: str = Field(default="", max_length=200)
    kind: str = Field(default="", max_length=40)
    whole: str = Field(default="", max_length=5)

    def tray(self) -> Tray:
        """The tray to come back to."""
        return TrayQuery(q=self.q, kind=self.kind, whole=self.whole).tray()

    def pressed(self) -> ChangeForm:
        """The form with what the pressed button says besides. Raises RefusedError where that is nothing."""
        if not self.press:
            return self
        try:
            return ChangeForm.model_validate(dict(parse_qsl(self.press)) | {"version": self.version})
        except ValidationError:
            raise RefusedError(NO_CHANGE) from None

    def change(self) -> Change:
        """The change that is meant. Raises RefusedError where the form says none."""
        wanted = {"verb", "part_id", "place", "at", "to", "quantity"}
        values = self.model_dump(include=wanted, exclude_none=True)
        values |= self.model_dump(include={"branch", "field", "ask"}, exclude_defaults=True)
        if values["verb"] == "set_length":
            try:
                read = read_quantity(self.length, "length", None, Limits(0.0, 500.0, True))
            except QuantityError as error:
                raise RefusedError(error.message) from None
            values["length_mm"] = read.nominal
        try:
            return CHANGE.validate_python(values)
        except ValidationError:
            raise RefusedError(NO_CHANGE) from None


@router.post("/bench/{rig_id}/change")
def change_rig(
    request: Request, bench: WritingBench, rig_id: Number, form: Annotated[ChangeForm, Form()]
) -> Response:
    """Make one change, and show what has become of the rig."""
    try:
        form = form.pressed()
        view = bench.change_rig(rig_id, form.version, form.change())
    except RefusedError as error:
        return _refused(request, bench, rig_id, form.tray(), error, form.part_id)
    except StaleVersionError as error:
        return _refused(request, bench, rig_id, form.tray(), error)
    return _changed(request, bench, view, form.tray(), _done(bench, view, form.version))


@router.post("/bench/{rig_id}/settle")
def settle(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    part_id: Annotated[int, Form(ge=0, le=2**53)],
    revision: Annotated[int, Form(ge=0, le=2**53)],
    field: Annotated[str, Form(max_length=60)],
    text: Annotated[str, Form(max_length=2000)] = "",
) -> Response:
    """Store a figure of a part that findings wait on, and show what has become of the rig."""
    item = bench.part(part_id)
    if revision != item.revision:
        why = f"{item.name} was changed elsewhere since this page was opened, so nothing was stored."
        return _not_settled(request, bench, rig_id, Settling(part_id, field, text, why), 409)
    try:
        if field not in part_texts(item.part):
            raise RefusedError(NO_CHANGE)
        if not text.strip():
            raise FieldErrors({field: NOTHING_TYPED})
        part = read_part(item.kind, {**part_texts(item.part), field: text})
        bench.change_part(part_id, item.revision, part)
    except FieldErrors as error:
        why = error.errors.get(field) or next(iter(error.errors.values()))
        return _not_settled(request, bench, rig_id, Settling(part_id, field, text, why), 422)
    except RefusedError as error:
        return _refused(request, bench, rig_id, Tray(), error)
    return _changed(request, bench, bench.bench(rig_id), Tray(), f"Stored on {item.name}")


def _not_settled(
    request: Request, bench: Workbench, rig_id: int, settling: Settling, status: int
) -> Response:
    """The figure in its field with why it was not stored; above all else where nothing asks for it now."""
    page = _page(bench, bench.bench(rig_id), Tray(), settling=settling)
    if not any(one.error and one.spec for one in page.unknown.asked):
        typed = f" “{settling.typed}” was typed." if settling.typed.strip() else ""
        page = replace(page, trouble=settling.error + typed)
    return _answer(request, page, status)


@router.post("/bench/{rig_id}/copy")
def copy_rig(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    swap: Annotated[int | None, Form(ge=0, le=2**53)] = None,
) -> Response:
    """Copy a rig; with `swap`, the copy is shown with what may take that place."""
    return go_to(request, URLS.rig(bench.copy_rig(rig_id).id, swap=swap) + ("" if swap is None else "#tray"))


@router.get("/bench/{rig_id}/working/{code}")
def show_working(
    request: Request,
    bench: ReadingBench,
    rig_id: Number,
    code: Annotated[str, Path(max_length=80)],
    place: Annotated[int | None, Query(ge=0, le=2**53)] = None,
    nth: Annotated[int, Query(ge=1, le=1000)] = 1,
) -> Response:
    """How one finding was worked out; to htmx, the working alone."""
    view = bench.bench(rig_id)
    for finding, number in numbered(view.findings):
        if (finding.code, finding.place, number) == (code, place, nth):
            page = WorkingPage(rig_id, view.stored.name, finding)
            return (
                render_block(request, page, "working") if wants_block(request) else render_page(request, page)
            )
    raise NotFoundError("That is not found any longer: the rig has changed. Load its page again.")


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
    drawn = request.headers.get(DRAWN, "")
    sizes = tuple(size for size in SIZES if size == drawn) or SIZES
    stood = read_standings(request.headers.get(STOOD, ""))
    turned = NOTHING_TURNED if stood is None else Turned.since(stood, view.short_findings)
    page = _on_page(bench, view, Tray(), sizes=sizes, turned=turned)
    now = write_answer(page.answer, bench.observer.units) if stood is None else turned.words()
    # A sentence that equals the one before is not read out again: every other one ends in a space.
    end = "\N{NO-BREAK SPACE}" if view.stored.version % 2 else ""
    return render_block(request, replace(page, status=f"{done}. {now}{end}"), "bench")


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
    as_it_was = stored.undo_words == back or view.plan == entry.document.plan
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
