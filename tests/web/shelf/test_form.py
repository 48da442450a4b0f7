"""The shelf's form: what the checks use comes first, the rest is folded until it says something."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from server import paths
from server.domain.parts import KINDS, OpticalTube, specs_of
from server.web.shelf.used_fields import (
    ALSO_READ,
    ALSO_USED,
    OF_TWO_MIRRORS,
    PATH,
    STARS,
    USED,
    for_the_stars,
    is_read,
    leading,
)
from tests.web.bench.test_page import page_of

CHECKS = paths.TEMPLATES.parent / "server" / "domain" / "checks"
NO_FIGURES = {"basis", "price", "note", "document", "maker", "model"}
OF_OTHERS = {
    ("counterweight", "thickness_mm"),
    ("guide_camera", "tilt_plate"),
    *(("optical_tube", name) for name in ("primary_focal_ratio", "mirror_separation_mm")),
    *(("optical_tube", name) for name in ("tube_length_mm", "tube_material")),
    *(("optical_tube", name) for name in ("drawtube_sag_arcmin", "outer_diameter_mm")),
    *(("optical_tube", name) for name in ("secondary_mm", "diagonal_to_focus_mm", "diagonal_offset_mm")),
    *(("optical_tube", name) for name in ("baffle_mm", "baffle_to_focus_mm", "exit_pupil_mm")),
    *(("optical_tube", name) for name in ("glass_pair", "colour_shift_mm")),
    ("optical_tube", "circle_behind_corrector"),
    *(("corrector", name) for name in ("principal_mm", "principal_front_mm", "in_travel_mm")),
    *(("filter", name) for name in ("effective_index", "made_for_ratio")),
    *((kind, "voltage_v") for kind in ("accessory", "camera", "guide_camera", "mount")),
    *(("camera", name) for name in ("quantum_efficiency", "gains", "dark_current")),
}
"""What the checks read of another kind by the same name (glass has a thickness, and so has a weight), and
what only a cold night, a tube that focuses by its primary or whose inside is known, a soft drawtube, a
narrow band in a fast beam, a camera at the tube's side or the night's power needs.
"""


def read_by_checks() -> set[str]:
    sources = [file.read_text(encoding="utf-8") for file in CHECKS.glob("*.py")]
    return {name for source in sources for name in re.findall(r"\.([a-z_]+)\b", source)}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_figure_that_a_check_reads_is_asked_for_first(kind: str) -> None:
    read = {spec.name for spec in specs_of(kind)} & read_by_checks()
    read -= NO_FIGURES | {name for of, name in OF_OTHERS if of == kind}
    assert read <= leading(kind), read - leading(kind)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_no_figure_that_checks_stars_or_load_read_is_said_to_be_looked_at_by_none(kind: str) -> None:
    domain = CHECKS.parent
    sources = [
        file.read_text(encoding="utf-8")
        for folder in ("checks", "stars", "load", "parts")
        for file in (domain / folder).glob("*.py")
    ]
    read = {name for source in sources for name in re.findall(r"[.\"]([a-z_]+)\b", source)}
    there = {spec.name for spec in specs_of(kind)} - NO_FIGURES
    assert {name for name in there & read if not is_read(kind, name)} == set()


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_list_of_used_fields_names_none_that_the_kind_has_not(kind: str) -> None:
    there = {spec.name for spec in specs_of(kind)}
    lists = (USED, ALSO_USED, ALSO_READ, STARS)
    named = {name for one in lists for name in one.get(kind, ())} - set(PATH)
    assert named <= there


def test_what_the_stars_ask_of_a_tube_goes_with_its_mirrors() -> None:
    assert {*OF_TWO_MIRRORS} <= {spec.name for spec in specs_of("optical_tube")}
    lens = OpticalTube(maker="Halden", model="Lens", design="apochromat")
    assert set(for_the_stars(lens)) == {"tube_material"}
    mirrors = OpticalTube(maker="Halden", model="Mirrors", design="ritchey_chretien")
    assert set(for_the_stars(mirrors)) == {"tube_material", *OF_TWO_MIRRORS}


def test_a_correctors_page_misses_its_kind_and_its_makers_spot_sizes(ann: TestClient) -> None:
    texts = {"maker": "Halden", "model": "Bare"}
    made = ann.post("/shelf/new?kind=corrector", data=texts, follow_redirects=True)
    said = page_of(made).get_text(" ", strip=True)
    assert "the stars in the corners: what it does to them by itself" in said


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_form_leads_with_what_is_used_and_folds_the_rest(ann: TestClient, kind: str) -> None:
    page = page_of(ann.get(f"/shelf/new?kind={kind}"))
    fold = page.select_one("#part-form > details#more")
    folded = {field["name"] for field in fold.select("[name]")}
    asked = {field["name"] for field in page.select("#part-form [name]")} - {"then"}
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
