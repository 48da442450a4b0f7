"""Rigs on the bench."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.api.conftest import Api, Json, good, measure, thread, trouble
from tests.api.test_shelf import json_values

# On SQLite and on PostgreSQL.


def models(rig: Json) -> list[str]:
    return [place["part"]["name"].removeprefix("Halden ") for place in rig["train"]]


def test_a_rig_shows_its_train_with_joints_and_shoulders_counted_from_the_sensor(ana: Api):
    rig = ana.built()
    assert models(rig) == ["Nordlicht 80", "Ring 10", "Auge 26"]
    assert [joint["verdict"] for joint in rig["joints"]] == ["mates", "mates"]
    # Worked by hand: the flange lies 17.5 mm before the sensor, and the ring adds 10 mm to that.
    shoulders = [(place["sky_shoulder_mm"], place["camera_shoulder_mm"]) for place in rig["train"]]
    assert shoulders == [(None, 27.5), (27.5, 17.5), (17.5, 0.0)]
    assert rig["train"][1]["camera_connection"] == "M42x0.75 male"


def test_a_finding_is_told_raw_and_in_the_units_that_the_observer_reads(ana: Api):
    rig = ana.change(ana.built(), verb="rules", rules={"spacing_mm": 1.0})
    ratio = next(one for one in rig["findings"] if one["code"].startswith("sampling"))
    assert ratio["phrase"]["template"]
    assert ratio["text"]["sentence"].endswith(".")
    assert len(ratio["text"]["inputs"]) == len(ratio["inputs"])
    metric = {line for one in rig["findings"] for line in one["text"]["inputs"] if "480 mm" in line}
    assert metric
    good(ana.put("/units", {"units": "imperial"}))
    again = good(ana.get(f"/rigs/{rig['id']}"))
    lines = {line for one in again["findings"] for line in one["text"]["inputs"]}
    # 480 mm / 25.4 = 18.9 in (NIST SP 811, appendix B.8: the inch is 25.4 mm exactly).
    assert any("18.9 in" in line for line in lines)
    assert not any("480 mm" in line for line in lines)
    raw = [{k: v for k, v in one.items() if k != "text"} for one in again["findings"]]
    assert raw == [{k: v for k, v in one.items() if k != "text"} for one in rig["findings"]]


def test_a_joint_that_does_not_mate_names_what_would_join_it(ana: Api):
    rig = ana.rig()
    for number in (ana.tube(), ana.camera()):
        rig = ana.change(rig, verb="add", part_id=number)
    ring = ana.ring()
    joint = good(ana.get(f"/rigs/{rig['id']}"))["joints"][0]
    assert joint["verdict"] == "wrong_size"
    assert [joiner["id"] for joiner in joint["joiners"]] == [ring]


def test_every_change_that_the_bench_knows(ana: Api):
    rig = ana.built()
    ring, camera = rig["train"][1], rig["train"][2]
    turn = ana.part("spacer_ring", "Turn", length_mm=measure(5), longest_mm=measure(9), reversible=True)
    wheel = ana.part("filter_wheel", "Wheel", positions=5)
    filter_ = ana.part("filter", "Red")
    mount = ana.part("mount", "Mount")
    rig = ana.change(rig, verb="swap", place=ring["key"], part_id=turn)
    rig = ana.change(rig, verb="flip", place=ring["key"])
    rig = ana.change(rig, verb="set_length", place=ring["key"], length_mm=7.5)
    assert rig["train"][1]["flipped"] is True
    assert rig["train"][1]["set_length_mm"] == rig["train"][1]["length_mm"]["nominal"] == 7.5
    rig = ana.change(rig, verb="add", part_id=wheel, at=1)
    holder = rig["train"][1]["key"]
    rig = ana.change(rig, verb="put_filter", place=holder, part_id=filter_)
    assert [one["id"] for one in rig["train"][1]["inside"]] == [filter_]
    rig = ana.change(rig, verb="take_filter", place=holder, part_id=filter_)
    rig = ana.change(rig, verb="move", place=holder, to=2)
    assert models(rig) == ["Nordlicht 80", "Turn", "Wheel", "Auge 26"]
    rig = ana.change(rig, verb="remove", place=camera["key"])
    rig = ana.change(rig, verb="gear", part_id=mount, quantity=1)
    assert [(one["part"]["id"], one["quantity"]) for one in rig["gear"]] == [(mount, 1)]
    rig = ana.change(rig, verb="rules", rules={"seeing_arcsec": 2})
    assert rig["rules"]["seeing_arcsec"] == 2
    plan = {"sun": True, "night": "2026-11-26", "lifts": [{"name": "Mount", "parts": [mount]}]}
    rig = ana.change(rig, verb="load", load=plan)
    assert {name: rig["load"][name] for name in ("sun", "night")} == {"sun": True, "night": "2026-11-26"}
    assert rig["load"]["lifts"][0]["parts"] == [mount]
    assert rig["findings"][0]["code"] == "sun.no_filter"
    assert rig["version"] == 15


def test_undo_and_redo_step_through_the_changes(ana: Api):
    rig = ana.built()
    step = f"/rigs/{rig['id']}/"
    back = good(ana.post(step + "undo", {"version": rig["version"]}))
    assert models(back) == ["Nordlicht 80", "Ring 10"]
    assert back["redo"] == "added Halden Auge 26"
    again = good(ana.post(step + "redo", {"version": back["version"]}))
    assert (models(again), again["redo"]) == (models(rig), "")
    assert (
        "nothing to redo" in trouble(ana.post(step + "redo", {"version": again["version"]}), 422)["message"]
    )


@pytest.mark.parametrize("path", ["changes", "undo", "redo", "entries"])
def test_no_change_is_made_on_a_stale_version(ana: Api, path: str):
    rig = ana.built()
    body: Json = {"version": rig["version"] - 1}
    if path == "changes":
        body["change"] = {"verb": "remove", "place": 1}
    if path == "entries":
        body["title"] = "Late"
    error = trouble(ana.post(f"/rigs/{rig['id']}/{path}", body), 409)
    assert error["current_version"] == rig["version"]
    assert good(ana.get(f"/rigs/{rig['id']}")) == rig


def test_a_rig_is_listed_renamed_and_removed(ana: Api):
    rig = ana.built("Garden")
    renamed = good(ana.put(f"/rigs/{rig['id']}/name", {"version": rig["version"], "name": " Roof "}))
    (line,) = good(ana.get("/rigs"))
    assert (line["name"], line["parts"], line["version"]) == ("Roof", 3, renamed["version"])
    stale = trouble(ana.delete(f"/rigs/{rig['id']}?version={rig['version']}"), 409)
    assert stale["current_version"] == renamed["version"]
    assert ana.delete(f"/rigs/{rig['id']}?version={renamed['version']}").status_code == 204
    trouble(ana.get(f"/rigs/{rig['id']}"), 404)


def test_another_observers_rig_is_as_if_it_were_not_there(ana: Api, ben: Api):
    rig = ana.built()
    path = f"/rigs/{rig['id']}"
    change = {"version": rig["version"], "change": {"verb": "remove", "place": 1}}
    trouble(ben.get(path), 404)
    trouble(ben.post(f"{path}/changes", change), 404)
    trouble(ben.post(f"{path}/undo", {"version": rig["version"]}), 404)
    trouble(ben.put(f"{path}/name", {"version": rig["version"], "name": "Mine"}), 404)
    trouble(ben.post(f"{path}/entries", {"version": rig["version"], "title": "Mine"}), 404)
    trouble(ben.delete(f"{path}?version={rig['version']}"), 404)
    assert good(ana.get(path)) == rig


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"verb": "explode"}, "verb"),
        ({}, "verb"),
        ({"verb": "add"}, "part_id"),
        ({"verb": "add", "part_id": "1"}, "part_id"),
        ({"verb": "add", "part_id": 2**63}, "part_id"),
        ({"verb": "add", "part_id": -1}, "part_id"),
        ({"verb": "add", "part_id": 1, "at": 41}, "at"),
        ({"verb": "remove", "place": 10**30}, "place"),
        ({"verb": "flip", "place": True}, "place"),
        ({"verb": "set_length", "place": 1, "length_mm": 0}, "length_mm"),
        ({"verb": "gear", "part_id": 1, "quantity": 100}, "quantity"),
        ({"verb": "rules", "rules": {"seeing_arcsec": "2"}}, "rules.seeing_arcsec"),
        ({"verb": "rules", "rules": {"seeing_arcsec": 0}}, "rules.seeing_arcsec"),
        ({"verb": "remove", "place": 1, "really": True}, "really"),
    ],
)
def test_a_change_that_cannot_be_read_is_refused_by_its_field(ana: Api, change: Json, named: str):
    rig = ana.rig()
    error = trouble(ana.post(f"/rigs/{rig['id']}/changes", {"version": 1, "change": change}), 422)
    assert error["fields"].keys() == {named}


def test_a_change_that_makes_no_sense_is_refused_in_words(ana: Api):
    rig = ana.built()
    second = ana.part("camera", "Second")
    change = {"version": rig["version"], "change": {"verb": "add", "part_id": second}}
    error = trouble(ana.post(f"/rigs/{rig['id']}/changes", change), 422)
    assert error["code"] == "refused"
    assert "Auge 26 already" in error["message"]


@pytest.mark.parametrize("name", ["", "   ", "x" * 121])
def test_a_rig_needs_a_name_of_some_length(ana: Api, name: str):
    assert trouble(ana.post("/rigs", {"name": name}), 422)["fields"].keys() == {"name"}


@given(
    change=json_values
    | st.fixed_dictionaries(
        {"verb": st.sampled_from(["add", "move", "rules"]), "place": json_values, "part_id": json_values}
    )
)
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_anything_sent_as_a_change_is_refused_and_changes_nothing(ana: Api, change: object):
    if not good(ana.get("/rigs")):
        ana.rig()
    before = good(ana.get("/rigs"))
    trouble(ana.post(f"/rigs/{before[0]['id']}/changes", {"version": 1, "change": change}), 422)
    assert good(ana.get("/rigs")) == before


def test_a_connection_of_a_turned_part_is_told_as_it_is_turned(ana: Api):
    turn = ana.part(
        "adapter", "Turn", reversible=True, sky_side=thread(48, "male"), camera_side=thread(42, "male")
    )
    rig = ana.change(ana.rig(), verb="add", part_id=turn)
    rig = ana.change(rig, verb="flip", place=rig["train"][0]["key"])
    assert rig["train"][0]["sky_connection"] == "M42x0.75 male"
