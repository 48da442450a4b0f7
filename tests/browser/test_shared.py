"""What goes out to others: the file that opens anywhere, and the sheet of paper."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.browser.conftest import Club, Opener
from tests.browser.test_every_page import only_red

pytestmark = pytest.mark.browser

A4_MM = (210.0, 297.0)
"""ISO 216:2007, size A4."""
MM_PER_POINT = 25.4 / 72
A_POINT = 1.0


def told(page: Page) -> dict[str, object]:
    """What a reader is told of an entry."""
    return {
        "title": page.get_by_role("heading", level=1).inner_text(),
        "train": page.get_by_role("table").first.inner_text(),
        "gear": page.locator(".sheet-gear").all_inner_texts(),
        "findings": page.locator(".sheet-findings .finding-sentence").all_inner_texts(),
        "drawing": page.locator(".sheet-drawing svg desc").first.text_content(),
        "shapes": page.locator(".sheet-drawing svg *").count(),
    }


def test_the_file_opens_from_disk_offline_and_tells_the_same(club: Club, new_context: Opener, tmp_path: Path):
    page = new_context(club.address).new_page()
    page.goto(f"/s/{club.token}")
    with page.expect_download() as coming:
        page.get_by_role("link", name="Page (.html)").click()
    file = tmp_path / "entry.html"
    coming.value.save_as(file)

    context = new_context(offline=True)
    asked: list[str] = []
    context.on("request", lambda request: asked.append(request.url))
    alone = context.new_page()
    alone.goto(file.as_uri())
    assert told(alone) == told(page)
    assert told(alone)["findings"]
    expect(alone.locator(".sheet-drawing svg").first).to_be_visible()
    box = alone.locator(".sheet-drawing svg").first.bounding_box()
    assert box is not None
    assert box["width"] > 600, "its style came with it"
    assert asked == [file.as_uri()]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_file_is_red_alone_when_its_reader_stands_at_the_telescope(
    club: Club, new_context: Opener, tmp_path: Path, scheme: str
):
    page = new_context(club.address).new_page()
    page.goto(f"/s/{club.token}")
    with page.expect_download() as coming:
        page.get_by_role("link", name="Page (.html)").click()
    file = tmp_path / "entry.html"
    coming.value.save_as(file)

    alone = new_context(offline=True, color_scheme=scheme).new_page()
    alone.goto(file.as_uri())
    ground = "getComputedStyle(document.documentElement).backgroundColor"
    paper = {"light": "rgb(243, 245, 244)", "dark": "rgb(18, 24, 27)"}
    assert alone.evaluate(ground) == paper[scheme]
    alone.get_by_role("radio", name="Red").check()
    assert only_red(alone.screenshot(full_page=True)) == []
    for chosen in ("Dark", "Light"):
        alone.get_by_role("radio", name=chosen).check()
        assert alone.evaluate(ground) == paper[chosen.lower()]
    alone.get_by_role("radio", name="Red").check()
    alone.emulate_media(media="print")
    assert alone.evaluate(ground) == "rgb(255, 255, 255)"


def printed_size(page: Page, selector: str) -> float:
    """The size of letters on paper, in points."""
    page.emulate_media(media="print")
    pixels = page.locator(selector).first.evaluate("it => parseFloat(getComputedStyle(it).fontSize)")
    page.emulate_media(media="screen")
    return float(pixels) * 72 / 96


def test_the_cautions_are_printed_to_be_read(club: Club, new_context: Opener):
    """8 pt at least. A choice of ours, no source."""
    page = new_context(club.address, observer=club.observer).new_page()
    for path in (f"/s/{club.token}", f"/logbook/{club.entry}"):
        page.goto(path)
        assert printed_size(page, ".sheet-cautions p") >= 8.0
    page.goto(f"/bench/{club.rig}/packing")
    assert printed_size(page, ".load-cautions li") >= 8.0


def test_the_longest_rig_prints_on_one_sheet_of_a4(club: Club, new_context: Opener):
    page = new_context(club.address).new_page()
    page.goto(f"/s/{club.token}")
    read = PdfReader(io.BytesIO(page.pdf(format="A4", prefer_css_page_size=True)))
    assert len(read.pages) == 1
    box = read.pages[0].mediabox
    for points, length_mm in zip((box.width, box.height), A4_MM, strict=True):
        assert float(points) * MM_PER_POINT == pytest.approx(length_mm, abs=A_POINT * MM_PER_POINT)
    text = read.pages[0].extract_text()
    names = page.locator(".sheet-run tbody th").evaluate_all(
        "all => all.map(it => it.firstChild.textContent.trim())"
    )
    assert len(names) > 6
    for name in names:
        assert name.replace(" ", "") in text.replace(" ", "").replace("\n", ""), (
            f"{name} is cut off the sheet"
        )


def test_an_entry_prints_on_one_sheet_from_the_logbook_too(club: Club, new_context: Opener):
    page = new_context(club.address, observer=club.observer, theme="dark").new_page()
    page.goto(f"/logbook/{club.entry}")
    read = PdfReader(io.BytesIO(page.pdf(format="A4", prefer_css_page_size=True)))
    assert len(read.pages) == 1
