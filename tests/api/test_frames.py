"""A rig's own frames as JSON: the whole way, and what is refused."""

from __future__ import annotations

import cmath
import math
import time
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from server.app import create_app
from server.settings import Settings
from server.store import Stores
from tests import own_frames
from tests.api.conftest import ADDRESS, Api, Json, good, measure, thread, trouble
from tests.api.test_logbook import saved

TO_MEASURE: Json = {
    "frames": [{"number": 1, "focuser": 180}, {"number": 2, "focuser": -180}],
    "step_um": own_frames.STEP_UM,
    "spacing_mm": 55.0,
}
"""The frames of `own_frames.pair`, 90 um to either side."""


def rig_of(api: Api) -> int:
    """A refractor of f/6 and a camera with a sensor as small as the frames."""
    rig = api.rig()
    tube = api.part(
        "optical_tube",
        "Nordlicht 80",
        design="apochromat",
        camera_side=thread(42, "male"),
        aperture_mm=measure(80),
        focal_length_mm=measure(480),
    )
    camera = api.part(
        "camera",
        "Auge 1",
        sky_side=thread(42, "female"),
        flange_mm=measure(17.5),
        width_px=own_frames.WIDTH,
        height_px=own_frames.HEIGHT,
        pixel_um=measure(own_frames.PIXEL_UM),
    )
    for number in (tube, camera):
        rig = api.change(rig, verb="add", part_id=number)
    return int(rig["id"])


def send(api: Api, rig: int, files: dict[str, bytes], **texts: str) -> Any:
    return api.client.post(
        f"/api/frames/hand-in/{api.id}/{rig}",
        files=[("files", (name, content)) for name, content in files.items()] or None,
        data=texts,
    )


def ended(api: Api, token: str) -> Json:
    """The set when nothing is waited for any more."""
    for _ in range(600):
        state: Json = good(api.get(f"/frames/sets/{token}"))
        if state["stage"] not in ("waiting", "measuring"):
            return state
        time.sleep(0.05)
    raise AssertionError("the set was not measured within half a minute")


def kept(api: Api, rig: int, truth: own_frames.Truth, name: str) -> Json:
    """A pair of frames handed in, measured and kept."""
    token = good(send(api, rig, own_frames.pair(truth)), 201)["token"]
    good(api.post(f"/frames/sets/{token}/measure", TO_MEASURE), 202)
    assert ended(api, token)["stage"] == "done"
    answer: Json = good(api.post(f"/frames/sets/{token}/keep", {"name": name}), 201)
    return answer


def test_the_plan_says_how_far_to_go_and_what_it_lacks(ana: Api):
    plan = good(ana.get(f"/rigs/{rig_of(ana)}/frames/plan"))
    assert plan["focal_ratio"] == pytest.approx(6.0)
    # Four pixels of 3.8 um at f/6: the note of the method.
    assert plan["away_um"] == pytest.approx(91.2)
    assert plan["sensor_px"] == [600, 400]
    bare = good(ana.get(f"/rigs/{ana.rig('Bare')['id']}/frames/plan"))
    assert bare["away_um"] is None
    assert bare["lacking"]


def test_frames_are_handed_in_measured_kept_and_tell_the_screw(ana: Api, settings: Settings):
    rig = rig_of(ana)
    handed = good(send(ana, rig, own_frames.pair()), 201)
    assert [(one["number"], one["width_px"], one["focuser"]) for one in handed["files"]] == [
        (1, 600, 10_180.0),
        (2, 600, 9_820.0),
    ]
    assert (handed["stage"], handed["found"]) == ("draft", None)
    token = handed["token"]
    started = good(ana.post(f"/frames/sets/{token}/measure", TO_MEASURE), 202)
    assert started["stage"] in ("waiting", "measuring", "done")
    state = ended(ana, token)
    assert (state["stage"], state["share"]) == ("done", 1.0)
    assert state["found"]["surface"]["tilt_u"]["value"] > 5 * state["found"]["surface"]["tilt_u"]["error"]
    entry = saved(ana, good(ana.get(f"/rigs/{rig}")))["id"]
    one = good(ana.post(f"/frames/sets/{token}/keep", {"name": " Before  it ", "entry_id": entry}), 201)
    assert (one["name"], one["entry_id"], one["rig_id"]) == ("Before it", entry, rig)
    assert list((settings.data / "frames").iterdir()) == []
    trouble(ana.get(f"/frames/sets/{token}"), 404)
    assert [line["id"] for line in good(ana.get(f"/rigs/{rig}/frames"))] == [one["id"]]
    screws = {"radius_mm": 40, "angles_deg": [90, 210, 330], "pitch_mm": 0.5}
    told = good(ana.put(f"/frames/{one['id']}/screws", screws))
    assert told["screws"] == screws
    remedies = " ".join(line for finding in told["findings"] for line in finding["text"]["remedies"])
    assert "screw" in remedies
    stars = ana.get(f"/frames/{one['id']}/stars.csv")
    assert stars.headers["content-type"].startswith("text/csv")
    assert len(stars.text.splitlines()) > 50
    good(ana.delete(f"/frames/{one['id']}"), 204)
    trouble(ana.get(f"/frames/{one['id']}"), 404)


