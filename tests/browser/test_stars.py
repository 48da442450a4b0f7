"""The stars' page in a browser: a slider, a typed wish, and the page without scripts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Club, Opener, Watch
from tests.browser.test_bridge import Broken, broken, sit_down

pytestmark = pytest.mark.browser


@pytest.fixture
def bare(demo_club: Club, tmp_path: Path) -> Iterator[Broken]:
    yield from broken(demo_club, tmp_path, "Isolde Wrackham", "Loan: doublet, flattened")


def corner(page: Page) -> str:
    return page.locator(".star-sensor img").first.get_attribute("src") or ""


def test_a_slider_moved_by_key_draws_the_stars_anew_and_follows_what_is_typed(
    bare: Broken, new_context: Opener
):
    page = sit_down(new_context, bare, f"/bench/{bare.rig}/stars")
    page.evaluate("document.documentElement.dataset.same = 'page'")
    before = corner(page)
    slider = page.get_by_role("slider", name="Sensor behind the focus, as a slider")
    slider.focus()
    for _ in range(10):
        page.keyboard.press("ArrowRight")
    typed = page.get_by_role("textbox", name="Sensor behind the focus")
    expect(typed).to_have_value(re.compile("^50 "))
    expect(page.locator(".star-sensor img").first).not_to_have_attribute("src", before)
    expect(page).to_have_url(re.compile("focus_um=50"))
    expect(page.get_by_role("status").filter(has_text="Full width")).to_be_visible()
    typed.fill("100 um")
    expect(slider).to_have_value("100")
    finding = page.locator("#finding-stars-corners, #finding-stars-even, #finding-stars-even_unknown")
    expect(finding).to_be_visible()
    assert page.evaluate("document.documentElement.dataset.same") == "page"


def test_a_mistake_is_said_and_what_was_typed_stays(bare: Broken, new_context: Opener, watch: Watch):
    watch.allow_status(422)
    page = sit_down(new_context, bare, f"/bench/{bare.rig}/stars")
    page.get_by_text("More wishes").click()
    page.get_by_role("textbox", name="Tilt of the sensor").fill("500")
    expect(page.get_by_role("alert").filter(has_text="Tilt of the sensor")).to_be_visible()
    expect(page.get_by_role("textbox", name="Tilt of the sensor")).to_have_value("500")
    expect(page.locator(".star-sensor img")).to_have_count(9)


def test_without_javascript_the_button_draws(bare: Broken, new_context: Opener):
    page = sit_down(new_context, bare, f"/bench/{bare.rig}/stars", java_script_enabled=False)
    before = corner(page)
    expect(page.get_by_role("slider")).to_have_count(0)
    page.get_by_label("Sensor behind the focus", exact=True).fill("0.2 mm")
    page.get_by_role("button", name="Draw").click()
    expect(page).to_have_url(re.compile("focus_um=0.2"))
    assert corner(page) != before


def test_the_bench_leads_to_the_stars_and_from_there_to_the_comparison(bare: Broken, new_context: Opener):
    page = sit_down(new_context, bare, f"/bench/{bare.rig}")
    page.get_by_role("link", name="Its stars").click()
    expect(page.get_by_role("heading", name="The stars of Loan: doublet, flattened")).to_be_visible()
    page.get_by_role("link", name="Compare with other rigs").click()
    page.get_by_role("checkbox", name="Loan: doublet, bare").check()
    page.get_by_role("button", name="Compare").click()
    expect(page.locator(".star-compare img")).to_have_count(4)


@pytest.mark.parametrize("width", [390, 800, 1440])
def test_wishes_stand_above_or_beside_the_pictures_and_no_number_is_cut(
    bare: Broken, new_context: Opener, width: int
):
    page = sit_down(new_context, bare, f"/bench/{bare.rig}/stars")
    page.set_viewport_size({"width": width, "height": 844})
    form, pictures = page.locator("#wishes").bounding_box(), page.locator(".star-sensor").bounding_box()
    assert form is not None
    assert pictures is not None
    above = form["y"] + form["height"] <= pictures["y"]
    beside = form["x"] + form["width"] <= pictures["x"]
    assert above or beside
    assert form["y"] <= pictures["y"]
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    cut = page.locator(".star-plots svg text, .star-others summary").evaluate_all(
        "all => all.filter(it => { const box = it.getBoundingClientRect();"
        " return box.left < 0 || box.right > innerWidth }).map(it => it.textContent)"
    )
    assert cut == []
