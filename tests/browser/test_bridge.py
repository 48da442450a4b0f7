"""The Bridge in a browser: from the finding to the mended drawing in three presses; themes, axe, a phone."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from server.flow import bridge_offers
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.search.problem import Outcome
from server.store import open_stores
from tests.browser.conftest import Club, Opener, Watch
from tests.browser.serving import serving
from tests.browser.test_every_page import CONTRAST, EVERYTHING, NARROW, only_red, violations

pytestmark = pytest.mark.browser


@dataclass(frozen=True)
class Broken:
    """One of the demo club's broken trains, in an app of its own, with its owner."""

    address: str
    observer: int
    rig: int


def broken(club: Club, folder: Path, owner: str, name: str) -> Iterator[Broken]:
    stores = open_stores(club.database)
    with stores.reading() as store:
        observer = next(one for one in store.observers() if one.name == owner)
        rig = next(line.id for line in Workbench(store, observer, tell).rigs() if line.name == name)
    stores.close()
    with serving(folder, club.database) as address:
        yield Broken(address, observer.id, rig)


@pytest.fixture
def newtonian(demo_club: Club, tmp_path: Path) -> Iterator[Broken]:
    yield from broken(demo_club, tmp_path, "Ruta Ommerli", "Fast Newtonian")


@pytest.fixture
def nebula(demo_club: Club, tmp_path: Path) -> Iterator[Broken]:
    yield from broken(demo_club, tmp_path, "Declan Varrow", "Nebula refractor")


def sit_down(new_context: Opener, at: Broken, path: str, **how: Any) -> Page:
    page = new_context(at.address, observer=at.observer, **how).new_page()
    page.goto(path)
    return page


@pytest.mark.parametrize(("which", "title"), [("newtonian", "Spacing"), ("nebula", "Joint")])
@pytest.mark.parametrize("scripts", [True, False])
def test_a_person_closes_a_broken_train_from_the_finding_to_the_mended_drawing_in_three_presses(
    which: str, title: str, scripts: bool, request: pytest.FixtureRequest, new_context: Opener
):
    at: Broken = request.getfixturevalue(which)
    page = sit_down(new_context, at, "/bench", java_script_enabled=scripts)
    name = {"newtonian": "Fast Newtonian", "nebula": "Nebula refractor"}[which]
    page.get_by_role("link", name=name, exact=True).click()
    stop = page.locator("article.finding.stop").filter(
        has=page.get_by_role("heading", name=title, exact=True)
    )
    stop.get_by_role("link", name=f"See what the Bridge offers for {title}").click()
    page.get_by_role("button", name="Put stack 1 in", exact=True).click()
    expect(page).to_have_url(f"{at.address}/bench/{at.rig}")
    expect(page.locator("article.finding.stop")).to_have_count(0)
    expect(page.locator(".section-card .dw:visible .dw-joint-stop")).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("article.finding.stop")).not_to_have_count(0)


PATHS = (
    "/bench/{rig}/bridge",
    "/bench/{rig}/bridge?compare=1&compare=2&clear=20+mm",
    "/bench/{rig}/bridge?source=owned&short=0+mm&long=0+mm",
    "/bench/{rig}/bridge?clear=60+mm",
)


def opened(path: str, at: Broken, new_context: Opener, watch: Watch, **how: Any) -> Page:
    watch.allow_status(422)
    return sit_down(new_context, at, path.format(rig=at.rig), **how)


@pytest.mark.parametrize("path", PATHS)
def test_axe_finds_nothing_on_the_bridge_wide_or_narrow(
    path: str, nebula: Broken, new_context: Opener, watch: Watch
):
    page = opened(path, nebula, new_context, watch, theme="light")
    page.locator("main details").evaluate_all("all => all.forEach(it => { it.open = true; })")
    assert violations(page, EVERYTHING) == []
    page.set_viewport_size(NARROW)
    assert violations(page, EVERYTHING) == []
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= NARROW["width"], "the page scrolls sideways"


@pytest.mark.parametrize("theme", ["dark", "red"])
@pytest.mark.parametrize("path", PATHS[:3])
def test_the_bridge_stands_out_from_its_ground_and_is_red_in_the_red_theme(
    path: str, theme: str, nebula: Broken, new_context: Opener, watch: Watch
):
    page = opened(path, nebula, new_context, watch, theme=theme)
    assert violations(page, CONTRAST) == []
    if theme == "red":
        assert only_red(page.screenshot(full_page=True)) == []


def test_a_long_search_grows_on_the_page_and_can_be_stopped(
    newtonian: Broken, new_context: Opener, monkeypatch: pytest.MonkeyPatch
):
    real, more = bridge_offers.search_stacks, threading.Event()

    def slow(posed: Any, progress: Any) -> Outcome:
        whole = real(posed)
        shown = 1
        while progress(Outcome(whole.best[:shown], proven=False, exhausted=False)):
            if more.wait(0.05):
                shown = 2
        return Outcome(whole.best[:shown], proven=False, exhausted=False)

    monkeypatch.setattr("server.web.bridge.jobs.search_stacks", slow)
    page = sit_down(new_context, newtonian, f"/bench/{newtonian.rig}/bridge")
    expect(page.get_by_role("status").filter(has_text="1 found so far")).to_be_visible()
    more.set()
    expect(page.get_by_role("status").filter(has_text="2 found so far")).to_be_visible()
    page.get_by_role("button", name="Stop here").click()
    expect(page.get_by_text("Stopped before it was proven")).to_be_visible()
    expect(page.get_by_role("button", name="Put stack 2 in", exact=True)).to_be_visible()
