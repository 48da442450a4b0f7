"""Who is at the bench, and what the app says of itself: units, theme, the cautions, its words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

from fastapi import Form, Request
from fastapi.responses import Response

from server import paths
from server.domain.errors import FieldErrors
from server.domain.observer import Observer
from server.domain.sky.target import credit
from server.flow.keep_observers import new_observer
from server.flow.workbench import Workbench
from server.handed import ReadingStore, WritingStore
from server.handed.routing import pages
from server.rim.demo_club import load_demo_club
from server.rim.glossary import OURS, TRADE, Word
from server.rim.phrasebook.common import NOT_JUDGED
from server.rim.phrasebook.tell import tell
from server.rim.rules import RULE_SPECS
from server.web.deps import OBSERVER_COOKIE, chosen_observer
from server.web.rendering import THEMES, UNITS, URLS, came_from, go_to, render_page
from server.web.welcome.first import first

router = pages()
choice = pages()
"""Who is at the bench is chosen by these, and by a sign-in in the hosted form, which has none of them."""

A_YEAR_S = 365 * 24 * 3600


@dataclass(frozen=True)
class CautionsPage:
    """What can hurt someone."""

    template: ClassVar[str] = "welcome/cautions.html"


@dataclass(frozen=True)
class AboutPage:
    """What the program works out, what it does not, and its licence.

    Attributes:
        not_judged: what is kept or drawn and enters no verdict.
        credit: whose catalogue of the sky it is.
        rules: the rules of thumb that can be changed on a rig, by what their form calls them.
    """

    template: ClassVar[str] = "welcome/about.html"

    credit: str
    not_judged: tuple[str, ...] = NOT_JUDGED
    rules: tuple[str, ...] = tuple(spec.label for spec in RULE_SPECS)


@dataclass(frozen=True)
class WordsPage:
    """What words mean: ours, and those of the trade."""

    template: ClassVar[str] = "welcome/words.html"

    ours: tuple[Word, ...] = OURS
    trade: tuple[Word, ...] = TRADE


@choice.get("/observers")
def people(request: Request, store: ReadingStore) -> Response:
    """The choice of observers, whoever is chosen now."""
    chosen_observer(request, store)
    return render_page(request, first(store.observers()))


@choice.post("/observers")
def add_observer(
    request: Request,
    store: WritingStore,
    name: Annotated[str, Form()] = "",
    units: Annotated[str, Form()] = "metric",
) -> Response:
    """Take in a new observer and choose them."""
    system = units if units in UNITS else "metric"
    try:
        observer = new_observer(store, name, system)
    except FieldErrors as error:
        page = first(store.observers())
        page = replace(page, name=name, units=system, errors=tuple(error.errors.items()))
        return render_page(request, page, 422)
    return _choose(go_to(request, URLS.home()), observer)


@choice.post("/observers/choose")
def choose_observer(request: Request, store: ReadingStore, observer: Annotated[int, Form()]) -> Response:
    """Choose an observer of this install."""
    return _choose(go_to(request, URLS.home()), store.observer(observer))


def _choose(response: Response, observer: Observer) -> Response:
    response.set_cookie(
        OBSERVER_COOKIE, str(observer.id), max_age=A_YEAR_S, httponly=True, samesite="strict", path="/"
    )
    return response


@choice.post("/demo")
def load_demo(request: Request, store: WritingStore) -> Response:
    """Load the demo club."""
    load_demo_club(store, paths.SEED_DATA)
    return go_to(request, URLS.people())


@router.post("/units")
def choose_units(request: Request, store: WritingStore, units: Annotated[str, Form()]) -> Response:
    """Choose the units that are read: by the observer, or by this browser where nobody is chosen."""
    response = go_to(request, came_from(request))
    if units in UNITS:
        system = units
        observer = chosen_observer(request, store)
        if observer is not None:
            Workbench(store, observer, tell).read_in(system)
        else:
            _keep(response, "units", system)
    return response


@router.post("/theme")
def choose_theme(request: Request, theme: Annotated[str, Form()]) -> Response:
    """Choose the theme of this browser."""
    response = go_to(request, came_from(request))
    if theme in THEMES:
        _keep(response, "theme", theme)
    return response


def _keep(response: Response, name: str, value: str) -> None:
    response.set_cookie(name, value, max_age=A_YEAR_S, httponly=True, samesite="lax", path="/")


@router.get("/cautions")
def cautions(request: Request, store: ReadingStore) -> Response:
    """What can hurt someone."""
    chosen_observer(request, store)
    return render_page(request, CautionsPage())


@router.get("/about")
def about(request: Request, store: ReadingStore) -> Response:
    """What the program works out and does not."""
    chosen_observer(request, store)
    return render_page(request, AboutPage(credit()))


@router.get("/words")
def words(request: Request, store: ReadingStore) -> Response:
    """What words mean."""
    chosen_observer(request, store)
    return render_page(request, WordsPage())
