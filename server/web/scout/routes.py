"""The Scout: rigs worth considering, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated

from fastapi import Form, Query, Request
from fastapi.responses import Response
from starlette.datastructures import QueryParams

from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.domain.observer import Holding
from server.domain.scout.candidates import MOST_COMBINATIONS, Candidate, Choice, read_key
from server.flow.assemble_train import SwapPart
from server.flow.protocols import PartQuery
from server.flow.scout import choice_of
from server.flow.take_candidate import parts_named
from server.flow.workbench import Workbench
from server.handed import Number
from server.handed.routing import pages
from server.rim.forms import read_part
from server.web.deps import HeavyBench, WritingBench
from server.web.rendering import URLS, go_to, render_block, render_page, wants_block
from server.web.scout.alike_page import alike_page
from server.web.scout.asked import LONGEST, MOST, Asked, answer_of, asked_of, query_of
from server.web.scout.beside_page import beside_page
from server.web.scout.page import QUICK_FIELDS, Choosable, KeptLine, ScoutPage, scout_page
from server.web.scout.stops_page import LEAST_WIDE, MOST_ROWS, MOST_WIDE, Sofar, stops_page
from server.web.scout.table import csv_of
from server.web.scout.upgrade_page import BETTERED, upgrade_page
from server.web.shelf.typed import Typed
from server.web.sky.sketched import sketch_png

router = pages()


def _choosable(bench: Workbench, kind: str, chosen: tuple[int, ...]) -> tuple[Choosable, ...]:
    """What of a kind stands on the shelf; what is owned comes first."""
    lines = bench.find_parts(PartQuery(bench.observer.id, kind=kind, holding="at_hand", limit=50)).lines
    ordered = sorted(lines, key=lambda line: not line.holding.owned)
    return tuple(Choosable(str(line.item.id), line.item.name, line.item.id in chosen) for line in ordered)


def _lacks(choice: Choice, asked: Asked) -> tuple[tuple[str, str], ...]:
    """What to enter first, each with its address."""
    found = []
    if not choice.tubes:
        found.append(("a tube that you own or consider", URLS.new_part("optical_tube")))
    if not choice.cameras:
        found.append(("a camera", URLS.new_part("camera")))
    if not asked.targets:
        found.append(("a target on your list, for framing and hours", URLS.sky()))
    if asked.site is None:
        found.append(("your site, for the hours", URLS.site()))
    elif asked.site.site.sky is None:
        found.append(("how dark the sky of your site is, for the hours", URLS.site(asked.site.id)))
    return tuple(found)


@router.get("/scout")
def show_scout(request: Request, bench: HeavyBench) -> Response:
    """One's needs, and what meets them."""
    page = _page(request, bench, {}, {})
    status = 422 if page.errors else 200
    if wants_block(request):
        answer = render_block(request, page, "found enter_back", status)
        answer.headers["HX-Replace-Url"] = URLS.scout(**page.query)
        return answer
    return render_page(request, page, status)


@router.post("/scout/candidate")
def add_candidate(request: Request, bench: WritingBench, typed: Typed) -> Response:
    """Enter a tube from a few figures; it is considered."""
    texts = {name: typed.get(name, "") for name in QUICK_FIELDS}
    given = QueryParams(typed.get("back", "").partition("?")[2])
    try:
        bench.add_part(read_part("optical_tube", texts), Holding(considered=1))
    except FieldErrors as error:
        return render_page(request, _page(request, bench, texts, error.errors, given), 422)
    return go_to(request, URLS.scout(**asked_of(request, bench, given).query))


def _page(
    request: Request,
    bench: Workbench,
    entered: Mapping[str, str],
    refused: Mapping[str, str],
    given: QueryParams | None = None,
) -> ScoutPage:
    asked, trouble = asked_of(request, bench, given), ""
    try:
        choice, answer = answer_of(bench, asked)
    except RefusedError as error:
        choice, answer = Choice((), (None,), (), (None,), frozenset()), None
        trouble = str(error.message)
    return scout_page(
        answer,
        trouble,
        () if trouble else _lacks(choice, asked),
        asked.needs,
        asked.typed,
        asked.errors,
        tuple((one.id, one.site.name) for one in bench.sites()),
        None if asked.site is None else asked.site.id,
        bench.targets(),
        _choosable(bench, "camera", asked.needs.cameras),
        _choosable(bench, "mount", asked.needs.mounts),
        asked.query,
        tuple((one.name, URLS.upgrades(one.id, **asked.query)) for one in bench.rigs()),
        tuple(KeptLine(one.id, one.name, URLS.scout(**query_of(one.needs))) for one in bench.kept_needs()),
        bench.observer,
        entered,
        refused,
    )


@router.post("/scout/keep")
def keep_needs(
    request: Request, bench: WritingBench, name: Annotated[str, Form(max_length=LONGEST)] = ""
) -> Response:
    """Keep these needs by a name, in place of those that have it."""
    asked = asked_of(request, bench)
    bench.keep_needs(" ".join(name.split()) or "Needs", asked.needs)
    return go_to(request, URLS.scout(**asked.query))


@router.post("/scout/kept/{needs_id}/forget")
def forget_needs(request: Request, bench: WritingBench, needs_id: Number) -> Response:
    """Forget needs that were kept."""
    bench.forget_needs(needs_id)
    return go_to(request, URLS.scout())


