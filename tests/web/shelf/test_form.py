"""The shelf's form: what the checks use comes first, the rest is folded until it says something."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from server.domain.parts import KINDS, Camera, OpticalTube
from server.web.shelf.waiting import leading, missed_of, titled
from tests.web.bench.test_page import page_of

MIRRORS = {"primary_focal_ratio", "mirror_separation_mm"}


def missed(design: str | None) -> set[str]:
    return set(missed_of(OpticalTube.model_validate({"model": "Bare", "design": design})))


def test_what_only_two_mirrors_are_asked_for_is_missed_of_them_alone() -> None:
    assert not MIRRORS & missed("apochromat")
    assert not MIRRORS & missed(None)
    assert missed("ritchey_chretien") >= MIRRORS
    assert "tube_material" in missed("apochromat")
    assert "exit_pupil_mm" in missed("camera_lens")
    assert not {"exit_pupil_mm", "obstruction_mm"} & missed("apochromat")


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ({"flange_quoted": "optical"}, "window_thickness_mm"),
        ({"flange_quoted": "optical", "width_px": 3000}, "width_px"),
    ],
)
def test_what_another_field_answers_is_not_missed(given: dict[str, object], name: str) -> None:
    bare = Camera.model_validate({"maker": "Quill", "model": "Cam"})
    assert name in missed_of(bare)
    said = Camera.model_validate({"maker": "Quill", "model": "Cam", **given})
    assert name not in missed_of(said)


def test_the_form_leads_with_the_mirrors_once_the_design_is_said() -> None:
    assert not leading("optical_tube") & MIRRORS
    assert leading("optical_tube", "maksutov") >= MIRRORS


def test_what_waits_for_a_field_is_named_by_three_titles_at_most() -> None:
    assert titled(("stand",)) == "Stand"
    assert titled(("payload", "load")) == "Load"
    assert titled(("stand", "stars")) == "Stand and Stars"
    assert titled(("reach", "spacing", "coverage", "beam", "sampling")) == "Focus, Spacing, Circle and 2 more"


def test_a_correctors_page_misses_its_kind_and_its_makers_spot_sizes(ann: TestClient) -> None:
    texts = {"maker": "Halden", "model": "Bare"}
    made = ann.post("/shelf/new?kind=corrector", data=texts, follow_redirects=True)
    said = page_of(made).select_one(".missing").get_text(" ", strip=True)
    assert "What it does Corner stars and Stars" in said
    assert "Spot sizes behind it Corner stars and Stars" in said


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_form_leads_with_what_is_used_and_folds_the_rest(ann: TestClient, kind: str) -> None:
    page = page_of(ann.get(f"/shelf/new?kind={kind}"))
    fold = page.select_one("#part-form > details#more")
    folded = {field["name"] for field in fold.select("[name]")} - {"write"}
    folded = {name for name in folded if "." not in name}
    asked = {field["name"] for field in page.select("#part-form [name]")} - {"then", "write"}
    asked = {name for name in asked if "." not in name}
    assert asked - folded == {name for name in leading(kind) if name in asked}
    assert {"price", "note", "document", "basis"} <= folded
    assert not fold.has_attr("open")


def test_the_long_form_of_a_tube_shows_less_than_half_as_many_fields_as_it_has(ann: TestClient) -> None:
    page = page_of(ann.get("/shelf/new?kind=optical_tube"))
    # A person stumbled over some 35 fields at once; twenty is a choice of ours, no source.
    folded = len(page.select("#more .field"))
    assert len(page.select("#part-form .field")) - folded <= 21
    assert folded >= 15


@pytest.mark.parametrize(
    "texts",
    [
        {"note": "Bought second hand"},
        {"basis": "measured"},
        {"price": "10 apples"},
        {"outer_diameter_mm": "4 kg"},
    ],
)
def test_the_fold_opens_where_a_field_in_it_says_something_or_is_wrong(
    ann: TestClient, texts: dict[str, str]
) -> None:
    # Another field is refused, so that the form comes again.
    typed = {"model": "T", "aperture_mm": "4 kg", "basis": "typed", **texts}
    answer = ann.post("/shelf/new?kind=optical_tube", data=typed)
    assert answer.status_code == 422
    assert page_of(answer).select_one("#more").has_attr("open")


def test_the_fold_stays_shut_where_nothing_in_it_was_touched(ann: TestClient) -> None:
    typed = {"model": "T", "aperture_mm": "4 kg", "basis": "typed"}
    answer = ann.post("/shelf/new?kind=optical_tube", data=typed)
    assert not page_of(answer).select_one("#more").has_attr("open")


def test_where_the_figures_come_from_offers_one_answer_for_not_knowing(ann: TestClient) -> None:
    page = page_of(ann.get("/shelf/new?kind=camera"))
    words = [option.get_text() for option in page.select("#f-basis option")]
    assert "not said" in words
    assert "not known" not in words
    assert page.select_one("#f-colour option").get_text() == "not known"


def test_only_what_nothing_reads_stands_under_the_words_that_no_check_looks_at_it(ann: TestClient) -> None:
    fold = page_of(ann.get("/shelf/new?kind=mount")).select_one("#more")
    words = fold.find(string=lambda text: "no check looks at these" in text)
    kept = {str(field["name"]) for field in words.find_all_next(["input", "select", "textarea"])}
    assert "periodic_error_arcsec" in kept, "nothing reads it"
    assert not kept & {"current_a", "current_peak_a", "voltage_v"}, "the night's power reads them"
