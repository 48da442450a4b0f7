"""The sky: targets, one target on one's rigs, and its sketches."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from server.domain.errors import NotFoundError
from server.domain.sky.around import around
from server.domain.sky.frame import Frame
from server.domain.sky.panels import Panels, work_panels
from server.domain.sky.site import StoredSite
from server.domain.sky.sketch import work_sketch
from server.domain.sky.target import ListedTarget, Target, credit
from server.domain.sky.when import tonight
from server.flow.plan_sky import MOST_RIGS, SkyWishes, TargetSky, plan_target
from server.flow.workbench import Workbench
from server.handed import Number
from server.rim.coordinates import write_declination, write_right_ascension
from server.rim.sky_wishes import WISH_SPECS, read_wishes, wish_texts
from server.rim.sky_words import panels_words
from server.web.deps import HeavyBench
from server.web.rendering import render_block, render_page, wants_block
from server.web.sky.kept_routes import router as kept
from server.web.sky.list_routes import router as lists
from server.web.sky.target_page import PanelLine, TargetPage, target_page

router = APIRouter()
router.include_router(kept)
router.include_router(lists)

LONGEST = 80
Rigs = Annotated[list[int], Query(max_length=20)]
Chosen = Annotated[str, Query(max_length=16)]


@dataclass(frozen=True)
class Asked:
    """What an address asks of the sky.

    Attributes:
        site: None where the observer has none. rig_ids: at most MOST_RIGS.
        evening: the night that is planned for.
        query: the address's own choices, without those that say nothing new.
    """

    site: StoredSite | None
    sites: tuple[StoredSite, ...]
    rig_ids: tuple[int, ...]
    wishes: SkyWishes
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    evening: date
    query: dict[str, Any]


def asked_of(request: Request, bench: Workbench, site: str, rig: list[int]) -> Asked:
    """Read an address: what is not named is as the observer usually has it."""
    texts = {spec.name: request.query_params.get(spec.name, "")[:LONGEST] for spec in WISH_SPECS}
    given = {name: text for name, text in texts.items() if name in request.query_params}
    typed = {**wish_texts(SkyWishes()), **given}
    wishes, errors = read_wishes(typed)
    lines = bench.rigs()
    own = {line.id for line in lines}
    chosen = tuple(dict.fromkeys(number for number in rig if number in own))[:MOST_RIGS]
    if not rig and lines:
        chosen = (next((line.id for line in lines if line.parts), lines[0].id),)
    sites = bench.sites()
    number = int(site) if site.isascii() and site.isdigit() else None
    if number is None and chosen:
        number = bench.rigs_in_hand(chosen[:1])[0][0].site_id
    at = next((one for one in sites if one.id == number), sites[0] if sites else None)
    evening = wishes.evening or tonight(at.site.zone if at else "UTC")
    usual = wish_texts(SkyWishes())
    query: dict[str, Any] = {name: text for name, text in given.items() if text != usual[name]}
    query |= {"site": at.id if at else None, "rig": list(chosen)}
    return Asked(at, sites, chosen, wishes, typed, errors, evening, query)


def _view(bench: Workbench, target: Target, asked: Asked) -> TargetSky:
    return plan_target(target, asked.site, bench.rigs_in_hand(asked.rig_ids), asked.wishes, asked.evening)


def panels_of(view: TargetSky, wishes: SkyWishes) -> Panels | None:
    """The panels of the first rig's mosaic, None without one."""
    first = next((one for one in view.rigs if one.frame is not None), None)
    if first is None or first.frame is None or wishes.rows * wishes.columns == 1:
        return None
    shape = wishes.rows, wishes.columns, wishes.overlap, wishes.fixed
    return work_panels(view.target, first.frame, first.framed.angle_deg, *shape)


