"""Targets, plan and focal lengths as a browser meets them."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.web.club import page_of, words_of
from tests.web.sky.conftest import Garden


def shown(garden: Garden, target: str, *rigs: str, **query: Any) -> Any:
    asked = {"site": garden.site, "rig": [garden.rig(name) for name in rigs], **query}
    return garden.get(f"/sky/at/{target}", **asked)


def cells(answer: Any) -> dict[str, list[str]]:
    rows = page_of(answer).select("table.sky-depth tbody tr")
    return {row.th.get_text(" ", strip=True): [one.text for one in row.select("td")] for row in rows}


def test_a_name_finds_a_target_whatever_the_month(garden: Garden):
    page = garden.get("/sky", q="whirlpool", site=garden.site, rig=garden.rig("doublet, flattened"))
    (row,) = page_of(page).select("table.sky-lines tbody tr")
    assert "M 51" in row.text
    assert "galaxy in Canes Venatici" in row.text
    assert "CC-BY-SA-4.0" in words_of(page), "the catalogue's licence asks to be named"


def test_the_list_says_what_is_well_placed_and_how_it_sits_on_the_rig(garden: Garden):
    asked = {"site": garden.site, "rig": garden.rig("doublet, flattened"), "least_arcmin": "60"}
    winter = page_of(garden.get("/sky", kind="nebulae", month="1", order="size", **asked))
    summer = page_of(garden.get("/sky", kind="nebulae", month="8", order="size", **asked))
    names = [{a.text for a in page.select("table.sky-lines th a")} for page in (winter, summer)]
    assert "M 42" in names[0] - names[1]
    assert "NGC 7000" in names[1] - names[0]
    head = [one.get_text(strip=True) for one in winter.select("table.sky-lines thead th")]
    assert head[:5] == ["Target", "Moonless", "Best", "Fills", "Size"]


def test_a_search_that_cannot_be_read_says_so_and_finds_with_the_rest(garden: Garden):
    page = garden.get("/sky", kind="galaxies", least_arcmin="60", most_arcmin="30", faintest_mag="bright")
    assert page.status_code == 422
    said = words_of(page)
    assert "Swap them" in said
    assert "“bright”" in said
    assert page_of(page).select("table.sky-lines tbody tr")


def test_pages_of_the_list_follow_one_another(garden: Garden):
    asked = {"kind": "galaxies", "order": "name", "site": garden.site}
    first, second = (page_of(garden.get("/sky", **asked, **{"from": start})) for start in (0, 30))
    names = [[a.text for a in page.select("table.sky-lines th a")] for page in (first, second)]
    assert len(names[0]) == len(names[1]) == 30
    assert not set(names[0]) & set(names[1])
    assert "from=30" in first.select_one("a[rel=next]")["href"]


def test_a_target_is_framed_timed_and_reckoned_for_two_rigs(garden: Garden):
    page = shown(garden, "M31", "doublet, flattened", "Ritchey-Chretien", evening="2026-11-30")
    said = words_of(page)
    assert "galaxy in Andromeda, 178' x 69.7'" in said
    # Culmination: 90 - 50 + 41.27.
    assert "Best in October" in said
    assert "It culminates at 81°" in said
    assert "Dark from 18:2" in said
    assert "No darkness in June" in said
    assert re.search(r"doublet, flattened takes [\d.]+ times the hours of Loan: Ritchey-Chretien", said)
    found = cells(page)
    assert found["pixel"] == ["1.98 arcsec", "0.46 arcsec"]
    for binned, alone in zip(
        found["binned 2 x 2 afterwards"], found["signal to noise of a pixel, in the hours set"], strict=True
    ):
        noise = float(re.search(r"at ([\d.]+)$", binned)[1])
        assert noise == pytest.approx(2.0 * float(alone), rel=0.06)
    assert found["binned 2 x 2 afterwards"][0].startswith("pixels of 3.9")
    assert all(
        re.fullmatch(r"[\d.,]+ h \([\d.,]+ to [\d.,]+\)", one)
        for one in found["to the wanted signal to noise"]
    )
    assert len(page_of(page).select(".sky-sketches img")) == 6


def test_the_months_say_how_many_nights_each_rig_needs_there(garden: Garden):
    page = page_of(shown(garden, "M31", "doublet, flattened", "Ritchey-Chretien", evening="2026-11-30"))
    table = page.find("caption", string=re.compile("clear nights")).find_parent("table")
    heads = [one.text for one in table.select("thead th")]
    assert heads[0] == "month of 2026"
    assert heads[5:] == ["nights: Loan: doublet, flattened", "nights: Loan: Ritchey-Chretien"]
    rows = {row.th.text: [one.text for one in row.select("td")] for row in table.select("tbody tr")}
    assert rows["Jun"][4:] == ["-", "-"]
    best = cells(shown(garden, "M31", "doublet, flattened", evening="2026-11-30"))
    assert best["clear nights, without the Moon"] == [f"{rows['Oct'][4]} in October"]


def test_a_wish_that_cannot_be_read_leaves_the_others(garden: Garden):
    page = shown(
        garden, "M51", "Ritchey-Chretien", evening="2026-02-30", signal_to_noise="20", angle_deg="400"
    )
    assert page.status_code == 422
    soup = page_of(page)
    assert "is no date" in soup.select_one("#wish-evening-error").text
    assert soup.select_one("#wish-evening")["value"] == "2026-02-30"
    assert "too much here" in soup.select_one("#wish-angle_deg-error").text
    assert "for a signal to noise of 20" in words_of(page)


def test_a_line_without_a_narrow_filter_is_said_at_its_field_to_count_for_nothing(garden: Garden):
    page = shown(garden, "M51", "Ritchey-Chretien", rayleigh="100")
    assert page.status_code == 200
    soup = page_of(page)
    assert "counts behind a narrow filter" in soup.select_one("#wish-rayleigh-error").text
    assert soup.select_one("#wish-rayleigh")["value"] == "100"
    assert "could not be used" in soup.select_one("#found [role=alert]").text


def test_twice_the_signal_to_noise_takes_four_times_the_hours(garden: Garden):
    hours = []
    for wanted in ("10", "20"):
        row = cells(shown(garden, "M51", "Ritchey-Chretien", signal_to_noise=wanted))
        hours.append(float(row["to the wanted signal to noise"][0].split(" ")[0]))
    # By the CCD equation, time goes with the square of the ratio.
    assert hours[1] / hours[0] == pytest.approx(4.0, rel=0.06)


def test_without_a_site_the_target_is_framed_and_the_site_is_asked_for(garden: Garden):
    garden.client.post(f"/sky/sites/{garden.site}/remove")
    page = garden.get("/sky/at/M51", rig=garden.rig("Ritchey-Chretien"))
    said = words_of(page)
    assert "It fills 39 % of the frame" in said
    assert "Say where you stand" in said
    assert not cells(page)


def test_a_site_of_unknown_darkness_is_asked_for_it(garden: Garden):
    data = {"name": "Hill", "latitude_deg": "50", "longitude_deg": "8", "zone": "UTC", "revision": "1"}
    garden.client.post(f"/sky/sites/{garden.site}", data=data)
    page = shown(garden, "M51", "Ritchey-Chretien")
    assert "how dark the sky of the site is" in words_of(page)
    assert page_of(page).select(f'a[href="/sky/sites/{garden.site}"]')
    assert not cells(page)


def test_a_nebula_of_unknown_brightness_has_a_wide_range_and_asks(garden: Garden):
    page = shown(garden, "NGC 7000", "doublet, flattened")
    assert "Surer with: how bright the target is" in words_of(page)
    low, high = re.search(
        r"\(([\d.,]+) to ([\d.,]+)\)", cells(page)["to the wanted signal to noise"][0]
    ).groups()
    assert float(high.replace(",", "")) > 50 * float(low.replace(",", ""))
    told = shown(garden, "NGC 7000", "doublet, flattened", surface_mag="22.5")
    assert "how bright the target is" not in words_of(told)


def test_a_nebulas_listed_size_is_told_to_be_doubted_and_one_of_ones_own_is_not(garden: Garden):
    doubt = "often only that of its brightest part"
    page = shown(garden, "NGC 7000", "doublet, flattened")
    assert doubt in words_of(page)
    form = garden.client.get(str(page_of(page).find("a", string="Enter your own")["href"]))
    assert page_of(form).select_one("#target-major_arcmin")["value"] == "120"
    own = {
        "name": "Its whole cloud",
        "kind": "HII",
        "ra_deg": "20h 59m",
        "dec_deg": "44.5",
        "major_arcmin": "200",
    }
    garden.client.post("/sky/targets/new", data=own)
    (listed,) = garden.bench().targets()
    for key in (listed.key, "M31"):
        assert doubt not in words_of(shown(garden, key, "doublet, flattened"))


def test_a_target_that_never_rises_says_so(garden: Garden):
    # 47 Tucanae, at 72 degrees south: at 50 north it stays 32 degrees below.
    page = shown(garden, "NGC 104", "doublet, flattened")
    assert "never comes above the line" in words_of(page)


def test_a_polar_summer_says_that_there_is_no_darkness(garden: Garden):
    data = {"name": "Far north", "latitude_deg": "78", "longitude_deg": "15", "zone": "UTC", "revision": "1"}
    garden.client.post(f"/sky/sites/{garden.site}", data=data)
    page = shown(garden, "M51", "doublet, flattened", evening="2026-06-21")
    assert "does not get dark" in words_of(page)
    assert "No darkness in" in words_of(page)


def test_a_mosaic_comes_as_a_table_and_as_csv_with_the_same_places(garden: Garden):
    asked = {"columns": "2", "rows": "2", "overlap": "20 %", "angle_deg": "30"}
    page = shown(garden, "M31", "doublet, flattened", **asked)
    assert "4 panels cover" in words_of(page)
    link = page_of(page).select_one('a[href*="panels.csv"]')["href"]
    answer = garden.client.get(str(link))
    assert answer.headers["content-type"].startswith("text/csv")
    lines = list(csv.DictReader(io.StringIO(answer.text)))
    assert len(lines) == 4
    middle = np.mean([[float(one["ra deg"]), float(one["dec deg"])] for one in lines], axis=0)
    assert middle == pytest.approx([10.68, 41.27], abs=0.05)
    assert lines[0]["ra J2000"] in page.text
    assert shown(garden, "M31", "doublet, flattened").text.count("panels.csv") == 0
    assert garden.get("/sky/at/M31/panels.csv", rig=garden.rig("doublet, flattened")).status_code == 404


def test_a_mosaics_hours_and_exposures_are_those_of_all_panels(garden: Garden):
    one, four = (
        cells(shown(garden, "M31", "doublet, flattened", columns=side, rows=side)) for side in ("1", "2")
    )
    count, length = re.fullmatch(r"([\d,]+) of (.+), [\d.,]+ GB", one["frames, storage"][0]).groups()
    assert length == one["one exposure"][0]
    assert four["frames, storage"][0].startswith(
        f"{4 * int(count.replace(',', '')):,} of {length} in 4 panels"
    )
    assert four["to the wanted signal to noise"][0].endswith("), 4 panels")


def test_a_target_that_is_too_large_is_offered_in_panels_that_take_it_in(garden: Garden):
    page = shown(garden, "M31", "Ritchey-Chretien")
    offered = page_of(page).find("a", string=re.compile(r"\d x \d panels"))
    columns, rows = map(int, re.match(r"(\d+) x (\d+)", offered.text).groups())
    taken = garden.client.get(str(offered["href"]))
    across, up = map(float, re.search(r"cover ([\d.]+)° x ([\d.]+)°", words_of(taken)).groups())
    assert f"{columns * rows} panels" in words_of(taken)
    # The long side may lie across the sensor's width, where that takes fewer panels.
    assert max(across, up) >= 177.83 / 60
    assert min(across, up) >= 69.66 / 60


def test_a_sketch_is_a_picture_of_the_frame_and_grows_no_brighter_with_time(garden: Garden):
    page = shown(garden, "M51", "Ritchey-Chretien")
    sketches = [one["src"] for one in page_of(page).select(".sky-sketches img")]
    pictures = [
        Image.open(io.BytesIO(garden.client.get(str(one)).content)) for one in (sketches[0], sketches[2])
    ]
    assert {one.size for one in pictures} == {(560, 374)}
    short, long = (np.asarray(one, dtype=float) for one in pictures)
    # All are stretched alike: the same light is as grey after 20 hours, with less noise.
    assert long.mean() == pytest.approx(short.mean(), abs=3.0)
    rough = [np.abs(np.diff(one[:40, :200], axis=1)).mean() for one in (short, long)]
    assert rough[1] < 0.5 * rough[0]


def test_the_plan_frames_times_and_sketches_the_list_on_every_rig(garden: Garden):
    for name in ("M31", "M51", "M81", "NGC 7000"):
        garden.client.post("/sky/list", data={"name": name})
    rigs = [garden.rig("doublet, flattened"), garden.rig("Ritchey-Chretien")]
    page = garden.get("/sky/plan", rig=rigs, site=garden.site)
    soup = page_of(page)
    blocks = soup.select("section.sky-block")
    assert [re.match(r"[A-Z]+ \d+", one.h2.text.strip())[0] for one in blocks] == [
        "M 31",
        "M 81",
        "M 51",
        "NGC 7000",
    ]
    for block in blocks:
        rows = [[cell.text for cell in row.select("td")] for row in block.select("tbody tr")]
        assert [row[-1] for row in rows] == ["4.0 arcsec", "3.5 arcsec"]
        assert len(block.select(".sky-sketches img")) == 2
        assert "Best in" in block.text
    in_all = [[row.select("td")[2].text for row in block.select("tbody tr")] for block in blocks]
    many = [re.search(r", (\d+) panels$", long) for _, long in in_all]
    assert [one is not None for one in many] == [True, False, False, True]
    assert not any("panels" in wide for wide, _ in in_all)
    for block, long in zip(blocks, in_all, strict=True):
        # The sentence is what the rows say: hours of all panels, to two figures each.
        least, most = sorted(float(re.match(r"[\d.,]+", one)[0].replace(",", "")) for one in long)
        (times,) = re.findall(r"takes ([\d.]+) times the hours", block.text)
        assert float(times) == pytest.approx(most / least, rel=0.12)
    said = words_of(page)
    count = sum(int(one[1]) if one else 1 for one in many)
    assert f", in {count} panels." in said
    assert "Loan: doublet, flattened frames 4 of 4" in said
    assert "Loan: Ritchey-Chretien frames 2 of 4; M 31 and NGC 7000 reach beyond it" in said
    assert len(re.findall(r'id="([^"]+)"', page.text)) == len(set(re.findall(r'id="([^"]+)"', page.text)))


def test_the_focal_lengths_of_a_list_are_those_of_the_sensors_sides(garden: Garden):
    garden.client.post("/sky/list", data={"name": "M31"})
    page = garden.get("/sky/focal-lengths", rig=garden.rig("Ritchey-Chretien"), least="30 %", most="80 %")
    # The sensor is 23.4 x 15.6 mm. By hand, half extents sqrt(a2 cos2 + b2 sin2) scanned by tenths of a
    # degree: 152 and 405.
    assert page_of(page).select_one("#focal-head").text == "150 mm to 410 mm frames it."
    for name in ("M51", "M57"):
        garden.client.post("/sky/list", data={"name": name})
    apart = words_of(garden.get("/sky/focal-lengths", rig=garden.rig("Ritchey-Chretien")))
    assert "No one focal length frames all 3" in apart
    assert garden.get("/sky/focal-lengths", least="90 %", most="30 %").status_code == 422


def test_who_has_nothing_yet_is_led_on(ann: Any):
    assert "No site yet" in words_of(ann.get("/sky"))
    assert "No rig yet" in words_of(ann.get("/sky/at/M51"))
    assert "Your list is empty" in words_of(ann.get("/sky/plan"))
    assert "Nothing to frame yet" in words_of(ann.get("/sky/focal-lengths"))
    assert ann.get("/sky/at/nothing").status_code == 404
    assert ann.get("/sky/at/own-7").status_code == 404
    assert ann.get("/sky/at/M51/sketch/1.png", params={"noise": "0.01"}).status_code == 404


@pytest.mark.parametrize("angle", ["", "63°"])
def test_a_target_of_no_listed_direction_is_drawn_in_the_frame_as_much_as_the_page_says(
    garden: Garden, angle: str
):
    rig = garden.rig("doublet, flattened")
    page = page_of(garden.get("/sky/at/NGC 7000", rig=rig, angle_deg=angle))
    share = float(re.search(r"It fills (\d+) % of the frame, as it fits best; which way", page.text)[1]) / 100
    picture = page.select_one(".sky-picture svg")
    turn, x0, y0 = map(float, re.findall(r"[\d.]+", str(picture.select_one(".turning")["transform"])))
    places = re.findall(r"([\d.-]+),([\d.-]+)", str(picture.select_one("polygon.patch")["points"]))
    off = [complex(float(x) - x0, float(y) - y0) * np.exp(1j * np.radians(turn)) for x, y in places]
    (frame,) = picture.select("rect.frame-1")
    sides = (
        2 * max(abs(one.real) for one in off) / float(str(frame["width"])),
        2 * max(abs(one.imag) for one in off) / float(str(frame["height"])),
    )
    assert max(sides) == pytest.approx(share, abs=0.01)
