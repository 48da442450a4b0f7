"""The Bridge in a browser: from the finding to the mended drawing in three presses; themes, axe, a phone."""

from __future__ import annotations

import re
import threading
from collections.abc import Generator, Iterator
from contextlib import closing
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


def broken(club: Club, folder: Path, owner: str, name: str) -> Generator[Broken]:
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
    page.get_by_role("button", name="Put this in: stack 1", exact=True).click()
    expect(page).to_have_url(f"{at.address}/bench/{at.rig}")
    expect(page.locator("article.finding.stop")).to_have_count(0)
    expect(page.locator(".section-card .dw:visible .dw-joint-stop")).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("article.finding.stop")).not_to_have_count(0)


PATHS = (
    "/bench/{rig}/bridge",
    "/bench/{rig}/bridge?open=2&open=4&clear=20+mm",
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
    expect(page.get_by_role("link", name="plus the 0.1 mm shim")).to_be_visible()


@dataclass(frozen=True)
class Full:
    """One of the club's rigs that twenty stacks close, and how many lines they take at least."""

    name: str
    owner: str
    lines: int


FULL = (
    Full("Galaxy scope", "Declan Varrow", 20),
    Full("The big one on the old mount", "Ruta Ommerli", 15),
    Full("Winter rig that adds up", "Annika Thornquist", 10),
)
HIGHEST = {1440: 2500, 390: 6000}
"""How high the page may be at a width (px)."""
MOST_WORDS = 1100


@pytest.mark.parametrize("width", sorted(HIGHEST))
@pytest.mark.parametrize("full", FULL, ids=lambda full: full.name.replace(" ", "-"))
def test_twenty_answers_are_read_at_a_glance(
    full: Full, width: int, demo_club: Club, tmp_path: Path, new_context: Opener
):
    with closing(broken(demo_club, tmp_path, full.owner, full.name)) as served:
        at = next(served)
        path = f"/bench/{at.rig}/bridge?wait=1"
        page = sit_down(new_context, at, path, viewport={"width": width, "height": 900})
        expect(page.locator("tr.stack-line").nth(full.lines - 1)).to_be_visible()
        assert page.evaluate("document.documentElement.scrollHeight") < HIGHEST[width]
        assert len(page.locator("main").inner_text().split()) < MOST_WORDS


@pytest.mark.parametrize("scripts", [True, False])
def test_a_line_of_the_table_opens_its_drawing_and_closes_it_again(
    scripts: bool, nebula: Broken, new_context: Opener
):
    page = sit_down(new_context, nebula, f"/bench/{nebula.rig}/bridge?wait=1", java_script_enabled=scripts)
    link = page.locator("#stack-3")
    expect(link).to_have_attribute("aria-expanded", "false")
    link.click()
    drawn = page.get_by_role("article", name="Stack 3")
    expect(drawn.get_by_role("img", name="Stack 3, to scale")).to_be_visible()
    expect(page).to_have_url(re.compile("open=3"))
    expect(link).to_have_attribute("aria-expanded", "true")
    if scripts:
        expect(link).to_be_focused()
    link.click()
    expect(drawn).to_have_count(0)
    expect(page).not_to_have_url(re.compile("open=3"))


def test_a_ring_that_closes_the_gap_is_put_on_the_wish_list(newtonian: Broken, new_context: Opener):
    path = f"/bench/{newtonian.rig}/bridge?source=owned&short=0.01+mm&long=0.005+mm"
    page = sit_down(new_context, newtonian, path)
    wish = page.get_by_role("form", name="A ring of").first
    wish.get_by_label("Length").fill("2.7 mm")
    wish.get_by_role("button", name="Put it on the wish list").click()
    expect(page.get_by_role("status").filter(has_text="2.7 mm is on your wish list")).to_be_visible()
