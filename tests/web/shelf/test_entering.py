"""Entering gear without typing twice: what is remembered, what is picked, what comes next."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.web.shelf.test_pages import HTMX, RING, bob, enter, names_in, page_of, words_of
from tests.web.shelf.test_paste import is_empty

# On SQLite and on PostgreSQL.


def options(page: object, name: str) -> list[str]:
    return [one["value"] for one in page.select(f"#{name} option")]  # type: ignore[attr-defined]


def test_makers_and_connections_are_remembered_and_offered(ann: TestClient) -> None:
    bare = page_of(ann.get("/shelf/new?kind=spacer_ring"))
    assert bare.select_one("datalist") is None
    assert bare.select_one("#f-sky_side")["placeholder"] == "like M48x0.75 male"
    enter(ann, **RING)
    enter(ann, **RING | {"maker": "Aster"})
    enter(ann, **RING)
    for kind in ("spacer_ring", "camera"):
        page = page_of(ann.get(f"/shelf/new?kind={kind}"))
        assert options(page, "known-makers") == ["Brindle", "Aster"]
        assert set(options(page, "known-connections")) == {"M48x0.75 male", "M48x0.75 female"}
        assert page.select_one("#f-maker")["list"] == "known-makers"
        assert page.select_one("#f-sky_side")["list"] == "known-connections"
    assert options(page_of(bob(ann).get("/shelf/new?kind=camera")), "known-makers") == ["Brindle", "Aster"]


def test_a_picked_connection_is_written_into_its_field_and_stores_nothing(ann: TestClient) -> None:
    typed = {
        "model": "R7",
        "sky_side.size": "M48x0.75",
        "sky_side.gender": "female",
        "sky_side.length": "5 mm",
    }
    for headers in ({}, HTMX):
        answer = ann.post("/shelf/new?kind=spacer_ring", data=typed | {"write": "sky_side"}, headers=headers)
        assert answer.status_code == 200
        page = page_of(answer)
        assert page.select_one("#f-sky_side")["value"] == "M48x0.75 female, 5 mm deep"
        assert "5 mm deep" in page.select_one("#f-sky_side-understood").get_text()
        assert page.select_one("#f-model")["value"] == "R7"
    assert is_empty(ann)


def test_what_is_picked_and_sent_at_once_is_kept_and_never_replaces_what_was_typed(ann: TestClient) -> None:
    picked = {"sky_side.size": "M48x0.75", "camera_side.size": "M42x0.75", "camera_side.gender": "male"}
    number = enter(ann, model="R7", sky_side="M54x0.75", **picked)
    words = words_of(ann.get(f"/shelf/{number}"))
    assert "M54x0.75" in words
    assert "M42x0.75 male" in words
    assert "M48x0.75" not in words


def test_a_pick_that_does_not_go_together_is_told_at_its_field(ann: TestClient) -> None:
    typed = {"model": "R7", "sky_side.size": "M48x0.75", "sky_side.length": "5 kg"}
    answer = ann.post("/shelf/new?kind=spacer_ring", data=typed)
    assert answer.status_code == 422
    assert "is a mass" in page_of(answer).select_one("#f-sky_side-error").get_text()
    assert is_empty(ann)


def test_a_connection_is_picked_in_the_form_that_changes_a_part(ann: TestClient) -> None:
    number = enter(ann, **RING)
    asked = RING | {"revision": "1", "write": "sky_side", "sky_side.size": "M63x1"}
    page = page_of(ann.post(f"/shelf/{number}/edit", data=asked))
    assert page.select_one("#f-sky_side")["value"] == "M63x1"
    assert page.select_one("[name=revision]")["value"] == "1"
    assert "M63x1" not in words_of(ann.get(f"/shelf/{number}"))


def test_a_sensor_by_its_size_is_turned_into_pixels_on_request(ann: TestClient) -> None:
    typed = {"model": "Cam", "width_px": "23.5 mm", "height_px": "4176", "pixel_um": "3.76"}
    answer = ann.post("/shelf/new?kind=camera", data=typed)
    assert answer.status_code == 422
    assert "makes 6250" in page_of(answer).select_one("#f-width_px-error").get_text()
    take = page_of(answer).select_one("button[name=take]")["value"]
    again = ann.post("/shelf/new?kind=camera", data=typed | {"take": take})
    assert page_of(again).select_one("#f-width_px")["value"] == "6250"
    assert is_empty(ann)
    live = ann.get("/shelf/understood?kind=camera&width_px=23.5+mm&pixel_um=3.76")
    assert "makes 6250" in live.text


def test_after_saving_another_of_any_kind_can_follow(ann: TestClient) -> None:
    answer = ann.post("/shelf/new?kind=spacer_ring", data=RING | {"then": "kinds"})
    page = page_of(answer)
    assert page.h1.get_text() == "Which kind of part?"
    assert "Brindle R20 is on the shelf" in words_of(answer)
    form = page_of(ann.get(page.select_one(".kinds a")["href"]))
    assert form.select_one("#f-maker")["value"] == "Brindle"


def test_a_copy_of_what_is_only_wished_for_stays_a_wish(ann: TestClient) -> None:
    number = enter(ann, **RING | {"owned": "", "wished": "1"})
    ann.post(f"/shelf/{number}/copy")
    assert names_in(ann.get("/shelf?holding=wished")) == ["Brindle R20", "Brindle R20 (copy)"]
    assert names_in(ann.get("/shelf?holding=owned")) == []


def test_enter_in_a_field_presses_the_button_that_stores(ann: TestClient) -> None:
    first = page_of(ann.get("/shelf/new?kind=camera")).select_one("#part-form button")
    assert not first.has_attr("name")


@pytest.mark.parametrize(
    "pressed", [{"write": "sky_side"}, {"take": "length_mm=so long"}, {"sides": "round|square"}]
)
def test_a_button_within_the_form_gives_back_what_cannot_be_read(
    ann: TestClient, pressed: dict[str, str]
) -> None:
    typed = {"model": "R20", "length_mm": "so long", "mass_kg": "light"}
    form = page_of(ann.post("/shelf/new?kind=spacer_ring", data=typed | pressed)).select_one("#part-form")
    for name, text in typed.items():
        assert form.select_one(f"#f-{name}")["value"] == text
