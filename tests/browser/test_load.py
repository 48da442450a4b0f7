"""The load of a rig by hand: lifts changed in place, mistakes in sight, nothing wider than a phone."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path
from unicodedata import normalize

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import open_stores
from tests.browser.conftest import PHONE, Club, Opener, Place, Watch
from tests.browser.serving import serving
from tests.browser.test_every_page import EVERYTHING, NARROW, only_red, violations

pytestmark = pytest.mark.browser

RIG = "Wide lens on the garden mount"
SCREEN_PX = 900


@pytest.fixture
def garden(tmp_path: Path, demo_club: Club) -> Iterator[Place]:
    """The demo rig whose load fails in two ways, on a server of its own."""
    stores = open_stores(demo_club.database)
    try:
        with stores.reading() as store:
            owner = next(one for one in store.observers() if one.name == "Annika Thornquist")
            rig = next(one.id for one in Workbench(store, owner, tell).rigs() if one.name == RIG)
    finally:
        stores.close()
    with serving(tmp_path, demo_club.database) as address:
        yield Place(address, owner.id, rig)


def plan_a_lift(page: Page, garden: Place) -> None:
    page.goto(f"/bench/{garden.rig}/load")
    page.get_by_text("One lift more", exact=True).click()
    more = page.locator("details#lift")
    for label, text in {
        "What you lift": "Mount onto the tripod",
        "Hands' height where it is taken up": "20 cm",
        "Hands' height where it is set down": "3 ft",
        "Hands before your ankles": "16 in",
        "Carried over": "40 m",
    }.items():
        more.get_by_label(label, exact=True).fill(text)
    more.get_by_label("How the hands hold it").select_option(label="fair: fingers under an edge")
    more.get_by_label("Stonecrake Boulder 14").check()
    page.get_by_role("button", name="Add this lift").click()
    expect(page.locator(".notice.sound")).to_contain_text("lifts: 1 in the plan")


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without"])
def test_a_lift_is_changed_in_place_and_a_mistake_loses_nothing(
    garden: Place, new_context: Opener, watch: Watch, scripts: bool
):
    watch.allow_status(422)
    page = new_context(garden.address, observer=garden.observer, java_script_enabled=scripts).new_page()
    plan_a_lift(page, garden)
    expect(page.locator(".load-lifts li").first).to_contain_text("hands 40.64 cm before the ankles")
    page.get_by_text("Change Mount onto the tripod").click()
    one = page.locator("details.load-change").first
    reach = one.get_by_label("Hands before your ankles", exact=True)
    expect(reach).to_have_value("40.64 cm")
    reach.fill("45")
    if scripts:
        expect(page.locator("#load-lift-0-reach_mm-understood")).to_contain_text("no unit")
    page.get_by_label("Measured balance point").fill("444")
    one.get_by_role("button", name="Keep the change of Mount onto the tripod").click()
    expect(page.locator("#refused")).to_contain_text("1 field could not be taken")
    expect(reach).to_have_value("45")
    expect(reach).to_be_visible()
    expect(reach).to_have_attribute("aria-invalid", "true")
    expect(reach).to_be_focused()
    expect(page.get_by_label("Measured balance point")).to_have_value("444")
    reach.fill("18 in")
    if scripts:
        expect(page.locator("#load-lift-0-reach_mm-understood")).to_have_text("Understood: 45.72 cm")
    # Enter keeps the form, and takes nothing out.
    reach.press("Enter")
    expect(page.locator(".notice.sound")).to_contain_text(
        "measured balance point: 444 mm; lifts: 1 in the plan"
    )
    expect(page.locator(".load-lifts li").first).to_contain_text("hands 45.72 cm before the ankles")
    page.reload()
    expect(page.locator(".load-lifts li").first).to_contain_text("hands 45.72 cm before the ankles")
    page.get_by_text("Change Mount onto the tripod").click()
    page.get_by_role("button", name="Take it out of the plan: Mount onto the tripod").click()
    expect(page.get_by_text("Change Mount onto the tripod")).to_have_count(0)


def test_a_link_to_what_is_lacking_opens_its_field(garden: Place, new_context: Opener):
    page = new_context(garden.address, observer=garden.observer).new_page()
    page.goto(f"/bench/{garden.rig}/load")
    page.get_by_text("One lift more", exact=True).click()
    page.locator("#load-lift-new-name").fill("Mount")
    page.locator("#lift").get_by_label("Stonecrake Boulder 14").check()
    page.get_by_role("button", name="Add this lift").click()
    page.locator("#lifts-head ~ .load-lifts").get_by_role("link", name="how well the hands hold it").click()
    expect(page.locator("#load-lift-0-coupling")).to_be_visible()
    expect(page.locator("#load-lift-0-coupling")).to_be_in_viewport()


def everything_open(page: Page, garden: Place) -> None:
    plan_a_lift(page, garden)
    page.get_by_label("Length of the night").fill("9")
    page.get_by_text("Cold, cooling, converter").click()
    page.get_by_label("Lowest temperature").fill("-5")
    page.get_by_text("A device's lead", exact=True).click()
    page.get_by_label("Device", exact=True).select_option(index=1)
    page.get_by_label("Wire", exact=True).fill("24 AWG")
    page.get_by_label("Length, one way").fill("10 ft")
    page.get_by_role("button", name="Keep this lead").click()
    expect(page.locator(".notice.sound")).to_contain_text("cables: 1 in the plan")
    page.locator("main details").evaluate_all("all => all.forEach(it => it.open = true)")


def test_with_all_open_it_is_no_wider_than_a_phone_and_accessible(garden: Place, new_context: Opener):
    page = new_context(garden.address, observer=garden.observer, theme="light").new_page()
    everything_open(page, garden)
    assert page.locator("main .working-in").count() > 5
    assert violations(page, EVERYTHING) == []
    page.set_viewport_size(NARROW)
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]
    assert violations(page, EVERYTHING) == []
    cut = page.locator(".load-table td, .load-key li, .working-in td, .working-in th").evaluate_all(
        "all => all.filter(it => it.getBoundingClientRect().right > innerWidth).map(it => it.textContent)"
    )
    assert cut == [], "nothing of it is cut off without a sign"


def test_a_refused_page_is_accessible_and_red(garden: Place, new_context: Opener, watch: Watch):
    watch.allow_status(422)
    page = new_context(garden.address, observer=garden.observer, theme="red", **PHONE).new_page()
    page.goto(f"/bench/{garden.rig}/load")
    page.get_by_label("Middle of the saddle's clamp").fill("3 kg")
    page.get_by_text("Cold, cooling, converter").click()
    page.get_by_label("Lowest temperature").fill("cold")
    page.get_by_text("One lift more", exact=True).click()
    page.get_by_role("button", name="Add this lift").click()
    expect(page.locator("#refused")).to_contain_text("4 fields could not be taken")
    expect(page.get_by_label("What you lift", exact=True).last).to_be_focused()
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]
    assert violations(page, EVERYTHING) == []
    assert only_red(page.screenshot()) == []
    page.locator("#refused").get_by_role("link", name=re.compile("What goes together")).click()
    expect(page.locator("#load-lift-new-part")).to_be_in_viewport()


def test_the_packing_list_prints_its_cautions_on_one_sheet(garden: Place, new_context: Opener):
    page = new_context(garden.address, observer=garden.observer).new_page()
    page.goto(f"/bench/{garden.rig}")
    page.get_by_text("The Sun is not the target").click()
    page.get_by_label("The Sun is the target").check()
    page.get_by_role("button", name="Keep what it is for").click()
    expect(page.get_by_text("The Sun is the target", exact=True).first).to_be_visible()
    page.goto(f"/bench/{garden.rig}/packing")
    read = PdfReader(io.BytesIO(page.pdf(format="A4", prefer_css_page_size=True)))
    assert len(read.pages) == 1
    # A PDF breaks words where it likes, and has letters that are two in one.
    text = "".join(normalize("NFKC", read.pages[0].extract_text()).split())
    assert "certifiedfull-aperturesolarfilter" in text
    assert text.index("TheSun.") < text.index("Smallcase")
    assert "liftitwithtwopeople" in text
    assert "Keepthesecases" not in text


def test_each_step_is_a_card_of_at_most_a_screen(garden: Place, new_context: Opener):
    page = new_context(garden.address, observer=garden.observer).new_page()
    page.goto(f"/bench/{garden.rig}/load")
    heights = page.locator("form#load > .card").evaluate_all(
        "all => all.map(it => it.getBoundingClientRect().height)"
    )
    assert len(heights) == 4
    assert max(heights) <= SCREEN_PX
