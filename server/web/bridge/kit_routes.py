"""One kit for several rigs: which are meant, what to buy for all of them, and each one's stack to put in.

As on the Bridge the page's address holds the whole state, and a planning that takes its time goes on in a
thread.
"""

from __future__ import annotations

from typing import Annotated, cast, get_args

from fastapi import Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from server.flow.bridge_stock import Source
from server.flow.bridge_wishes import Wishes
from server.flow.views import KitView
from server.flow.workbench import Workbench
from server.handed.routing import pages
from server.web.bridge.jobs import KitSearch, Searches
from server.web.bridge.kit_page import KitPage, kit_page
from server.web.bridge.routes import PATIENT_S, QUICK_S
from server.web.deps import PatientBench
from server.web.rendering import URLS, go_to, render_block, render_page, wants_block

router = pages()


class KitQuery(BaseModel):
    """Everything that the kit's form says."""

    rig: tuple[int, ...] = Field(default=(), max_length=20)
    source: str = Field(default="", max_length=20)
    open: tuple[int, ...] = Field(default=(), max_length=20)
    wait: bool = False
    again: bool = False

    @property
    def rigs(self) -> tuple[int, ...]:
        """The chosen rigs, each once."""
        return tuple(dict.fromkeys(self.rig))

    def state(self, **more: object) -> dict[str, object]:
        """The state for an address; what is as usual is left out."""
        source = "" if self.source == "catalogue" else self.source
        return {"rig": self.rigs or None, "source": source, "open": self.open or None} | more

    def toggle(self, rig: int) -> str:
        """The address at which a rig's stack is drawn, or no longer is."""
        others = tuple(one for one in self.open if one != rig)
        opened = others if rig in self.open else (*others, rig)
        return URLS.kit(**self.state(open=opened or None))

    def wishes(self) -> Wishes:
        """The same as the flow takes it."""
        if self.source in get_args(Source):
            return Wishes(source=cast(Source, self.source))
        return Wishes()


State = Annotated[KitQuery, Query()]


@router.get("/bench/kit")
def show_kit(request: Request, bench: PatientBench, query: State) -> Response:
    """The rigs to choose from, and the kit for those that are chosen; to htmx, the kit alone."""
    view, search = _planned(request, bench, query)
    if search is not None:
        search.wait(PATIENT_S if query.wait else QUICK_S)
    page = _page(bench, view, query, search)
    if wants_block(request):
        return render_block(request, page, "answers")
    return render_page(request, page, 422 if view is not None and view.trouble else 200)


@router.post("/bench/kit/stop")
def stop_kit(request: Request, bench: PatientBench, query: State) -> Response:
    """Stop a planning; what it has found stays."""
    view, search = _planned(request, bench, query)
    if search is not None:
        search.stop()
        search.wait(QUICK_S)
    if wants_block(request):
        return render_block(request, _page(bench, view, query, search), "answers")
    return go_to(request, URLS.kit(**query.state()))


def _planned(request: Request, bench: Workbench, query: KitQuery) -> tuple[KitView | None, KitSearch | None]:
    if len(query.rigs) < 2:
        # One rig in the address comes from its Bridge: the others are still to be chosen.
        return None, None
    view = bench.kit(query.rigs, query.wishes())
    if view.posed is None:
        return view, None
    searches = cast(Searches, request.app.state.searches)
    return view, searches.kit(view.key, view.posed, bench.observer.id, query.again)


def _page(bench: Workbench, view: KitView | None, query: KitQuery, search: KitSearch | None) -> KitPage:
    return kit_page(
        bench.rigs(),
        view,
        search,
        bench.observer.units,
        query.open,
        query.toggle,
        chosen=query.rigs,
        source=query.source or "catalogue",
        poll=URLS.kit(**query.state()),
        patient=URLS.kit(**query.state(wait=True)),
        stop=URLS.kit_stop(**query.state()),
        again=URLS.kit(**query.state(again=True)),
    )
