"""The Logbook as a browser without JavaScript meets it, over the demo club."""

from __future__ import annotations

import json
import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from bs4 import Tag
from fastapi.testclient import TestClient

from server.domain.entry import RULES_VERSION, Entry, FrozenPart
from server.domain.findings import WEIGHT_WORDS
from server.domain.measure import Measure
from server.domain.observer import Observer
from server.domain.parts import SpacerRing
from server.domain.rig import PlacePlan
from server.flow.assemble_train import MovePart
from server.flow.workbench import Workbench
from server.rim.answer import HEAVIEST
from server.rim.entry_file import SCRIPT_ID
from server.rim.phrasebook.tell import tell
from server.store import Stores
from tests import own_frames
from tests.places import Place
from tests.web.club import entries_of, measured_with, observer_named, page_of, sit_down, words_of

# On SQLite and on PostgreSQL.
HOSTILE = "<script>alert('x')</script> \"quoted\" & <b>bold</b> {error} ${7*7} {{7*7}}"


@pytest.fixture
def place(club_place: Place) -> Place:
    return club_place


@pytest.fixture
def ruta(client: TestClient, stores: Stores) -> Observer:
    observer = observer_named(stores, "Ruta Ommerli")
    sit_down(client, observer)
    return observer


@pytest.fixture
def entries(ruta: Observer, stores: Stores) -> dict[str, Entry]:
    return entries_of(stores, ruta)


def save_again(stores: Stores, observer: Observer, rig_id: int, title: str, note: str = "") -> Entry:
    with stores.writing() as store:
        bench = Workbench(store, observer, tell)
        return bench.save_entry(rig_id, bench.bench(rig_id).stored.version, title, note)


def test_an_empty_logbook_says_what_goes_there_and_how_to_begin(ann: TestClient) -> None:
    page = page_of(ann.get("/logbook"))
    empty = page.select_one(".empty")
    assert isinstance(empty, Tag)
    assert "keeps a rig as it is tonight" in empty.get_text()
    assert {a["href"] for a in empty.select("a")} >= {"/bench", "/logbook/take-in"}


def test_the_logbook_lists_entries_newest_first(client: TestClient, entries: dict[str, Entry]) -> None:
    listed = [h2.get_text(strip=True) for h2 in page_of(client.get("/logbook")).select(".entry h2")]
    newest_first = sorted(entries.values(), key=lambda e: e.document.saved_at, reverse=True)
    assert listed == [entry.document.title for entry in newest_first]
    assert len(listed) == 5


def test_the_logbook_of_one_rig_lists_its_entries_alone(
    client: TestClient, entries: dict[str, Entry]
) -> None:
    rig_id = entries["Weighed it"].rig_id
    listed = page_of(client.get(f"/logbook?rig={rig_id}")).select(".entry h2")
    assert [h2.get_text(strip=True) for h2 in listed] == ["Weighed it", "Too much of a good thing"]


def test_a_long_logbook_comes_in_pages_and_the_last_of_a_page_knows_the_one_before_it(
    client: TestClient, stores: Stores, ruta: Observer, entries: dict[str, Entry]
) -> None:
    rig_id = entries["Weighed it"].rig_id
    saved = [save_again(stores, ruta, rig_id, f"Night {night}") for night in range(30)]
    first = page_of(client.get(f"/logbook?rig={rig_id}"))
    titles = [h2.get_text(strip=True) for h2 in first.select(".entry h2")]
    assert titles == [f"Night {night}" for night in range(29, 9, -1)]
    assert first.select_one(".pages p").get_text(strip=True) == "1 to 20 of 32 entries"
    edge = first.select_one(f"#entry-{saved[10].id} .since h3 a")
    assert edge.get_text(strip=True) == "Night 9"
    assert edge["href"] == f"/logbook/compare?earlier={saved[9].id}&later={saved[10].id}"
    second = page_of(client.get(str(first.select_one(".pages a[rel=next]")["href"])))
    assert [h2.get_text(strip=True) for h2 in second.select(".entry h2")] == [
        *(f"Night {night}" for night in range(9, -1, -1)),
        "Weighed it",
        "Too much of a good thing",
    ]
    assert "The first entry of this rig" in second.select(".entry")[-1].get_text()
    assert second.select_one(".pages a[rel=prev]")["href"] == f"/logbook?rig={rig_id}"
    assert not second.select(".pages a[rel=next]")


