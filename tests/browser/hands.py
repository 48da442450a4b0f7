"""What a person does on the bench: look at the run, drag, tab."""

from __future__ import annotations

import re

from playwright.sync_api import Locator, Page, expect

from tests.browser.gear import Typed

MOST_TABS = 250
STEADY_MS = 50


def place(page: Page, part: Typed) -> Locator:
    """The row of a part in the run."""
    return page.locator("#run > .place").filter(has=page.get_by_role("link", name=part.name, exact=True))


def expect_run(page: Page, *parts: Typed) -> None:
    """The run holds these parts in this order, sky to sensor."""
    expect(page.locator("#run .place-name a")).to_have_text([part.name for part in parts])


def expect_stored(page: Page, words: str) -> None:
    """The server has answered a change: what was dragged lies in its new place before that already."""
    expect(page.get_by_role("button", name="Undo")).to_contain_text(words)


def tray_part(page: Page, part: Typed) -> Locator:
    """A part in the tray."""
    button = page.get_by_role(
        "button", name=re.compile(rf"^Add (beside the train: )?{re.escape(part.name)}$")
    )
    return page.get_by_role("complementary").get_by_role("listitem").filter(has=button)


def open_tray(page: Page) -> None:
    """The whole tray, behind one press."""
    page.get_by_role("link", name="Open the tray").click()
    expect(page.get_by_role("heading", name="The tray")).to_be_focused()


def take_out(page: Page, part: Typed) -> None:
    """Presses the button in the part's own row: a remedy may offer the same."""
    place(page, part).get_by_role("button", name=f"Take out {part.name}", exact=True).click()


def drag(page: Page, thing: Locator, onto: Locator, height: float = 0.5) -> None:
    """Drags with the mouse, as slowly as a hand does.

    `height` is where on the target it is let go (0 top, 1 foot).
    """
    # Both ends must be in sight: a hand cannot drag beyond the screen.
    onto.evaluate("it => it.scrollIntoView({ block: 'center' })")
    thing.scroll_into_view_if_needed()
    start = thing.bounding_box()
    end = onto.bounding_box()
    assert start is not None
    assert end is not None
    page.mouse.move(start["x"] + start["width"] / 2, start["y"] + start["height"] / 2)
    page.mouse.down()
    page.mouse.move(end["x"] + end["width"] / 2, end["y"] + end["height"] * height, steps=20)
    # The list makes room a moment later; a hand waits for it before it lets go.
    for aside in range(1, 6):
        page.mouse.move(end["x"] + end["width"] / 2 + aside, end["y"] + end["height"] * height)
        page.wait_for_timeout(STEADY_MS)
    page.mouse.up()


def tab_to(page: Page, thing: Locator) -> None:
    """Presses Tab until the thing has the focus."""
    wanted = thing.element_handle()
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if wanted.evaluate("it => it === document.activeElement"):
            return
    raise AssertionError(f"Tab does not reach {thing}")


def finding(page: Page, title: str) -> Locator:
    """A finding by its title: what holds has it in its line."""
    heading = page.get_by_role("heading", name=title, exact=True)
    return page.locator(".finding").filter(has=heading.or_(page.locator(f".line-title:text-is('{title}')")))
