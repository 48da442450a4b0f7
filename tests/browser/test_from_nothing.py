"""The whole way, from an empty install to a link that somebody else opens, as a person goes it."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Opener, Watch
from tests.browser.gear import ADAPTER, ALL, CAMERA, CORRECTOR, LONG_RING, MOUNT, SHORT_RING, TUBE, Typed
from tests.browser.hands import drag, expect_run, expect_stored, finding, place, take_out, tray_part

pytestmark = pytest.mark.browser


def fill(page: Page, typed: Typed) -> None:
    # What no check waits for is folded.
    page.locator("details").filter(has_text="More:").locator("summary").first.click()
    for label, text in typed.texts.items():
        page.get_by_label(label, exact=True).fill(text)
    for label, words in typed.chosen.items():
        page.get_by_label(label, exact=True).select_option(label=words)


def enter(page: Page, typed: Typed, kind: str) -> None:
    """Enters a part by the links and buttons that lead there, and owns one of it."""
    page.get_by_role("navigation", name="Places").get_by_role("link", name="Shelf").click()
    page.get_by_role("link", name=re.compile("Enter (a|the first) part")).first.click()
    page.get_by_role("link", name=kind, exact=True).click()
    fill(page, typed)
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(typed.name)


KINDS = ("Optical tube", "Corrector", "Spacer ring", "Spacer ring", "Adapter", "Camera", "Mount")


def test_from_an_empty_install_to_a_link_opened_in_a_clean_profile(
    empty_app: str, new_context: Opener, watch: Watch
):
    watch.allow_status(422)  # One mistake is made on purpose.
    page = new_context(empty_app).new_page()

    # Who is at the bench.
    page.goto("/")
    page.get_by_label("Who is at the bench?").fill("Maud")
    page.get_by_role("button", name="Start empty").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("Maud"))

    # Parts of three makers, with units as people type them. The first is typed wrong at first.
    page.get_by_role("link", name="Enter the first part").first.click()
    page.get_by_role("link", name="Corrector", exact=True).click()
    fill(page, CORRECTOR)
    page.get_by_label("Back focus", exact=True).fill("55 g")
    page.get_by_role("button", name="Put it on the shelf").click()
    back_focus = page.get_by_label("Back focus", exact=True)
    expect(back_focus).to_have_attribute("aria-invalid", "true")
    expect(back_focus).to_have_accessible_description(re.compile("mass.*length", re.IGNORECASE))
    expect(back_focus).to_have_value("55 g")
    for label, text in CORRECTOR.texts.items():
        if label != "Back focus":
            expect(page.get_by_label(label, exact=True)).to_have_value(text)
    expect(page.get_by_label("What it does").locator("option:checked")).to_have_text("flattener")
    back_focus.fill(CORRECTOR.texts["Back focus"])
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(CORRECTOR.name)
    for typed, kind in zip(ALL, KINDS, strict=True):
        if typed is not CORRECTOR:
            enter(page, typed, kind)

    # A train, by the mouse.
    page.get_by_role("navigation", name="Places").get_by_role("link", name="Bench").click()
    page.get_by_label("Name").fill("Small refractor")
    page.get_by_role("button", name="Begin").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Small refractor")
    page.set_viewport_size({"width": 1440, "height": 1600})
    drag(page, tray_part(page, TUBE), page.locator("#run"))
    expect_run(page, TUBE)
    drag(page, tray_part(page, CAMERA), page.locator("#run"), height=0.95)
    expect_run(page, TUBE, CAMERA)
    drag(page, tray_part(page, CORRECTOR), place(page, CAMERA), height=0.1)
    expect_run(page, TUBE, CORRECTOR, CAMERA)
    drag(page, tray_part(page, ADAPTER), place(page, CAMERA), height=0.1)
    expect_run(page, TUBE, CORRECTOR, ADAPTER, CAMERA)
    spacing = finding(page, "Spacing")
    # Worked by hand: the adapter's 12.3 mm and the camera's 19.2 mm stand where 55 mm are asked for.
    expect(spacing).to_contain_text("23.5")
    expect(spacing).to_have_class(re.compile(r"\bstop\b"))
    drag(page, tray_part(page, LONG_RING), place(page, ADAPTER), height=0.1)
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    expect(spacing).to_have_class(re.compile(r"\bsound\b"))
    drag(page, tray_part(page, SHORT_RING), place(page, ADAPTER), height=0.1)
    expect_run(page, TUBE, CORRECTOR, LONG_RING, SHORT_RING, ADAPTER, CAMERA)
    expect(spacing).to_have_class(re.compile(r"\bstop\b"))
    expect(spacing).to_contain_text("5")
    drag(page, tray_part(page, MOUNT), page.locator("#run"))
    expect_stored(page, MOUNT.name)
    beside = page.get_by_role("region", name="Beside the train")
    beside.get_by_text("1 part").click()
    expect(beside.get_by_role("link", name=MOUNT.name)).to_be_visible()

    # Another order, by the handle: an M42 thread then meets an M48 one.
    drag(page, place(page, SHORT_RING).locator(".handle"), place(page, CAMERA), height=0.2)
    expect_stored(page, f"moved {SHORT_RING.name}")
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, SHORT_RING, CAMERA)
    expect(place(page, SHORT_RING)).to_contain_text("M42")
    expect(page.locator("#answer .finding.stop")).to_be_visible()

    # Back, forth and back.
    page.get_by_role("button", name="Undo").click()
    expect_run(page, TUBE, CORRECTOR, LONG_RING, SHORT_RING, ADAPTER, CAMERA)
    page.get_by_role("button", name="Redo").click()
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, SHORT_RING, CAMERA)
    page.get_by_role("button", name="Undo").click()
    expect_run(page, TUBE, CORRECTOR, LONG_RING, SHORT_RING, ADAPTER, CAMERA)
    take_out(page, SHORT_RING)
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    expect(spacing).to_have_class(re.compile(r"\bsound\b"))

    # All that was done is stored.
    page.reload()
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)

    # Saved, and shared.
    page.get_by_role("link", name="Save to the logbook").click()
    save = page.locator("#save")
    save.get_by_label("Title").fill("First light")
    save.get_by_label("Note").fill("The ring of 5 mm was one too many.")
    save.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("First light")
    page.get_by_role("button", name="Make a link").click()
    address = page.get_by_role("region", name="Share").get_by_role("textbox").input_value()
    assert "127.0.0.1" in address

    # Opened by somebody who is nobody here.
    guest = new_context(empty_app).new_page()
    guest.goto(address)
    expect(guest.get_by_role("heading", level=1)).to_have_text("First light")
    expect(guest.get_by_role("img", name="Section of the train")).to_be_visible()
    expect(guest.get_by_role("img", name="QR code")).to_be_visible()
    rows = guest.get_by_role("table", name="The train").get_by_role("row")
    # Worked by hand: what lies behind each part's sky-side shoulder, up to the sensor.
    for part, length_mm, distance_mm in (
        (CAMERA, 19.2, 19.2),
        (ADAPTER, 12.3, 31.5),
        (LONG_RING, 23.5, 55.0),
        (CORRECTOR, 32.5, 87.5),
    ):
        cells = rows.filter(has_text=part.name).get_by_role("cell").all_inner_texts()
        assert [float(text.removesuffix("mm")) for text in cells[-2:]] == [length_mm, distance_mm]
    expect(guest.get_by_role("region", name="Findings").get_by_role("article")).not_to_have_count(0)
    expect(finding(guest, "Spacing")).to_have_class(re.compile(r"\bsound\b"))
    expect(guest.get_by_text("The ring of 5 mm was one too many.")).to_be_visible()
    assert guest.context.cookies() == []
