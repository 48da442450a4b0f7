"""The Bridge: from a gap on the bench to the stacks that close it, and one of them put in.

The page's address holds the whole state. A search that is not done within half a second goes on in a thread:
htmx asks after it, a browser without scripts loads the page once more and waits.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import Annotated, cast

from fastapi import Form, Query, Request
from fastapi.responses import Response

from server.domain.connections import ConnectionTextError, opposite, print_connection, read_connection
from server.domain.connections.printing import size_text
from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.flow.assemble_train import ReplaceStack, StackUse
from server.flow.views import BridgeView
from server.flow.workbench import Workbench
from server.handed import Number
from server.handed.routing import pages
from server.rim.forms import read_part
from server.web.bridge.jobs import Search, Searches
from server.web.bridge.page import BridgePage, RefusedRing
from server.web.bridge.query import BridgeQuery, read_uses, read_wishes
from server.web.bridge.writer import Writer
from server.web.deps import PatientBench, WritingBench
from server.web.rendering import URLS, go_to, render_block, render_page, wants_block

router = pages()

QUICK_S = 0.5
"""A search that takes longer shows its progress."""
PATIENT_S = 20.0
"""How long a browser without scripts is let wait."""
State = Annotated[BridgeQuery, Query()]
Whole = Annotated[int, Form(ge=0, le=2**53)]


@router.get("/bench/{rig_id}/bridge")
def show_bridge(request: Request, bench: PatientBench, rig_id: Number, query: State) -> Response:
    """The gap that is meant, and the stacks that close it; to htmx, the stacks alone."""
    wishes, errors = read_wishes(query)
    view = bench.bridge(rig_id, wishes)
    search = None if errors else _search(request, bench, view, query)
    if search is not None:
        search.wait(PATIENT_S if query.wait else QUICK_S)
    page = _page(bench, view, query, errors, search)
    if wants_block(request):
        return render_block(request, page, "answers")
    return render_page(request, page, 422 if errors or view.trouble else 200)


@router.post("/bench/{rig_id}/bridge/stop")
def stop_search(request: Request, bench: PatientBench, rig_id: Number, query: State) -> Response:
    """Stop a search; what it has found stays."""
    wishes, errors = read_wishes(query)
    view = bench.bridge(rig_id, wishes)
    search = None if errors else _search(request, bench, view, query)
    if search is not None:
        search.stop()
        search.wait(QUICK_S)
    if wants_block(request):
        return render_block(request, _page(bench, view, query, errors, search), "answers")
    return go_to(request, URLS.bridge(rig_id, **query.state()))


@router.post("/bench/{rig_id}/bridge/put")
def put_stack(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    version: Whole,
    sky: Whole,
    camera: Whole,
    uses: Annotated[str, Form(max_length=2000)] = "",
    branch: Annotated[str | None, Form(max_length=1000)] = None,
) -> Response:
    """Put a stack in, and show the mended rig; undo takes it back."""
    read, guide = read_uses(uses), None if branch is None else read_uses(branch)
    if read is None or (branch is not None and guide is None):
        raise RefusedError("That is no stack that the Bridge offered. Open the Bridge from the bench again.")
    change = ReplaceStack(
        sky=sky, camera=camera, uses=_uses(read), branch=None if guide is None else _uses(guide)
    )
    bench.change_rig(rig_id, version, change)
    return go_to(request, URLS.rig(rig_id))


@router.post("/bench/{rig_id}/bridge/wish")
def wish_for_ring(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    query: State,
    seat: Annotated[str, Form(max_length=100)],
    length: Annotated[str, Form(max_length=100)] = "",
) -> Response:
    """Put a ring that would close the gap on the wish list, and show the gap again."""
    try:
        onto = read_connection(seat)
        texts = {
            "model": f"Ring {size_text(onto)}, {length.strip()}",
            "sky_side": print_connection(opposite(onto)),
            "camera_side": seat,
            "length_mm": length,
        }
        if not length.strip():
            raise FieldErrors({"length_mm": "Say how long it is."})
        ring = read_part("spacer_ring", texts)
    except ConnectionTextError as error:
        raise RefusedError(error.message) from None
    except FieldErrors as error:
        wishes, errors = read_wishes(query)
        view = bench.bridge(rig_id, wishes)
        search = None if errors else _search(request, bench, view, query)
        if search is not None:
            search.wait(QUICK_S)
        refused = RefusedRing(seat, length, " ".join(error.errors.values()))
        return render_page(request, replace(_page(bench, view, query, errors, search), refused=refused), 422)
    item = bench.wish_for(ring)
    return go_to(request, URLS.bridge(rig_id, **query.state(wished=item.id)))


def _uses(read: tuple[tuple[int, bool, int | None], ...]) -> tuple[StackUse, ...]:
    return tuple(StackUse(part_id=part, flipped=flipped, place=place) for part, flipped, place in read)


def _search(request: Request, bench: Workbench, view: BridgeView, query: BridgeQuery) -> Search | None:
    if view.posed is None:
        return None
    searches = cast(Searches, request.app.state.searches)
    return searches.of(view.key, view.posed, bench.observer.id, query.again)


def _page(
    bench: Workbench, view: BridgeView, query: BridgeQuery, errors: dict[str, str], search: Search | None
) -> BridgePage:
    names = {place.item.id: place.name for place in view.rig.train}
    for number in (*query.without, *(part for pair in query.pairs for part in pair)):
        try:
            names.setdefault(number, bench.part(number).name)
        except NotFoundError:
            # An old address may name a part that has left the catalogue.
            continue
    wished = None
    if query.wished is not None:
        with suppress(NotFoundError):
            wished = bench.part(query.wished)
    page = Writer(view, query, bench.observer.units, names).page(errors, search)
    return replace(page, wished=wished)
