"""The list of targets: the catalogue looked through, and the observer's own."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import Response

from server.domain.guarded import Failed, worked
from server.domain.said import said
from server.domain.sky.finding import Found, find_targets, lines_of
from server.domain.sky.frame import Frame, frame_of
from server.domain.sky.target import credit
from server.domain.sky.when import tonight
from server.domain.workings.case import Case
from server.flow.workbench import Workbench
from server.handed.routing import pages
from server.rim.phrasebook.tell import plain
from server.rim.sky_query import QUERY_SPECS, read_query
from server.web.deps import HeavyBench
from server.web.rendering import render_block, render_page, wants_block
from server.web.sky.list_page import sky_page, usual_texts

router = pages()

LINES_A_PAGE = 30
LONGEST = 80
Chosen = Annotated[str, Query(max_length=16)]


def frame_at_hand(bench: Workbench, rig_id: int | None) -> Frame | None:
    """The frame of a rig, None where it has none."""
    if rig_id is None:
        return None
    ((_, rig),) = bench.rigs_in_hand((rig_id,))
    frame = frame_of(Case(rig))
    return frame if isinstance(frame, Frame) else None


@router.get("/sky")
def show_sky(
    request: Request,
    bench: HeavyBench,
    q: Annotated[str, Query(max_length=LONGEST)] = "",
    site: Chosen = "",
    rig: Chosen = "",
    mine: bool = False,
    offset: Annotated[int, Query(alias="from", ge=0, le=100_000)] = 0,
) -> Response:
    """Targets: the catalogue, or the observer's own list."""
    rigs, sites, listed = bench.rigs(), bench.sites(), bench.targets()
    numbers = {str(line.id): line.id for line in rigs}
    rig_id = numbers.get(rig) or next((line.id for line in rigs if line.parts), None)
    usual_site = bench.rigs_in_hand((rig_id,))[0][0].site_id if rig_id is not None else None
    wanted = int(site) if site.isascii() and site.isdigit() else usual_site
    at = next((one for one in sites if one.id == wanted), sites[0] if sites else None)
    today = tonight(at.site.zone if at else "UTC")
    named = {name: request.query_params[name][:LONGEST] for name in _FIELDS if name in request.query_params}
    # A search by a name looks everywhere, unless the address says more.
    begins = {} if q.strip() else usual_texts(today)
    typed = dict.fromkeys(_FIELDS, "") | (named if "kind" in request.query_params else begins)
    query, errors = read_query(typed, q, today.year, offset, LINES_A_PAGE)
    frame, place = frame_at_hand(bench, rig_id), None if at is None else at.site

    def found() -> Found:
        if not mine:
            return find_targets(query, place, frame)
        some = listed[offset : offset + LINES_A_PAGE]
        own = lines_of([one.seen for one in some], query.month, query.year, place, frame)
        return Found(tuple(own), len(listed))

    done = worked(said("work.targets"), found)
    trouble = plain(done.why) if isinstance(done, Failed) else ""
    asked = {**{k: v for k, v in typed.items() if v}, "q": q, "site": site, "rig": rig, "mine": mine}
    page = sky_page(
        Found((), 0) if isinstance(done, Failed) else done,
        listed,
        mine,
        query,
        {**typed, "q": q},
        errors,
        asked,
        sites,
        at,
        rigs,
        rig_id,
        frame,
        credit(),
        trouble,
    )
    status = 422 if errors else 200
    if wants_block(request):
        return render_block(request, page, "found", status)
    return render_page(request, page, status)


_FIELDS = tuple(spec.name for spec in QUERY_SPECS)