@router.get("/scout/all.csv")
def show_all(request: Request, bench: HeavyBench) -> Response:
    """Every combination with every measure, in fixed units; what is not known is empty."""
    asked = asked_of(request, bench)
    _, answer = answer_of(bench, asked)
    headers = {"Content-Disposition": 'attachment; filename="scout.csv"'}
    return Response(csv_of(answer), media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/scout/from/{rig_id}")
def show_upgrades(request: Request, bench: HeavyBench, rig_id: Number, better: str = "hours") -> Response:
    """What would better a rig most for the money."""
    asked = asked_of(request, bench)
    ((_, rig),) = bench.rigs_in_hand((rig_id,))
    _, answer = answer_of(bench, asked)
    if answer is None:
        return go_to(request, URLS.scout())
    name = next((one for one in BETTERED if one == better), BETTERED[0])
    return render_page(request, upgrade_page(rig_id, rig, answer, name, asked.query, bench.observer))


def _candidates(request: Request, most: int = MOST) -> tuple[Candidate, ...]:
    read = (read_key(text[:LONGEST]) for text in request.query_params.getlist("c")[:most])
    return tuple(dict.fromkeys(one for one in read if one is not None))


@router.get("/scout/beside")
def show_beside(request: Request, bench: HeavyBench) -> Response:
    """One combination, or several side by side."""
    asked = asked_of(request, bench)
    _, answer = answer_of(bench, asked)
    candidates = _candidates(request)
    if "c" not in request.query_params:
        page = replace(_page(request, bench, {}, {}), unticked=True)
        return render_page(request, page, 422)
    if answer is None or not candidates:
        raise NotFoundError("There is no combination of these parts here. Look with the Scout again.")
    return render_page(request, beside_page(bench, answer, candidates, asked.query))


@router.get("/scout/stops")
def show_stops(
    request: Request,
    bench: HeavyBench,
    looked: Annotated[int, Query(ge=0, le=MOST_ROWS)] = 0,
    stops: Annotated[int, Query(ge=0, le=MOST_ROWS)] = 0,
    wide: Annotated[int, Query(ge=LEAST_WIDE, le=MOST_WIDE)] = LEAST_WIDE,
    rests: bool = False,
) -> Response:
    """What the bench says of some combinations: pieces for the rows of a table, or a page of its own."""
    asked = asked_of(request, bench)
    choice = choice_of(bench.store, bench.observer.id, asked.needs)
    seeing = None if asked.site is None else asked.site.site.seeing_arcsec
    piece = wants_block(request)
    page = stops_page(
        bench,
        choice,
        _candidates(request, MOST_ROWS),
        asked.query,
        seeing,
        Sofar(looked, stops, rests, wide),
        piece,
    )
    return render_block(request, page, "marks") if piece else render_page(request, page)


@router.get("/scout/alike")
def show_alike(
    request: Request,
    bench: HeavyBench,
    offset: Annotated[int, Query(alias="from", ge=0, le=MOST_COMBINATIONS)] = 0,
) -> Response:
    """What is practically equal to a combination of the front, which stands for it."""
    asked = asked_of(request, bench)
    _, answer = answer_of(bench, asked)
    number = None if answer is None else next(map(answer.table.number_of, _candidates(request)), None)
    if answer is None or number is None:
        raise NotFoundError("There is no combination of these parts here. Look with the Scout again.")
    return render_page(request, alike_page(answer, number, offset, asked.query, bench.observer))


@router.get("/scout/sketch/{key}.png")
def show_sketch(request: Request, bench: HeavyBench, key: str, stretch: str = "") -> Response:
    """The first target on a combination after five hours."""
    asked = asked_of(request, bench)
    candidate, choice = read_key(key[:LONGEST]), choice_of(bench.store, bench.observer.id, asked.needs)
    rig = None if candidate is None else choice.of(candidate)
    site = None if asked.site is None else asked.site.site
    if rig is None or site is None or not asked.targets:
        raise NotFoundError("There is nothing to sketch: a site, a target and a combination are needed.")
    first = read_key(stretch[:LONGEST])
    like = None if first is None else choice.of(first)
    picture = sketch_png(rig, asked.targets[0], site, like)
    if picture is None:
        raise NotFoundError("There is nothing to sketch yet: figures of its parts are missing.")
    return Response(picture, media_type="image/png", headers={"Cache-Control": "private, max-age=600"})


@router.post("/scout/take")
def take_candidate(
    request: Request, bench: WritingBench, c: Annotated[str, Form(max_length=LONGEST)]
) -> Response:
    """Put a combination on the bench: its rings by the Bridge, what is not owned on the wish list."""
    parts = parts_named(bench.store, bench.observer.id, c)
    return go_to(request, URLS.rig(bench.take_candidate(parts).id))


@router.post("/scout/swap")
def swap_tube(
    request: Request,
    bench: WritingBench,
    c: Annotated[str, Form(max_length=LONGEST)],
    rig: Annotated[Number, Form()],
) -> Response:
    """Put a combination's tube into a rig that is there; the bench takes it back by undo."""
    tube = parts_named(bench.store, bench.observer.id, c)[0]
    ((stored, there),) = bench.rigs_in_hand((rig,))
    if there.train.tube is None:
        raise RefusedError(f"{stored.name} has no tube to swap: put this one in on the bench.")
    bench.change_rig(stored.id, stored.version, SwapPart(place=there.train.tube.key, part_id=tube.id))
    return go_to(request, URLS.rig(rig))
