"""A real Chromium against the whole app. A page that grumbles in the console fails its test."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

from server import paths
from server.domain.entry import Entry
from server.domain.observer import Holding, Observer
from server.flow.protocols import Store
from server.flow.workbench import Workbench
from server.rim.demo_club import load_demo_club
from server.rim.phrasebook.tell import tell
from server.store import open_stores, prepare_database
from tests import own_frames
from tests.browser import gear
from tests.browser.serving import serving
from tests.chromium import ARGUMENTS, require_chromium

DESKTOP: dict[str, Any] = {"viewport": {"width": 1440, "height": 900}}
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "is_mobile": True,
    "has_touch": True,
}
PATIENCE_MS = 10_000


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One Chromium for all tests of a process. Scrollbars are shown: they have a colour as well."""
    chromium = require_chromium()
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(
            executable_path=chromium, args=list(ARGUMENTS), ignore_default_args=["--hide-scrollbars"]
        )
        yield opened
        opened.close()


class Watch:
    """What the pages of a test complained of: the console's errors and warnings, among them every breach of
    the content policy, and errors that no script caught.
    """

    def __init__(self) -> None:
        self.complaints: list[str] = []
        self._allowed: list[re.Pattern[str]] = []

    def allow_status(self, *statuses: int) -> None:
        """Takes it that the server refuses something here: Chromium calls each such answer an error."""
        for status in statuses:
            self._allowed.append(re.compile(rf"Failed to load resource: .* status of {status} "))

    def over(self, page: Page) -> None:
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.complaints.append(f"{page.url}: uncaught: {error}"))

    def _console(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(f"{message.location.get('url', '')}: {message.type}: {message.text}")

    @property
    def unexpected(self) -> list[str]:
        return [text for text in self.complaints if not any(each.search(text) for each in self._allowed)]


@pytest.fixture
def watch() -> Iterator[Watch]:
    watching = Watch()
    yield watching
    assert watching.unexpected == []


Opener = Callable[..., BrowserContext]


@pytest.fixture
def new_context(browser: Browser, watch: Watch) -> Iterator[Opener]:
    """Opens a clean profile: `new_context(address, observer=3, theme="red", **how)`."""
    with ExitStack() as opened:

        def open_one(
            address: str = "", observer: int | None = None, theme: str | None = None, **how: Any
        ) -> BrowserContext:
            context = browser.new_context(
                **{**DESKTOP, "locale": "en-GB", "base_url": address or None, **how}
            )
            opened.callback(context.close)
            context.set_default_timeout(PATIENCE_MS)
            context.on("page", watch.over)
            cookies = {"observer": observer, "theme": theme}
            for name, value in cookies.items():
                if value is not None:
                    context.add_cookies([{"name": name, "value": str(value), "url": address}])
            return context

        yield open_one


# Databases: made once in each process, copied for each server.


@pytest.fixture(scope="session")
def empty_database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("empty") / "trainwright.sqlite3"
    prepare_database(path)
    return path


@dataclass(frozen=True)
class Club:
    """The demo club, with the numbers that its pages have."""

    database: Path
    observer: int
    part: int
    own_part: int
    rig: int
    longest_rig: int
    entries: tuple[int, int]
    entry: int
    token: str
    measured: tuple[int, int]
    address: str = ""

    @property
    def cookies(self) -> dict[str, Any]:
        return {"address": self.address, "observer": self.observer}


@pytest.fixture(scope="session")
def demo_club(tmp_path_factory: pytest.TempPathFactory) -> Club:
    """The demo club as loaded, its longest train saved and shared."""
    path = tmp_path_factory.mktemp("club") / "trainwright.sqlite3"
    prepare_database(path)
    stores = open_stores(path)
    with stores.writing() as store:
        load_demo_club(store, paths.SEED_DATA)
    with stores.writing() as store:
        benches = [Workbench(store, observer, tell) for observer in store.observers()]
        rigs = [(bench, bench.bench(line.id)) for bench in benches for line in bench.rigs()]
        bench, longest = max(rigs, key=lambda one: len(one[1].rig.train.places) + len(one[1].rig.gear))
        stored = longest.stored
        entry = bench.save_entry(stored.id, stored.version, "The longest train", "Saved to be printed. " * 12)
        history = next(entries for line in bench.rigs() if len(entries := bench.entries(line.id)) > 1)
        places = longest.rig.train.places
        own = bench.add_part(gear.SHORT_RING.part(), Holding(owned=1))
        club = Club(
            path,
            bench.observer.id,
            places[0].item.id,
            own.id,
            stored.id,
            stored.id,
            (history[1].id, history[0].id),
            entry.id,
            bench.share(entry.id).token,
            _measured(store, history[1], tmp_path_factory.mktemp("frames")),
        )
    stores.close()
    return club


def _measured(store: Store, entry: Entry, folder: Path) -> tuple[int, int]:
    """Two measurements that belong to an entry: before and after a shim."""
    sets = (own_frames.Truth(30.0 + 20.0j, 40.0), own_frames.Truth(0j, 8.0))
    found = [own_frames.measured(folder, truth) for truth in sets]
    before, after = (
        store.add_measured(entry.observer_id, entry.rig_id, entry.id, name, one).id
        for name, one in zip(("Before the shim", "After the shim"), found, strict=True)
    )
    return before, after


@pytest.fixture(scope="session")
def club(demo_club: Club, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Club]:
    """The demo club, served to every test that only looks."""
    with serving(tmp_path_factory.mktemp("served"), demo_club.database) as address:
        yield Club(**{**demo_club.__dict__, "address": address})


@dataclass(frozen=True)
class Place:
    """An app of a test's own, with the observer at its bench."""

    address: str
    observer: int
    rig: int


@pytest.fixture
def empty_app(tmp_path: Path, empty_database: Path) -> Iterator[str]:
    """An install that nobody has used yet."""
    with serving(tmp_path, empty_database) as address:
        yield address


@pytest.fixture(scope="session")
def shelf_database(tmp_path_factory: pytest.TempPathFactory, empty_database: Path) -> tuple[Path, Observer]:
    """One observer with the gear of tests/browser/gear.py on the shelf."""
    folder = tmp_path_factory.mktemp("shelf")
    path = folder / "trainwright.sqlite3"
    path.write_bytes(empty_database.read_bytes())
    stores = open_stores(path)
    with stores.writing() as store:
        observer = store.add_observer("Maud", "metric")
        bench = Workbench(store, observer, tell)
        for typed in gear.ALL:
            bench.add_part(typed.part(), Holding(owned=1))
    stores.close()
    return path, observer


TRAIN = (gear.TUBE, gear.CORRECTOR, gear.LONG_RING, gear.SHORT_RING, gear.ADAPTER, gear.CAMERA)


def served_rig(folder: Path, shelf: tuple[Path, Observer], parts: tuple[gear.Typed, ...]) -> Iterator[Place]:
    from server.flow.assemble_train import AddPart
    from server.flow.protocols import PartQuery

    path, observer = shelf
    own = folder / "own.sqlite3"
    own.write_bytes(path.read_bytes())
    stores = open_stores(own)
    with stores.writing() as store:
        bench = Workbench(store, observer, tell)
        found = bench.find_parts(PartQuery(observer.id, holding="shelf", limit=50)).lines
        numbers = {line.item.name: line.item.id for line in found}
        stored = bench.new_rig("Small refractor")
        for index, typed in enumerate(parts):
            change = AddPart(part_id=numbers[typed.name], at=index)
            stored = bench.change_rig(stored.id, stored.version, change).stored
    stores.close()
    with serving(folder, own) as address:
        yield Place(address, observer.id, stored.id)


@pytest.fixture
def empty_rig(tmp_path: Path, shelf_database: tuple[Path, Observer]) -> Iterator[Place]:
    """A full shelf and a rig without parts."""
    yield from served_rig(tmp_path, shelf_database, ())


@pytest.fixture
def built_rig(tmp_path: Path, shelf_database: tuple[Path, Observer]) -> Iterator[Place]:
    """The train of tests/browser/gear.py, put together."""
    yield from served_rig(tmp_path, shelf_database, TRAIN)
