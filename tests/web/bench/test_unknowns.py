"""What would settle more: each unknown once, typed in place, or left open for good."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.web.bench.test_page import HTMX, Bench, enter, page_of, words_of


@pytest.fixture
def numbers(ann: TestClient) -> dict[str, int]:
    """A tube whose mass, and a camera whose pixel size and mass, are not known."""
    tube = {"model": "Tube", "focal_length_mm": "480 mm", "aperture_mm": "80 mm", "camera_side": "M48x0.75 m"}
    camera = {"model": "Cam", "sky_side": "M48x0.75 f", "width_px": "6000", "height_px": "4000"}
    return {"tube": enter(ann, "optical_tube", **tube), "camera": enter(ann, "camera", **camera)}


@pytest.fixture
def bench(ann: TestClient, numbers: dict[str, int]) -> Bench:
    made = Bench(ann)
    for number in numbers.values():
        made.post(verb="add", part_id=number)
    return made


def asked(page: Any) -> dict[str, str]:
    """What is asked for, with what waits on it."""
    found = {}
    for one in page.select(".settle-one"):
        words = one.label or one.select_one("p > a, p")
        found[words.get_text(strip=True)] = " ".join(one.select_one(".settle-for").get_text().split())
    return found


def sent_by(form: Any) -> dict[str, str]:
    """What a browser sends of a form of one unknown."""
    return {str(one["name"]): str(one.get("value", "")) for one in form.select("input")}


def test_each_unknown_is_asked_once_with_all_that_waits_on_it(bench: Bench) -> None:
    told = asked(bench.page)
    pixel = told["Pixel size of Brindle Cam"]
    assert pixel.startswith("For ")
    assert "Sampling" in pixel
    assert len(bench.page.select("#settle label")) == len(
        {one.get_text() for one in bench.page.select("#settle label")}
    )
    # Nothing is asked twice: neither beside its finding nor under another name.
    assert bench.page.select(".findings .finding-missing") == []


def test_a_figure_is_typed_in_place_stored_and_answered(bench: Bench, numbers: dict[str, int]) -> None:
    answer = bench.client.post(
        f"{bench.url}/settle",
        data={
            "part_id": numbers["camera"],
            "revision": 1,
            "field": "pixel_um",
            "text": "3,76 um",
        },
        headers=HTMX,
    )
    page = page_of(answer)
    assert answer.status_code == 200
    assert page.select_one("#bench-status").get_text().startswith("Stored on Brindle Cam.")
    assert "Pixel size of Brindle Cam" not in asked(page)
    # 206.265 x 3.76 / 480 = 1.616 arcsec a pixel (small angles, by hand).
    assert "1.62 arcsec" in " ".join(page.get_text(" ").split())
    form = page_of(bench.client.get(f"/shelf/{numbers['camera']}/edit"))
    assert form.select_one("#f-pixel_um")["value"].startswith("3.76")


@pytest.mark.parametrize(("typed", "why"), [("5 kg", "mass"), ("", "I can't find out"), ("-1", "")])
def test_what_cannot_be_taken_is_told_at_its_field_with_what_was_typed(
    bench: Bench, numbers: dict[str, int], typed: str, why: str
) -> None:
    answer = bench.client.post(
        f"{bench.url}/settle",
        data={
            "part_id": numbers["camera"],
            "revision": 1,
            "field": "pixel_um",
            "text": typed,
        },
    )
    page = page_of(answer)
    assert answer.status_code == 422
    one = page.select_one(f"#settle-{numbers['camera']}-pixel_um")
    assert one.input.find_next("input", {"name": "text"})["value"] == typed
    assert why in one.select_one(".field-error").get_text()
    assert "Pixel size of Brindle Cam" in asked(bench.page)


def test_what_cannot_be_found_out_is_asked_no_more_until_one_asks_again(
    bench: Bench, numbers: dict[str, int]
) -> None:
    before = bench.sentences()["Sampling"]
    button = bench.page.select_one(f"#settle-{numbers['camera']}-pixel_um button.act")
    answer = bench.press(button)
    assert answer.status_code == 200
    assert "Pixel size of Brindle Cam" not in asked(bench.page)
    assert "Left open: Pixel size of Brindle Cam." in words_of(bench.client.get(bench.url))
    assert bench.sentences()["Sampling"] == before, "what is not known stays not known"
    bench.press(bench.page.select_one("#settle > p button"))
    assert "Pixel size of Brindle Cam" in asked(bench.page)
    bench.post("undo")
    assert "Pixel size of Brindle Cam" not in asked(bench.page)


def test_a_field_that_the_part_has_not_is_refused(bench: Bench, numbers: dict[str, int]) -> None:
    data = {
        "part_id": numbers["camera"],
        "revision": 1,
        "field": "no_such",
        "text": "3",
    }
    assert bench.client.post(f"{bench.url}/settle", data=data).status_code == 422


def test_a_part_that_is_wanted_leads_to_its_kind_in_the_tray(bench: Bench, numbers: dict[str, int]) -> None:
    link = next(one for one in bench.page.select(".settle-one a") if "mount" in one.get_text())
    tray = page_of(bench.client.get(str(link["href"])))
    assert tray.select_one("#tray-kind option[selected]")["value"] == "mount"


def test_a_figure_of_anothers_part_is_led_to_its_page_and_not_asked_in_place(
    ann: TestClient, bench: Bench, numbers: dict[str, int]
) -> None:
    other = TestClient(ann.app, base_url=str(ann.base_url))
    other.post("/observers", data={"name": "Bob", "units": "metric"})
    theirs = Bench(other)
    for number in numbers.values():
        theirs.post(verb="add", part_id=number)
    one = theirs.page.select_one(f"#settle-{numbers['camera']}-pixel_um")
    assert one.select_one("input") is None
    assert one.select_one("a")["href"] == f"/shelf/{numbers['camera']}"
    data = {
        "part_id": numbers["camera"],
        "revision": 1,
        "field": "pixel_um",
        "text": "3 um",
    }
    refused = other.post(f"{theirs.url}/settle", data=data)
    assert refused.status_code == 422
    assert "was entered by Ann" in words_of(refused)


def test_a_rig_is_copied_at_one_press_and_offers_another_tube(bench: Bench, numbers: dict[str, int]) -> None:
    enter(bench.client, "optical_tube", model="Other")
    form = bench.page.select_one("form.copy-rig")
    plain = bench.client.post(str(form["action"]))
    assert page_of(plain).h1.get_text() == "Garden (copy)"
    again = bench.client.post(str(form["action"]))
    assert page_of(again).h1.get_text() == "Garden (copy 2)"
    button = form.select_one("button[name=swap]")
    assert button.get_text() == "Copy it with another tube"
    page = page_of(bench.client.post(str(form["action"]), data={"swap": button["value"]}))
    assert page.h1.get_text() == "Garden (copy 3)"
    assert page.select_one("#tray-title").get_text() == "In place of Brindle Tube"
    kinds = {one.get_text().split(" · ")[0].split(" →")[0].strip() for one in page.select(".tray-kind")}
    assert kinds == {"optical tube"}
    assert [one.get_text() for one in page.select(".tray-name")] == ["Brindle Other"]


def test_what_a_change_turned_is_marked(bench: Bench) -> None:
    stood = {"Trainwright-Stood": str(bench.page.select_one("#bench")["data-stood"])}
    ring = enter(bench.client, "spacer_ring", model="R", sky_side="M42x0.75 f", camera_side="M42x0.75 m")
    data = {"version": bench.version, "verb": "add", "part_id": ring}
    page = page_of(bench.client.post(f"{bench.url}/change", data=data, headers=HTMX | stood))
    marked = [one.get_text() for one in page.select(".turned .tag")]
    assert marked
    assert set(marked) == {"changed"}
    assert not page.select("#finding-sampling-unknown.turned"), "that stood there before"


def test_a_search_is_not_hidden_by_the_kind_asked_for_before(bench: Bench) -> None:
    answer = bench.client.get(f"{bench.url}?kind=optical_tube&q=Cam")
    assert "No optical tube matches. Of other kinds:" in words_of(answer)
    assert "Brindle Cam" in [one.get_text() for one in page_of(answer).select(".tray-name")]


def test_a_figure_of_a_part_that_was_changed_elsewhere_is_not_stored_over_the_change(
    bench: Bench, numbers: dict[str, int]
) -> None:
    form = page_of(bench.client.get(bench.url)).select_one(f"#settle-{numbers['camera']}-pixel_um")
    data = sent_by(form) | {"text": "3.76 um"}
    url = f"{bench.url}/settle"
    bench.client.post(url, data=data | {"field": "bits", "text": "16"})
    refused = bench.client.post(url, data=data)
    assert refused.status_code == 409
    again = page_of(refused).select_one(f"#settle-{numbers['camera']}-pixel_um")
    assert "was changed elsewhere" in again.select_one(".field-error").get_text()
    assert again.select_one("input[name=text]")["value"] == "3.76 um"
    assert "Pixel size of Brindle Cam" in asked(bench.page)
    bench.client.post(url, data=sent_by(again))
    assert "Pixel size of Brindle Cam" not in asked(bench.page)
    late = bench.client.post(url, data=data | {"text": "4.63 um"})
    assert late.status_code == 409
    assert "“4.63 um” was typed" in page_of(late).select_one("#bench-trouble").get_text()


def test_two_parts_of_one_name_are_both_asked_for(bench: Bench) -> None:
    twins = [enter(bench.client, "spacer_ring", model="Twin", sky_side="M48x0.75 f") for _ in range(2)]
    for twin in twins:
        bench.post(verb="add", part_id=twin)
    page = bench.page
    assert all(page.select_one(f"#settle-{twin}-length_mm") is not None for twin in twins)
