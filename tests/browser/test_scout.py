"""What a hand does with the Scout: needs typed, points of the plot, rigs side by side, one on the bench."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Page, Route, expect

from server.store import open_stores
from server.web.scout import stops_page
from tests.browser.conftest import PHONE, Club, Opener, Watch
from tests.browser.serving import serving
from tests.browser.test_every_page import CONTRAST, EVERYTHING, NARROW, only_red, violations
from tests.browser.test_prints import SMALL_PRINT, on_paper, printed

pytestmark = pytest.mark.browser

GARDEN = "One telescope for the garden"


@dataclass(frozen=True)
class Garden:
    """A demo club of these tests' own, its members, and the one whose needs it keeps."""

    address: str
    observer: int
    observers: tuple[int, ...]


@pytest.fixture(scope="module")
def garden(demo_club: Club, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garden]:
    folder = tmp_path_factory.mktemp("scout")
    path = folder / "own.sqlite3"
    shutil.copyfile(demo_club.database, path)
    stores = open_stores(path)
    with stores.reading() as store:
        observers = tuple(one.id for one in store.observers())
        observer = next(one for one in observers if store.kept_needs(one))
    stores.close()
    with serving(folder, path) as address:
        yield Garden(address, observer, observers)


def opened(garden: Garden, new_context: Opener, **how: Any) -> Page:
    page = new_context(garden.address, observer=garden.observer, **how).new_page()
    page.goto("/scout")
    page.get_by_role("link", name=GARDEN).click()
    page.get_by_role("heading", name="meet your needs").wait_for()
    return page


def test_the_answer_follows_while_needs_are_changed_and_its_links_and_forms_go_on_with_them(
    garden: Garden, new_context: Opener
):
    page = opened(garden, new_context)
    before = page.locator("#answer-head").text_content()
    page.evaluate("document.body.dataset.same = 'yes'")
    page.get_by_label("Budget, all that is to be bought", exact=True).fill("9000")
    page.keyboard.press("Tab")
    expect(page.locator("#answer-head")).not_to_have_text(str(before))
    page.get_by_label("Heaviest piece that I lift", exact=True).fill("5 kg")
    page.keyboard.press("Tab")
    csv = page.get_by_role("link", name="All combinations as CSV")
    expect(csv).to_have_attribute("href", re.compile("budget=9000.*lift_kg=5"))
    assert page.evaluate("document.body.dataset.same") == "yes", "the page was not loaded anew"
    # The address bar says what is asked, to be kept, sent and loaded anew.
    assert "budget=9000" in page.url
    assert "lift_kg=5" in page.url
    page.reload()
    expect(page.get_by_label("Budget, all that is to be bought", exact=True)).to_have_value("9000")
    # A tube that is entered now is asked about with the needs that stand there now.
    expect(page.locator("#enter-back")).to_have_value(re.compile("budget=9000.*lift_kg=5"))
    expect(page.locator("#enter-back")).to_have_count(1)


def test_a_need_that_cannot_be_read_is_said_and_the_rest_is_answered(
    garden: Garden, new_context: Opener, watch: Watch
):
    watch.allow_status(422)
    page = opened(garden, new_context)
    page.get_by_label("Hours for all targets together", exact=True).fill("soon")
    page.keyboard.press("Tab")
    alert = page.get_by_role("alert").filter(has_text="could not be read")
    expect(alert).to_contain_text("“soon”")
    expect(page.locator("#answer-head")).to_contain_text("meet your needs")
    alert.get_by_role("link").click()
    expect(page.get_by_label("Hours for all targets together", exact=True)).to_be_focused()


def test_the_keyboard_reaches_a_point_of_the_plot_and_opens_its_combination(
    garden: Garden, new_context: Opener
):
    page = opened(garden, new_context)
    point = page.locator(".scout-plot a").first
    name = str(point.locator("title").text_content())
    page.locator(".scroll:has(.scout-plot)").focus()
    page.keyboard.press("Tab")
    expect(point).to_be_focused()
    assert re.search(r"cost .*hours .*mass", name)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(name.split(":")[0])


def test_ticked_ones_stand_side_by_side_and_one_press_puts_a_rig_on_the_bench(
    garden: Garden, new_context: Opener
):
    page = opened(garden, new_context)
    for number in (1, 2):
        page.get_by_label(f"Number {number} side by side").check()
    page.get_by_role("button", name="Put the ticked side by side").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Side by side")
    expect(page.locator("table.beside thead th")).to_have_count(2)
    page.get_by_role("link", name="Back to the Scout").click()
    expect(page.get_by_label("Budget, all that is to be bought", exact=True)).to_have_value("1800")
    page.go_back()
    name = str(page.locator("table.beside thead th").first.inner_text())
    page.get_by_role("button", name="Put it on the bench").first.click()
    page.wait_for_url("**/bench/*")
    expect(page.get_by_role("heading", level=1)).to_contain_text(name.split(" with ")[0].strip())


def test_rows_that_stop_on_the_bench_are_marked_once_the_page_is_there_and_when_needs_change(
    garden: Garden, new_context: Opener
):
    page = opened(garden, new_context)
    mark = page.locator(".row-stop:not(:empty)").first
    expect(mark).to_contain_text(re.compile(r"Stop\s+Between"))
    expect(page.locator(".scout-stops")).to_contain_text("On the bench")
    page.get_by_label("Budget, all that is to be bought", exact=True).fill("9000")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="All combinations as CSV")).to_have_attribute(
        "href", re.compile("budget=9000")
    )
    expect(mark).to_contain_text(re.compile(r"Stop\s+Between"))
    assert violations(page, EVERYTHING) == []


