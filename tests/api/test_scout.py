"""The Scout as JSON."""

from __future__ import annotations

from tests.api.conftest import Api, Json, good, measure, trouble
from tests.api.test_sky import DUST, GARDEN


def ask(api: Api, path: str = "", **needs: object) -> Json:
    found: Json = good(api.post(f"/scout{path}", {"needs": needs}))
    return found


def two_tubes(api: Api) -> tuple[int, int]:
    """A light tube and a heavy one, a camera and a ring."""
    light = api.tube(mass_kg=measure(3.0))
    heavy = api.tube(aperture_mm=measure(120), mass_kg=measure(9.0))
    api.camera()
    api.ring()
    return light, heavy


def test_nothing_to_choose_from_is_said(ana: Api):
    found = ask(ana)
    assert found["combinations"] == 0
    assert "enter a tube and a camera" in found["words"]
    assert good(ana.post("/scout/table", {}))["total"] == 0


def test_a_need_leaves_out_what_fails_it_and_says_by_how_much(ana: Api):
    light, heavy = two_tubes(ana)
    found = ask(ana, front=["lift"], lift_kg=5.0)
    assert (found["combinations"], found["passing"]) == (2, 1)
    (one,) = found["front"]
    assert (one["tube_id"], one["mount_id"], one["corrector_id"]) == (light, None, None)
    assert one["measures"]["lift"] == {"value": 3.0, "low": 3.0, "high": 3.0}
    (other,) = found["others"]
    assert other["key"].startswith(f"{heavy}-")
    assert "9.0 kg where 5.0 kg is the limit" in other["why"]
    assert any("9.0 kg brings 1 tube more" in line for line in found["gains"])


def test_what_is_counted_for_filters_is_told_with_the_room_the_corner_in_pixels_and_the_power(ana: Api):
    two_tubes(ana)
    found = ask(ana, front=["lift"], filters=True)
    assert "no filter wheel or drawer on your shelf" in found["beside"]
    (one, *_) = found["front"]
    assert one["beside_ids"] == []
    assert {"room", "corner_px", "power"} <= set(one["measures"])


def test_what_nobody_weighed_is_a_range_and_asked_for(ana: Api):
    light = ana.tube(mass_kg=measure(3.0))
    unweighed = ana.tube()
    ana.camera()
    found = ask(ana, front=["lift"], lift_kg=4.0)
    lines = good(ana.post("/scout/table", {"needs": {"front": ["lift"]}}))["candidates"]
    by_tube = {one["tube_id"]: one["measures"]["lift"] for one in lines}
    assert by_tube[light]["low"] == by_tube[light]["high"]
    assert by_tube[unweighed]["low"] < by_tube[unweighed]["value"] < by_tube[unweighed]["high"]
    assert (unweighed, "mass_kg") in {(one["part_id"], one["field"]) for one in found["matters"]}


def test_hours_need_a_site_and_targets(ana: Api):
    two_tubes(ana)
    assert all(one["measures"]["hours"]["value"] is None for one in ask(ana, front=["lift"])["front"])
    good(ana.post("/sky/sites", {"site": GARDEN}), 201)
    good(ana.post("/sky/list", {"name": "M 31"}), 201)
    good(ana.post("/sky/targets", {"target": DUST}), 201)
    found = ask(ana, front=["lift"], targets=["NGC 224"])
    assert found["targets"] == ["NGC 224"]
    assert found["front"][0]["hours"][0] > 0.0
    assert found["front"][0]["fills"][0] > 0.0


def test_needs_that_nothing_meets_together_are_named(ana: Api):
    two_tubes(ana)
    found = ask(ana, lift_kg=1.0)
    assert found["passing"] == 0
    assert "what you lift" in found["against"]


def test_a_combination_stands_on_the_bench(ana: Api, ben: Api):
    two_tubes(ana)
    key = ask(ana, front=["lift"])["front"][0]["key"]
    rig = good(ana.post("/scout/rigs", {"key": key}), 201)["rig_id"]
    places = good(ana.get(f"/rigs/{rig}"))["train"]
    names = [one["part"]["name"] for one in places]
    assert (names[0], names[-1]) == ("Halden Nordlicht 80", "Halden Auge 26")
    assert trouble(ana.post("/scout/rigs", {"key": "9999-0-9999-0"}), 404)["message"].startswith(
        "There is no"
    )
    trouble(ben.get(f"/rigs/{rig}"), 404)


def test_needs_are_kept_by_a_name_and_forgotten(ana: Api, ben: Api):
    good(ana.post("/scout/needs", {"name": "Light", "needs": {"lift_kg": 8}}), 204)
    good(ana.post("/scout/needs", {"name": "light", "needs": {"lift_kg": 6}}), 204)
    (kept,) = good(ana.get("/scout/needs"))
    assert (kept["name"], kept["needs"]["lift_kg"]) == ("light", 6.0)
    assert good(ben.get("/scout/needs")) == []
    trouble(ben.delete(f"/scout/needs/{kept['id']}"), 404)
    good(ana.delete(f"/scout/needs/{kept['id']}"), 204)
    assert good(ana.get("/scout/needs")) == []


def test_what_is_not_a_need_is_refused_at_its_field(ana: Api):
    assert "lift_kg" in trouble(ana.post("/scout", {"needs": {"lift_kg": "10 kg"}}), 422)["fields"]
    assert "front" in trouble(ana.post("/scout", {"needs": {"front": []}}), 422)["fields"]


def test_what_stops_combinations_on_the_bench_is_told_and_what_is_no_combination_is_left_out(ana: Api):
    two_tubes(ana)
    keys = [one["key"] for one in ask(ana, "/table")["candidates"]]
    found = good(ana.post("/scout/stops", {"keys": [*keys, "999-0-998-0", "nonsense"]}))
    assert [one["key"] for one in found] == keys
    assert all(one["looked_at"] for one in found)
    rig = good(ana.post("/scout/rigs", {"key": keys[0]}), 201)["rig_id"]
    stops = [one for one in good(ana.get(f"/rigs/{rig}"))["findings"] if one["weight"] == "stop"]
    assert bool(found[0]["stop"]) == bool(stops)