@pytest.mark.parametrize("start", [-7, 10**30])
def test_an_address_beyond_the_logbook_shows_the_page_nearest_to_it(
    client: TestClient, entries: dict[str, Entry], start: int
) -> None:
    assert len(page_of(client.get(f"/logbook?from={start}")).select(".entry")) == len(entries)


def test_an_entry_in_the_list_says_what_changed_since_the_one_before(
    client: TestClient, entries: dict[str, Entry]
) -> None:
    page = page_of(client.get("/logbook"))
    entry = page.select_one(f"#entry-{entries['Guider in, washer in'].id} .changes")
    assert isinstance(entry, Tag)
    said = {dt.get_text(strip=True): dt.find_next("dd").get_text(" ") for dt in entry.select("dt")}
    # The demo club's logbook.toml says of this evening: guider and shim in, the 16 mm ring out.
    assert "Quillmoor Sidelight 48 guider" in said["In"]
    assert said["Out"] == "Brindlewick Works Ring 48, 16 mm"
    # With the guider in, its camera is judged for the first time; what turned is the spacing.
    assert "Spacing: Stop → to Sound" in " ".join(said["Findings"].split())


def test_one_change_of_many_parts_is_one_line(client: TestClient, entries: dict[str, Entry]) -> None:
    page = page_of(client.get("/logbook"))
    lines = page.select(f"#entry-{entries['Put the calipers on the filters'].id} .changes li")
    glass = [line.get_text(" ", strip=True) for line in lines if "Glass thickness" in line.get_text()]
    assert len(glass) == 1
    assert "3.5 mm" in glass[0]
    assert "2.00 ± 0.05 mm" in glass[0]


def test_findings_are_counted_by_weight_with_the_word(client: TestClient, entries: dict[str, Entry]) -> None:
    page = page_of(client.get("/logbook"))
    counts = page.select(f"#entry-{entries['Put the calipers on the filters'].id} .weights li")
    told = [" ".join(li.get_text(" ").split()) for li in counts]
    saved = Counter(f.weight for f in entries["Put the calipers on the filters"].document.findings)
    assert told == [f"{WEIGHT_WORDS[weight]} {saved[weight]}" for weight in HEAVIEST if saved[weight]]
    assert told[0] == "Stop 1"
    assert all(li.select_one("svg") for li in counts)


def test_specifications_are_told_in_the_units_that_the_reader_reads(
    client: TestClient, stores: Stores, ruta: Observer, entries: dict[str, Entry]
) -> None:
    with stores.writing() as store:
        store.set_units(ruta.id, "imperial")
    said = words_of(client.get(f"/logbook/{entries['Weighed it'].id}"))
    # 18.2 kg / 0.45359237 kg = 40.12 lb (NIST SP 811 (2008), appendix B.8).
    assert re.search(r"Mass: 40\.1\d* lb → to 43\.2", said)


def test_an_entry_shows_drawing_parts_with_distances_and_gear(
    client: TestClient, entries: dict[str, Entry]
) -> None:
    page = page_of(client.get(f"/logbook/{entries['Guider in, washer in'].id}"))
    assert page.select_one("main svg")
    rows = [
        [cell.get_text(" ", strip=True).replace("\xa0", " ") for cell in tr.select("td, th")]
        for tr in page.select(".sheet-run tbody tr")
    ]
    # Worked by hand from the lengths in the demo club's files, from the sensor outwards.
    assert [row[-1] for row in rows[-4:]] == ["56.70 mm", "40.70 mm", "37.50 mm", "16.40 mm"]
    assert rows[-1][1].startswith("Quillmoor Marl M4 mono")
    assert "Stonecrake Boulder 30" in page.select_one(".sheet-gear").get_text()


