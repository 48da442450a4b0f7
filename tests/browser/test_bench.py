"""The bench by keyboard, by finger, in two tabs, and without JavaScript."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import CDPSession, Page, expect

from tests.browser.conftest import PHONE, TRAIN, Opener, Place, Watch
from tests.browser.gear import ADAPTER, CAMERA, CORRECTOR, LONG_RING, SHORT_RING, TUBE, Typed
from tests.browser.hands import STEADY_MS, expect_run, expect_stored, finding, place, tab_to, take_out

pytestmark = pytest.mark.browser


def open_rig(new_context: Opener, at: Place, **how) -> Page:
    page = new_context(at.address, observer=at.observer, **how).new_page()
    page.goto(f"/bench/{at.rig}")
    return page


def expect_focus_on(page: Page, part: Typed) -> None:
    expect(place(page, part).locator(":focus")).to_have_count(1)


def test_a_train_is_built_by_keyboard_alone(empty_rig: Place, new_context: Opener):
    page = open_rig(new_context, empty_rig)
    built: list[Typed] = []
    # A part goes before the camera unless the tray was opened at a joint.
    for part in (TUBE, CAMERA, CORRECTOR, SHORT_RING, LONG_RING, ADAPTER):
        add = page.get_by_role("button", name=f"Add {part.name}", exact=True)
        tab_to(page, add)
        page.keyboard.press("Enter")
        built.insert(len(built) - 1 if CAMERA in built else len(built), part)
        expect_run(page, *built)
        expect(add).to_be_focused()
        expect(page.locator("#bench-status")).to_contain_text(part.name)

    # The short ring goes behind the long one: by its button, then with Alt and an arrow.
    tab_to(page, page.get_by_role("button", name=f"Move {SHORT_RING.name} towards the camera"))
    page.keyboard.press("Enter")
    expect_run(page, TUBE, CORRECTOR, LONG_RING, SHORT_RING, ADAPTER, CAMERA)
    expect_focus_on(page, SHORT_RING)
    expect(page.locator("#bench-status")).to_contain_text(SHORT_RING.name)
    page.keyboard.press("Alt+ArrowDown")
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, SHORT_RING, CAMERA)
    expect_focus_on(page, SHORT_RING)
    page.keyboard.press("Alt+ArrowUp")
    expect_run(page, TUBE, CORRECTOR, LONG_RING, SHORT_RING, ADAPTER, CAMERA)
    expect_focus_on(page, SHORT_RING)

    # To the end of its way and no further; the focus is not lost there.
    for _ in range(2):
        page.keyboard.press("Alt+ArrowUp")
        page.wait_for_timeout(300)
    expect_run(page, TUBE, SHORT_RING, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    expect_focus_on(page, SHORT_RING)
    page.keyboard.press("Alt+ArrowUp")
    page.wait_for_timeout(300)
    expect_run(page, TUBE, SHORT_RING, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    expect_focus_on(page, SHORT_RING)


def test_the_tray_at_a_joint_adds_there_by_keyboard(built_rig: Place, new_context: Opener):
    page = open_rig(new_context, built_rig)
    joint = place(page, SHORT_RING).get_by_role("link", name=re.compile("Add here"))
    tab_to(page, joint)
    page.keyboard.press("Enter")
    tray = page.get_by_role("complementary")
    expect(tray.get_by_role("heading", name=f"After {LONG_RING.name}")).to_be_visible()
    tab_to(page, page.get_by_role("button", name=f"Add {ADAPTER.name}", exact=True).first)
    page.keyboard.press("Enter")
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, SHORT_RING, ADAPTER, CAMERA)
    expect(tray).to_have_count(0)


def touch(finger: CDPSession, kind: str, *points: tuple[float, float]) -> None:
    there = [{"x": x, "y": y} for x, y in points]
    finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": there})


def test_a_finger_drags_a_part_to_another_place(built_rig: Place, new_context: Opener):
    page = open_rig(new_context, built_rig, **PHONE)
    handle = place(page, SHORT_RING).locator(".handle")
    # Both rows must be in sight: a finger cannot drag beyond the screen.
    place(page, SHORT_RING).evaluate("it => it.scrollIntoView({ block: 'start' })")
    start, end = handle.bounding_box(), place(page, ADAPTER).locator(".place-body").bounding_box()
    assert start is not None
    assert end is not None
    x, y = start["x"] + start["width"] / 2, start["y"] + start["height"] / 2
    goal = end["y"] + end["height"] * 0.8
    assert goal < PHONE["viewport"]["height"]
    scrolled = page.evaluate("window.scrollY")
    finger = page.context.new_cdp_session(page)
    touch(finger, "touchStart", (x, y))
    for step in range(1, 16):
        touch(finger, "touchMove", (x, y + (goal - y) * step / 15))
        page.wait_for_timeout(15)
    # The list makes room a moment later; a hand waits for it before it lets go.
    for aside in range(1, 6):
        touch(finger, "touchMove", (x + aside, goal))
        page.wait_for_timeout(STEADY_MS)
    assert page.evaluate("window.scrollY") == scrolled, "the page scrolled away under the finger"
    touch(finger, "touchEnd")
    expect_stored(page, f"moved {SHORT_RING.name}")
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, SHORT_RING, CAMERA)
    page.reload()
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, SHORT_RING, CAMERA)


def test_the_tube_and_the_camera_cannot_be_dragged(built_rig: Place, new_context: Opener):
    page = open_rig(new_context, built_rig, viewport={"width": 1440, "height": 1600})
    handle, target = place(page, TUBE).locator(".handle"), place(page, LONG_RING)
    start, end = handle.bounding_box(), target.bounding_box()
    if start is not None and end is not None:
        page.mouse.move(start["x"] + 2, start["y"] + 2)
        page.mouse.down()
        page.mouse.move(end["x"] + 40, end["y"] + end["height"] * 0.8, steps=15)
        page.mouse.up()
    page.wait_for_timeout(300)
    expect_run(page, *TRAIN)
    page.reload()
    expect_run(page, *TRAIN)


def test_a_stale_tab_is_refused_in_words_and_works_after(built_rig: Place, new_context: Opener, watch: Watch):
    watch.allow_status(409)
    first = open_rig(new_context, built_rig)
    second = first.context.new_page()
    second.goto(f"/bench/{built_rig.rig}")

    take_out(first, SHORT_RING)
    expect_run(first, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)

    # The other tab shows the train as it was, and means to change that.
    expect_run(second, *TRAIN)
    second.get_by_role("link", name="Save to the logbook").click()
    save = second.locator("#save")
    save.get_by_label("Note").fill("Half a note")
    second.get_by_role("button", name=f"Move {LONG_RING.name} towards the sky").click()
    expect(second.get_by_role("alert").filter(has_text=re.compile(r"\w+ \w+"))).to_contain_text(
        re.compile("meanwhile|changed|since|elsewhere", re.IGNORECASE)
    )
    expect_run(second, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    expect(save.get_by_label("Note")).to_have_value("Half a note")
    first.reload()
    expect_run(first, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)

    # It stands on the new version now, and the same change goes through.
    second.get_by_role("button", name=f"Move {LONG_RING.name} towards the sky").click()
    expect_run(second, TUBE, LONG_RING, CORRECTOR, ADAPTER, CAMERA)
    expect(second.locator("#bench-trouble")).to_have_count(0)


def test_without_javascript_a_part_is_added_moved_taken_out_and_the_rig_saved(
    built_rig: Place, new_context: Opener
):
    page = open_rig(new_context, built_rig, java_script_enabled=False)
    page.get_by_role("link", name="Open the tray").click()
    page.get_by_role("button", name=f"Add {LONG_RING.name}", exact=True).click()
    expect_run(page, TUBE, CORRECTOR, LONG_RING, SHORT_RING, ADAPTER, LONG_RING, CAMERA)
    page.get_by_role("button", name=f"Move {LONG_RING.name} towards the sky").last.click()
    expect_run(page, TUBE, CORRECTOR, LONG_RING, SHORT_RING, LONG_RING, ADAPTER, CAMERA)
    page.locator("#run").get_by_role("button", name=f"Take out {LONG_RING.name}").last.click()
    take_out(page, SHORT_RING)
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    expect(finding(page, "Spacing")).to_have_class(re.compile(r"\bsound\b"))
    page.get_by_role("link", name="Save to the logbook").click()
    page.get_by_label("Title").fill("Without a script")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Without a script")


def test_after_the_tray_was_swapped_back_leads_to_a_full_page(built_rig: Place, new_context: Opener):
    page = open_rig(new_context, built_rig)
    take_out(page, SHORT_RING)
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    place(page, ADAPTER).get_by_role("link", name=re.compile("Add here")).click()
    expect(
        page.get_by_role("complementary").get_by_role("heading", name=f"After {LONG_RING.name}")
    ).to_be_visible()
    page.get_by_role("link", name=CORRECTOR.name, exact=True).first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text(CORRECTOR.name)
    page.go_back()
    expect(page.get_by_role("navigation", name="Places")).to_be_visible()
    expect(page.get_by_role("heading", level=1)).to_have_text("Small refractor")
    expect_run(page, TUBE, CORRECTOR, LONG_RING, ADAPTER, CAMERA)
    # And it is a page that works.
    page.get_by_role("button", name="Undo").click()
    expect_run(page, *TRAIN)
