"""The sky: targets, one target on one's rigs, and its sketches."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import Response

from server.domain.errors import NotFoundError
from server.domain.guarded import Failed
from server.domain.sky.panels import Panels
from server.domain.sky.target import ListedTarget, credit
from server.flow.plan_sky import SkyWishes, TargetSky, panels_on
from server.flow.workbench import Workbench
from server.handed import Number
from server.handed.routing import pages
from server.rim.coordinates import write_declination, write_right_ascension
from server.rim.phrasebook.tell import plain
from server.rim.sky_wishes import unused
from server.rim.sky_words import panels_words
from server.web.deps import HeavyBench
from server.web.rendering import render_block, render_page, wants_block
from server.web.sky.asked import LONGEST, Asked, Chosen, Rigs, asked_of, plan_of
from server.web.sky.sketched import png_of
from server.web.sky.target_page import PanelLine, TargetPage, target_page

router = pages()


def panels_of(view: TargetSky, wishes: SkyWishes) -> Panels | Failed | None:
    """The panels of the first framed rig's mosaic, None without one."""
    return next((panels_on(one, view.target, wishes) for one in view.rigs if one.frame is not None), None)


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
    made = panels_of(view, asked.wishes)
    panels = None if isinstance(made, Failed) else made
    said_of = plain(made.why) if isinstance(made, Failed) else ""
    return target_page(
        view,
        key,
        listed,
        asked.site_names,
        bench.rigs(),
        asked.wishes,
        asked.typed,
        {**asked.errors, **unused(view, asked.wishes.depth)},
        asked.evening,
        panel_lines(panels),
        said_of
        if panels is None
        else panels_words(panels, next((one.depth for one in view.rigs if one.frame), None)),
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
    page = _page(bench, key[:LONGEST], listed, plan_of(bench, target, asked), asked)
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
    panels = panels_of(plan_of(bench, target, asked), asked.wishes)
    if panels is None or isinstance(panels, Failed):
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
    target, _ = bench.target(key[:LONGEST])
    asked = replace(asked_of(request, bench, site, [rig_id]), rig_ids=(rig_id,))
    (one,) = plan_of(bench, target, asked).rigs
    picture = png_of(one, target, asked.wishes.depth.hours, noise)
    if picture is None:
        raise NotFoundError("There is nothing to sketch yet: the target's page says what is missing.")
    return Response(picture, media_type="image/png", headers={"Cache-Control": "private, max-age=600"})
