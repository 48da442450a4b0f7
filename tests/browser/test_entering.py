"""How much it takes to enter a whole set of gear: every click and every typed field is counted.

A list from which something is picked counts as a click. The limits are the project's own.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import Opener

pytestmark = pytest.mark.browser

RING_SIDES = {
    "Sky-side connection": "M48x0.75 female",
    "Camera-side connection": "M48x0.75 male",
}


@dataclass(frozen=True)
class Entered:
    """A part: its kind's link, what is typed by label, what is picked, and the same as one text to paste."""

    kind: str
    texts: dict[str, str]
    chosen: dict[str, str] = field(default_factory=dict)
    pasted: str = ""

    @property
    def name(self) -> str:
        return f"{self.texts['Maker']} {self.texts['Model']}"


TUBE = Entered(
    "Optical tube",
    {
        "Maker": "Harrowgate",
        "Model": "HG 80",
        "Mass": "3.4 kg",
        "Aperture": "80 mm",
        "Focal length": "480 mm",
        "Camera-side connection": "M48x0.75 female",
        "Image circle": "44 mm",
    },
    {"Design": "apochromatic refractor"},
    "Maker: Harrowgate\nModel: HG 80\n80 mm f/6 apochromatic refractor\nFocal length 480 mm\nWeight 3.4 kg\n"
    "Camera side: M48x0.75 female\nImage circle: 44 mm",
)
CORRECTOR = Entered(
    "Corrector",
    {
        "Maker": "Harrowgate",
        "Model": "Flat 1",
        "Mass": "310 g",
        "Sky-side connection": "M48x0.75 male",
        "Camera-side connection": "M48x0.75 male",
        "Optical length": "32.5 mm",
        "Factor": "1",
        "Back focus": "55 mm",
        "Corrected circle": "44 mm",
    },
    {"What it does": "flattener"},
    "Maker: Harrowgate\nModel: Flat 1\nType: field flattener\nFactor: 1\nBack focus: 55 mm\nWeight: 310 g\n"
    "Telescope side: M48x0.75 male\nCamera side: M48x0.75 male\nLength: 32.5 mm\nImage circle: 44 mm",
)
RINGS = tuple(
    Entered(
        "Spacer ring",
        {"Maker": "Pellow & Dray", "Model": f"Ring M48, {length} mm", "Optical length": f"{length} mm"}
        | RING_SIDES,
    )
    for length in ("3", "5", "7.5", "10", "15", "20")
)
SHIMS = tuple(
    Entered(
        "Shim",
        {
            "Maker": "Pellow & Dray",
            "Model": f"Shim M48, {thick} mm",
            "Thickness": f"{thick} mm",
            "Inner diameter": "48 mm",
        },
    )
    for thick in ("0.1", "0.3", "0.5")
)
WHEEL = Entered(
    "Filter wheel or drawer",
    {
        "Maker": "Vantry",
        "Model": "Wheel 7",
        "Mass": "0.6 kg",
        "Sky-side connection": "M48x0.75 female",
        "Camera-side connection": "M48x0.75 male",
        "Optical length": "20 mm",
        "Positions": "7",
    },
    {"Filter format": "unmounted, 36 mm round"},
    "Filter wheel\nMaker: Vantry\nModel: Wheel 7\nFilter size: 36 mm round\nPositions: 7\n"
    "Weight: 0.6 kg\nLength: 20 mm\nTelescope side: M48x0.75 female\nCamera side: M48x0.75 male",
)
FILTERS = (
    Entered(
        "Filter",
        {"Maker": "Lumen Hill", "Model": "Luminance, 36 mm round"},
        {"Format": "unmounted, 36 mm round", "Broadband": "Yes"},
    ),
    *(
        Entered(
            "Filter",
            {
                "Maker": "Lumen Hill",
                "Model": f"{band}, 36 mm round",
                "Band centre": line,
                "Band width": "6 nm",
            },
            {"Format": "unmounted, 36 mm round"},
        )
        for band, line in (("H-alpha", "656.3 nm"), ("OIII", "500.7 nm"), ("SII", "672.4 nm"))
    ),
)
GUIDER = Entered(
    "Off-axis guider",
    {
        "Maker": "Vantry",
        "Model": "Sidelong",
        "Mass": "280 g",
        "Sky-side connection": "M48x0.75 female",
        "Camera-side connection": "M48x0.75 male",
        "Optical length": "16.5 mm",
        "Prism size": "8 mm",
    },
    pasted="Off-axis guider\nMaker: Vantry\nModel: Sidelong\nWeight: 280 g\nLength: 16.5 mm\n"
    "Telescope side: M48x0.75 female\nCamera side: M48x0.75 male\nPrism size: 8 mm",
)
CAMERA = Entered(
    "Camera",
    {
        "Maker": "Vantry",
        "Model": "V23",
        "Mass": "0.55 kg",
        "Front connection": "M42x0.75 female",
        "Flange distance": "17.5 mm",
        "Sensor width": "6248",
        "Sensor height": "4176",
        "Pixel size": "3.76 um",
    },
    {"The flange distance is": "optical (the window is allowed for)", "Mono or colour": "mono"},
    "Cooled camera\nMaker: Vantry\nModel: V23\nMono\nResolution: 6248 x 4176\nPixel size: 3.76 um\n"
    "Flange distance: 17.5 mm\nThe flange distance is: optical (the window is allowed for)\n"
    "Thread: M42x0.75 female\n"
    "Weight: 0.55 kg",
)
MOUNT = Entered(
    "Mount",
    {"Maker": "Vantry", "Model": "Mule 12", "Mass": "9 kg", "Rated capacity": "12 kg"},
    {"Type": "equatorial"},
    "Equatorial mount\nMaker: Vantry\nModel: Mule 12\nWeight: 9 kg\nPayload: 12 kg",
)
SET = (TUBE, CORRECTOR, *RINGS, *SHIMS, WHEEL, *FILTERS, GUIDER, CAMERA, MOUNT)


