"""The shelf's CSV in and out, as a browser meets it: a report first, then all good rows or none."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from server import paths
from server.app import create_app
from server.domain.parts import KINDS
from server.rim.demo_club import load_demo_club
from server.rim.tables import read_csv
from server.settings import Settings
from server.store import Stores, open_stores
from server.web.shelf.csv import pack
from tests.places import Places, nothing
from tests.web.conftest import ADDRESS
from tests.web.shelf.test_pages import RING, enter, names_in, page_of, words_of


def upload(client: TestClient, data: bytes, kind: str = "") -> Any:
    return client.post("/shelf/import", data={"kind": kind}, files={"file": ("parts.csv", data, "text/csv")})


def entering(client: TestClient, report: Any, **fields: str) -> Any:
    page = page_of(report)
    packed = page.select_one('[name="packed"]')["value"]
    kind = page.select_one('[name="kind"]')["value"]
    return client.post("/shelf/import/enter", data={"packed": packed, "kind": kind, **fields})


def test_the_demo_club_goes_out_as_csv_and_comes_back_whole(
    ann: TestClient, stores: Stores, places: Places, tmp_path: Path
):
    with stores.writing() as store:
        load_demo_club(store, paths.SEED_DATA)
    out = ann.get("/shelf/export.csv?holding=catalogue")
    assert out.headers["content-type"].startswith("text/csv")
    assert "attachment" in out.headers["content-disposition"]
    before = read_csv(out.content)
    assert before.problems == ()
    assert {row.part.kind for row in before.good} == set(KINDS)
    folder = tmp_path / "elsewhere"
    others = open_stores(places.lent("elsewhere", nothing, folder))
    elsewhere = TestClient(create_app(Settings(data=folder), others), base_url=ADDRESS)
    elsewhere.post("/observers", data={"name": "Cara", "units": "metric"})
    report = upload(elsewhere, out.content)
    assert report.status_code == 200
    answer = entering(elsewhere, report)
    assert f"{len(before.good)} parts entered" in words_of(answer)
    after = read_csv(elsewhere.get("/shelf/export.csv?holding=catalogue").content)
    others.close()
    assert [row.part for row in after.good] == [row.part for row in before.good]


def test_what_the_catalogue_has_is_not_entered_twice_but_its_quantities_count(ann: TestClient):
    enter(ann, **RING)
    out = ann.get("/shelf/export.csv").content.decode("utf-8-sig")
    header, row = out.split("\r\n")[:2]
    assert row.endswith(",2,,")
    more = row.removesuffix(",2,,") + ",5,,"
    other = row.replace("R20", "R21")
    answer = entering(ann, upload(ann, "\r\n".join([header, more, other]).encode()))
    assert "1 part entered" in words_of(answer)
    assert "not entered again" in words_of(answer)
    rows = read_csv(ann.get("/shelf/export.csv?holding=catalogue").content).good
    assert [(one.part.model, one.holding.owned) for one in rows] == [("R20", 5), ("R21", 2)]
    answer = entering(ann, upload(ann, ann.get("/shelf/export.csv").content))
    assert "No parts entered. 2 parts of the file stand in the catalogue already" in words_of(answer)


def test_an_export_holds_only_what_was_asked_for(ann: TestClient):
    enter(ann, model="Mine", owned="2")
    enter(ann, model="Nobody's", owned="")
    enter(ann, "camera", model="Eye", owned="1")
    rows = read_csv(ann.get("/shelf/export.csv").content).good
    assert [(row.part.model, row.holding.owned) for row in rows] == [("Eye", 1), ("Mine", 2)]
    rows = read_csv(ann.get("/shelf/export.csv?holding=catalogue&kind=spacer_ring").content).good
    assert {row.part.model for row in rows} == {"Mine", "Nobody's"}
    header = ann.get("/shelf/export.csv?kind=shim").content.decode("utf-8-sig")
    assert header.startswith("kind,maker,model")
    assert header.count("\r\n") == 1


def test_a_report_tells_problems_by_line_and_column_and_enters_nothing(ann: TestClient):
    report = upload(ann, b"kind,model,length_mm,owned\nshim,Thin,0.1,2\nshim,Thick,5 kg,\nshim,Even,0.2,\n")
    assert report.status_code == 200
    page = page_of(report)
    cells = [cell.get_text() for cell in page.select("tbody tr:first-child td")]
    assert cells[:2] == ["3", "length_mm"]
    assert "this field is a length" in cells[2]
    assert "2 good rows, 1 problem" in words_of(report)
    assert names_in(ann.get("/shelf?holding=catalogue")) == []
    entering(ann, report, own_one="1")
    rows = read_csv(ann.get("/shelf/export.csv").content).good
    assert {(row.part.model, row.holding.owned) for row in rows} == {("Thin", 2), ("Even", 1)}


def test_a_note_of_several_lines_survives_the_two_steps(ann: TestClient):
    entering(ann, upload(ann, b'kind,model,note\nshim,S,"one\ntwo"\n'))
    assert read_csv(ann.get("/shelf/export.csv?holding=catalogue").content).good[0].part.note == "one\ntwo"


def test_a_file_of_one_kind_needs_no_column_for_it(ann: TestClient):
    answer = entering(ann, upload(ann, b"model;length_mm\nThin;0,1\n", kind="shim"))
    assert "1 part entered" in words_of(answer)


def test_a_file_without_a_good_row_offers_to_choose_again(ann: TestClient):
    report = upload(ann, b"kind,model\nsextant,S\n")
    assert report.status_code == 422
    page = page_of(report)
    assert page.select_one('[name="packed"]') is None
    assert page.select_one('a[href="/shelf/import"]') is not None


def test_no_file_is_told_beside_the_field(ann: TestClient):
    answer = ann.post("/shelf/import", data={"kind": ""})
    assert answer.status_code == 422
    assert "No file was chosen" in page_of(answer).select_one("#file-error").get_text()


def test_a_file_over_the_limit_is_refused(ann: TestClient):
    assert upload(ann, b"x" * 5_300_000).status_code == 413


@pytest.mark.parametrize(
    "packed", ["", "not base64!", pack(b"x")[:-6], pack(b"\0" * 6_000_000), pack(b"kind,model\n")]
)
def test_a_second_step_that_carries_no_good_file_enters_nothing(ann: TestClient, packed: str):
    answer = ann.post("/shelf/import/enter", data={"packed": packed})
    assert answer.status_code == 422
    assert names_in(ann.get("/shelf?holding=catalogue")) == []