def test_a_turn_of_one_screw_tells_how_the_picture_lies_and_two_sets_compare(ana: Api):
    rig = rig_of(ana)
    before = kept(ana, rig, own_frames.Truth(0j), "Before")
    screws = {"radius_mm": 40, "angles_deg": [30, 150, 270]}
    good(ana.put(f"/frames/{before['id']}/screws", screws))
    after = kept(ana, rig, own_frames.Truth(30.0 * cmath.exp(-1j * math.pi / 6.0)), "After")
    assert after["screws"]["angles_deg"] == [30, 150, 270]
    # The screw stands 60 mm from the line through the other two. Moved out by 1050 um it lets best focus, as
    # the sensor sees it, fall by 24 um over the half diagonal of 1.37 mm towards 30 degrees, up and right. It
    # is seen to rise down and right: left and right are turned over.
    turn = {"before": before["id"], "number": 1, "out_um": 1050.0}
    told = good(ana.post(f"/frames/{after['id']}/turn", turn))
    assert told["lies"] == "left and right"
    compared = good(ana.get("/frames/compare", before=before["id"], after=after["id"]))
    figures = {one["figure"]: one for one in compared["figures"]}
    assert figures["tilt_um"]["after"]["value"] > 10 * figures["tilt_um"]["before"]["value"]


def test_a_folder_is_named_only_where_one_is_allowed(settings: Settings, stores: Stores, tmp_path: Path):
    allowed = tmp_path / "mine"
    (allowed / "night").mkdir(parents=True)
    for name, content in own_frames.pair().items():
        (allowed / "night" / name).write_bytes(content)
    app = create_app(settings.model_copy(update={"frames": allowed}), stores)
    with TestClient(app, base_url=ADDRESS) as client:
        ana = Api(client, "Ana")
        rig = rig_of(ana)
        handed = good(send(ana, rig, {}, folder="night"), 201)
        assert [one["name"] for one in handed["files"]] == ["in.fits", "out.fits"]
        assert "below" in trouble(send(ana, rig, {}, folder="../"), 422)["fields"]["folder"]
        good(ana.delete(f"/frames/sets/{handed['token']}"), 204)
    assert (allowed / "night" / "in.fits").is_file()


def test_what_cannot_be_measured_is_said(ana: Api):
    rig = rig_of(ana)
    assert "files" in trouble(send(ana, rig, {}), 422)["fields"]
    handed = good(send(ana, rig, {"notes.fits": b"no picture at all", **own_frames.pair()}), 201)
    assert handed["files"][0]["trouble"]
    path = f"/frames/sets/{handed['token']}"
    assert "not measured yet" in trouble(ana.post(f"{path}/keep", {}), 422)["message"]
    half: Json = {"frames": [{"number": 2, "focuser": 180}, {"number": 3}]}
    assert "focuser stood" in trouble(ana.post(f"{path}/measure", half), 422)["fields"]["files"]
    both: Json = {"frames": [{"number": 2, "focuser": 180}, {"number": 3, "focuser": -180}]}
    assert "step_um" in trouble(ana.post(f"{path}/measure", both), 422)["fields"]
    for numbers in ([2, 2], [9]):
        wrong = {"frames": [{"number": number} for number in numbers]}
        assert "frames" in trouble(ana.post(f"{path}/measure", wrong), 422)["fields"]
    more = good(send(ana, rig, {"third.fits": own_frames.frame(0.0)}, token=handed["token"]), 201)
    assert len(more["files"]) == 4


def test_a_set_that_fails_says_which_file_and_stays(ana: Api):
    rig = rig_of(ana)
    small = own_frames.fits(own_frames.picture(-90.0)[:300, :])
    token = good(send(ana, rig, {"whole.fits": own_frames.frame(90.0), "part.fits": small}), 201)["token"]
    good(ana.post(f"/frames/sets/{token}/measure", {}), 202)
    state = ended(ana, token)
    assert (state["stage"], state["failed"]["name"]) == ("failed", "part.fits")
    assert "600 x 300" in state["failed"]["sentence"]


def test_measuring_is_stopped(ana: Api):
    token = good(send(ana, rig_of(ana), own_frames.pair()), 201)["token"]
    good(ana.post(f"/frames/sets/{token}/measure", TO_MEASURE), 202)
    good(ana.post(f"/frames/sets/{token}/stop"), 202)
    assert ended(ana, token)["stage"] in ("failed", "done")


def test_nobody_meets_the_sets_and_measurements_of_another(ana: Api, ben: Api):
    rig = rig_of(ana)
    one = kept(ana, rig, own_frames.Truth(), "Mine")
    token = good(send(ana, rig, own_frames.pair()), 201)["token"]
    for answer in (
        ben.get(f"/frames/sets/{token}"),
        ben.post(f"/frames/sets/{token}/measure", TO_MEASURE),
        ben.delete(f"/frames/sets/{token}"),
        ben.get(f"/frames/{one['id']}"),
        ben.get(f"/frames/{one['id']}/stars.csv"),
        ben.delete(f"/frames/{one['id']}"),
        ben.get(f"/rigs/{rig}/frames"),
        send(ben, rig, own_frames.pair()),
    ):
        trouble(answer, 404)
    other = rig_of(ana)
    assert "another rig" in trouble(send(ana, other, own_frames.pair(), token=token), 422)["message"]
    of_other = kept(ana, other, own_frames.Truth(), "Other")
    answer = ana.get("/frames/compare", before=one["id"], after=of_other["id"])
    assert "two rigs" in trouble(answer, 422)["message"]


def test_screws_that_cannot_stand_so_are_refused(ana: Api):
    one = kept(ana, rig_of(ana), own_frames.Truth(), "Mine")
    answer = ana.put(f"/frames/{one['id']}/screws", {"radius_mm": 40, "angles_deg": [0, 1, 200]})
    assert "same place" in trouble(answer, 422)["fields"]["angles_deg"]
    turn = {"before": one["id"], "number": 1, "out_um": 100}
    assert (
        "screws stand first"
        in trouble(ana.post(f"/frames/{one['id']}/turn", turn), 422)["fields"]["radius_mm"]
    )
