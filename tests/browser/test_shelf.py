"""The shelf while one types and presses: the list follows, the focus stays, the newest text counts."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import PHONE, Club, Opener, Place, Watch
from tests.browser.gear import SHORT_RING, TUBE

pytestmark = pytest.mark.browser


def test_the_list_follows_what_is_typed_and_the_address_keeps_it(empty_rig: Place, new_context: Opener):
    page = new_context(empty_rig.address, observer=empty_rig.observer).new_page()
    page.goto("/shelf")
    everything = page.get_by_role("listitem").filter(has=page.get_by_role("heading", level=2))
    expect(everything.filter(has_text=TUBE.name)).to_have_count(1)
    search = page.get_by_role("searchbox", name="Search")
    search.press_sequentially(SHORT_RING.name)
    expect(everything).to_have_count(1)
    expect(everything).to_contain_text(SHORT_RING.name)
    expect(search).to_be_focused()
    expect(page).to_have_url(re.compile(r"/shelf\?q="))
    page.get_by_role("link", name=SHORT_RING.name).click()
    # A click returns before its page has come; going back meanwhile breaks off both.
    expect(page.get_by_role("heading", level=1)).to_have_text(SHORT_RING.name)
    page.go_back()
    expect(search).to_have_value(SHORT_RING.name)
    expect(everything).to_have_count(1)


def test_an_unfinished_connection_is_told_and_is_no_error(empty_rig: Place, new_context: Opener):
    page = new_context(empty_rig.address, observer=empty_rig.observer).new_page()
    page.goto("/shelf")
    page.get_by_label("Mates with").fill("wobb")
    expect(page.get_by_text("“wobb” is not taken")).to_be_visible()
    page.get_by_label("Mates with").fill("M48x0.75 male")
    expect(page.get_by_text("metric thread 48 mm, pitch 0.75, male")).to_be_visible()


def test_one_more_and_one_fewer_keep_the_focus_and_are_announced(empty_rig: Place, new_context: Opener):
    page = new_context(empty_rig.address, observer=empty_rig.observer).new_page()
    page.goto("/shelf")
    more = page.get_by_role("button", name=f"Own one more: {SHORT_RING.name}", exact=True)
    more.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#status")).to_contain_text(f"{SHORT_RING.name}: 2 owned")
    expect(more).to_be_focused()
    for _ in range(3):
        page.keyboard.press("Enter")
    expect(page.locator("#status")).to_contain_text(f"{SHORT_RING.name}: 5 owned")
    page.reload()
    line = page.get_by_role("listitem").filter(has=page.get_by_role("link", name=SHORT_RING.name))
    expect(line.get_by_role("status").first).to_have_text("5")


def test_a_field_tells_what_it_understood_of_the_newest_text(empty_rig: Place, new_context: Opener):
    page = new_context(empty_rig.address, observer=empty_rig.observer).new_page()
    page.goto("/shelf/new?kind=corrector")
    length = page.get_by_label("Optical length")
    length.press_sequentially("5 kg", delay=60)
    expect(page.get_by_text("5 kg is a mass; this field is a length.")).to_be_visible()
    length.fill("2 in +- 0.1 mm")
    expect(page.get_by_text("Understood: 50.8 ± 0.1 mm")).to_be_visible()
    page.get_by_label("Back focus by tube").press_sequentially("400: 55\n600: 56.5")
    expect(page.get_by_text("400 mm → 55 mm; 600 mm → 56.5 mm")).to_be_visible()


def test_a_wrong_field_is_found_from_the_list_of_errors(empty_rig: Place, new_context: Opener, watch: Watch):
    watch.allow_status(422)
    page = new_context(empty_rig.address, observer=empty_rig.observer).new_page()
    page.goto("/shelf/new?kind=spacer_ring")
    page.get_by_label("Model").fill("R3000")
    page.get_by_label("Optical length").fill("3 m")
    page.get_by_role("button", name="Put it on the shelf").click()
    page.get_by_role("alert").get_by_role("link", name="Optical length").click()
    expect(page.get_by_label("Optical length")).to_be_focused()
    expect(page.get_by_label("Optical length")).to_have_value("3 m")
    expect(page.get_by_label("Model")).to_have_value("R3000")


def test_a_picked_connection_is_written_while_the_form_stays_and_takes_the_focus(
    empty_rig: Place, new_context: Opener
):
    page = new_context(empty_rig.address, observer=empty_rig.observer).new_page()
    page.goto("/shelf/new?kind=adapter")
    page.get_by_label("Model").fill("Step ring")
    page.get_by_text("Pick it for Sky-side connection").click()
    picker = page.locator("#pick-sky_side")
    picker.get_by_label("Size").select_option("M48x0.75")
    picker.get_by_label("Half").select_option("female")
    picker.get_by_role("button", name="Write it into Sky-side connection").click()
    sky = page.get_by_label("Sky-side connection", exact=True)
    expect(sky).to_have_value("M48x0.75 female")
    expect(sky).to_be_focused()
    expect(page.get_by_label("Model")).to_have_value("Step ring")
    page.get_by_label("Model").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Step ring")


def test_a_pasted_text_fills_the_form_and_an_offer_is_put_in(empty_rig: Place, new_context: Opener):
    page = new_context(empty_rig.address, observer=empty_rig.observer).new_page()
    page.goto("/shelf/new")
    page.get_by_label("Paste or type it in one go").fill("80 mm f/6 apochromat, 2.4 kg")
    page.get_by_role("button", name="Fill the form").click()
    expect(page.get_by_label("Aperture", exact=True)).to_have_value("80 mm")
    expect(page.get_by_text("From 80 mm f/6 apochromat").first).to_be_visible()
    page.get_by_role("button", name="Put it in: Focal length 480 mm").click()
    focal = page.get_by_label("Focal length", exact=True)
    expect(focal).to_have_value("480 mm")
    expect(focal).to_be_focused()


@pytest.mark.parametrize(
    "path",
    ["/shelf?holding=catalogue", "/shelf/new", "/shelf/new?kind=camera", "/shelf/drawer", "/shelf/import"],
)
def test_no_page_of_the_shelf_is_wider_than_a_phone(club: Club, new_context: Opener, path: str):
    page = new_context(**club.cookies, **PHONE).new_page()
    page.goto(path)
    widths = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert widths[0] <= widths[1]
