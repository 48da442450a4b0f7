"""The Shelf as a browser meets it: entering parts, finding them, saying what one has.

Mostly as a browser without JavaScript; where htmx asks, its request headers are sent (htmx 4: HX-Request).
"""

from __future__ import annotations

from typing import Any

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from server.domain.observer import Holding
from server.domain.parts import KINDS, specs_of
from server.domain.rig import PlacePlan, RigPlan
from server.store import Stores

# On SQLite and on PostgreSQL.
HTMX = {"HX-Request": "true"}
RING = {
    "maker": "Brindle",
    "model": "R20",
    "length_mm": "20 ± 0.05 mm",
    "sky_side": "M48x0.75 male, 5 mm long",
    "camera_side": "M48x0.75 female",
    "owned": "2",
}


def page_of(answer: Any) -> Any:
    return BeautifulSoup(answer.text, "html.parser")


def words_of(answer: Any) -> str:
    return " ".join(page_of(answer).get_text(" ").split())


def names_in(answer: Any) -> list[str]:
    return [" ".join(title.get_text().split()) for title in page_of(answer).select(".shelf-line h2")]


def enter(client: TestClient, kind: str = "spacer_ring", **texts: str) -> int:
    """Enter a part through its form; the number it got."""
    answer = client.post(f"/shelf/new?kind={kind}", data={"model": "Test", **texts}, follow_redirects=False)
    assert answer.status_code == 303, words_of(answer)
    return int(answer.headers["location"].removeprefix("/shelf/").partition("?")[0])


def bob(client: TestClient) -> TestClient:
    """Another browser of the same install, in which Bob has been taken in."""
    other = TestClient(client.app, base_url=str(client.base_url))
    other.post("/observers", data={"name": "Bob", "units": "imperial"})
    return other


# -- Entering parts


def test_the_choice_of_kinds_says_what_each_is_for(ann: TestClient):
    page = page_of(ann.get("/shelf/new"))
    links = {link["href"]: link.parent for link in page.select(".kinds a")}
    assert set(links) == {f"/shelf/new?kind={kind}" for kind in KINDS}
    assert all(entry.span.get_text().strip() for entry in links.values())


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_form_of_a_kind_asks_for_its_fields_and_no_others(ann: TestClient, kind: str):
    answer = ann.get(f"/shelf/new?kind={kind}")
    assert answer.status_code == 200
    asked = {field["name"] for field in page_of(answer).select("#part-form [name]")} - {"then", "write"}
    # What is picked for a connection goes into its field.
    asked = {name for name in asked if "." not in name}
    assert asked == {spec.name for spec in specs_of(kind)} | {"owned", "wished", "considered"}


def test_each_field_states_what_a_bare_number_means(ann: TestClient):
    page = page_of(ann.get("/shelf/new?kind=camera"))
    assert page.select_one("#f-flange_mm-unit").get_text() == "mm"
    assert page.select_one("#f-mass_kg-unit").get_text() == "kg"
    assert page.select_one("#f-pixel_um-unit").get_text() == "µm"
    assert page.select_one("#f-price-unit").get_text() == "EUR"
    assert page.select_one("#f-width_px-unit").get_text() == "px"


def test_the_form_of_an_imperial_reader_still_states_its_default_unit(ann: TestClient):
    page = page_of(bob(ann).get("/shelf/new?kind=spacer_ring"))
    assert page.select_one("#f-length_mm-unit").get_text() == "mm if no unit, or write in"


def test_a_part_is_entered_and_shown_with_what_was_understood(ann: TestClient):
    answer = ann.post("/shelf/new?kind=spacer_ring", data=RING)
    assert answer.status_code == 200
    assert answer.url.path == "/shelf/1"
    words = words_of(answer)
    assert "Brindle R20" in words
    assert "20.00 ± 0.05 mm" in words
    assert "M48x0.75 male, 5 mm long" in words
    assert page_of(answer).select_one("#holding-1 .stepper.held .stepper-number").get_text() == "2"


