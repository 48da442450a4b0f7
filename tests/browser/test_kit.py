"""The Bridge's other two questions in a browser: the guide camera in focus too, one kit for several rigs."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from server.flow import bridge_kit
from server.search.kit_planner import KitOutcome
from tests.browser.conftest import Club, Opener
from tests.browser.test_bridge import Broken, broken, sit_down

pytestmark = pytest.mark.browser


@pytest.fixture
def newtonian(demo_club: Club, tmp_path: Path) -> Iterator[Broken]:
    yield from broken(demo_club, tmp_path, "Ruta Ommerli", "Fast Newtonian")


@pytest.mark.parametrize("scripts", [True, False])
def test_a_person_brings_the_guide_camera_into_focus_and_takes_it_back(
    scripts: bool, newtonian: Broken, new_context: Opener
):
    page = sit_down(new_context, newtonian, f"/bench/{newtonian.rig}", java_script_enabled=scripts)
    page.locator("#open-list > summary").click()
    page.locator("#open-list .line-title", has_text="Guide camera").click()
    page.get_by_role("link", name="See what the Bridge offers for Guide camera").click()
    expect(page.get_by_role("checkbox", name="focus the guide camera too")).to_be_checked()
    best = page.locator("#stack-1")
    expect(best.get_by_role("region", name="The guide chain of stack 1")).to_contain_text("48.00 mm")
    best.get_by_role("button", name="Put this in: stack 1", exact=True).click()
    expect(page).to_have_url(f"{newtonian.address}/bench/{newtonian.rig}")
    expect(page.locator("article.finding.stop")).to_have_count(0)
    chain = page.locator(".guide-run")
    expect(chain).to_contain_text("Ring 1 in-32, 1.5 mm")
    chain.get_by_role(
        "button", name="Take out Brindlewick Works Ring 1 in-32, 1.5 mm, of the guide chain"
    ).click()
    expect(chain).not_to_contain_text("Ring 1 in-32, 1.5 mm")
    page.get_by_role("button", name="Undo").click()
    expect(chain).to_contain_text("Ring 1 in-32, 1.5 mm")
    page.get_by_role("button", name="Undo").click()
    expect(chain).not_to_contain_text("42 to 1 in-32")


def test_a_kit_is_planned_from_the_list_of_rigs_and_one_stack_put_in(newtonian: Broken, new_context: Opener):
    page = sit_down(new_context, newtonian, "/bench")
    page.get_by_role("link", name="One kit for several rigs").click()
    expect(page.get_by_role("checkbox")).to_have_count(2)
    for box in page.get_by_role("checkbox").all():
        box.check()
    page.get_by_role("button", name="Plan the kit").click()
    expect(page.locator(".verdict")).to_contain_text("Proven: nothing has to be bought.")
    page.get_by_role("button", name="Put this into Fast Newtonian").click()
    expect(page).to_have_url(f"{newtonian.address}/bench/{newtonian.rig}")
    expect(page.locator("article.finding.stop")).to_have_count(0)


def test_a_long_planning_shows_its_progress_and_can_be_stopped(
    newtonian: Broken, new_context: Opener, monkeypatch: pytest.MonkeyPatch
):
    real, never = bridge_kit.search_kit, threading.Event()

    def slow(posed: Any, progress: Any) -> KitOutcome:
        first = KitOutcome(real(posed).kit, money_proven=False, money_bound=0)
        while progress(first):
            never.wait(0.05)
        return first

    monkeypatch.setattr("server.web.bridge.jobs.search_kit", slow)
    page = sit_down(new_context, newtonian, "/bench/kit")
    for box in page.get_by_role("checkbox").all():
        box.check()
    page.get_by_role("button", name="Plan the kit").click()
    expect(page.locator(".verdict")).to_contain_text("a cheaper kit may come")
    page.get_by_role("button", name="Stop here").click()
    expect(page.locator(".verdict")).to_contain_text("Not proven: a cheaper kit may exist")
    expect(page.get_by_role("button", name="Put this into Fast Newtonian")).to_be_visible()