def panel_lines(panels: Panels | None) -> tuple[PanelLine, ...]:
    """Each panel in words."""
    if panels is None:
        return ()
    return tuple(
        PanelLine(
            f"row {one.row + 1}, column {one.column + 1}",
            write_right_ascension(one.ra_deg),
            write_declination(one.dec_deg),
            f"{one.angle_deg:.1f}°",
        )
        for one in panels.panels
    )


def _page(
    bench: Workbench, key: str, listed: ListedTarget | None, view: TargetSky, asked: Asked
) -> TargetPage:
    panels = panels_of(view, asked.wishes)
    return target_page(
        view,
        key,
        listed,
        tuple((one.id, one.site.name) for one in asked.sites),
        bench.rigs(),
        asked.wishes,
        asked.typed,
        asked.errors,
        asked.evening,
        panel_lines(panels),
        "" if panels is None else panels_words(panels),
        "" if view.target.own else credit(),
        asked.query,
        bench.observer,
    )


@router.get("/sky/at/{key}")
def show_target(
    request: Request,
    bench: HeavyBench,
    key: str,
    site: Chosen = "",
    rig: Rigs = [],  # noqa: B006 - fastapi's
) -> Response:
    """One target under the sky of a site, on one rig or several."""
    target, listed = bench.target(key[:LONGEST])
    asked = asked_of(request, bench, site, rig)
    page = _page(bench, key[:LONGEST], listed, _view(bench, target, asked), asked)
    status = 422 if asked.errors else 200
    if wants_block(request):
        return render_block(request, page, "found", status)
    return render_page(request, page, status)


@router.get("/sky/at/{key}/panels.csv")
def show_panels(
    request: Request,
    bench: HeavyBench,
    key: str,
    site: Chosen = "",
    rig: Rigs = [],  # noqa: B006 - fastapi's
) -> Response:
    """The panels of a mosaic as CSV, in degrees and as people write them."""
    target, _ = bench.target(key[:LONGEST])
    asked = asked_of(request, bench, site, rig)
    panels = panels_of(_view(bench, target, asked), asked.wishes)
    if panels is None:
        raise NotFoundError("This is one frame, no mosaic. Ask for more panels across or up.")
    file = io.StringIO()
    lines = csv.writer(file)
    lines.writerow(("panel", "ra J2000", "dec J2000", "ra deg", "dec deg", "upper side from north, deg"))
    for one, words in zip(panels.panels, panel_lines(panels), strict=True):
        place = f"{one.ra_deg:.5f}", f"{one.dec_deg:.5f}", f"{one.angle_deg:.2f}"
        lines.writerow((words.name, words.ra, words.dec, *place))
    name = "".join(sign if sign.isalnum() else "-" for sign in target.called)
    headers = {"Content-Disposition": f'attachment; filename="panels-{name}.csv"'}
    return Response(file.getvalue(), media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/sky/at/{key}/sketch/{rig_id}.png")
def show_sketch(
    request: Request,
    bench: HeavyBench,
    key: str,
    rig_id: Number,
    noise: Annotated[float, Query(gt=1e-6, le=100.0)],
    site: Chosen = "",
) -> Response:
    """A sketch after the hours that the address says."""
    from PIL import Image

    target, _ = bench.target(key[:LONGEST])
    asked = asked_of(request, bench, site, [rig_id])
    asked = replace(asked, rig_ids=(rig_id,))
    (one,) = _view(bench, target, asked).rigs
    frame: Frame | None = one.frame
    if one.depth is None or one.stars is None or frame is None:
        raise NotFoundError("There is nothing to sketch yet: the target's page says what is missing.")
    held = around(target, max(frame.sides_arcmin))
    hours = asked.wishes.depth.hours * 3600.0
    grey = work_sketch(frame, one.stars, one.depth, target, held, one.framed.angle_deg, hours, noise)
    file = io.BytesIO()
    Image.fromarray(grey).save(file, "PNG", compress_level=1)
    return Response(
        file.getvalue(), media_type="image/png", headers={"Cache-Control": "private, max-age=600"}
    )