def test_findings_stay_as_saved_and_say_by_which_rules(client: TestClient, entries: dict[str, Entry]) -> None:
    said = words_of(client.get(f"/logbook/{entries['Weighed it'].id}"))
    assert f"Judged by the rules of version {RULES_VERSION}, which are today's." in said


def test_where_todays_rules_judge_otherwise_the_entry_says_both(
    client: TestClient, stores: Stores, entries: dict[str, Entry]
) -> None:
    # An entry of older rules, as a file of another install brings it: there the spacing was still sound.
    document = json.loads(entries["Put the calipers on the filters"].document.model_dump_json())
    document["rules_version"] = 0
    for finding in document["findings"]:
        if finding["code"].startswith("spacing"):
            finding["weight"] = "sound"
    files = {"file": ("old.json", json.dumps(document), "application/json")}
    said = words_of(client.post("/logbook/take-in", files=files))
    assert "Today's rules judge otherwise." in said
    assert f"judged by the rules of version 0; today's are of version {RULES_VERSION}" in said
    assert "Spacing: Sound then, Stop now." in said


def test_an_entry_says_field_by_field_what_its_parts_say_otherwise_today(
    client: TestClient, stores: Stores, ruta: Observer, entries: dict[str, Entry]
) -> None:
    entry = entries["Weighed it"]
    frozen = next(p for p in entry.document.parts if p.entered_by == ruta.name and p.part.mass_kg)
    with stores.writing() as store:
        part = frozen.part.model_copy(update={"mass_kg": Measure(nominal=12.5)})
        Workbench(store, ruta, tell).change_part(frozen.id, store.part(frozen.id).revision, part)
    page = page_of(client.get(f"/logbook/{entry.id}"))
    section = page.find(id="since-head").find_parent("section")
    assert isinstance(section, Tag)
    assert frozen.part.name in section.get_text()
    assert "12.5 kg" in section.get_text()


def test_an_entry_keeps_parts_that_have_left_the_catalogue_and_says_so(
    client: TestClient, stores: Stores, entries: dict[str, Entry]
) -> None:
    entry = entries["Weighed it"]
    # As an entry stands there whose ring was taken out of the catalogue since: its number leads nowhere.
    ring = FrozenPart(
        id=99_999, revision=1, entered_by="Ruta", part=SpacerRing(maker="Halden", model="Ring 7")
    )
    place = PlacePlan(key=99, part_id=ring.id)
    plan = entry.document.plan
    document = entry.document.model_copy(
        update={
            "parts": (*entry.document.parts, ring),
            "plan": plan.model_copy(update={"places": (plan.places[0], place, *plan.places[1:])}),
        }
    )
    with stores.writing() as store:
        saved = store.add_entry(entry.rig_id, document)
    said = words_of(client.get(f"/logbook/{saved.id}"))
    assert "No longer in the catalogue: Halden Ring 7." in said
    assert client.post(f"/logbook/{saved.id}/bring-back").status_code == 200
    with stores.reading() as store:
        stored = store.rig(entry.rig_id)
        assert store.part(stored.plan.places[1].part_id).part == ring.part


def test_another_observers_entry_is_not_there(client: TestClient, stores: Stores, ruta: Observer) -> None:
    other = observer_named(stores, "Annika Thornquist")
    for entry in entries_of(stores, other).values():
        for path in ("", "/file.html", "/file.json"):
            assert client.get(f"/logbook/{entry.id}{path}").status_code == 404
        assert client.post(f"/logbook/{entry.id}/bring-back").status_code == 404
        assert client.post(f"/logbook/{entry.id}/share").status_code == 404


