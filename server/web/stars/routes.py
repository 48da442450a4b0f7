"""The stars that a rig draws, and several rigs' stars side by side. The address holds the whole state."""

from __future__ import annotations

from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import Response

from server.domain.stars.wishes import StarWishes
from server.flow.draw_stars import LEAST_COMPARED, MOST_COMPARED, StarView, draw_stars
from server.handed import Number
from server.handed.routing import pages
from server.rim.phrasebook.tell import asked_of
from server.rim.star_wishes import WISH_SPECS, read_wishes, wish_texts
from server.web.deps import HeavyBench
from server.web.entering import form_for
from server.web.rendering import URLS, render_block, render_page, wants_block
from server.web.stars.compare_page import SKY, compare_page
from server.web.stars.page import SHOWN, USUAL, Shown, stars_page

router = pages()

LONGEST = 200
"""What a field holds at most."""


def _shown(text: str) -> Shown:
    return next((key for key, _ in SHOWN if key == text), "pixels")


@router.get("/bench/stars")
def compare_stars(
    request: Request,
    bench: HeavyBench,
    rig: Annotated[list[int] | None, Query(max_length=20)] = None,
    shown: Annotated[str, Query(max_length=20)] = "pixels",
    linear: bool = False,
) -> Response:
    """Two to four rigs under the same sky: the one that is typed, else the first rig's."""
    rigs = bench.rigs()
    known = {line.id for line in rigs}
    chosen = tuple(number for number in dict.fromkeys(rig or ()) if number in known)
    trouble = ""
    if len(chosen) > MOST_COMPARED:
        trouble = f"{len(chosen)} chosen: tick two to four rigs."
    elif 0 < len(chosen) < LEAST_COMPARED:
        # One rig in the address comes from its own page: the others are still to be chosen.
        trouble = "One chosen: tick two to four rigs."
    texts = {name: request.query_params.get(name, "")[:LONGEST] for name in SKY}
    wishes, errors = read_wishes(texts)
    views: tuple[tuple[int, StarView], ...] = ()
    if chosen and not trouble:
        found = [(number, bench.bench(number).rig) for number in chosen]
        first = found[0][1].rules
        sky = StarWishes(
            seeing_arcsec=wishes.seeing_arcsec or first.seeing_arcsec,
            guiding_arcsec=first.guiding_arcsec if wishes.guiding_arcsec is None else wishes.guiding_arcsec,
        )
        texts = {name: texts[name] or text for name, text in wish_texts(sky).items() if name in SKY}
        views = tuple((number, draw_stars(rig, sky)) for number, rig in found)
    page = compare_page(
        tuple(rigs), chosen, views, trouble, texts, errors, _shown(shown), not linear, bench.observer.units
    )
    return render_page(request, page, 422 if errors or len(chosen) > MOST_COMPARED else 200)


def _kept(request: Request) -> dict[str, str]:
    """What the address keeps of a form: all that is not as usual anyway."""
    usual = {**USUAL, "shown": "pixels", "linear": ""}
    typed = {name: request.query_params.get(name, "")[:LONGEST] for name in usual}
    return {name: text for name, text in typed.items() if text and text != usual[name]}


@router.get("/bench/{rig_id}/stars")
def show_stars(request: Request, bench: HeavyBench, rig_id: Number) -> Response:
    """The stars of one rig; to htmx the pictures and numbers alone."""
    view = bench.bench(rig_id)
    texts = {spec.name: request.query_params.get(spec.name, "")[:LONGEST] for spec in WISH_SPECS}
    wishes, errors = read_wishes(texts)
    stars = draw_stars(view.rig, wishes)
    usual = wish_texts(wishes)
    typed = {name: text or usual[name] for name, text in texts.items()}
    items = [item for place in view.rig.train for item in (place.item, *place.inside)]
    items += [gear.item for gear in view.rig.gear]
    lacking = tuple(
        (words, form_for(words, items, bench.observer.id, rig_id)) for words in asked_of(stars.lacking)
    )
    page = stars_page(
        rig_id,
        stars,
        typed,
        errors,
        _shown(request.query_params.get("shown", "")),
        "linear" not in request.query_params,
        bench.observer.units,
        lacking,
    )
    if wants_block(request):
        answer = render_block(request, page, "stars", 422 if errors else 200)
        answer.headers["HX-Replace-Url"] = URLS.stars(rig_id, **_kept(request))
        return answer
    return render_page(request, page, 422 if errors else 200)