def test_errors_stand_at_their_fields_with_all_that_was_typed(ann: TestClient):
    typed = RING | {
        "length_mm": "3 m",
        "mass_kg": "5 mm",
        "owned": "some",
        "note": "Kept <b>whole</b>",
        "reversible": "yes",
    }
    answer = ann.post("/shelf/new?kind=spacer_ring", data=typed)
    assert answer.status_code == 422
    page = page_of(answer)
    assert "more than any spacer ring measures" in page.select_one("#f-length_mm-error").get_text()
    assert "this field is a mass" in page.select_one("#f-mass_kg-error").get_text()
    assert page.select_one("#f-owned-error") is not None
    assert page.select_one("#f-length_mm")["value"] == "3 m"
    assert page.select_one("#f-length_mm")["aria-invalid"] == "true"
    assert page.select_one("#f-sky_side")["value"] == RING["sky_side"]
    assert "metric thread 48 mm" in page.select_one("#f-sky_side-understood").get_text()
    assert page.select_one("#f-note").get_text() == "Kept <b>whole</b>"
    assert page.select_one("#f-reversible option[selected]")["value"] == "yes"
    assert {link["href"] for link in page.select(".notice a")} == {"#f-length_mm", "#f-mass_kg", "#f-owned"}
    assert "No part has been entered yet" in words_of(ann.get("/shelf"))


def test_ticks_are_kept_when_another_field_is_wrong(ann: TestClient):
    typed = {"model": "C", "factor": "2 kg", "for_designs": ["newtonian", "astrograph"]}
    page = page_of(ann.post("/shelf/new?kind=corrector", data=typed))
    ticked = {box["value"] for box in page.select('[name="for_designs"][checked]')}
    assert ticked == {"newtonian", "astrograph"}


def test_several_ticks_are_kept_with_the_part(ann: TestClient):
    number = enter(ann, "corrector", model="C", for_designs=["newtonian", "astrograph"])  # type: ignore[arg-type]
    assert "Newtonian, astrograph" in words_of(ann.get(f"/shelf/{number}"))


def test_entering_another_keeps_the_maker(ann: TestClient):
    answer = ann.post("/shelf/new?kind=spacer_ring", data=RING | {"then": "another"})
    page = page_of(answer)
    assert answer.url.path == "/shelf/new"
    assert page.select_one("#f-maker")["value"] == "Brindle"
    assert page.select_one("#f-model")["value"] == ""
    assert "Brindle R20" in page.select_one(".notice.sound").get_text()


def test_a_line_typed_in_a_text_area_ends_as_the_table_expects(ann: TestClient):
    number = enter(ann, "corrector", model="C", back_focus_table="400: 55\r\n600: 56.5\r\n")
    assert "600 mm · 56.5 mm" in words_of(ann.get(f"/shelf/{number}"))


def test_an_unknown_kind_is_not_here(ann: TestClient):
    assert ann.get("/shelf/new?kind=sextant").status_code == 404
    assert ann.post("/shelf/new?kind=sextant", data={"model": "X"}).status_code == 404


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"kind": "spacer_ring", "length_mm": "54.8 +- 0.2 mm"}, "Understood: 54.8 ± 0.2 mm"),
        (
            {"kind": "spacer_ring", "sky_side": "M48x0.75 male"},
            "Understood: metric thread 48 mm, pitch 0.75, male",
        ),
        ({"kind": "spacer_ring", "length_mm": "5 kg"}, "5 kg is a mass; this field is a length."),
        ({"kind": "corrector", "back_focus_table": "400: 55\r\n600: 56"}, "2 lines"),
        ({"kind": "spacer_ring", "length_mm": ""}, ""),
    ],
)
def test_a_field_tells_what_it_understood_while_one_types(ann: TestClient, query: dict[str, str], said: str):
    answer = ann.get("/shelf/understood", params=query, headers=HTMX)
    assert answer.status_code == 200
    assert said in words_of(answer)
    assert bool(answer.text) == bool(said)


def test_what_is_typed_is_never_understood_as_markup(ann: TestClient):
    answer = ann.get("/shelf/understood", params={"kind": "shim", "length_mm": "<img src=x>"})
    assert "<img" not in answer.text


# -- The list


def test_an_empty_shelf_teaches_and_begins(ann: TestClient):
    page = page_of(ann.get("/shelf"))
    links = {link["href"] for link in page.select(".empty a")}
    assert {"/shelf/new", "/shelf/import"} <= links


def test_a_line_shows_what_one_compares(ann: TestClient):
    enter(ann, **RING, mass_kg="45 g", price="24.50 EUR", clear_aperture_mm="46")
    words = words_of(ann.get("/shelf"))
    for expected in (
        "Brindle R20",
        "spacer ring",
        "M48x0.75 female",
        "20.00 ± 0.05 mm",
        "46 mm",
        "45 g",
        "24.50 EUR",
    ):
        assert expected in words


def test_an_imperial_reader_sees_inches_and_on_the_parts_page_millimetres_beside(ann: TestClient):
    number = enter(ann, model="R", length_mm="25.4", mass_kg="2 lb")
    imperial = bob(ann)
    assert "1 in" in words_of(imperial.get("/shelf?holding=catalogue"))
    words = words_of(imperial.get(f"/shelf/{number}"))
    assert "1 in (25.4 mm)" in words
    assert "2 lb (0.907 kg)" in words


