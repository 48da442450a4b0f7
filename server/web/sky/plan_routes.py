"""Several targets at once: the plan that prints, and the focal lengths that frame a list."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import Response

from server.domain.findings import Amount
from server.domain.guarded import Failed, worked
from server.domain.measure import nominal
from server.domain.parts import Camera, Corrector, OpticalTube
from server.domain.said import said
from server.domain.sky.focal import LEAST_FILL, MOST_FILL, FocalChoice, choose_focal
from server.domain.sky.target import credit
from server.flow.protocols import PartQuery
from server.flow.workbench import Workbench
from server.handed.routing import pages
from server.rim.cells import read_cells
from server.rim.phrasebook.tell import plain
from server.rim.sky_words import site_words
from server.rim.wording import write_amount
from server.web.deps import HeavyBench
from server.web.rendering import render_block, render_page, wants_block
from server.web.sky.asked import Chosen, Rigs, asked_of, plan_of
from server.web.sky.focal_page import (
    FILL_SPECS,
    USUAL_FILLS,
    FocalPage,
    TubeLine,
    answer,
    focal_svg,
    focal_text,
)
from server.web.sky.plan_page import MOST_TARGETS, PlanPage, answers, block_of

router = pages()

LONGEST = 80
MOST_TUBES = 12
Targets = Annotated[list[str], Query(max_length=50)]


@router.get("/sky/plan")
def show_plan(
    request: Request,
    bench: HeavyBench,
    site: Chosen = "",
    rig: Rigs = [],  # noqa: B006 - fastapi's
    target: Targets = [],  # noqa: B006 - fastapi's
) -> Response:
    """Several targets on several rigs."""
    asked = asked_of(request, bench, site, rig)
    listed = bench.targets()
    keys = tuple(dict.fromkeys(key[:LONGEST] for key in target)) or tuple(one.key for one in listed)
    keys = keys[:MOST_TARGETS]
    found = {one.name if not one.own else key: one for key in keys for one in (bench.target(key)[0],)}
    keys = tuple(found)
    views = tuple(plan_of(bench, one, asked) for one in found.values())
    page = PlanPage(
        sites=asked.site_names,
        site_id=asked.site_id,
        site_said="" if asked.site is None else site_words(asked.site.site),
        rigs=bench.rigs(),
        rig_ids=asked.rig_ids,
        listed=listed,
        keys=keys,
        said=answers(views),
        blocks=tuple(
            block_of(key, view, asked.wishes, bench.observer, asked.query)
            for key, view in zip(keys, views, strict=True)
        ),
        credit=credit(),
    )
    if wants_block(request):
        return render_block(request, page, "found")
    return render_page(request, page)


def _tubes(bench: Workbench, choice: FocalChoice) -> tuple[TubeLine, ...]:
    """The tubes of the shelf, each bare and with each reducer or extender there that is meant for it."""
    units = bench.observer.units

    def on_shelf(kind: str) -> list[tuple[int, str, object]]:
        query = PartQuery(bench.observer.id, kind=kind, holding="at_hand", limit=50)
        return [(one.item.id, one.item.name, one.item.part) for one in bench.find_parts(query).lines]

    def line(number: int, name: str, focal: float) -> TubeLine:
        framed = [bar.target.called for bar in choice.bars if bar.frames(focal)]
        frames = ", ".join(framed) if framed else "none of them"
        return TubeLine(number, name, focal, focal_text(focal, units), frames)

    found = []
    for number, name, part in on_shelf("optical_tube"):
        focal = nominal(part.focal_length_mm) if isinstance(part, OpticalTube) else None
        if focal is None or not isinstance(part, OpticalTube):
            continue
        found.append(line(number, name, focal))
        for _, other, corrector in on_shelf("corrector"):
            factor = nominal(corrector.factor) if isinstance(corrector, Corrector) else None
            if factor is None or factor == 1.0 or not isinstance(corrector, Corrector):
                continue
            if not corrector.for_designs or part.design in corrector.for_designs:
                found.append(line(number, f"{name} with {other}", focal * factor))
    found.sort(key=lambda one: -sum(bar.frames(one.focal_mm) for bar in choice.bars))
    return tuple(found[:MOST_TUBES])


@router.get("/sky/focal-lengths")
def show_focal_lengths(
    request: Request,
    bench: HeavyBench,
    rig: Chosen = "",
) -> Response:
    """Which focal lengths frame the observer's list on the sensor of a rig."""
    units, rigs = bench.observer.units, bench.rigs()
    numbers = {str(line.id): line.id for line in rigs}
    rig_id = numbers.get(rig) or next((line.id for line in rigs if line.parts), None)
    typed = {name: request.query_params.get(name, text)[:LONGEST] for name, text in USUAL_FILLS.items()}
    read, errors = read_cells(FILL_SPECS, typed, "sky", figures=True)
    least, most = (
        usual if one is None else one
        for one, usual in ((read.get("least"), LEAST_FILL), (read.get("most"), MOST_FILL))
    )
    if least >= most and not errors:
        errors["most"] = "At most must be more than at least. Swap them."
    camera = None
    if rig_id is not None:
        camera = bench.rigs_in_hand((rig_id,))[0][1].train.camera
    sensor = camera.part.sensor_mm if camera is not None and isinstance(camera.part, Camera) else None
    targets = [one.seen for one in bench.targets()]
    choice: FocalChoice | Failed | None = None
    if sensor is not None and targets and not errors:
        sides = sensor
        choice = worked(said("work.targets"), lambda: choose_focal(targets, sides, least, most))
    page = FocalPage(
        rigs=rigs,
        rig_id=rig_id,
        sensor=""
        if sensor is None
        else " x ".join(
            write_amount(Amount(value=side, dimension="length", digits=1), units) for side in sensor
        ),
        said="",
        picture=None,
        rows=(),
        tubes=(),
        typed=typed,
        errors=errors,
    )
    if isinstance(choice, Failed):
        page = replace(page, said=plain(choice.why))
    elif choice is not None:
        tubes, words = _tubes(bench, choice), answer(choice, units)
        rows = [
            (
                bar.target.called,
                f"{focal_text(bar.shortest_mm, units)} to {focal_text(bar.longest_mm, units)}",
            )
            for bar in choice.bars
        ]
        rows += [(one.called, "a point: its size is not listed") for one in choice.sizeless]
        page = replace(
            page,
            said=words,
            picture=focal_svg(choice, tubes, words, units) if choice.bars else None,
            rows=tuple(rows),
            tubes=tubes,
        )
    status = 422 if errors else 200
    if wants_block(request):
        return render_block(request, page, "found", status)
    return render_page(request, page, status)
