"""What a hand does under the sky: turning the camera, pushing a horizon line, printing a plan."""

from __future__ import annotations

import io

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.browser.conftest import Club, Opener
from tests.browser.test_prints import SMALL_PRINT, SMALLEST_PT, on_paper

pytestmark = pytest.mark.browser


def opened(club: Club, new_context: Opener, path: str) -> Page:
    page = new_context(club.address, observer=club.observer).new_page()
    page.goto(path.format(rig=club.rig))
    return page


def test_the_sky_turns_with_the_slider_and_the_server_says_what_that_fills(club: Club, new_context: Opener):
    page = opened(club, new_context, "/sky/at/M31?rig={rig}")
    slider = page.get_by_label("Turn the camera")
    slider.focus()
    slider.fill("90")
    expect(page.locator(".sky-picture .turning")).to_have_attribute("transform", "rotate(90 340 250)")
    expect(page.get_by_label("Upper side points to")).to_have_value("90°")
    # What the server draws then is turned as the hand had it.
    expect(page.locator(".sky-picture")).to_have_attribute("data-turn", "90.0")
    expect(page.get_by_label("Turn the camera")).to_have_value("90")


def test_the_sky_is_dragged_round_the_sensor(club: Club, new_context: Opener):
    page = opened(club, new_context, "/sky/at/M31?rig={rig}&angle_deg=0")
    page.locator(".sky-picture").scroll_into_view_if_needed()
    box = page.locator(".sky-picture svg").bounding_box()
    assert box is not None
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(middle[0], middle[1] - 80)
    page.mouse.down()
    page.mouse.move(middle[0] + 80, middle[1], steps=6)
    # From the top to the right is a quarter turn, clockwise.
    expect(page.locator(".sky-picture .turning")).to_have_attribute("transform", "rotate(90 340 250)")
    page.mouse.up()
    expect(page.get_by_label("Upper side points to")).to_have_value("90°")


def test_a_horizon_line_is_pushed_and_its_field_says_the_same(club: Club, new_context: Opener):
    page = opened(club, new_context, "/sky/sites/new")
    strip = page.locator("svg.horizon")
    strip.scroll_into_view_if_needed()
    box = strip.bounding_box()
    assert box is not None
    # East is a quarter of the strip, which begins at 30 of 480; 45 degrees half of its 118 above the floor.
    scale = box["width"] / 480.0
    page.mouse.click(box["x"] + (30 + 442 / 4) * scale, box["y"] + (126 - 118 / 2) * scale)
    expect(page.get_by_label("Lowest usable altitude", exact=True)).to_have_value("0: 30\n90: 45")
    page.get_by_label("Lowest usable altitude", exact=True).fill("20")
    points = strip.locator(".ground-line").get_attribute("points")
    assert points is not None
    assert len({point.split(",")[1] for point in points.split()}) == 1


def test_a_plan_of_four_targets_on_two_rigs_is_one_sheet(club: Club, new_context: Opener):
    targets = "".join(f"&target={name}" for name in ("M31", "M51", "M81", "NGC%207000"))
    page = opened(club, new_context, "/sky/plan?rig={rig}&rig=2" + targets)
    page.wait_for_load_state("networkidle")
    expect(page.locator("section.sky-block")).to_have_count(4)
    sheet = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    assert len(sheet.pages) == 1


def test_a_target_on_two_rigs_is_one_sheet_with_its_sketches_and_nothing_too_small(
    club: Club, new_context: Opener
):
    # A nebula in panels: its page says the most.
    page = opened(club, new_context, "/sky/at/NGC%207000?rig={rig}&rig=2&columns=2&rows=2")
    page.wait_for_load_state("networkidle")
    (sheet,) = PdfReader(io.BytesIO(page.pdf(format="A4", prefer_css_page_size=True))).pages
    assert len([one for one in sheet.images if one.image is not None and one.image.width == 560]) == 6
    on_paper(page)
    assert page.evaluate(SMALL_PRINT, SMALLEST_PT) == []


def test_the_months_of_two_rigs_of_long_names_stand_beside_one_another(club: Club, new_context: Opener):
    page = opened(club, new_context, "/sky/at/M31?rig={rig}&rig=2&columns=3&rows=3")
    page.set_viewport_size({"width": 1440, "height": 900})
    page.get_by_text("The months in figures").click()
    table = page.get_by_role("group", name="Hours a night by month")
    expect(table.get_by_role("columnheader")).to_have_count(7)
    assert table.evaluate("it => it.scrollWidth - it.clientWidth") == 0


def test_without_a_script_the_angle_is_typed(club: Club, new_context: Opener):
    page = new_context(club.address, observer=club.observer, java_script_enabled=False).new_page()
    page.goto(f"/sky/at/M31?rig={club.rig}")
    expect(page.locator(".sky-turn")).to_be_hidden()
    page.locator("details.sky-more summary").first.click()
    page.get_by_label("Upper side points to").fill("90")
    page.get_by_role("button", name="Show").click()
    expect(page.locator(".sky-picture")).to_have_attribute("data-turn", "90.0")