def test_who_stops_the_look_keeps_what_has_come_and_may_go_on(
    garden: Garden, new_context: Opener, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(stops_page, "PIECE_S", 0.0)
    context = new_context(garden.address, observer=garden.observer)
    page = context.new_page()
    held: list[Route] = []
    context.route(re.compile("looked=2(?!.*rests)"), lambda route: held.append(route))
    page.goto("/scout")
    page.get_by_role("link", name=GARDEN).click()
    said = page.locator(".scout-stops")
    expect(said).to_contain_text(re.compile(r"2 of \d looked at"))
    expect(said.get_by_role("progressbar", name="Looked at so far")).to_have_attribute("value", "2")
    filled = page.locator(".row-stop:not(:empty), .row-piece")
    before = filled.count()
    assert before > 0
    said.get_by_role("link", name="Stop").click()
    expect(said.get_by_role("link", name="Look at the rest")).to_be_visible()
    expect(said.get_by_role("progressbar")).to_have_count(0)
    assert filled.count() == before
    assert violations(page, EVERYTHING) == []
    context.unroute_all()
    said.get_by_role("link", name="Look at the rest").click()
    expect(said).to_contain_text("On the bench")
    expect(filled).not_to_have_count(before)


def test_without_a_script_the_needs_are_asked_by_a_button(garden: Garden, new_context: Opener):
    page = opened(garden, new_context, java_script_enabled=False)
    page.get_by_label("Budget, all that is to be bought", exact=True).fill("9000")
    page.get_by_role("button", name="Look").click()
    assert "budget=9000" in page.url
    expect(page.get_by_label("Budget, all that is to be bought", exact=True)).to_have_value("9000")
    expect(page.locator("#answer-head")).to_contain_text("meet your needs")
    page.get_by_role("link", name="Which of these stop on the bench?").click()
    expect(page.locator("main li").first).to_contain_text(re.compile("Stop|Nothing that is known"))


def test_on_a_phone_nothing_overflows_and_all_can_be_touched(garden: Garden, new_context: Opener):
    page = opened(garden, new_context, **PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]
    for number in (1, 2):
        page.get_by_label(f"Number {number} side by side").check()
    page.get_by_role("button", name="Put the ticked side by side").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Side by side")
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]


def test_the_scout_of_somebody_without_any_parts_is_accessible_narrow_and_red(
    empty_app: str, new_context: Opener
):
    page = new_context(empty_app).new_page()
    page.goto("/")
    page.get_by_label("Who is at the bench?").fill("Maud")
    page.get_by_role("button", name="Start empty").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("Maud"))
    (maud,) = (one["value"] for one in page.context.cookies() if one["name"] == "observer")
    for theme in ("light", "dark", "red"):
        page = new_context(empty_app, observer=int(maud), theme=theme).new_page()
        page.goto("/scout")
        expect(page.get_by_text("Nothing to choose from yet")).to_be_visible()
        assert violations(page, EVERYTHING if theme == "light" else CONTRAST) == []
        if theme == "red":
            assert only_red(page.screenshot(full_page=True)) == []
        page.set_viewport_size(NARROW)
        assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]


WIDEST = {"asked": "1", "catalogue": "1", "open": "tubes", "budget": "20000", "guiding": "off_axis_guider"}
"""Needs that most combinations meet, each with a guider more to name and to buy."""
SMALLEST_PT = 6.5
"""Smaller print of so many columns cannot be read at a table outside. A choice of ours, no source."""


def side_by_side_on_paper(page: Page) -> int:
    """How many sheets it takes, nothing on them too small to be read."""
    page.wait_for_load_state("networkidle")
    sheets = printed(page)
    on_paper(page)
    assert page.evaluate(SMALL_PRINT, SMALLEST_PT) == []
    return len(sheets.pages)


@pytest.mark.parametrize("many", [2, 3, 4])
def test_some_side_by_side_print_on_one_sheet(garden: Garden, new_context: Opener, many: int):
    page = opened(garden, new_context)
    for number in range(1, many + 1):
        page.get_by_label(f"Number {number} side by side").check()
    page.get_by_role("button", name="Put the ticked side by side").click()
    assert side_by_side_on_paper(page) == 1


def test_the_four_of_the_longest_names_of_each_member_print_on_one_sheet(garden: Garden, new_context: Opener):
    printed_of = 0
    for observer in garden.observers:
        page = new_context(garden.address, observer=observer).new_page()
        page.goto(f"/scout?{urlencode(WIDEST)}")
        rows = page.locator(".scout-table tbody tr:has(input)").all()
        named = {row.locator("input").get_attribute("value"): len(row.inner_text()) for row in rows}
        widest = sorted(named, key=lambda key: -named[key])[:4]
        if len(widest) == 4:
            page.goto(f"/scout/beside?{urlencode(WIDEST)}&{urlencode({'c': widest}, doseq=True)}")
            assert side_by_side_on_paper(page) == 1, page.url
            printed_of += 1
    assert printed_of > 1
