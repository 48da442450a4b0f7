"""The first page: who is at the bench, their rigs and what comes next; units, theme, the cautions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

from fastapi import Form, Request
from fastapi.responses import Response
from markupsafe import Markup

from server import paths
from server.domain.entry import Entry
from server.domain.errors import FieldErrors
from server.domain.observer import Observer, UnitSystem
from server.domain.rig import Rig
from server.domain.sky.target import credit
from server.flow.keep_observers import new_observer
from server.flow.protocols import PartQuery, RigLine
from server.flow.workbench import Workbench
from server.handed import ReadingStore, WritingStore
from server.handed.routing import pages
from server.rim.demo_club import load_demo_club
from server.rim.glossary import OURS, TRADE, Word
from server.rim.phrasebook.common import NOT_JUDGED
from server.rim.phrasebook.tell import tell
from server.rim.rules import RULE_SPECS
from server.web.deps import OBSERVER_COOKIE, chosen_observer
from server.web.picture import section_of
from server.web.rendering import THEMES, UNITS, URLS, came_from, go_to, render_page
from server.web.rig_card import RigCard, cards_of

router = pages()
choice = pages()
"""Who is at the bench is chosen by these, and by a sign-in in the hosted form, which has none of them."""

A_YEAR_S = 365 * 24 * 3600
ENTRIES_SHOWN = 5
DEMO_OBSERVERS = 5
NO_PICTURE = Markup()


@dataclass(frozen=True)
class FirstPage:
    """Who is at the bench? Shown where nobody is chosen, and to change it.

    Attributes:
        observers: those of this install; empty at the very beginning.
        name, units: what was typed for a new one.
        errors: sentences by field name.
        picture: how a train is built, at the very beginning.
    """

    template: ClassVar[str] = "welcome/first.html"

    observers: tuple[Observer, ...]
    name: str = ""
    units: UnitSystem = "metric"
    errors: tuple[tuple[str, str], ...] = ()
    picture: Markup = NO_PICTURE

    @property
    def demo(self) -> bool:
        """Whether the demo club seems to be here: several observers are."""
        return len(self.observers) >= DEMO_OBSERVERS

    @property
    def name_error(self) -> str:
        """Why the name could not be taken, or ""."""
        return dict(self.errors).get("name", "")


@dataclass(frozen=True)
class NextStep:
    """The one thing to do next, with its page."""

    title: str
    sentence: str
    words: str
    url: str


@dataclass(frozen=True)
class HomePage:
    """An observer's own first page.

    Attributes:
        rigs: newest change first.
        entries: the newest few of the logbook.
        on_shelf: how many parts stand on the shelf.
        next: what to do next, None where everything has been begun.
        picture: how a train is built, for who has no rig yet.
    """

    template: ClassVar[str] = "welcome/home.html"

    rigs: tuple[RigCard, ...]
    entries: tuple[Entry, ...]
    on_shelf: int
    next: NextStep | None
    picture: Markup = NO_PICTURE


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


@router.get("/")
def first_page(request: Request, store: ReadingStore) -> Response:
    """Who is at the bench, or what the one at the bench has."""
    observer = chosen_observer(request, store)
    if observer is None:
        return render_page(request, first(store.observers()))
    return render_page(request, home_page(Workbench(store, observer, tell)))


def first(observers: tuple[Observer, ...]) -> FirstPage:
    """What the page shows before anything is typed; at the very beginning also how a train is built."""
    return FirstPage(observers, picture=NO_PICTURE if observers else _how_a_train_is_built("metric"))


def _how_a_train_is_built(units: UnitSystem) -> Markup:
    return section_of(Rig("A rig without parts"), units, links=False)


def home_page(bench: Workbench) -> HomePage:
    """What an observer's first page shows."""
    lines = sorted(bench.rigs(), key=lambda line: line.changed_at, reverse=True)
    cards = cards_of(bench, lines)
    entries = bench.entries(limit=ENTRIES_SHOWN)
    on_shelf = bench.find_parts(PartQuery(bench.observer.id, holding="shelf", limit=1)).total
    picture = NO_PICTURE if lines else _how_a_train_is_built(bench.observer.units)
    return HomePage(cards, entries, on_shelf, _next_step(lines, entries, on_shelf), picture)


def _next_step(lines: list[RigLine], entries: tuple[Entry, ...], on_shelf: int) -> NextStep | None:
    if not on_shelf and not lines:
        return NextStep(
            "Put your gear on the Shelf",
            "Enter the parts that you have, or think of buying: a tube, a camera and what goes between. "
            "Each asks only for what its kind needs, and what you do not know may stay empty.",
            "Enter the first part",
            URLS.new_part(),
        )
    if not lines:
        return NextStep(
            "Begin a rig on the Bench",
            "Put the parts in order from sky to sensor. After every change you see whether it works, by how "
            "much it is off, and what would mend it.",
            "Begin a rig",
            URLS.bench(),
        )
    if not entries:
        return NextStep(
            "Save an entry in the Logbook",
            "An entry keeps a rig as it is today, with its parts and findings, whatever you change later. "
            "It can be compared, brought back, and shared by a link.",
            f"Open {lines[0].name}",
            URLS.rig(lines[0].id),
        )
    return None


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
