"""A specification pasted in one go: it fills a form, and nothing is stored before the form is sent."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.domain.parts import KINDS
from tests.web.shelf.test_pages import bob, page_of, words_of

TUBE = "80 mm f/6 apochromat, 480 mm, 2.4 kg, M63x1\nWith a soft case"


def paste(client: TestClient, text: str, **fields: str) -> Any:
    return client.post("/shelf/new/paste", data={"pasted": text, **fields})


def sent_by(answer: Any) -> dict[str, str]:
    """What a browser sends of the form as it was answered."""
    form = page_of(answer).select_one("#part-form")
    texts = {field["name"]: field.get("value", "") for field in form.select("input[name]")}
    texts |= {field["name"]: field.get_text() for field in form.select("textarea[name]")}
    for choice in form.select("select[name]"):
        texts[choice["name"]] = (choice.select_one("[selected]") or choice.select_one("option"))["value"]
    return texts


def is_empty(client: TestClient) -> bool:
    return "No part has been entered yet" in words_of(client.get("/shelf"))


def test_a_text_fills_the_form_of_its_kind_and_stores_nothing(ann: TestClient) -> None:
    answer = paste(ann, TUBE)
    page = page_of(answer)
    assert answer.status_code == 200
    assert page.h1.get_text() == "A new optical tube"
    assert page.select_one("#f-aperture_mm")["value"] == "80 mm"
    assert page.select_one("#f-aperture_mm-words").get_text() == "From 80 mm f/6 apochromat"
    assert page.select_one("#f-design option[selected]")["value"] == "apochromat"
    assert "metric thread 63 mm" in page.select_one("#f-camera_side-understood").get_text()
    assert page.select_one("#f-note").get_text() == "With a soft case"
    assert "With a soft case" in page.select_one(".paste-told").get_text()
    assert is_empty(ann)


def test_the_filled_form_is_stored_when_it_is_sent(ann: TestClient) -> None:
    answer = ann.post("/shelf/new?kind=optical_tube", data=sent_by(paste(ann, TUBE)) | {"model": "Tarn 80"})
    assert "Tarn 80" in words_of(answer)
    assert "480 mm" in words_of(answer)


def test_where_the_kind_is_not_sure_it_is_asked_with_what_speaks_for_each(ann: TestClient) -> None:
    text = "Pixel size: 3.75 µm; resolution 1280 x 960"
    page = page_of(paste(ann, text))
    likely = {
        button["value"]: button.parent.get_text(" ", strip=True) for button in page.select(".likely button")
    }
    assert set(likely) == {"camera", "guide_camera"}
    assert "pixel size, resolution" in likely["camera"]
    assert {button["value"] for button in page.select(".other-kinds button")} == set(KINDS)
    chosen = page_of(paste(ann, text, kind="guide_camera"))
    assert chosen.select_one("#f-width_px")["value"] == "1280"


def test_what_is_worked_out_is_offered_and_put_in_on_request(ann: TestClient) -> None:
    answer = paste(ann, "80 mm f/6 apochromat")
    offer = page_of(answer).select_one(".field-offer")
    assert page_of(answer).select_one("#f-focal_length_mm")["value"] == ""
    assert "480 mm follows from 80 mm × 6" in " ".join(offer.get_text().split())
    asked = sent_by(answer) | {"take": offer.button["value"], "model": "Kept"}
    again = ann.post("/shelf/new?kind=optical_tube", data=asked)
    assert again.status_code == 200
    assert page_of(again).select_one("#f-focal_length_mm")["value"] == "480 mm"
    assert page_of(again).select_one("#f-model")["value"] == "Kept"
    assert is_empty(ann)


def test_an_offer_is_made_in_the_units_of_its_reader(ann: TestClient) -> None:
    offer = page_of(paste(bob(ann), '8" f/4 Newtonian')).select_one(".field-offer")
    # 8 in times 4 is 32 in.
    assert "32 in follows from 8 in × 4" in " ".join(offer.get_text().split())


@pytest.mark.parametrize("text", ["", "  \n ", "x" * 8001])
def test_no_text_and_too_much_text_are_told_beside_the_box(ann: TestClient, text: str) -> None:
    answer = paste(ann, text)
    assert answer.status_code == 422
    assert page_of(answer).select_one("#pasted-error") is not None


def test_text_is_shown_as_text(ann: TestClient) -> None:
    shown = paste(ann, "<script>x</script>, camera, 3.76 µm").text
    assert "&lt;script&gt;x" in shown
    assert "<script>x" not in shown


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
@given(st.text(max_size=120), st.sampled_from(["", *sorted(KINDS)]))
def test_whatever_is_pasted_is_answered_and_nothing_is_stored(ann: TestClient, text: str, kind: str) -> None:
    assert paste(ann, text, kind=kind).status_code in (200, 422)
    assert is_empty(ann)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Adapter M54 male to M48 female", "is read from the sky to the camera"),
        ("Adapter M54 male - M48 female", "does not say which faces the sky"),
    ],
)
def test_of_two_connections_one_says_which_faces_the_sky(ann: TestClient, text: str, said: str) -> None:
    answer = paste(ann, text)
    told = page_of(answer).select_one(".paste-sides")
    assert said in told.get_text()
    assert page_of(answer).select_one("#f-sky_side")["value"] == ""
    buttons = told.select("button")
    assert [one.get_text() for one in buttons] == [
        "Sky M54 male, camera M48 female",
        "Sky M48 female, camera M54 male",
    ]
    for button, sides in zip(buttons, (("M54 male", "M48 female"), ("M48 female", "M54 male")), strict=True):
        asked = sent_by(answer) | {"sides": button["value"], "model": "Kept"}
        again = page_of(ann.post("/shelf/new?kind=adapter", data=asked))
        assert (
            again.select_one("#f-sky_side")["value"],
            again.select_one("#f-camera_side")["value"],
        ) == sides
        assert again.select_one("#f-model")["value"] == "Kept"
        assert again.select_one(".paste-sides") is None
    assert is_empty(ann)