def test_bringing_back_an_entry_makes_it_the_present_train_and_undo_takes_it_back(
    client: TestClient, stores: Stores, ruta: Observer, entries: dict[str, Entry]
) -> None:
    entry = entries["Collimated, corrector in"]
    with stores.reading() as store:
        before = store.rig(entry.rig_id)
    answer = client.post(f"/logbook/{entry.id}/bring-back", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (
        303,
        f"/bench/{entry.rig_id}?brought={entry.id}",
    )
    with stores.writing() as store:
        bench = Workbench(store, ruta, tell)
        now = bench.bench(entry.rig_id).stored
        assert now.plan == entry.document.plan
        assert now.plan != before.plan
        assert bench.step_rig(entry.rig_id, now.version, -1).stored.plan == before.plan


def test_two_entries_compare_side_by_side_with_the_choice_in_the_address(
    client: TestClient, entries: dict[str, Entry]
) -> None:
    old, new = entries["Collimated, corrector in"], entries["Guider in, washer in"]
    page = page_of(client.get(f"/logbook/compare?earlier={old.id}&later={new.id}"))
    chosen = [option["value"] for option in page.select("option[selected]")]
    assert chosen == [str(old.id), str(new.id)]
    rows = {
        tuple(td.get_text(" ", strip=True) for td in tr.select("td"))
        for tr in page.select(".side-by-side.parts tr.differs")
    }
    assert (
        "3 Brindlewick Works Ring 48, 16 mm 16.00 ± 0.02 mm, 56.70 mm from the sensor",
        "–",
        "out",
    ) in rows
    assert any(
        right.startswith("4 Quillmoor Sidelight 48 guider") and word == "in" for _, right, word in rows
    )
    turned = page.select(".side-by-side.judged tr.differs th")
    assert next(th.get_text() for th in turned) == "Spacing"
    ids = [tag["id"] for tag in page.select("[id]")]
    assert len(ids) == len(set(ids))


def test_entries_of_two_rigs_compare_as_well(client: TestClient, entries: dict[str, Entry]) -> None:
    old, new = entries["Weighed it"], entries["Guider in, washer in"]
    answer = client.get(f"/logbook/compare?earlier={old.id}&later={new.id}")
    assert answer.status_code == 200
    assert "Calderpike DK 302" in words_of(answer)


def test_a_moved_part_stands_on_both_sides_with_its_word(
    client: TestClient, stores: Stores, ruta: Observer, entries: dict[str, Entry]
) -> None:
    rig_id = entries["Weighed it"].rig_id
    first = save_again(stores, ruta, rig_id, "As it was")
    with stores.writing() as store:
        bench = Workbench(store, ruta, tell)
        stored = bench.bench(rig_id).stored
        bench.change_rig(rig_id, stored.version, MovePart(place=stored.plan.places[1].key, to=4))
    second = save_again(stores, ruta, rig_id, "Moved one")
    page = page_of(client.get(f"/logbook/compare?earlier={first.id}&later={second.id}"))
    words = [tr.select("td")[-1].get_text() for tr in page.select(".side-by-side.parts tr.differs")]
    assert sorted(words) == ["moved away", "moved here"]
    assert page.find("dt", string="Moved")


@pytest.mark.parametrize("query", ["", "?earlier=1", "?earlier=999999&later=1", "?later=2"])
def test_a_comparison_that_is_not_chosen_yet_asks_for_two_entries(
    client: TestClient, entries: dict[str, Entry], query: str
) -> None:
    answer = client.get(f"/logbook/compare{query}")
    assert answer.status_code == 200
    assert "Choose two entries" in words_of(answer)


def test_one_entry_alone_cannot_be_compared_and_the_page_says_how_to_get_another(ann: TestClient) -> None:
    assert "Two entries are needed" in words_of(ann.get("/logbook/compare"))


@pytest.mark.parametrize("page", ["/logbook", "/logbook/{0}", "/logbook/compare?earlier={0}&later={1}"])
def test_hostile_words_are_shown_as_words(
    client: TestClient, stores: Stores, ruta: Observer, entries: dict[str, Entry], page: str
) -> None:
    saved = save_again(stores, ruta, entries["Weighed it"].rig_id, HOSTILE[:120], HOSTILE)
    answer = client.get(page.format(saved.id, entries["Weighed it"].id))
    assert HOSTILE[:120] in page_of(answer).get_text()
    assert "<script>alert" not in answer.text
    assert "<b>bold" not in answer.text


def test_the_page_file_needs_nothing_but_itself(client: TestClient, entries: dict[str, Entry]) -> None:
    answer = client.get(f"/logbook/{entries['Weighed it'].id}/file.html")
    assert answer.headers["content-disposition"] == (
        'attachment; filename="the-big-one-on-the-old-mount-weighed-it-2026-03-28.html"'
    )
    page = page_of(answer)
    assert not page.select("link, img, iframe, object, embed, [src], form")
    assert [tag["type"] for tag in page.select("script")] == ["application/json"]
    # Its links lead to its own places, the only address in it is the namespace of SVG.
    assert all(a["href"].startswith("#") for a in page.select("a[href]"))
    assert set(re.findall(r"https?://[^\s\"'<)]+", answer.text)) <= {"http://www.w3.org/2000/svg"}
    assert "@import" not in answer.text
    assert not re.search(r"url\((?!#|[\"']?(#|data:))", answer.text)
    assert "Weighed it" in page.h1.get_text()
    assert page.select_one("svg")


def test_the_page_file_of_hostile_words_holds_them_as_words(
    client: TestClient, stores: Stores, ruta: Observer, entries: dict[str, Entry]
) -> None:
    saved = save_again(stores, ruta, entries["Weighed it"].rig_id, HOSTILE[:120], HOSTILE)
    answer = client.get(f"/logbook/{saved.id}/file.html")
    page = page_of(answer)
    assert len(page.select("script")) == 1
    data = page.select_one(f"script#{SCRIPT_ID}")
    assert isinstance(data, Tag)
    assert json.loads(data.string or "")["note"] == HOSTILE
    assert HOSTILE in page.get_text()
    assert re.fullmatch(r'attachment; filename="[a-z0-9-]+\.html"', answer.headers["content-disposition"])


def test_the_data_file_is_the_document(client: TestClient, entries: dict[str, Entry]) -> None:
    answer = client.get(f"/logbook/{entries['Weighed it'].id}/file.json")
    assert answer.headers["content-type"] == "application/json"
    assert answer.json() == json.loads(entries["Weighed it"].document.model_dump_json())


@pytest.mark.parametrize("ending", ["html", "json"])
def test_either_file_is_taken_in_through_the_form(
    client: TestClient, stores: Stores, entries: dict[str, Entry], ending: str
) -> None:
    file = client.get(f"/logbook/{entries['Weighed it'].id}/file.{ending}").content
    newcomer = client.post("/observers", data={"name": "Bo", "units": "metric"})
    assert newcomer.status_code == 200
    answer = client.post("/logbook/take-in", files={"file": (f"x.{ending}", file)}, follow_redirects=False)
    assert answer.status_code == 303
    page = page_of(client.get(answer.headers["location"]))
    assert page.h1.get_text() == "Weighed it"
    assert "saved by Ruta Ommerli" in page.get_text(" ")
    count = len(entries["Weighed it"].document.parts)
    said = page.select_one(".notice.sound").get_text(" ")
    assert said.strip().startswith("Taken in.")
    assert f"Its {count} parts are in the catalogue" in said

    again = client.post("/logbook/take-in", files={"file": (f"x.{ending}", file)})
    assert "stands in your logbook already" in page_of(again).select_one(".notice.sound").get_text()
    assert again.url.path == answer.headers["location"].partition("?")[0]
    assert len(page_of(client.get("/logbook")).select(".entry")) == 1


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ({}, "Choose the file first"),
        ({"file": ("", b"")}, "Choose the file first"),
        ({"file": ("empty.json", b"")}, "This file is empty"),
        ({"file": ("rig.html", b"<p>Another page</p>")}, "neither an entry page nor an entry's JSON"),
        ({"file": ("rig.json", b"[1, 2]")}, "neither an entry page nor an entry's JSON"),
        ({"file": ("rig.json", b'{"format": "other"}')}, "format line is missing"),
    ],
)
def test_a_file_that_cannot_be_taken_in_is_refused_beside_the_field(
    ann: TestClient, files: dict[str, Any], said: str
) -> None:
    answer = ann.post("/logbook/take-in", files=files)
    assert answer.status_code == 422
    error = page_of(answer).select_one("#f-file-error")
    assert isinstance(error, Tag)
    assert said in error.get_text()
    assert not page_of(ann.get("/logbook")).select(".entry")


