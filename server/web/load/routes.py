"""The load of a rig: what it weighs where, how it balances, what is lifted, and what is packed."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Query, Request
from fastapi.responses import HTMLResponse, Response
from markupsafe import escape

from server.domain.errors import FieldErrors, NotFoundError, StaleVersionError
from server.domain.load_plan import LOAD_WORDS
from server.flow.assemble_train import SetLoad
from server.flow.workbench import Workbench
from server.handed import Number
from server.handed.routing import pages
from server.rim.load_form import read_plan, understood, with_packing
from server.rim.purpose import with_purpose
from server.web.bench.routes import RigVersion
from server.web.deps import ReadingBench, WritingBench
from server.web.load.page import Typed, items_of, load_page, packing_page
from server.web.rendering import URLS, go_to, render_page

router = pages()

LONGEST = 200
MOST_FIELDS = 5000
"""A plan of 20 lifts with all their ticks has some 2000 fields."""
NOTHING = "nothing"
CHANGED = (
    "This rig was changed meanwhile, in another window, so nothing was stored. What you typed stands below: "
    "storing it now replaces that change."
)
LIFTS_CHANGED = (
    "This rig's lifts were changed meanwhile, in another window, so nothing was stored. The lifts stand "
    "below as they are now; all else as you typed it."
)


async def load_typed(request: Request) -> Typed:
    """The texts and the ticks of the form, read here since a long plan has more fields than are usual."""
    texts: dict[str, str] = {}
    ticked: dict[str, list[int]] = {}
    async with request.form(max_fields=MOST_FIELDS) as form:
        for name, text in form.multi_items():
            if not isinstance(text, str):
                continue
            if name.startswith("lift-") and name.endswith("-part"):
                if text.isascii() and text.isdigit():
                    key = name.removeprefix("lift-").removesuffix("-part")
                    ticked.setdefault(key, []).append(int(text[:16]))
            else:
                texts[name] = text[:LONGEST]
    version = texts.pop("version", "")
    number = int(version) if version.isascii() and version.isdigit() and len(version) < 16 else -1
    return Typed(texts, ticked, number)


async def packing_typed(request: Request) -> dict[int, str]:
    """The case typed for each part."""
    async with request.form() as form:
        typed = {
            name.removeprefix("case-"): text
            for name, text in form.items()
            if name.startswith("case-") and isinstance(text, str)
        }
    return {
        int(number): text[:LONGEST] for number, text in typed.items() if number.isascii() and number.isdigit()
    }


@router.get("/bench/{rig_id}/load")
def show_load(
    request: Request, bench: ReadingBench, rig_id: Number, kept: Annotated[str, Query(max_length=400)] = ""
) -> Response:
    """The load of one rig; `kept` names what was just stored, or says that nothing was changed."""
    observer, names = bench.observer, kept.split(".")
    view = bench.bench(rig_id)
    page = load_page(view, bench.sites(), observer.units, observer.id, kept=names, unchanged=kept == NOTHING)
    return render_page(request, page)


@router.post("/bench/{rig_id}/load")
def change_load(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    typed: Annotated[Typed, Depends(load_typed)],
) -> Response:
    """Keep all that the form says, and one lift or lead more or less where its button was pressed."""
    view = bench.bench(rig_id)
    known = [item.id for item in items_of(view)]
    before = view.stored.plan.load
    if typed.version != view.stored.version:
        return _refused(request, bench, rig_id, typed, stale=True)
    try:
        plan = read_plan(before, typed.texts, typed.ticked, known, typed.texts.get("do", ""))
    except FieldErrors as error:
        return _refused(request, bench, rig_id, Typed(typed.texts, typed.ticked, errors=error.errors))
    changed = [name for name in LOAD_WORDS if getattr(plan, name) != getattr(before, name)]
    if changed:
        try:
            bench.change_rig(rig_id, typed.version, SetLoad(load=plan))
        except StaleVersionError:
            return _refused(request, bench, rig_id, typed, stale=True)
    return go_to(request, URLS.load(rig_id, ".".join(changed) or NOTHING))


def _refused(request: Request, bench: Workbench, rig_id: int, typed: Typed, stale: bool = False) -> Response:
    """The page again with all that was typed: 422 with what is wrong, 409 where the rig was changed."""
    view, said = bench.bench(rig_id), ""
    if stale:
        said = CHANGED
        lifts = {name.split("-")[1] for name in typed.texts if name.startswith("lift-")} - {"new"}
        there = {str(number) for number in range(len(view.rig.load.lifts))}
        if lifts and lifts != there:
            # Figures typed for one lift must not be stored as another's.
            said = LIFTS_CHANGED
            gone = tuple(f"lift-{number}-" for number in lifts)
            texts = {name: text for name, text in typed.texts.items() if not name.startswith(gone)}
            typed = Typed(texts, {"new": typed.ticked.get("new", ())})
    page = load_page(view, bench.sites(), bench.observer.units, bench.observer.id, typed, said)
    return render_page(request, page, 409 if stale else 422)


async def purpose_typed(request: Request) -> frozenset[str]:
    """What is ticked of a rig's purpose."""
    async with request.form() as form:
        return frozenset(text for text in form.getlist("for") if isinstance(text, str))


@router.post("/bench/{rig_id}/purpose")
def change_purpose(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    ticked: Annotated[frozenset[str], Depends(purpose_typed)],
) -> Response:
    """Keep what the rig is for. Two ticks hang on nothing else of the rig, so that no version is asked."""
    view = bench.bench(rig_id)
    before = view.stored.plan.load
    plan = with_purpose(before, ticked)
    if plan != before:
        bench.change_rig(rig_id, view.stored.version, SetLoad(load=plan))
    return go_to(request, f"{URLS.rig(rig_id)}#purpose")


@router.get("/bench/load/understood")
def understand(request: Request) -> Response:
    """What is understood of one field as it is typed: one short line, or why it cannot be taken."""
    name, text = next(iter(request.query_params.items()), ("", ""))
    try:
        words = understood(name, text[:LONGEST])
    except FieldErrors as error:
        return HTMLResponse(f'<span class="not-understood">{escape(error.errors[name])}</span>')
    except KeyError:
        raise NotFoundError("The load has no such field.") from None
    return HTMLResponse(f"Understood: {escape(words)}" if words else "")


@router.get("/bench/{rig_id}/load/{rest:path}")
def lead_to_load(request: Request, rig_id: Number) -> Response:
    """Addresses beneath the load that a browser may have kept lead to its page."""
    return go_to(request, URLS.load(rig_id))


@router.get("/bench/{rig_id}/packing")
def show_packing(request: Request, bench: ReadingBench, rig_id: Number, kept: bool = False) -> Response:
    """What goes in which case, to print and tick."""
    return render_page(request, packing_page(bench.bench(rig_id), kept=kept))


@router.post("/bench/{rig_id}/packing")
def change_packing(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    version: RigVersion,
    packed: Annotated[dict[int, str], Depends(packing_typed)],
) -> Response:
    """Keep which part travels in which case."""
    view = bench.bench(rig_id)
    known = {item.id for item in items_of(view)}
    try:
        plan = with_packing(
            view.stored.plan.load, {number: name for number, name in packed.items() if number in known}
        )
    except FieldErrors as error:
        return render_page(request, packing_page(view, packed, error.errors), 422)
    try:
        bench.change_rig(rig_id, version, SetLoad(load=plan))
    except StaleVersionError:
        return render_page(request, packing_page(bench.bench(rig_id), packed, stale=CHANGED), 409)
    return go_to(request, URLS.packing(rig_id, kept=True))
