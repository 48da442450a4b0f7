"""The logbook, links, and entries of other installs."""

from __future__ import annotations

import copy
import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from tests.api.conftest import Api, Json, good, measure, trouble
from tests.api.test_shelf import json_values

# On SQLite and on PostgreSQL.


def saved(api: Api, rig: Json, title: str = "First light") -> Json:
    entry: Json = good(
        api.post(f"/rigs/{rig['id']}/entries", {"version": rig["version"], "title": title}), 201
    )
    return entry


def test_an_entry_keeps_the_rig_as_it_was(ana: Api):
    rig = ana.built()
    entry = saved(ana, rig)
    ring = rig["train"][1]["part"]["id"]
    part = good(ana.get(f"/parts/{ring}"))["part"]
    good(ana.put(f"/parts/{ring}", {"revision": 1, "part": part | {"length_mm": measure(12)}}))
    opened = good(ana.get(f"/entries/{entry['id']}"))
    frozen = next(one for one in opened["document"]["parts"] if one["id"] == ring)
    assert frozen["part"]["length_mm"]["nominal"] == 10
    assert [one["id"] for one in opened["revised"]] == [ring]
    assert opened["document"] == entry["document"]
    assert [one["code"] for one in opened["findings_now"]] == [one["code"] for one in rig["findings"]]
    assert all(one["text"]["sentence"] for one in opened["findings_now"])


def test_the_logbook_lists_the_newest_first_of_all_rigs_or_of_one(ana: Api):
    rig, other = ana.built("Garden"), ana.built("Roof")
    first, second, third = saved(ana, rig), saved(ana, other), saved(ana, rig, "Second light")
    lines = good(ana.get("/entries"))
    assert [line["id"] for line in lines] == [third["id"], second["id"], first["id"]]
    assert [line["number"] for line in good(ana.get("/entries", rig=rig["id"]))] == [2, 1]
    assert sum(lines[0]["weights"].values()) == len(third["document"]["findings"])
    assert "document" not in lines[0]


def test_two_entries_are_compared(ana: Api):
    rig = ana.built()
    before = saved(ana, rig)
    rig = ana.change(rig, verb="swap", place=rig["train"][1]["key"], part_id=ana.ring("Ring 20", 20.0))
    after = saved(ana, ana.change(rig, verb="rules", rules={"seeing_arcsec": 2}))
    changes = good(ana.get("/entries/compare", earlier=before["id"], later=after["id"]))
    assert (changes["parts_out"], changes["parts_in"]) == (["Halden Ring 10"], ["Halden Ring 20"])
    assert changes["rules"] == [{"rule": "seeing_arcsec", "before": 3.0, "after": 2.0}]
    assert any("Seeing" in line for line in changes["lines"])
    same = good(ana.get("/entries/compare", earlier=after["id"], later=after["id"]))
    assert not any(same.values())


def test_a_changed_specification_is_told_raw(ana: Api):
    rig = ana.built()
    before = saved(ana, rig)
    ring = rig["train"][1]["part"]["id"]
    part = good(ana.get(f"/parts/{ring}"))["part"]
    good(ana.put(f"/parts/{ring}", {"revision": 1, "part": part | {"length_mm": measure(12)}}))
    after = saved(ana, rig, "Measured anew")
    (change,) = good(ana.get("/entries/compare", earlier=before["id"], later=after["id"]))["specifications"]
    assert (change["field"], change["before"]["nominal"], change["after"]["nominal"]) == ("length_mm", 10, 12)


def test_an_entry_is_brought_back_and_undo_takes_that_back(ana: Api):
    rig = ana.built()
    entry = saved(ana, rig)
    bare = ana.change(rig, verb="remove", place=rig["train"][1]["key"])
    back = good(ana.post(f"/entries/{entry['id']}/bring-back"))
    assert back["train"] == rig["train"]
    undone = good(ana.post(f"/rigs/{rig['id']}/undo", {"version": back["version"]}))
    assert undone["train"] == bare["train"]


def test_a_rig_with_entries_stays(ana: Api):
    rig = ana.built()
    saved(ana, rig)
    assert "logbook" in trouble(ana.delete(f"/rigs/{rig['id']}?version={rig['version']}"), 422)["message"]


@pytest.mark.parametrize(
    ("title", "note", "named"), [("", "", "title"), ("x" * 121, "", "title"), ("A", "x" * 4001, "note")]
)
def test_an_entry_has_a_title_and_both_texts_have_an_end(ana: Api, title: str, note: str, named: str):
    rig = ana.built()
    body = {"version": rig["version"], "title": title, "note": note}
    assert trouble(ana.post(f"/rigs/{rig['id']}/entries", body), 422)["fields"].keys() == {named}
    assert good(ana.get("/entries")) == []


