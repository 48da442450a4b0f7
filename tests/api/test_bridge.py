"""The Bridge through the JSON door: the same stacks as on the page, and the change that puts one in.

By hand: a corrector asks for 55 mm, the camera's flange distance is 17.5 mm, so that 37.5 mm are asked for
between them, within the 0.5 mm of the rig's rule; rings of 20, 10 and 7.5 mm make it up.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from server.paths import SEED_DATA
from server.rim.demo_club import load_demo_club
from server.store import Stores
from tests.api.conftest import Api, good, trouble

M48M: dict[str, Any] = {"type": "metric_thread", "diameter_mm": 48.0, "pitch_mm": 0.75, "gender": "male"}
M48F: dict[str, Any] = M48M | {"gender": "female"}


def mm(value: float) -> dict[str, float]:
    return {"nominal": value}


def ring(length_mm: float) -> dict[str, Any]:
    return {
        "kind": "spacer_ring",
        "model": f"Ring {length_mm:g}",
        "sky_side": M48M,
        "camera_side": M48F,
        "length_mm": mm(length_mm),
        "clear_aperture_mm": mm(46),
        "mass_kg": mm(0.05),
    }


PARTS: list[dict[str, Any]] = [
    {"kind": "corrector", "model": "Flat", "camera_side": M48F, "back_focus_mm": mm(55), "length_mm": mm(30)},
    {
        "kind": "camera",
        "model": "Cam",
        "sky_side": M48M,
        "flange_mm": mm(17.5),
        "flange_quoted": "optical",
    },
]


@pytest.fixture
def ann(client: TestClient) -> Api:
    return Api(client, "Ann")


def enter(ann: Api, part: dict[str, Any], owned: int = 1) -> int:
    body = {"part": part, "holding": {"owned": owned, "wished": 0, "considered": 0}}
    return int(good(ann.post("/parts", body), 201)["id"])


@pytest.fixture
def rig(ann: Api) -> dict[str, Any]:
    rig = good(ann.post("/rigs", {"name": "Gap"}), 201)
    for part in PARTS:
        change = {"verb": "add", "part_id": enter(ann, part)}
        rig = good(ann.post(f"/rigs/{rig['id']}/changes", {"version": rig["version"], "change": change}))
    return dict(rig)


def test_the_stack_that_closes_a_gap_is_put_in_by_its_change(ann: Api, rig: dict[str, Any]):
    numbers = [enter(ann, ring(length)) for length in (20, 10, 7.5, 33)]
    found = good(ann.post(f"/rigs/{rig['id']}/bridge", {}))
    assert found["gap"]["distance_mm"] == pytest.approx(37.5)
    assert found["proven"]
    best = found["stacks"][0]
    assert sorted(part["id"] for part in best["parts"]) == sorted(numbers[:3])
    assert best["error_mm"] == pytest.approx(0.0)
    assert best["bought"] == []
    body = {"version": rig["version"], "change": best["change"]}
    mended = good(ann.post(f"/rigs/{rig['id']}/changes", body))
    assert [place["part"]["id"] for place in mended["train"]][1:-1] == [part["id"] for part in best["parts"]]
    assert "spacing.sound" in {one["code"] for one in mended["findings"]}
    assert {one["code"] for one in best["findings"]} == {one["code"] for one in mended["findings"]}


def test_where_there_is_none_the_nearest_miss_is_answered(ann: Api, rig: dict[str, Any]):
    enter(ann, ring(30))
    found = good(ann.post(f"/rigs/{rig['id']}/bridge", {"source": "owned"}))
    assert found["stacks"] == []
    nearest = found["nearest"]
    assert nearest["why"] == "length"
    assert nearest["stack"]["error_mm"] == pytest.approx(-7.5)
    assert 7.5 in {one["length_mm"] for one in nearest["closings"]}


def test_a_gap_that_cannot_be_found_is_refused_in_words(ann: Api):
    empty = good(ann.post("/rigs", {"name": "Empty"}), 201)
    assert "two parts" in trouble(ann.post(f"/rigs/{empty['id']}/bridge", {}), 422)["message"]


METRIC = re.compile(r"\d (?:mm|g|kg)\b")


def test_an_imperial_observer_reads_no_metric_figure_in_what_is_refused_or_undone(
    ann: Api, rig: dict[str, Any]
):
    def refused(of: dict[str, Any], **change: Any) -> str:
        answer = ann.post(f"/rigs/{of['id']}/changes", {"version": of["version"], "change": change})
        return str(trouble(answer, 422)["message"])

    for part in (ring(10) | {"longest_mm": mm(20)}, {**ring(60), "kind": "filter_wheel", "model": "Wheel"}):
        change = {"verb": "add", "part_id": enter(ann, part)}
        rig = good(ann.post(f"/rigs/{rig['id']}/changes", {"version": rig["version"], "change": change}))
    key = next(place["key"] for place in rig["train"] if place["part"]["name"].endswith("Ring 10"))
    change = {"verb": "set_length", "place": key, "length_mm": 12.7}
    rig = good(ann.post(f"/rigs/{rig['id']}/changes", {"version": rig["version"], "change": change}))
    assert rig["undo"] == "set Ring 10 to 12.7 mm"
    good(ann.put("/units", {"units": "imperial"}))
    assert good(ann.get(f"/rigs/{rig['id']}"))["undo"] == "set Ring 10 to 0.5 in"
    too_long = refused(rig, verb="set_length", place=key, length_mm=25.4)
    assert too_long == "Ring 10 adjusts from 0.394 in to 0.787 in; 1 in is outside that."
    clash = trouble(ann.post(f"/rigs/{rig['id']}/bridge", {}), 422)["message"]
    assert "“a distance of 1.4764 in” contradict" in clash
    assert not METRIC.search(clash)


def test_the_guide_camera_is_brought_into_focus_by_the_change_that_the_answer_holds(
    client: TestClient, stores: Stores
) -> None:
    """The Fast Newtonian: 48.010 mm from prism to main sensor (by hand in seed_data/rigs.toml)."""
    with stores.writing() as store:
        load_demo_club(store, SEED_DATA)
        ruta = next(one for one in store.observers() if one.name.startswith("Ruta"))
        rig = next(line for line in store.rigs(ruta.id) if line.name == "Fast Newtonian")
    path = f"/api/observers/{ruta.id}/rigs/{rig.id}"
    answer = client.post(f"{path}/bridge", json={"guide": True}).json()
    assert answer["proven"]
    best = answer["stacks"][0]
    assert best["guide"]["main_mm"] == pytest.approx(48.010, abs=0.005)
    assert best["guide"]["guide_mm"] == pytest.approx(48.0)
    assert [part["name"] for part in best["guide"]["parts"]] == [
        "Brindlewick Works 42 to 1 in-32, 3 mm",
        "Brindlewick Works Ring 1 in-32, 1.5 mm",
        "Brindlewick Works Ring 1 in-32, 5 mm",
    ]
    changed = client.post(f"{path}/changes", json={"version": rig.version, "change": best["change"]}).json()
    assert [place["part"]["name"] for place in changed["branch"]] == [
        part["name"] for part in best["guide"]["parts"]
    ]
    assert "guide_branch.sound" in {finding["code"] for finding in changed["findings"]}