class Hand:
    """Does it, and counts it. What stands in a field already is not typed again."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.clicks = self.fields = 0

    def click(self, thing: Locator) -> None:
        thing.click()
        self.clicks += 1

    def type(self, thing: Locator, text: str) -> None:
        if thing.input_value() != text:
            thing.fill(text)
            self.fields += 1

    def pick(self, thing: Locator, words: str) -> None:
        if thing.locator("option:checked").inner_text() != words:
            thing.select_option(label=words)
            self.clicks += 1

    def fill(self, part: Entered) -> None:
        for label, text in part.texts.items():
            self.type(self.shown(label), text)
        for label, words in part.chosen.items():
            self.pick(self.shown(label), words)

    def shown(self, label: str) -> Locator:
        """A field, unfolded where it is folded."""
        found = self.page.get_by_label(label, exact=True)
        if not found.is_visible():
            self.click(self.page.locator("details").filter(has_text="More:").locator("summary").first)
        return found

    def link(self, name: str) -> None:
        self.click(self.page.get_by_role("link", name=name, exact=True).first)

    def button(self, name: str) -> None:
        self.click(self.page.get_by_role("button", name=name))


def names_on_shelf(page: Page) -> list[str]:
    page.goto("/shelf")
    return page.locator(".shelf-line h2").all_inner_texts()


@pytest.fixture
def beginner(empty_app: str, new_context: Opener) -> Page:
    page = new_context(empty_app).new_page()
    page.goto("/")
    page.get_by_label("Who is at the bench?").fill("Maud")
    page.get_by_role("button", name="Start empty").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("Maud"))
    page.goto("/shelf")
    return page


def test_nineteen_parts_by_hand(beginner: Page, capsys: pytest.CaptureFixture[str]):
    hand = Hand(beginner)
    hand.link("Enter the first part")
    before = ""
    for part, after in zip(SET, (*SET[1:], None), strict=True):
        if part.kind != before:
            hand.link(part.kind)
        expect(beginner.get_by_role("heading", level=1)).to_have_text(re.compile("^A new"))
        hand.fill(part)
        if after is None:
            hand.button("Put it on the shelf")
        elif after.kind == part.kind:
            hand.button("… and enter another")
        else:
            hand.button("… and another of any kind")
        expect(beginner.get_by_role("main")).to_contain_text(part.texts["Model"])
        before = part.kind if after and after.kind == part.kind else ""
    with capsys.disabled():
        print(f"\n19 parts by hand: {hand.clicks} clicks, {hand.fields} fields")
    assert names_on_shelf(beginner) == sorted(part.name for part in SET)
    assert hand.clicks <= 40
    assert hand.fields <= 90


def test_nineteen_parts_by_pasting_and_from_the_drawer(beginner: Page, capsys: pytest.CaptureFixture[str]):
    hand = Hand(beginner)
    hand.link("Paste a specification")
    pasted = [part for part in SET if part.pasted]
    for part in pasted:
        hand.type(beginner.get_by_label("Paste or type it in one go"), part.pasted)
        hand.button("Fill the form")
        expect(beginner.get_by_role("heading", level=1)).to_have_text(
            f"A new {part.kind[0].lower()}{part.kind[1:]}"
        )
        # All of it was understood: nothing is typed nor picked here.
        before = (hand.clicks, hand.fields)
        for label, text in part.texts.items():
            expect(hand.shown(label)).to_have_value(text)
        for label, words in part.chosen.items():
            expect(hand.shown(label).locator("option:checked")).to_have_text(words)
        assert before == (hand.clicks, hand.fields)
        hand.button("… and another of any kind")
        expect(beginner.get_by_role("main")).to_contain_text(f"{part.name} is on the shelf")
    hand.link("Count the whole drawer at once")
    hand.type(beginner.get_by_label("Maker", exact=True), "Pellow & Dray")
    hand.type(beginner.get_by_label("Other lengths of ring M48", exact=True), "3; 5; 7.5; 10; 15; 20")
    hand.click(beginner.locator("summary").filter(has_text="Shims"))
    for thick in ("0.1", "0.3", "0.5"):
        hand.button(f"{thick}: one more shim M48, {thick} mm")
    hand.click(beginner.locator("summary").filter(has_text="Filters of a set"))
    hand.type(beginner.get_by_label("Maker of the set"), "Lumen Hill")
    hand.pick(beginner.get_by_label("Size", exact=True), "unmounted, 36 mm round")
    hand.type(beginner.get_by_label("Band width of the narrow ones"), "6 nm")
    for band in ("Luminance", "H-alpha", "OIII", "SII"):
        hand.click(beginner.get_by_role("checkbox", name=band))
    hand.button("Put all of it on the shelf")
    expect(beginner.get_by_role("main")).to_contain_text("13 parts entered")
    with capsys.disabled():
        print(f"\n19 parts by pasting and from the drawer: {hand.clicks} clicks, {hand.fields} fields")
    assert names_on_shelf(beginner) == sorted(part.name for part in SET)
    assert hand.clicks <= 25
    assert hand.fields <= 40


def test_a_ruler_is_tapped_by_pointer_and_by_key_and_each_tap_is_told(
    beginner: Page,
):
    beginner.goto("/shelf/drawer")
    tap = beginner.get_by_role("button", name="10: one more ring M48, 10 mm", exact=True)
    count = beginner.get_by_label("How many: ring M48, 10 mm", exact=True)
    tap.click()
    tap.press("Enter")
    expect(count).to_have_value("2")
    expect(tap).to_be_focused()
    expect(beginner.locator("#status")).to_have_text("ring M48, 10 mm: 2")
    # Enter in a number field enters all of it.
    count.press("Enter")
    expect(beginner.get_by_text("1 part entered")).to_be_visible()


def test_the_ruler_is_drawn_to_scale(beginner: Page):
    beginner.goto("/shelf/drawer")
    middles = {
        length: beginner.get_by_label(f"{length}: one more ring M48, {length} mm", exact=True).evaluate(
            "it => { const box = it.getBoundingClientRect(); return box.left + box.width / 2; }"
        )
        for length in (1, 10, 12, 20, 50)
    }
    per_mm = (middles[50] - middles[1]) / 49
    for length, middle in middles.items():
        assert middle == pytest.approx(middles[1] + per_mm * (length - 1), abs=1.0)
