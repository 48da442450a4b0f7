"""The drawer: small parts counted on one page, and entered by one press, all or none."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.web.shelf.test_pages import HTMX, bob, enter, names_in, page_of, words_of
from tests.web.shelf.test_paste import is_empty

# On SQLite and on PostgreSQL.

COUNTED = {
    "maker": "Brindle",
    "material": "aluminium",
    "ring.M48x0.75.10": "2",
    "ring.M48x0.75.more": "7,5; 2 x 21 mm",
    "ring.M42x1.5": "1",
    "shim.M48.0.2": "3",
}


def put(client: TestClient, **texts: str) -> Any:
    return client.post("/shelf/drawer", data=texts)


def owned_of(client: TestClient, name: str) -> str:
    line = next(
        line for line in page_of(client.get("/shelf")).select(".shelf-line") if line.h2.get_text() == name
    )
    return str(line.select_one("output").get_text())


def test_the_page_has_a_field_and_a_button_for_each_length_and_both_pitches_of_m42(ann: TestClient) -> None:
    page = page_of(ann.get("/shelf/drawer"))
    for thread in ("M42x0.75", "M42x1", "M48x0.75", "M54x0.75", "M68x1"):
        assert page.select_one(f"[name='ring.{thread}.50']")["aria-label"].startswith("How many: ring M")
        assert page.select_one(f"button[value='ring.{thread}.1']")
    assert page.select_one("[name='shim.M54.0.1']")
    assert page.select_one("[name='shim.M54.2']")
    usual = page.select_one("[name='ring.ends'] option")
    assert usual.get_text() == "female to the sky, male to the camera"
    assert not page.select_one("#drawer button").has_attr("name")


def test_all_that_is_counted_is_entered_by_one_press_with_plain_names(ann: TestClient) -> None:
    answer = put(ann, **COUNTED)
    assert answer.status_code == 200
    assert "5 parts entered" in words_of(answer)
    assert names_in(ann.get("/shelf")) == [
        "Brindle Ring M42x1, 5 mm",
        "Brindle Ring M48, 10 mm",
        "Brindle Ring M48, 21 mm",
        "Brindle Ring M48, 7.5 mm",
        "Brindle Shim M48, 0.2 mm",
    ]
    assert owned_of(ann, "Brindle Ring M48, 10 mm") == "2"
    assert owned_of(ann, "Brindle Ring M48, 21 mm") == "2"
    ring = words_of(ann.get(page_of(answer).select_one(".notice a")["href"]))
    for words in ("M48x0.75 female", "M48x0.75 male", "10 mm", "Material: aluminium"):
        assert words in ring
    # Nobody typed a mass.
    missing = page_of(ann.get(page_of(answer).select_one(".notice a")["href"])).select_one(".missing")
    assert "Mass" in missing.get_text()


def test_maker_and_material_stand_there_again_for_the_next_handful(ann: TestClient) -> None:
    page = page_of(put(ann, **COUNTED))
    assert page.select_one("[name=maker]")["value"] == "Brindle"
    assert page.select_one("[name=material]")["value"] == "aluminium"
    assert page.select_one("[name='ring.M48x0.75.10']")["value"] == ""


def test_what_is_there_word_for_word_is_counted_up_and_not_entered_twice(ann: TestClient) -> None:
    put(ann, **COUNTED)
    answer = put(ann, **COUNTED | {"ring.M48x0.75.10": "1", "ring.M48x0.75.12": "1"})
    said = words_of(answer)
    assert "1 part entered: Brindle Ring M48, 12 mm" in said
    assert "only the number you own went up" in said
    assert "Brindle Ring M48, 10 mm (3 now)" in said
    assert len(names_in(ann.get("/shelf"))) == 6
    other = bob(ann)
    put(other, **COUNTED)
    assert owned_of(other, "Brindle Ring M48, 10 mm") == "2"
    assert owned_of(ann, "Brindle Ring M48, 10 mm") == "3"
    assert len(names_in(ann.get("/shelf?holding=catalogue"))) == 6


def test_a_length_that_is_tapped_and_typed_is_one_part(ann: TestClient) -> None:
    put(ann, **{"ring.M48x0.75.10": "1", "ring.M48x0.75.more": "2 x 10 mm; 10"})
    assert names_in(ann.get("/shelf")) == ["Ring M48, 10 mm"]
    assert owned_of(ann, "Ring M48, 10 mm") == "4"


def test_a_mistake_stands_beside_its_field_and_nothing_is_stored(ann: TestClient) -> None:
    wrong = {"ring.M48x0.75.more": "7.5; 5 kg", "shim.M48.0.3": "some", "adapter.a.sky": "wobble"}
    answer = put(ann, **COUNTED | wrong)
    assert answer.status_code == 422
    page = page_of(answer)
    said = {one["href"].removeprefix("#f-"): one.get_text() for one in page.select("[role=alert] a")}
    assert said == {
        "ring.M48x0.75.more": "Ring M48, other lengths",
        "shim.M48.0.3": "Shim M48, 0.3 mm",
        "adapter.a.camera": "Adapter, camera side",
    }
    for name, text in (COUNTED | wrong).items():
        assert page.select_one(f"[name='{name}']")["value"] == text
    field = page.select_one("[name='ring.M48x0.75.more']")
    assert field["aria-invalid"] == "true"
    assert "mass" in page.find(id=field["aria-describedby"]).get_text()
    # The folded parts with something in them stand open.
    assert all(
        fold.has_attr("open") == ("Filters" not in fold.summary.get_text())
        for fold in page.select(".drawer-part")
    )
    assert is_empty(ann)


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({}, "maker"),
        ({"ring.M48x0.75.10": "100"}, "ring.M48x0.75.10"),
        ({"ring.other.thread": "M56x1"}, "ring.other.more"),
        ({"ring.other.more": "5 mm"}, "ring.other.thread"),
        ({"ring.other.thread": "2 in barrel", "ring.other.more": "5 mm"}, "ring.other.thread"),
        ({"filter.width": "6 nm"}, "filter.bands"),
        ({"filter.bands": "ha", "filter.width": "6 kg"}, "filter.width"),
        ({"adapter.0.length": "5 kg"}, "adapter.0.length"),
        ({"adapter.0.count": "-1"}, "adapter.0.count"),
        ({"adapter.b.count": "1"}, "adapter.b.sky"),
        ({"ring.M48x0.75.10": "1", "maker": "x" * 90}, "maker"),
        ({"ring.M48x0.75.more": "5 mm; " * 60}, "ring.M48x0.75.more"),
    ],
)
def test_what_cannot_be_taken_is_told_where_it_was_typed(
    ann: TestClient, typed: dict[str, str], wrong: str
) -> None:
    answer = put(ann, **typed)
    assert answer.status_code == 422
    page = page_of(answer)
    assert [one["href"] for one in page.select("[role=alert] a")] == [f"#f-{wrong}"]
    assert page.find(id=f"f-{wrong}-error")
    assert page.find(id=f"f-{wrong}")
    assert is_empty(ann)


def test_a_tap_counts_one_more_without_a_script_and_stores_nothing(ann: TestClient) -> None:
    for headers in ({}, HTMX):
        answer = ann.post("/shelf/drawer", data=COUNTED | {"more": "ring.M48x0.75.10"}, headers=headers)
        assert answer.status_code == 200
        page = page_of(answer)
        assert page.select_one("[name='ring.M48x0.75.10']")["value"] == "3"
        assert page.select_one("[name='ring.M42x1.5']")["value"] == "1"
        assert page.select_one("[name=maker]")["value"] == "Brindle"
    assert is_empty(ann)


def test_the_ends_are_changed_for_all_rings_at_once(ann: TestClient) -> None:
    for ends, sky in (("turned", "M54x0.75 male"), ("unknown", "M54x0.75")):
        page = page_of(put(ann, **{"ring.ends": ends, "ring.M54x0.75.5": "1"}))
        known = words_of(ann.get(page.select_one(".notice a")["href"]))
        assert f"Sky-side connection {sky} " in known


def test_filters_of_a_set_share_what_is_typed_once(ann: TestClient) -> None:
    answer = ann.post(
        "/shelf/drawer",
        data={
            "filter.maker": "Lumen Hill",
            "filter.format": "round_36",
            "filter.bands": ["luminance", "ha", "sii"],
            "filter.width": "6 nm",
            "filter.thickness": "2 mm",
        },
    )
    assert names_in(ann.get("/shelf")) == [
        "Lumen Hill H-alpha, 36 mm round",
        "Lumen Hill Luminance, 36 mm round",
        "Lumen Hill SII, 36 mm round",
    ]
    wide, narrow, _ = (words_of(ann.get(one["href"])) for one in page_of(answer).select(".notice a")[:3])
    assert "Glass thickness 2 mm" in wide
    assert "Band" not in wide.partition("Not known yet")[0]
    assert "Broadband yes" in wide
    # NIST Atomic Spectra Database: H-alpha in air.
    assert "Band centre 656.3 nm assumed" in narrow
    assert "Band width 6 nm" in narrow
    assert page_of(answer).select_one("[name='filter.maker']")["value"] == "Lumen Hill"


def test_adapters_are_taken_with_a_length_or_without(ann: TestClient) -> None:
    typed = {"adapter.0.length": "12.3", "adapter.7.count": "2", "adapter.a.sky": "M56x1 male"}
    put(ann, **typed, **{"adapter.a.camera": "M48x0.75", "adapter.a.length": "0.5 in"})
    assert names_in(ann.get("/shelf")) == [
        "Adapter 2 in to M48",
        "Adapter M48 to M42x0.75, 12.3 mm",
        "Adapter M56x1 to M48, 0.5 in",
    ]
    assert owned_of(ann, "Adapter 2 in to M48") == "2"
    words = words_of(ann.get("/shelf"))
    assert "2 in barrel, male" in words
    assert "M56x1 male" in words


def test_a_part_that_was_entered_by_its_form_is_known_again(ann: TestClient) -> None:
    enter(
        ann,
        model="Ring M48, 10 mm",
        sky_side="M48x0.75 female",
        camera_side="M48x0.75 male",
        length_mm="1 cm",
        owned="1",
    )
    assert "Ring M48, 10 mm (2 now)" in words_of(put(ann, **{"ring.M48x0.75.10": "1"}))


def test_an_address_edited_by_hand_is_no_error(ann: TestClient) -> None:
    assert ann.get("/shelf/drawer?entered=x-99-1e5&had=-7--").status_code == 200


def test_the_empty_shelf_leads_to_paste_drawer_and_form(ann: TestClient) -> None:
    links = {one["href"] for one in page_of(ann.get("/shelf")).select(".empty a")}
    assert {"/shelf/new", "/shelf/new#pasted", "/shelf/drawer"} <= links
    assert page_of(ann.get("/shelf/new")).select_one("#main a[href='/shelf/drawer']")


def test_all_that_one_press_enters_is_told_and_more_is_left_for_a_second_drawer(ann: TestClient) -> None:
    def lengths(first: int, last: int) -> str:
        return ";".join(f"{tenths / 10:g}" for tenths in range(first, last))

    full = {
        "ring.M48x0.75.more": lengths(11, 81),
        "ring.M42x0.75.more": lengths(11, 81),
        "ring.M54x0.75.more": lengths(11, 81),
        "ring.M68x1.more": lengths(11, 81),
    }
    told = words_of(put(ann, **full, **{"ring.M63x1.more": lengths(11, 32)}))
    assert "These are 301 different parts; at most 300 are entered at once" in told
    assert is_empty(ann)
    assert "300 parts entered" in words_of(put(ann, **full, **{"ring.M63x1.more": lengths(11, 31)}))


def test_none_of_a_length_is_no_part(ann: TestClient) -> None:
    answer = put(ann, **{"ring.M48x0.75.more": "0 x 5"})
    assert answer.status_code == 422
    assert page_of(answer).select_one("[id='f-ring.M48x0.75.more-error']")
    assert is_empty(ann)


def test_nobody_owns_more_of_a_part_than_can_be_shown_and_counted_down(ann: TestClient) -> None:
    enter(
        ann,
        model="Ring M48, 10 mm",
        sky_side="M48x0.75 female",
        camera_side="M48x0.75 male",
        length_mm="10 mm",
        owned="990",
    )
    assert "(999 now)" in words_of(put(ann, **{"ring.M48x0.75.10": "99"}))
