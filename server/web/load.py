"""The load of a rig: what it weighs where, how it balances, what is lifted, and what is packed."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response

from server.domain.errors import FieldErrors, StaleVersionError
from server.domain.load.plan import LoadPlan
from server.flow.assemble_train import SetLoad
from server.flow.workbench import Workbench
from server.rim.load_form import (
    LEAD_SPECS,
    LIFT_SPECS,
    LOAD_SPECS,
    read_load,
    with_cases,
    with_lead,
    with_lift,
)
from server.web.bench import RigVersion
from server.web.deps import ReadingBench, RowId, WritingBench
from server.web.load_page import items_of, load_page, packing_page
from server.web.rendering import URLS, go_to, render_page

router = APIRouter()

LONGEST = 200
CHANGED = "This rig was changed meanwhile, in another window. Here it is as it stands now: try again."


async def load_typed(request: Request) -> dict[str, str]:
    """What was typed of each field, "" for one that the form did not hold."""
    async with request.form() as form:
        typed = {spec.name: form.get(spec.name, "") for spec in (*LOAD_SPECS, *LIFT_SPECS, *LEAD_SPECS)}
    return {name: text[:LONGEST] for name, text in typed.items() if isinstance(text, str)}


async def cases_typed(request: Request) -> dict[int, str]:
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


Typed = Annotated[dict[str, str], Depends(load_typed)]


@router.get("/bench/{rig_id}/load")
def show_load(request: Request, bench: ReadingBench, rig_id: RowId) -> Response:
    """The load of one rig."""
    return render_page(request, load_page(bench.bench(rig_id), bench.observer.units))


@router.post("/bench/{rig_id}/load")
def change_load(
    request: Request, bench: WritingBench, rig_id: RowId, version: RigVersion, texts: Typed
) -> Response:
    """Keep what the owner says of balance, lifting limit and the Sun."""
    view = bench.bench(rig_id)
    try:
        plan = read_load(view.rig.load, texts)
    except FieldErrors as error:
        page = load_page(view, bench.observer.units, typed=texts, errors=error.errors)
        return render_page(request, page, 422)
    return _kept(request, bench, rig_id, version, plan)


@router.post("/bench/{rig_id}/load/lift")
def add_lift(
    request: Request,
    bench: WritingBench,
    rig_id: RowId,
    version: RigVersion,
    texts: Typed,
    part: Annotated[list[int] | None, Form(max_length=60)] = None,
) -> Response:
    """Keep one lift more."""
    view = bench.bench(rig_id)
    known = {item.id for item in items_of(view)}
    parts = [number for number in part or [] if number in known]
    try:
        plan = with_lift(view.rig.load, texts, parts)
    except FieldErrors as error:
        page = load_page(
            view, bench.observer.units, lift_typed=texts, lift_errors=error.errors, lifted=tuple(parts)
        )
        return render_page(request, page, 422)
    return _kept(request, bench, rig_id, version, plan)


@router.post("/bench/{rig_id}/load/lift/remove")
def remove_lift(
    request: Request,
    bench: WritingBench,
    rig_id: RowId,
    version: RigVersion,
    lift: Annotated[int, Form(ge=0, le=100)],
) -> Response:
    """Take a lift out of the plan; one that is not there stays away."""
    plan = bench.bench(rig_id).rig.load
    lifts = tuple(one for number, one in enumerate(plan.lifts) if number != lift)
    return _kept(request, bench, rig_id, version, plan.model_copy(update={"lifts": lifts}))


@router.post("/bench/{rig_id}/load/lead")
def add_lead(
    request: Request,
    bench: WritingBench,
    rig_id: RowId,
    version: RigVersion,
    texts: Typed,
    device: Annotated[int | None, Form(ge=1, le=2**53)] = None,
) -> Response:
    """Keep the lead of one device."""
    view = bench.bench(rig_id)
    part = device if device in {item.id for item in items_of(view)} else None
    try:
        plan = with_lead(view.rig.load, texts, part)
    except FieldErrors as error:
        page = load_page(
            view, bench.observer.units, lead_typed=texts, lead_errors=error.errors, lead_part=part
        )
        return render_page(request, page, 422)
    return _kept(request, bench, rig_id, version, plan)


@router.post("/bench/{rig_id}/load/lead/remove")
def remove_lead(
    request: Request,
    bench: WritingBench,
    rig_id: RowId,
    version: RigVersion,
    device: Annotated[int, Form(ge=1, le=2**53)],
) -> Response:
    """Take a lead out of the plan; one that is not there stays away."""
    plan = bench.bench(rig_id).rig.load
    cables = tuple(one for one in plan.cables if one.part_id != device)
    return _kept(request, bench, rig_id, version, plan.model_copy(update={"cables": cables}))


@router.get("/bench/{rig_id}/packing")
def show_packing(request: Request, bench: ReadingBench, rig_id: RowId) -> Response:
    """What goes in which case, to print and tick."""
    return render_page(request, packing_page(bench.bench(rig_id)))


@router.post("/bench/{rig_id}/packing")
def change_packing(
    request: Request,
    bench: WritingBench,
    rig_id: RowId,
    version: RigVersion,
    cases: Annotated[dict[int, str], Depends(cases_typed)],
) -> Response:
    """Keep which part travels in which case."""
    view = bench.bench(rig_id)
    known = {item.id for item in items_of(view)}
    try:
        plan = with_cases(view.rig.load, {number: case for number, case in cases.items() if number in known})
    except FieldErrors as error:
        return render_page(request, packing_page(view, cases=cases, errors=error.errors), 422)
    try:
        bench.change_rig(rig_id, version, SetLoad(load=plan))
    except StaleVersionError:
        page = packing_page(bench.bench(rig_id), cases=cases, errors={"stale": CHANGED})
        return render_page(request, page, 409)
    return go_to(request, URLS.packing(rig_id))


def _kept(request: Request, bench: Workbench, rig_id: int, version: int, plan: LoadPlan) -> Response:
    try:
        bench.change_rig(rig_id, version, SetLoad(load=plan))
    except StaleVersionError:
        return render_page(request, load_page(bench.bench(rig_id), bench.observer.units, CHANGED), 409)
    return go_to(request, URLS.load(rig_id))