def test_the_search_looks_over_all_fields_and_the_address_holds_it(ann: TestClient):
    enter(ann, **RING)
    enter(ann, "camera", model="Eye", note="borrowed from Petra", owned="1")
    assert names_in(ann.get("/shelf?q=petra")) == ["Eye"]
    assert names_in(ann.get("/shelf?q=brin+r2")) == ["Brindle R20"]
    answer = ann.get("/shelf?q=brin&kind=camera")
    assert names_in(answer) == []
    page = page_of(answer)
    assert page.select_one("#q")["value"] == "brin"
    assert page.select_one("#kind option[selected]")["value"] == "camera"
    assert page.select_one('.empty a[href="/shelf?q=brin&kind=camera&holding=catalogue"]') is not None


def test_filters_by_connection_and_by_what_mates_with_it(ann: TestClient):
    enter(ann, model="Long", sky_side="M48x0.75 male", camera_side="M42x0.75 male", owned="1")
    enter(ann, model="Wide", sky_side="M54x0.75 male", camera_side="M48x0.75 female", owned="1")
    assert names_in(ann.get("/shelf", params={"connection": "M42x0.75"})) == ["Long"]
    assert names_in(ann.get("/shelf", params={"mates": "M48x0.75 male"})) == ["Wide"]
    assert "metric thread 48 mm, pitch 0.75, male" in words_of(
        ann.get("/shelf", params={"mates": "M48x0.75 male"})
    )


def test_a_connection_that_cannot_be_read_is_told_and_nothing_is_listed(ann: TestClient):
    enter(ann, **RING)
    answer = ann.get("/shelf?mates=wobbly")
    assert answer.status_code == 422
    assert "is not taken" in words_of(answer)
    assert names_in(answer) == []
    assert page_of(answer).select_one("#mates")["value"] == "wobbly"


def test_htmx_gets_the_list_alone_and_the_address_for_the_bar(ann: TestClient):
    enter(ann, **RING)
    answer = ann.get("/shelf?q=brin&kind=&connection=&mates=&holding=shelf", headers=HTMX)
    assert page_of(answer).html is None
    assert page_of(answer).select_one("#found") is not None
    assert answer.headers["HX-Replace-Url"] == "/shelf?q=brin"
    assert "HX-Request" in answer.headers["Vary"]
    again = ann.get("/shelf?q=brin", headers=HTMX | {"HX-History-Restore-Request": "true"})
    assert page_of(again).html is not None


def test_whose_parts_are_listed_is_a_filter(ann: TestClient):
    enter(ann, model="Mine", owned="1")
    enter(ann, model="Dreamt of", owned="", wished="1")
    enter(ann, model="Nobody's", owned="")
    assert names_in(ann.get("/shelf")) == ["Dreamt of", "Mine"]
    assert names_in(ann.get("/shelf?holding=wished")) == ["Dreamt of"]
    assert len(names_in(ann.get("/shelf?holding=catalogue"))) == 3
    assert len(names_in(bob(ann).get("/shelf"))) == 0


def test_long_lists_come_in_pages_that_keep_the_search(ann: TestClient, stores: Stores):
    number = enter(ann, **RING)
    with stores.writing() as store:
        part = store.part(number).part
        store.add_parts([part.model_copy(update={"model": f"R{n:03}"}) for n in range(60)], 1)
    first = ann.get("/shelf?holding=catalogue&q=brindle")
    assert len(names_in(first)) == 50
    assert "1 to 50 of 61 parts" in words_of(first)
    further = page_of(first).select_one("a[rel=next]")["href"]
    second = ann.get(further)
    assert len(names_in(second)) == 11
    assert page_of(second).select_one("#q")["value"] == "brindle"


@pytest.mark.parametrize(
    "query", ["from=x", "from=99999999999", "holding=all", "kind=sextant", "q=%00%22*", "q=" + "a" * 1000]
)
def test_a_strange_address_gets_a_page_all_the_same(ann: TestClient, query: str):
    assert ann.get(f"/shelf?{query}").status_code in (200, 422)


# -- What one has


def test_plus_and_minus_change_what_one_has_and_go_back_to_the_list(ann: TestClient):
    number = enter(ann, model="R", owned="1")
    before = "http://127.0.0.1:8321/shelf?q=r"
    answer = ann.post(
        f"/shelf/{number}/holding",
        data={"step": "owned:1"},
        headers={"Referer": before},
        follow_redirects=False,
    )
    assert answer.status_code == 303
    assert answer.headers["location"] == "/shelf?q=r"
    ann.post(f"/shelf/{number}/holding", data={"step": "considered:1"})
    numbers = [one.get_text() for one in page_of(ann.get("/shelf")).select(".stepper-number")]
    assert numbers == ["2", "0", "1"]


