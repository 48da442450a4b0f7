"""What comes out of a printer: one sheet of A4 for every rig of the demo club, wherever it is printed."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from unicodedata import normalize

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.store import open_stores
from tests.browser.conftest import Club, Opener
from tests.browser.serving import serving

pytestmark = pytest.mark.browser

SMALLEST_PT = 6.0
"""Smaller print is hard to read by a lamp. A choice of ours, no source."""
MM_PER_PX = 25.4 / 96
"""CSS Values and Units 4, section 6.2: a px is 1/96 in."""
PAPER_MM, MARGIN_MM = 210.0, 8.0
"""ISO 216:2007, size A4; the margin that the sheet's page rule asks for."""
NOTE = "Windy until midnight, then clear; the focus moved twice. " * 3

SMALL_PRINT = """smallest => {
    const small = []
    for (const it of document.querySelectorAll("body *")) {
        const text = [...it.childNodes].filter(one => one.nodeType === 3).map(one => one.data).join("").trim()
        const box = it.getBoundingClientRect()
        const seen = box.width > 1.5 && box.height > 1.5 && it.checkVisibility({ visibilityProperty: true })
        if (!text || !seen || it.closest("title, desc, .unseen, script")) continue
        const turned = it.closest("svg")?.contains(it) && it.getScreenCTM ? it.getScreenCTM() : null
        const scale = turned ? Math.sqrt(Math.abs(turned.a * turned.d - turned.b * turned.c)) : 1
        const points = parseFloat(getComputedStyle(it).fontSize) * scale * 0.75
        if (points < smallest - 0.005) small.push(`${points.toFixed(2)} pt: ${text}`)
    }
    return small
}"""


@dataclass(frozen=True)
class Sheets:
    """The demo club with every rig saved and shared: (rig's name, observer, its three addresses)."""

    address: str
    rigs: tuple[tuple[str, int, tuple[str, str, str]], ...]


@pytest.fixture(scope="module")
def sheets(demo_club: Club, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Sheets]:
    folder = tmp_path_factory.mktemp("prints")
    path = folder / "own.sqlite3"
    shutil.copyfile(demo_club.database, path)
    stores = open_stores(path)
    rigs = []
    with stores.writing() as store:
        for observer in store.observers():
            bench = Workbench(store, observer, tell)
            for line in bench.rigs():
                if line.parts:
                    entry = bench.save_entry(line.id, bench.bench(line.id).stored.version, line.name, NOTE)
                    paths = (f"/bench/{line.id}", f"/logbook/{entry.id}", f"/s/{bench.share(entry.id).token}")
                    rigs.append((line.name, observer.id, paths))
    stores.close()
    with serving(folder, path) as address:
        yield Sheets(address, tuple(rigs))


def printed(page: Page) -> PdfReader:
    return PdfReader(io.BytesIO(page.pdf(format="A4", prefer_css_page_size=True)))


def on_paper(page: Page) -> None:
    """Lays the page out as wide as the paper's text, by the rules of print."""
    width = round((PAPER_MM - 2 * MARGIN_MM) / MM_PER_PX)
    page.set_viewport_size({"width": width, "height": 1000})
    page.emulate_media(media="print")


def test_every_rig_prints_on_one_sheet_from_bench_logbook_and_link_with_nothing_too_small(
    sheets: Sheets, new_context: Opener
):
    assert len(sheets.rigs) > 10
    for name, observer, paths in sheets.rigs:
        page = new_context(sheets.address, observer=observer).new_page()
        for path in paths:
            page.goto(path)
            assert len(printed(page).pages) == 1, (name, path)
            on_paper(page)
            assert page.evaluate(SMALL_PRINT, SMALLEST_PT) == [], (name, path)
            page.emulate_media(media="null")


def test_the_sheets_drawing_takes_the_whole_width_of_the_paper(sheets: Sheets, new_context: Opener):
    name, observer, (_, entry, link) = sheets.rigs[0]
    page = new_context(sheets.address, observer=observer).new_page()
    for path in (entry, link):
        page.goto(path)
        on_paper(page)
        box = page.locator(".sheet-drawing svg:visible").bounding_box()
        assert box is not None
        assert box["width"] * MM_PER_PX == pytest.approx(PAPER_MM - 2 * MARGIN_MM, abs=0.5), name


def test_the_bench_prints_as_a_sheet_without_what_is_pressed_typed_or_folded(
    sheets: Sheets, new_context: Opener
):
    for _, observer, (bench, *_) in sheets.rigs:
        page = new_context(sheets.address, observer=observer).new_page()
        page.goto(f"{bench}?tray=1")
        unknown = page.locator(".findings .finding.line .finding-sentence").all_text_contents()
        page.emulate_media(media="print")
        for said in ("The tray", "What would settle more", "How was this worked out?"):
            assert page.get_by_text(said).filter(visible=True).count() == 0, said
        assert page.locator("button:not(.word), input, select").filter(visible=True).count() == 0
        # NFKC takes the printed ligatures apart.
        text = "".join(normalize("NFKC", printed(page).pages[0].extract_text()).split())
        for line in unknown:
            assert "".join(line.split()) in text, "a folded finding is printed with its sentence"
        for heading in ("The run, sky to sensor", "What holds", "Beside the train"):
            assert heading.replace(" ", "") in text
        assert page.locator(".caution").first.is_visible()


def test_a_label_and_its_value_stay_on_one_page(sheets: Sheets, new_context: Opener):
    _, observer, (bench, *_) = sheets.rigs[0]
    page = new_context(sheets.address, observer=observer).new_page()
    for path in (f"{bench}/load", f"{bench}/packing", f"{bench}/stars", f"{bench}/bridge?wait=1"):
        page.goto(path)
        page.emulate_media(media="print")
        parted = page.locator("dl > div, tr, li").evaluate_all(
            "all => all.filter(it => getComputedStyle(it).breakInside !== 'avoid').map(it => it.outerHTML)"
        )
        assert parted == [], path