def test_a_file_above_two_megabytes_is_refused(ann: TestClient) -> None:
    answer = ann.post("/logbook/take-in", files={"file": ("x.json", b" " * 2_100_000)})
    assert answer.status_code == 413
    assert "2 MB" in answer.text


@pytest.mark.parametrize(
    ("referer", "back"),
    [
        ("http://127.0.0.1:8321/logbook/take-in?a=1&b=2", "/logbook/take-in?a=1&b=2"),
        ("http://elsewhere.example/logbook", None),
        ("http://127.0.0.1:8321//elsewhere.example/", None),
    ],
)
def test_a_file_that_is_too_large_leads_back_to_its_form_and_nowhere_else(
    ann: TestClient, referer: str, back: str | None
) -> None:
    files = {"file": ("x.json", b" " * 2_100_000)}
    answer = ann.post("/logbook/take-in", files=files, headers={"Referer": referer})
    links = [str(link["href"]) for link in page_of(answer).select("a")]
    assert links == ([back] if back else []) + ["/"]


def test_the_logbook_asks_for_an_observer(client: TestClient) -> None:
    for page in ("/logbook", "/logbook/compare", "/logbook/take-in", "/logbook/1"):
        answer = client.get(page, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/")


def test_an_entry_brings_the_published_schema_with_it(client: TestClient, entries: dict[str, Entry]) -> None:
    page = page_of(client.get(f"/logbook/{entries['Weighed it'].id}"))
    link = next(a["href"] for a in page.select("a") if "JSON Schema" in a.get_text())
    assert client.get(str(link)).json()["title"] == "Trainwright entry, version 1"


def test_an_entry_shows_the_measurements_that_belong_to_it_in_words_and_level_lines(
    client: TestClient, stores: Stores, entries: dict[str, Entry], tmp_path: Path
) -> None:
    entry = entries["Weighed it"]
    before, after = (
        measured_with(stores, entry, name, own_frames.measured(tmp_path, own_frames.Truth(tilt)))
        for name, tilt in (("Before the shim", 30.0 + 0.0j), ("After <it>", 0.0j))
    )
    page = page_of(client.get(f"/logbook/{entry.id}"))
    shown = page.select(".sheet-measured")
    assert [one.h2.get_text(" ", strip=True) for one in shown if one.h2] == [
        "Measured: Before the shim",
        "Measured: After <it>",
    ]
    assert [a["href"] for a in page.select(".sheet-measured h2 a")] == [
        f"/frames/{before.id}",
        f"/frames/{after.id}",
    ]
    assert "Best focus rises by" in shown[0].get_text()
    assert "square to the field" in shown[1].get_text()
    assert all(one.svg for one in shown)
    ids = Counter(tag["id"] for tag in page.select("[id]"))
    assert [name for name, number in ids.items() if number > 1] == []
    file = page_of(client.get(f"/logbook/{entry.id}/file.html"))
    assert len(file.select(".sheet-measured figure svg")) == 2
    assert ".fr-level" in "".join(style.get_text() for style in file.select("style"))
    assert "Before the shim" not in client.get(f"/logbook/{entry.id}/file.json").text


def test_an_entry_without_measurements_says_nothing_of_them(
    client: TestClient, entries: dict[str, Entry]
) -> None:
    for path in ("", "/file.html"):
        text = client.get(f"/logbook/{entries['Weighed it'].id}{path}").text
        assert not any(words in text for words in ("Measured:", "sheet-measured"))


def test_an_imperial_reader_of_an_entry_meets_the_spacing_in_inches(
    client: TestClient, stores: Stores, entries: dict[str, Entry], ruta: Observer, tmp_path: Path
) -> None:
    entry = entries["Weighed it"]
    measured_with(stores, entry, "Before", own_frames.measured(tmp_path))
    with stores.writing() as store:
        store.set_units(ruta.id, "imperial")
    told = page_of(client.get(f"/logbook/{entry.id}")).select(".sheet-measured")
    words = " ".join(one.get_text(" ") for one in told)
    assert "2.1654 in" in words.replace("\u00a0", " ").replace("\u202f", " ")
    assert "55" not in words