def test_htmx_gets_the_counters_alone_and_a_sentence_to_announce(ann: TestClient):
    number = enter(ann, model="R", owned="1")
    answer = ann.post(f"/shelf/{number}/holding", data={"step": "wished:1"}, headers=HTMX)
    page = page_of(answer)
    assert page.html is None
    assert [one.get_text() for one in page.select(".stepper-number")] == ["1", "1", "0"]
    assert "R: 1 owned, 1 wished for" in page.select_one("#status").get_text()


def test_nobody_has_fewer_than_none(ann: TestClient):
    number = enter(ann, model="R", owned="")
    ann.post(f"/shelf/{number}/holding", data={"step": "owned:-1"})
    assert page_of(ann.get(f"/shelf/{number}")).select_one(".stepper-number").get_text() == "0"


@pytest.mark.parametrize("step", ["", "owned", "owned:5", "sold:1", "owned:-0"])
def test_a_step_that_is_none_is_refused(ann: TestClient, step: str):
    number = enter(ann, model="R")
    assert ann.post(f"/shelf/{number}/holding", data={"step": step}).status_code == 422


def test_what_bob_has_is_not_what_ann_has(ann: TestClient, stores: Stores):
    number = enter(ann, model="R", owned="3")
    other = bob(ann)
    other.post(f"/shelf/{number}/holding", data={"step": "owned:1"})
    with stores.reading() as store:
        assert store.holdings(1, [number])[number] == Holding(owned=3)
        assert store.holdings(2, [number])[number] == Holding(owned=1)


# -- One part


def test_a_parts_page_lists_what_the_checks_would_use(ann: TestClient):
    number = enter(ann, "camera", model="Eye", pixel_um="3.76", width_px="6000", height_px="4000")
    missing = page_of(ann.get(f"/shelf/{number}")).select_one(".missing").get_text(" ")
    assert "Flange distance" in missing
    assert "Spacing" in missing
    assert "Pixel size" not in missing


def test_a_figure_says_where_it_came_from(ann: TestClient):
    number = enter(ann, model="R", length_mm="20 mm (measured)", mass_kg="45 g", basis="maker")
    words = words_of(ann.get(f"/shelf/{number}"))
    assert "20 mm measured by the owner" in words
    assert "0.045 kg maker's figure" in words


def test_a_part_is_changed_by_the_one_who_entered_it(ann: TestClient):
    number = enter(ann, **RING)
    form = page_of(ann.get(f"/shelf/{number}/edit"))
    assert form.select_one("#f-length_mm")["value"] == "20 ± 0.05 mm"
    assert form.select_one("#f-owned") is None
    revision = form.select_one('[name="revision"]')["value"]
    answer = ann.post(f"/shelf/{number}/edit", data={"model": "R21", "length_mm": "21", "revision": revision})
    assert "21 mm" in words_of(answer)
    assert page_of(answer).h1.get_text() == "R21"


def test_a_change_made_elsewhere_meanwhile_is_not_overwritten_unseen(ann: TestClient):
    number = enter(ann, model="R")
    ann.post(f"/shelf/{number}/edit", data={"model": "R first", "revision": "1"})
    answer = ann.post(f"/shelf/{number}/edit", data={"model": "R second", "revision": "1"})
    assert answer.status_code == 409
    assert page_of(answer).select_one("#f-model")["value"] == "R second"
    assert page_of(ann.get(f"/shelf/{number}")).h1.get_text() == "R first"
    revision = page_of(answer).select_one('[name="revision"]')["value"]
    ann.post(f"/shelf/{number}/edit", data={"model": "R second", "revision": revision})
    assert page_of(ann.get(f"/shelf/{number}")).h1.get_text() == "R second"


def test_others_copy_a_part_and_change_the_copy(ann: TestClient):
    number = enter(ann, **RING)
    other = bob(ann)
    page = page_of(other.get(f"/shelf/{number}"))
    assert page.select_one(f'a[href="/shelf/{number}/edit"]') is None
    assert other.get(f"/shelf/{number}/edit").status_code == 403
    assert other.post(f"/shelf/{number}/edit", data={"model": "Mine now", "revision": "1"}).status_code == 403
    assert other.post(f"/shelf/{number}/remove").status_code == 403
    copy = other.post(f"/shelf/{number}/copy")
    assert page_of(copy).h1.get_text() == "Change Brindle R20 (copy)"
    assert "it stands on your shelf" in words_of(copy)
    assert names_in(other.get("/shelf?holding=owned")) == ["Brindle R20 (copy)"]
    assert page_of(ann.get(f"/shelf/{number}")).h1.get_text() == "Brindle R20"


