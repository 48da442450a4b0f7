"""The bench's pictures in a browser: a drag changes section, light, tolerances and findings at once."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Club, Opener
from tests.browser.hands import drag
from tests.browser.test_bridge import Broken, broken, sit_down

pytestmark = pytest.mark.browser

RING = "Brindlewick Works Ring 48, 4.2 mm, long thread"
WHEEL = "Quillmoor Carousel 5 slim for 36 mm"


@pytest.fixture
def winter(demo_club: Club, tmp_path: Path) -> Iterator[Broken]:
    yield from broken(demo_club, tmp_path, "Annika Thornquist", "Winter rig that adds up")


def row(page: Page, name: str):
    return page.locator("#run > .place").filter(has=page.get_by_role("link", name=name, exact=True))


def pictures(page: Page) -> dict[str, str]:
    return {name: page.locator(name).inner_html() for name in (".section-card", "#light", ".findings")}


def test_a_drag_changes_every_picture_and_the_findings_without_a_new_page(
    winter: Broken, new_context: Opener
):
    page = sit_down(new_context, winter, f"/bench/{winter.rig}", viewport={"width": 1440, "height": 1600})
    before = pictures(page)
    page.evaluate("document.documentElement.dataset.same = 'page'")
    light = page.locator("#light")
    expect(light).to_contain_text("Where the sensor will stand")
    # The wheel before the ring: its filters stand further from the sensor, and
    # the long thread meets the camera.
    drag(page, row(page, RING).locator(".handle"), row(page, WHEEL).locator(".place-body"), 0.8)
    expect(page.get_by_role("button", name="Undo")).to_contain_text(f"moved {RING}")
    after = pictures(page)
    assert before[".section-card"] != after[".section-card"]
    assert before[".findings"] != after[".findings"]
    assert page.evaluate("document.documentElement.dataset.same") == "page"
    # One part taken out: the sensor stands elsewhere, and light and tolerance bar follow.
    row(page, RING).get_by_role("button", name=f"Take out {RING}", exact=True).click()
    expect(light).to_contain_text("4.19 mm too close")
    assert page.locator("#light").inner_html() != after["#light"]
    assert page.evaluate("document.documentElement.dataset.same") == "page"