def test_another_observers_entry_is_as_if_it_were_not_there(ana: Api, ben: Api):
    number = saved(ana, ana.built())["id"]
    trouble(ben.get(f"/entries/{number}"), 404)
    trouble(ben.post(f"/entries/{number}/bring-back"), 404)
    trouble(ben.get(f"/entries/{number}/shares"), 404)
    trouble(ben.post(f"/entries/{number}/shares"), 404)
    trouble(ben.get("/entries/compare", earlier=number, later=number), 404)
    assert good(ben.get("/entries")) == []


# -- Links


def test_a_link_opens_the_entry_until_it_is_withdrawn(client: TestClient, ana: Api):
    entry = saved(ana, ana.built())
    shares = f"/entries/{entry['id']}/shares"
    share = good(ana.post(shares), 201)
    # The issue asks for 128 random bits; six go into each character of base64url (RFC 4648, section 5).
    assert len(share["token"]) * 6 >= 128
    assert good(client.get(f"/api/shares/{share['token']}"))["document"] == entry["document"]
    withdrawn = good(ana.delete(f"{shares}/{share['id']}"))
    assert withdrawn["withdrawn_at"] is not None
    gone = trouble(client.get(f"/api/shares/{share['token']}"), 404)
    never = trouble(client.get(f"/api/shares/{'A' * len(share['token'])}"), 404)
    assert gone == never
    assert good(ana.get(shares)) == [withdrawn]


def test_a_link_of_another_entry_is_not_withdrawn_here(ana: Api):
    rig = ana.built()
    one, other = saved(ana, rig), saved(ana, rig)
    share = good(ana.post(f"/entries/{one['id']}/shares"), 201)
    trouble(ana.delete(f"/entries/{other['id']}/shares/{share['id']}"), 404)


def test_a_member_puts_a_shared_entry_on_the_own_shelf(ana: Api, ben: Api):
    entry = saved(ana, ana.built())
    token = good(ana.post(f"/entries/{entry['id']}/shares"), 201)["token"]
    taken = good(ben.post("/put-on-shelf", {"token": token}), 201)
    assert (taken["title"], taken["observer"]) == ("First light", "Ana")
    assert [line["name"] for line in good(ben.get("/rigs"))] == ["Garden"]
    assert good(ben.get("/parts", holding="considered"))["total"] == 3


# -- Entries of other installs


def test_an_entry_is_taken_in_and_says_the_same(ana: Api, ben: Api):
    document = saved(ana, ana.built())["document"]
    taken = good(ben.post("/take-in", document), 201)["document"]
    parts = {one["id"]: one["part"] for one in document["parts"]}
    assert {one["id"]: one["part"] for one in taken["parts"]} == parts
    for name in ("observer", "rig", "title", "note", "saved_at", "findings"):
        assert taken[name] == document[name]


def damaged(document: Json, path: str, value: object) -> Json:
    result = copy.deepcopy(document)
    *steps, last = [int(step) if step.isdigit() else step for step in path.split(".")]
    place = result
    for step in steps:
        place = place[step]
    place[last] = value
    return result


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("format", "something-else"),
        ("schema_version", 99),
        ("saved_at", "yesterday"),
        ("plan.places.0.part_id", 10**30),
        ("plan.places.0.set_length_mm", -1),
        ("plan.gear", [{"part_id": 1, "quantity": 10**9}]),
        ("parts", []),
        ("parts.0.part.kind", "rocket"),
        ("parts.0.part.mass_kg", {"nominal": 1e300}),
        ("parts.0.part.price", {"hundredths": 10**30, "currency": "EUR"}),
        ("parts.0.entered_by", "\ud800"),
        ("findings.0.title", "\ud800"),
        ("rig", "x" * 500),
        ("extra", 1),
    ],
)
def test_a_damaged_entry_is_refused_whole(client: TestClient, ana: Api, ben: Api, path: str, value: object):
    document = damaged(saved(ana, ana.built())["document"], path, value)
    answer = client.post(
        f"{ben.base}/take-in", content=json.dumps(document), headers={"Content-Type": "application/json"}
    )
    trouble(answer, 422)
    assert good(ben.get("/rigs")) == good(ben.get("/entries")) == []


@given(data=st.data())
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_an_entry_with_anything_in_it_is_taken_in_and_opens_or_is_refused(ana: Api, data: st.DataObject):
    if not good(ana.get("/entries")):
        saved(ana, ana.built())
    original = good(ana.get(f"/entries/{good(ana.get('/entries'))[-1]['id']}"))["document"]
    path = data.draw(st.sampled_from(sorted(paths(original))))
    answer = ana.post("/take-in", damaged(original, path, data.draw(json_values)))
    if answer.status_code == 422:
        trouble(answer, 422)
        return
    taken = good(answer, 201)
    good(ana.get(f"/entries/{taken['id']}"))
    good(ana.get(f"/rigs/{taken['rig_id']}"))
    good(ana.get("/entries"))


def paths(value: object, before: str = "") -> set[str]:
    """Every place of a document that something else could stand in."""
    steps = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = set()
    for step, inner in steps:
        found |= {f"{before}{step}"} | paths(inner, f"{before}{step}.")
    return found
