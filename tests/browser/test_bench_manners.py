"""Where the focus goes on the bench, what it says when no answer comes, and what stays as it was left."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import PHONE, Club, Opener, Place, Watch
from tests.browser.gear import ADAPTER, CAMERA, CORRECTOR, LONG_RING, SHORT_RING, TUBE
from tests.browser.hands import expect_run, finding, open_tray, place, take_out

pytestmark = pytest.mark.browser


def open_rig(new_context: Opener, at: Place, **how) -> Page:
    page = new_context(at.address, observer=at.observer, **how).new_page()
    page.goto(f"/bench/{at.rig}")
    return page


@pytest.mark.parametrize("how", [{}, PHONE], ids=["desktop", "phone"])
def test_add_here_leads_to_the_tray_and_back_to_the_joint(built_rig: Place, new_context: Opener, how: dict):
    page = open_rig(new_context, built_rig, **how)
    place(page, SHORT_RING).get_by_role("link", name=re.compile("Add here")).press("Enter")
    title = page.locator("#tray-title")
    expect(title).to_have_text(f"After {LONG_RING.name}")
    expect(title).to_be_focused()
    expect(title).to_be_in_viewport()
    page.get_by_role("button", name=f"Add {ADAPTER.name}", exact=True).first.press("Enter")
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, SHORT_RING, ADAPTER, CAMERA)
    expect(title).to_have_count(0)
    expect(
        page.locator("#run > .place").nth(3).get_by_role("link", name=re.compile("Add here"))
    ).to_be_focused()
    expect(page.locator("#run > .place").nth(3)).to_be_in_viewport()


def test_a_swap_leads_back_to_the_place_that_was_swapped(built_rig: Place, new_context: Opener):
    page = open_rig(new_context, built_rig)
    place(page, SHORT_RING).get_by_role("link", name=f"Swap {SHORT_RING.name} for another part").click()
    expect(page.locator("#tray-title")).to_be_focused()
    page.get_by_role("button", name=f"Swap in {LONG_RING.name}", exact=True).first.click()
    expect_run(page, TUBE, CORRECTOR, LONG_RING, LONG_RING, ADAPTER, CAMERA)
    expect(
        page.locator("#run > .place").nth(3).get_by_role("link", name=re.compile("^Swap "))
    ).to_be_focused()


def test_taking_a_part_out_leaves_the_focus_on_its_neighbour(built_rig: Place, new_context: Opener):
    page = open_rig(new_context, built_rig)
    place(page, SHORT_RING).get_by_role("button", name=f"Take out {SHORT_RING.name}", exact=True).press(
        "Enter"
    )
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    expect(page.get_by_role("button", name=f"Take out {ADAPTER.name}", exact=True)).to_be_focused()
    for part in (ADAPTER, CAMERA, LONG_RING, CORRECTOR, TUBE):
        page.keyboard.press("Enter")
        expect(page.locator("#run").get_by_role("link", name=part.name, exact=True)).to_have_count(0)
    expect(page.locator("#run-title")).to_be_focused()


def test_undoing_says_what_was_undone_and_redoing_what_was_made_again(built_rig: Place, new_context: Opener):
    page = open_rig(new_context, built_rig)
    status = page.locator("#bench-status")
    stood = page.locator("#bench").get_attribute("data-stood")
    with page.expect_request("**/change") as asked:
        take_out(page, SHORT_RING)
    expect(status).to_contain_text(f"Took out {SHORT_RING.name}.")
    assert asked.value.headers["trainwright-stood"] == stood, "what turned by it is told against what stood"
    expect(page.locator("#bench")).not_to_have_attribute("data-stood", stood or "")
    page.get_by_role("button", name="Undo").click()
    expect(status).to_contain_text(f"Undone: took out {SHORT_RING.name}.")
    page.get_by_role("button", name="Redo").click()
    expect(status).to_contain_text(f"Made again: took out {SHORT_RING.name}.")


def test_when_no_answer_comes_the_bench_says_so_and_goes_on_when_it_comes_again(
    built_rig: Place, new_context: Opener, watch: Watch
):
    page = open_rig(new_context, built_rig)
    page.locator("#save").scroll_into_view_if_needed()
    page.route("**/change", lambda route: route.abort("connectionrefused"))
    take_out(page, SHORT_RING)
    notice = page.locator("#notice")
    expect(notice).to_contain_text("Trainwright does not answer")
    expect(notice).to_be_in_viewport()
    expect_run(page, TUBE, CORRECTOR, LONG_RING, SHORT_RING, ADAPTER, CAMERA)
    assert any("ERR_CONNECTION_REFUSED" in each for each in watch.complaints)
    watch.complaints.clear()
    page.unroute("**/change")
    take_out(page, SHORT_RING)
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    expect(notice).to_be_empty()


def test_a_remedy_leaves_the_focus_on_how_the_rig_stands(built_rig: Place, new_context: Opener):
    page = open_rig(new_context, built_rig)
    page.locator("#answer").get_by_role("button", name=f"Take out {SHORT_RING.name}").press("Enter")
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    expect(page.locator("#answer")).to_be_focused()


def test_a_refused_rule_and_an_opened_working_outlast_the_next_change(
    built_rig: Place, new_context: Opener, watch: Watch
):
    watch.allow_status(422)
    page = open_rig(new_context, built_rig)
    page.get_by_text("What this rig is judged by").click()
    rules = page.locator("#rules")
    rules.get_by_label("Seeing, full width").fill("3 kg")
    rules.get_by_role("button", name="Judge by these").click()
    expect(rules.locator(".field-error")).to_contain_text("mass")
    finding(page, "Spacing").locator("details.working summary").click()
    take_out(page, SHORT_RING)
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    expect(rules.get_by_label("Seeing, full width")).to_be_visible()
    expect(rules.get_by_label("Seeing, full width")).to_have_value("3 kg")
    # It holds now, in a line that opens.
    expect(finding(page, "Spacing").locator(".formula")).to_be_visible()
    # Put right, it goes through on the newest version.
    rules.get_by_label("Seeing, full width").fill("2.5 arcsec")
    rules.get_by_role("button", name="Judge by these").click()
    expect(page.locator("#bench-status")).to_contain_text("Changed the rules")
    expect(rules.locator(".field-error")).to_have_count(0)


def test_the_tray_says_that_a_part_is_in_the_rig_already_and_follows_a_change(
    built_rig: Place, new_context: Opener
):
    page = open_rig(new_context, built_rig)
    open_tray(page)
    row = page.locator(".tray-item").filter(
        has=page.get_by_role("button", name=f"Add {LONG_RING.name}", exact=True)
    )
    expect(row.locator(".tray-note")).to_have_text("In this rig already; you own 1.")
    row.get_by_role("button").click()
    expect(row.locator(".tray-note")).to_have_text("In this rig already 2 times; you own 1.")
    short = page.locator("#run .short-of")
    expect(short).to_have_count(2)
    expect(short.first).to_have_text("The rig holds 2 of these and you own 1: 1 more than you have.")


def test_on_a_phone_the_drawing_fits_its_box_and_no_word_is_broken(club: Club, new_context: Opener):
    page = new_context(club.address, observer=club.observer, **PHONE).new_page()
    page.goto(f"/bench/{club.rig}")
    page.locator(".gear-fold > summary").click()
    box = page.locator(".drawing-narrow")
    assert box.evaluate("it => it.scrollWidth <= it.clientWidth")
    assert page.locator(".dw-narrow").bounding_box()["width"] >= 350
    broken = page.evaluate(
        """() => {
          const found = [];
          for (const it of document.querySelectorAll(".place-name a, .tray-name, .gear-name a, h3")) {
            const walk = document.createTreeWalker(it, NodeFilter.SHOW_TEXT);
            for (let text; (text = walk.nextNode()); ) {
              for (const word of text.data.matchAll(/[A-Za-z]+/g)) {
                const range = document.createRange();
                range.setStart(text, word.index);
                range.setEnd(text, word.index + word[0].length);
                if (range.getClientRects().length > 1) found.push(word[0]);
              }
            }
          }
          return found;
        }"""
    )
    assert broken == []


@pytest.mark.parametrize("width", [390, 700, 1440])
def test_the_words_of_the_benchs_buttons_stand_in_their_middle(club: Club, new_context: Opener, width: int):
    page = new_context(
        club.address, observer=club.observer, viewport={"width": width, "height": 900}
    ).new_page()
    page.goto(f"/bench/{club.rig}")
    off = page.get_by_role("link", name="Save to the logbook").evaluate(
        """it => {
          const range = document.createRange();
          range.selectNodeContents(it);
          const words = range.getBoundingClientRect(), button = it.getBoundingClientRect();
          return Math.abs((words.top + words.bottom) / 2 - (button.top + button.bottom) / 2);
        }"""
    )
    assert off <= 1.5


def test_the_owner_copies_the_address_of_a_link(club: Club, new_context: Opener):
    context = new_context(club.address, observer=club.observer)
    context.grant_permissions(["clipboard-read", "clipboard-write"])
    page = context.new_page()
    page.goto(f"/logbook/{club.entry}")
    field = page.locator(".links input.address").first
    page.locator(".links").get_by_role("button", name="Copy").first.click()
    expect(page.locator("#status")).to_contain_text("on the clipboard")
    assert page.evaluate("navigator.clipboard.readText()") == field.input_value()
    assert field.input_value().endswith(f"/s/{club.token}")
    expect(page.locator(".links svg.qr").first).to_be_visible()


def test_a_tray_that_is_closed_gives_the_focus_back_to_what_opens_it(
    built_rig: Place, new_context: Opener, watch: Watch
):
    page = open_rig(new_context, built_rig)
    open_tray(page)
    page.get_by_role("link", name="Close it").press("Enter")
    expect(page.get_by_role("link", name="Open the tray")).to_be_focused()


def test_a_stored_figure_leaves_what_is_typed_in_the_other_fields_where_it_was_typed(
    built_rig: Place, new_context: Opener
):
    page = open_rig(new_context, built_rig)
    page.locator("#settle-more > summary").click()
    plane = page.get_by_label(f"How far behind {TUBE.name} its focal plane lies", exact=True)
    bore = page.get_by_label(f"The clear aperture of {CAMERA.name}", exact=True)
    expect(bore).to_have_count(1)
    bore.fill("41 mm")
    plane.fill("95 mm")
    plane.locator("xpath=..").get_by_role("button", name="Store").press("Enter")
    expect(page.locator("#bench-status")).to_contain_text(f"Stored on {TUBE.name}.")
    expect(plane).to_have_count(0)
    expect(bore).to_have_value("41 mm")
    expect(page.locator("#settle-title")).to_be_focused()


def test_a_list_of_findings_that_is_opened_fetches_no_working(built_rig: Place, new_context: Opener):
    page = open_rig(new_context, built_rig)
    fetched: list[str] = []
    page.on("request", lambda request: fetched.append(request.url) if "/working/" in request.url else None)
    for _ in range(3):
        page.locator("#open-list > summary").click()
    with page.expect_response("**/working/**"):
        page.locator("#open-list details").last.locator("summary").click()
    assert len(fetched) == 1
