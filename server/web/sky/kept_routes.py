"""Sites and lists of targets: the routes that keep them."""

from __future__ import annotations

from typing import Annotated

from fastapi import Form, Query, Request
from fastapi.responses import Response

from server.domain.errors import FieldErrors, StaleVersionError
from server.handed import Number
from server.handed.routing import pages
from server.rim.sky_forms import read_site, read_target, site_texts, target_texts
from server.web.deps import ReadingBench, WritingBench
from server.web.rendering import URLS, came_from, go_to, render_page
from server.web.shelf.typed import Typed
from server.web.sky.kept_pages import own_target_page, site_page

router = pages()

STALE = (
    "This was changed meanwhile, in another window, so nothing was stored. What you typed stands below: "
    "storing it now replaces that change."
)
Key = Annotated[str, Query(max_length=80)]


def _revision(typed: Typed) -> int:
    text = typed.get("revision", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0


@router.get("/sky/sites/new")
def new_site(request: Request, _bench: ReadingBench) -> Response:
    """The form of a new site."""
    return render_page(request, site_page(None, {}, {}))


@router.post("/sky/sites/new")
def add_site(request: Request, bench: WritingBench, typed: Typed) -> Response:
    """Keep a new site."""
    try:
        site = read_site(typed)
    except FieldErrors as error:
        return render_page(request, site_page(None, typed, error.errors), 422)
    return go_to(request, URLS.sky(site=bench.add_site(site).id))


@router.get("/sky/sites/{site_id}")
def show_site(request: Request, bench: ReadingBench, site_id: Number) -> Response:
    """The form of a site."""
    stored = bench.site(site_id)
    return render_page(request, site_page(stored, site_texts(stored.site), {}))


@router.post("/sky/sites/{site_id}")
def change_site(request: Request, bench: WritingBench, site_id: Number, typed: Typed) -> Response:
    """Keep a site anew."""
    stored = bench.site(site_id)
    try:
        bench.change_site(site_id, _revision(typed), read_site(typed))
    except FieldErrors as error:
        return render_page(request, site_page(stored, typed, error.errors), 422)
    except StaleVersionError:
        return render_page(request, site_page(stored, typed, {}, STALE), 409)
    return go_to(request, URLS.sky(site=site_id))


@router.post("/sky/sites/{site_id}/remove")
def remove_site(request: Request, bench: WritingBench, site_id: Number) -> Response:
    """Remove a site."""
    bench.remove_site(site_id)
    return go_to(request, URLS.sky())


@router.post("/sky/rigs/{rig_id}/site")
def choose_rig_site(
    request: Request,
    bench: WritingBench,
    rig_id: Number,
    site: Annotated[str, Form(max_length=16)] = "",
) -> Response:
    """Say where a rig is usually used; empty for nowhere in particular."""
    number = int(site) if site.isascii() and site.isdigit() else None
    bench.set_rig_site(rig_id, number)
    return go_to(request, came_from(request))


@router.get("/sky/targets/new")
def new_target(request: Request, bench: ReadingBench, like: Key = "") -> Response:
    """The form of an own target; `like` names one whose figures it begins with."""
    texts = {} if not like else target_texts(bench.target(like)[0])
    return render_page(request, own_target_page(None, texts, {}))


@router.post("/sky/targets/new")
def add_target(request: Request, bench: WritingBench, typed: Typed) -> Response:
    """Put an own target on the list."""
    try:
        listed = bench.add_target(read_target(typed))
    except FieldErrors as error:
        return render_page(request, own_target_page(None, typed, error.errors), 422)
    return go_to(request, URLS.target(listed.key))


@router.get("/sky/targets/{target_id}")
def show_target(request: Request, bench: ReadingBench, target_id: Number) -> Response:
    """The form of an own target."""
    _, listed = bench.target(f"own-{target_id}")
    assert listed is not None
    return render_page(request, own_target_page(listed, target_texts(listed.seen), {}))


@router.post("/sky/targets/{target_id}")
def change_target(request: Request, bench: WritingBench, target_id: Number, typed: Typed) -> Response:
    """Keep an own target anew."""
    _, listed = bench.target(f"own-{target_id}")
    try:
        changed = bench.change_target(target_id, _revision(typed), read_target(typed))
    except FieldErrors as error:
        return render_page(request, own_target_page(listed, typed, error.errors), 422)
    except StaleVersionError:
        return render_page(request, own_target_page(listed, typed, {}, STALE), 409)
    return go_to(request, URLS.target(changed.key))


@router.post("/sky/targets/{target_id}/remove")
def remove_target(request: Request, bench: WritingBench, target_id: Number) -> Response:
    """Take a target off the list."""
    bench.remove_target(target_id)
    return go_to(request, came_from(request))


@router.post("/sky/list")
def list_target(request: Request, bench: WritingBench, name: Annotated[str, Form(max_length=80)]) -> Response:
    """Put an object of the catalogue on the list."""
    bench.list_target(name)
    return go_to(request, came_from(request))
