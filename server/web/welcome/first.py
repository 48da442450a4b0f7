"""The first page: who is at the bench, their rigs and what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from fastapi import Request
from fastapi.responses import Response
from markupsafe import Markup

from server.domain.entry import Entry
from server.domain.observer import Observer, UnitSystem
from server.domain.rig import Rig
from server.flow.protocols import PartQuery, RigLine
from server.flow.workbench import Workbench
from server.handed import ReadingStore
from server.handed.routing import pages
from server.rim.phrasebook.tell import tell
from server.web.deps import chosen_observer
from server.web.picture import section_of
from server.web.rendering import URLS, render_page
from server.web.rig_card import RigCard, cards_of

router = pages()

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