def test_a_part_that_a_rig_uses_is_not_removed_and_its_page_says_where(ann: TestClient, stores: Stores):
    number = enter(ann, **RING)
    with stores.writing() as store:
        rig = store.add_rig(1, "Garden rig", RigPlan(places=(PlacePlan(key=1, part_id=number),)))
    page = page_of(ann.get(f"/shelf/{number}"))
    assert page.select_one(f'.used a[href="/bench/{rig.id}"]').get_text() == "Garden rig"
    assert page.select_one(f'form[action="/shelf/{number}/remove"]') is None
    answer = ann.post(f"/shelf/{number}/remove")
    assert answer.status_code == 409
    assert "Garden rig" in words_of(answer)
    assert ann.get(f"/shelf/{number}").status_code == 200


def test_a_part_that_no_rig_uses_is_removed(ann: TestClient):
    number = enter(ann, **RING)
    assert ann.post(f"/shelf/{number}/remove").url.path == "/shelf"
    assert ann.get(f"/shelf/{number}").status_code == 404


@pytest.mark.parametrize("number", ["0", "99", "-1", "99999999999999999999999", "one"])
def test_a_part_that_is_not_there_is_not_here(ann: TestClient, number: str):
    assert ann.get(f"/shelf/{number}").status_code == 404


def test_what_is_typed_is_shown_as_text_and_a_link_only_where_it_is_one(ann: TestClient):
    number = enter(ann, model="<script>alert(1)</script>", document="javascript:alert(1)", note="<i>x</i>")
    answer = ann.get(f"/shelf/{number}")
    assert "<script>alert" not in answer.text
    assert not [link for link in page_of(answer).select("a") if link["href"].startswith("javascript")]
    number = enter(ann, model="R", document="https://example.org/r20.pdf")
    assert (
        page_of(ann.get(f"/shelf/{number}")).select_one('a[href="https://example.org/r20.pdf"]') is not None
    )


# -- Cautions


@pytest.mark.parametrize(
    ("kind", "texts", "said"),
    [
        ("filter", {"solar": "yes"}, "certified full-aperture solar filter"),
        ("counterweight", {}, "on before the tube and come off after it"),
        ("power_source", {"chemistry": "lifepo4"}, "do not charge it below freezing"),
        ("power_source", {"chemistry": "lithium_ion"}, "Fuse the battery at its own terminal"),
        ("power_source", {"chemistry": "mains"}, "residual-current protection"),
        ("optical_tube", {"mass_kg": "30 lb"}, "with two people"),
    ],
)
def test_a_caution_stands_on_the_part_that_it_is_about(
    ann: TestClient, kind: str, texts: dict[str, str], said: str
):
    number = enter(ann, kind, **texts)
    cautions = page_of(ann.get(f"/shelf/{number}")).select(".caution")
    assert any(said in caution.get_text() for caution in cautions)
    assert not [caution for caution in cautions if caution.find_parent("details")]


def test_the_suns_caution_stands_in_the_list_and_on_the_form_of_filters(ann: TestClient):
    enter(ann, "filter", model="Noon", solar="yes", owned="1")
    enter(ann, "filter", model="Red", solar="no", owned="1")
    cautions = page_of(ann.get("/shelf")).select(".caution")
    assert len(cautions) == 1
    assert "Noon" in cautions[0].find_parent("li").get_text()
    assert "The Sun" in page_of(ann.get("/shelf/new?kind=filter")).select_one(".caution").get_text()


# -- Who may look


@pytest.mark.parametrize("path", ["/shelf", "/shelf/new", "/shelf/1", "/shelf/import", "/shelf/export.csv"])
def test_without_an_observer_the_shelf_sends_to_the_first_page(client: TestClient, path: str):
    answer = client.get(path, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"


@pytest.mark.parametrize(
    "path", ["/shelf/1/holding", "/shelf/1/remove", "/shelf/1/copy", "/shelf/1/edit", "/shelf/import/enter"]
)
def test_a_post_from_another_site_changes_nothing(ann: TestClient, path: str):
    enter(ann, **RING)
    answer = ann.post(
        path, data={"step": "owned:1", "model": "x"}, headers={"Origin": "https://elsewhere.example"}
    )
    assert answer.status_code == 403
    assert names_in(ann.get("/shelf")) == ["Brindle R20"]
