"""What holds for every page: accessible, red in the red theme, narrow enough for a phone."""

from __future__ import annotations

import io
from collections import Counter
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Page, ViewportSize

from tests.browser.conftest import PHONE, Club, Opener, Watch
from tests.browser.pages import FEWER_PAGES, PAGES, Shown

pytestmark = pytest.mark.browser

NARROW: ViewportSize = {"width": 390, "height": 844}
WIDE: ViewportSize = {"width": 1440, "height": 900}
CONTRAST = {"runOnly": {"type": "rule", "values": ["color-contrast"]}, "resultTypes": ["violations"]}
EVERYTHING = {
    "runOnly": {
        "type": "tag",
        "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    },
    "rules": {"label-content-name-mismatch": {"enabled": True}, "landmark-unique": {"enabled": True}},
    "resultTypes": ["violations"],
}


def each(pages: tuple[Shown, ...]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("shown", pages, ids=lambda shown: shown.name.replace(" ", "-"))


def opened(shown: Shown, club: Club, new_context: Opener, watch: Watch, theme: str, **how: Any) -> Page:
    if shown.status != 200:
        watch.allow_status(shown.status)
    observer = club.observer if shown.observer else None
    page = new_context(club.address, observer=observer, theme=theme, **how).new_page()
    shown.open(page, club)
    return page


def violations(page: Page, options: dict[str, Any]) -> list[str]:
    """What axe finds, a line each."""
    found = Axe().run(page, options=options).response["violations"]
    return [
        f"{one['id']} ({one['help']}): {node['target']} {node['html'][:160]} {node['failureSummary'][:200]}"
        for one in found
        for node in one["nodes"]
    ]


def names_given_twice(page: Page) -> list[str]:
    """Ids that more than one element has: a label then names the wrong one, and axe does not say so."""
    ids = page.locator("[id]").evaluate_all("all => all.map(it => it.id)")
    return [name for name, number in Counter(ids).items() if number > 1]


@each(FEWER_PAGES)
def test_axe_finds_nothing_wide_or_narrow_and_what_is_written_stands_out_in_every_theme(
    shown: Shown, club: Club, new_context: Opener, watch: Watch
):
    page = opened(shown, club, new_context, watch, "light", reduced_motion="reduce")
    assert names_given_twice(page) == []
    assert violations(page, EVERYTHING) == []
    page.set_viewport_size(NARROW)
    assert violations(page, EVERYTHING) == []
    page.set_viewport_size(WIDE)
    for theme in ("dark", "red"):
        turn_to(page, theme)
        assert violations(page, CONTRAST) == []
    page.keyboard.press("Control+A")
    for y in range(0, height_of(page), TALLEST):
        assert only_red(picture_from(page, y)) == []
    page.set_viewport_size(NARROW)
    page.keyboard.press("Tab")
    assert only_red(page.screenshot()) == []


def turn_to(page: Page, theme: str) -> None:
    """As if the page had been asked for in that theme: an attribute is all that tells them apart."""
    page.locator("html").evaluate("(it, theme) => { it.dataset.theme = theme }", theme)


def test_an_attribute_is_all_that_tells_a_page_in_one_theme_from_that_in_another(
    club: Club, new_context: Opener
):
    def body(theme: str) -> str:
        page = new_context(club.address, observer=club.observer, theme=theme).new_page()
        page.goto(f"/bench/{club.rig}")
        assert page.locator("html").get_attribute("data-theme") == theme
        return str(page.locator("main").evaluate("it => it.outerHTML"))

    assert body("light") == body("dark") == body("red")


TALLEST = 8000
"""Chromium draws one surface up to 16 384 px; below that a picture of a whole page is not the page's own."""


def height_of(page: Page) -> int:
    return int(page.evaluate("document.documentElement.scrollHeight"))


def picture_from(page: Page, y: int) -> bytes:
    """A picture of the page from `y` down, at most `TALLEST` px of it, at the page's own width."""
    size = page.viewport_size
    assert size is not None
    page.set_viewport_size({"width": size["width"], "height": min(TALLEST, height_of(page))})
    page.evaluate(f"window.scrollTo(0, {y})")
    picture = page.screenshot()
    page.set_viewport_size(size)
    return picture


def only_red(png: bytes) -> list[str]:
    """The green and blue that a picture has: nothing, if it is lit by red alone."""
    with Image.open(io.BytesIO(png)) as picture:
        red, green, blue = picture.convert("RGB").split()
    assert red.getbbox() is not None, "a black picture proves nothing"
    return [
        f"{name} up to {band.getextrema()[1]} within {band.getbbox()}"
        for name, band in (("green", green), ("blue", blue))
        if band.getbbox() is not None
    ]


@each(PAGES)
def test_no_page_scrolls_sideways_on_a_phone(shown: Shown, club: Club, new_context: Opener, watch: Watch):
    page = opened(shown, club, new_context, watch, "system", **PHONE)
    wide = page.evaluate(
        """() => [...document.querySelectorAll("body *")]
            .filter(it => it.getBoundingClientRect().right > 390.5 && !it.closest(".scroll, svg"))
            .slice(0, 8).map(it => `${it.tagName}.${it.className} ${it.getBoundingClientRect().right}`)"""
    )
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= NARROW["width"], f"{width} px wide: {wide}"


def test_form_controls_scrollbars_and_ticks_are_red_as_well(club: Club, new_context: Opener):
    context = new_context(
        club.address, observer=club.observer, theme="red", viewport={"width": 700, "height": 400}
    )
    page = context.new_page()
    page.goto(f"/bench/{club.rig}?tray=1")
    page.get_by_label("the whole catalogue").check()
    page.get_by_label("the whole catalogue").focus()
    page.keyboard.press("Shift+Tab")
    assert page.evaluate("window.innerWidth > document.documentElement.clientWidth"), "no scrollbar is seen"
    assert only_red(page.screenshot()) == []
    page.goto("/shelf/new?kind=corrector")
    box = page.get_by_role("checkbox").first
    box.check()
    page.locator("#more > summary").click()
    page.get_by_label("Note").fill("line\n" * 30)
    assert only_red(page.screenshot(full_page=True)) == []
    page.goto("/observers")
    page.get_by_role("radio", name="Imperial, like").check()
    assert only_red(page.screenshot(full_page=True)) == []


def test_the_choice_at_the_very_beginning_is_accessible_and_red(empty_app: str, new_context: Opener):
    for theme in ("light", "dark", "red"):
        page = new_context(empty_app, theme=theme).new_page()
        page.goto("/")
        assert violations(page, EVERYTHING) == []
        if theme == "red":
            assert only_red(page.screenshot(full_page=True)) == []
        page.set_viewport_size(NARROW)
        assert violations(page, CONTRAST) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]


def test_empty_places_that_teach_are_accessible_and_narrow(empty_rig, new_context: Opener):
    for theme in ("light", "red"):
        page = new_context(empty_rig.address, observer=empty_rig.observer, theme=theme).new_page()
        rig = f"/bench/{empty_rig.rig}"
        for path in ("/", rig, f"{rig}/load", f"{rig}/packing", "/logbook", "/logbook/compare"):
            page.set_viewport_size(WIDE)
            page.goto(path)
            assert violations(page, EVERYTHING) == [], path
            if theme == "red":
                assert only_red(page.screenshot(full_page=True)) == [], path
            page.set_viewport_size(NARROW)
            assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"], path


def test_the_tests_see_a_breach_of_the_policy_an_error_and_a_colour(
    club: Club, new_context: Opener, watch: Watch
):
    page = new_context(club.address, theme="light").new_page()
    page.goto("/about")
    assert len(only_red(page.screenshot())) == 2
    assert watch.complaints == []
    page.evaluate("document.body.append(Object.assign(document.createElement('script'), { text: '1' }))")
    page.evaluate("() => { setTimeout(() => { throw new Error('nobody caught this') }) }")
    page.wait_for_timeout(200)
    heard = " ".join(watch.complaints)
    assert "Content Security Policy" in heard
    assert "nobody caught this" in heard
    watch.complaints.clear()
