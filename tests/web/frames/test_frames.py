"""A rig's own frames as a browser without JavaScript meets them: from the plan to the shim and its gain."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient
from PIL import Image

from server.domain.frames.measured import Measured
from server.domain.observer import Observer
from server.flow import frame_process
from server.flow.frame_sets import FrameSets
from server.flow.workbench import Workbench
from server.rim.phrasebook.tell import tell
from server.settings import Settings
from server.store import Stores
from tests import own_frames
from tests.web.club import observer_named, page_of, words_of

POSITIONS = {"focuser-0": "180", "focuser-1": "-180", "step_um": "0.5 um", "spacing_mm": "55 mm"}
"""Those of the frames of `own_frames.pair`, 90 um to either side."""


@pytest.fixture
def observer(ann: TestClient, stores: Stores) -> Observer:
    return observer_named(stores, "Ann")


@pytest.fixture
def rig(stores: Stores, observer: Observer) -> int:
    return new_rig(stores, observer, "Garden")


def new_rig(stores: Stores, observer: Observer, name: str) -> int:
    with stores.writing() as store:
        return own_frames.take_rig(Workbench(store, observer, tell), name).id


@pytest.fixture
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lets sets be looked at and measured here and now, without a process of their own."""

    def run(sets: FrameSets, token: str, what: str) -> None:
        {"look": frame_process.look, "measure": frame_process.measure}[what](sets.root / token)

    monkeypatch.setattr(FrameSets, "_run", run)
    monkeypatch.setattr(FrameSets, "_measure", lambda sets, token: sets._run(token, "measure"))
    monkeypatch.setattr(
        "server.flow.frame_sets.Thread",
        lambda target, args, daemon: type("Now", (), {"start": lambda _: target(*args)})(),  # noqa: ARG005
    )


def hand_in(client: TestClient, rig: int, files: Mapping[str, bytes], **texts: str) -> Any:
    sent = [("files", (name, content)) for name, content in files.items()]
    return client.post(f"/frames/hand-in/{rig}", files=sent or None, data=texts)


def set_of(answer: Any) -> str:
    """The address of the set that an answer shows."""
    found = re.search(r"/bench/\d+/frames/set/[\w-]+", str(answer.url))
    assert found, answer.text
    return found[0]


def typed_in(page: BeautifulSoup) -> dict[str, str]:
    """What the fields of the set's form hold."""
    form = page.select_one('form[aria-label="What to measure"]')
    assert form is not None
    return {str(one["name"]): str(one.get("value", "")) for one in form.select("input[type=text]")}


def kept(client: TestClient, rig: int, truth: own_frames.Truth, name: str) -> str:
    """The address of a measurement that was handed in, measured and kept."""
    where = set_of(hand_in(client, rig, own_frames.pair(truth)))
    client.post(where, data=POSITIONS)
    answer = client.post(f"{where}/keep", data={"name": name})
    assert answer.status_code == 200
    return str(answer.url.path)


# -- The whole way


def test_frames_go_the_whole_way_to_the_screw_and_what_it_gained(
    ann: TestClient, rig: int, settings: Settings, at_once: None
):
    plan = words_of(ann.get(f"/bench/{rig}/frames"))
    assert "Two frames, 91 µm to either side of focus" in plan
    assert "out, in, in, out" in plan
    handed = hand_in(ann, rig, own_frames.pair())
    assert "FITS, 600 x 400, 16 bits" in words_of(handed)
    where = set_of(handed)
    told = ann.post(where, data=POSITIONS)
    assert "Best focus rises by" in words_of(told)
    assert "towards the right" in words_of(told)
    one = ann.post(f"{where}/keep", data={"name": "Before the shim"})
    assert str(one.url.path) == "/frames/1"
    assert list((settings.data / "frames").iterdir()) == []
    assert "Enter where the screws stand" in words_of(one)
    screws = {"radius_mm": "40 mm", "angles": "90, 210, 330", "pitch_mm": "0.5 mm"}
    told = ann.post("/frames/1/screws", data=screws)
    assert "Bring the sensor further out by the screws" in words_of(told)
    assert "at screw 3" in words_of(told)
    after = kept(ann, rig, own_frames.Truth(0j), "After the shim")
    assert "square to the field" in words_of(ann.get(after))
    compared = words_of(ann.get("/frames/compare?before=1&after=2"))
    assert re.search(r"Tilt over the diagonal: \d\d µm \(within \d+\) before, \d µm", compared)
    listed = page_of(ann.get(f"/bench/{rig}/frames"))
    assert [a["href"] for a in listed.select('a[href^="/frames/compare"]')] == [
        "/frames/compare?before=1&after=2"
    ]


def test_a_set_is_measured_by_a_process_of_its_own_and_its_page_looks_again(ann: TestClient, rig: int):
    where = set_of(hand_in(ann, rig, own_frames.pair()))
    answer = ann.post(where, data=POSITIONS)
    for _ in range(600):
        if "What they say" in answer.text:
            break
        assert "Measuring" in words_of(answer) or "Waiting for its turn" in words_of(answer)
        time.sleep(0.05)
        answer = ann.get(where)
    assert "Best focus rises by" in words_of(answer)
    asked_by_script = ann.get(where, headers={"HX-Request": "true", "HX-Target": "way"})
    assert asked_by_script.headers.get("HX-Redirect") == where


def test_a_measurement_is_kept_with_an_entry_and_leads_to_it(
    ann: TestClient, rig: int, stores: Stores, observer: Observer, at_once: None
):
    with stores.writing() as store:
        bench = Workbench(store, observer, tell)
        entry = bench.save_entry(rig, bench.bench(rig).stored.version, "First light", "")
    where = set_of(hand_in(ann, rig, own_frames.pair()))
    ann.post(where, data=POSITIONS)
    answer = ann.post(f"{where}/keep", data={"name": "", "entry": str(entry.id)})
    assert page_of(answer).select_one(f'a[href="/logbook/{entry.id}"]')
    assert "Measured: 20" in words_of(ann.get(f"/logbook/{entry.id}"))


def test_the_stars_are_downloaded_and_a_measurement_is_removed(ann: TestClient, rig: int, at_once: None):
    path = kept(ann, rig, own_frames.Truth(), "A set")
    stars = ann.get(f"{path}/stars.csv")
    assert stars.headers["content-disposition"] == 'attachment; filename="stars-1.csv"'
    assert stars.text.startswith("x_px,y_px,light,")
    assert "Nothing yet." in words_of(ann.post(f"{path}/remove"))
    assert ann.get(path).status_code == 404


# -- What the files say


def test_headers_are_offered_and_not_used_unasked(ann: TestClient, rig: int, at_once: None):
    where = set_of(hand_in(ann, rig, own_frames.pair()))
    page = ann.get(where)
    assert "position 10180." in words_of(page)
    assert typed_in(page_of(page))["focuser-0"] == ""
    offered = ann.post(where, data={"do": "headers", "step_um": "0.5 um"})
    assert typed_in(page_of(offered))["focuser-0"] == "10180"
    assert typed_in(page_of(offered))["step_um"] == "0.5 um"
    unasked = ann.post(where, data={"step_um": "0.5 um"})
    assert "Where the focuser stood for each frame is not said yet" in words_of(unasked)


def bad_files() -> Iterator[tuple[str, bytes]]:
    """A name and what lies in the file: none of them is a frame of stars."""
    good = own_frames.frame(0.0)
    yield "notes.fits", b"nothing of a picture"
    yield "empty.fits", b""
    yield "short.fits", good[:100_000]
    yield "huge.fits", good.replace(b"NAXIS1  =                  600", b"NAXIS1  =           2000000000")
    yield "no.png", b"\x89PNG\r\n\x1a\n" + b"x" * 100


@pytest.mark.parametrize(
    ("name", "content"), list(bad_files()), ids=lambda one: one if isinstance(one, str) else ""
)
def test_a_bad_file_is_told_in_words_beside_the_good_ones(
    ann: TestClient, rig: int, name: str, content: bytes
):
    answer = hand_in(ann, rig, {name: content, "out.fits": own_frames.frame(90.0)})
    assert answer.status_code == 200
    (said,) = page_of(answer).select("td.field-error")
    assert said.get_text().strip().endswith((".", "?"))
    assert "Traceback" not in answer.text
    assert "FITS, 600 x 400" in words_of(answer)


def test_frames_without_stars_are_answered_in_words(ann: TestClient, rig: int, at_once: None):
    flat = np.full((own_frames.HEIGHT, own_frames.WIDTH), 300.0)
    cloudy = flat + np.random.default_rng(1).normal(0.0, 17.0, flat.shape).round()
    for pixels, told in ((flat, "no star was found"), (cloudy, "star")):
        where = set_of(
            hand_in(ann, rig, {"a.fits": own_frames.fits(pixels), "b.fits": own_frames.fits(pixels)})
        )
        answer = ann.post(where, data=POSITIONS)
        assert answer.status_code == 200
        assert told in words_of(answer)
        assert "Take the frames again." in words_of(answer)


def test_one_frame_gives_no_more_than_a_hint(ann: TestClient, rig: int, at_once: None):
    where = set_of(hand_in(ann, rig, {"one.fits": own_frames.frame(90.0, own_frames.Truth(60 + 0j))}))
    told = words_of(ann.post(where, data={}))
    assert "one frame" in told.lower()
    assert "at screw" not in told


def test_a_jpeg_of_eight_bits_is_read(ann: TestClient, rig: int, at_once: None):
    pixels = np.clip(own_frames.picture(0.0) / 40.0, 0, 255).astype(np.uint8)
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "JPEG", quality=95)
    answer = hand_in(ann, rig, {"picture.jpg": file.getvalue()})
    assert "JPEG, 600 x 400, 8 bits" in words_of(answer)


# -- Nothing that was typed is lost


def test_a_mistake_stands_at_its_field_and_all_that_was_typed_stays(ann: TestClient, rig: int, at_once: None):
    where = set_of(hand_in(ann, rig, own_frames.pair()))
    typed = {**POSITIONS, "focuser-1": "far in", "step_um": "5 kg", "leave-0": "1", "quick": "yes"}
    answer = ann.post(where, data=typed)
    assert answer.status_code == 422
    page = page_of(answer)
    held = typed_in(page)
    assert {name: held[name] for name in ("focuser-0", "focuser-1", "step_um", "spacing_mm")} == {
        name: typed[name] for name in ("focuser-0", "focuser-1", "step_um", "spacing_mm")
    }
    assert page.select_one('input[name="leave-0"]').has_attr("checked")
    assert len(page.select("[aria-invalid=true]")) == 2
    half = ann.post(where, data={"focuser-0": "180"})
    assert "Say where the focuser stood for each frame" in words_of(half)


def test_what_was_typed_is_there_again_when_measuring_failed(ann: TestClient, rig: int, at_once: None):
    small = own_frames.fits(own_frames.picture(-90.0)[:300, :])
    where = set_of(hand_in(ann, rig, {"whole.fits": own_frames.frame(90.0), "part.fits": small}))
    answer = ann.post(where, data=POSITIONS)
    assert "part.fits: It has 600 x 300 pixels" in words_of(answer)
    held = typed_in(page_of(answer))
    assert {name: held[name] for name in POSITIONS} == POSITIONS


def test_screws_with_a_mistake_keep_what_was_typed(ann: TestClient, rig: int, at_once: None):
    path = kept(ann, rig, own_frames.Truth(), "A set")
    answer = ann.post(f"{path}/screws", data={"radius_mm": "40 kg", "angles": "90, 91, 210"})
    assert answer.status_code == 422
    page = page_of(answer)
    held = {str(one["name"]): str(one["value"]) for one in page.select("[aria-invalid=true]")}
    assert held == {"radius_mm": "40 kg", "angles": "90, 91, 210"}
    assert "same place" in words_of(answer)


def test_nothing_handed_in_is_asked_for_again(ann: TestClient, rig: int):
    answer = hand_in(ann, rig, {}, folder=" ")
    assert answer.status_code == 422
    assert "Choose the frames first." in words_of(answer)
    # A folder is offered only where the person who started the app allowed one.
    assert page_of(ann.get(f"/bench/{rig}/frames")).select_one("#folder") is None
    refused = hand_in(ann, rig, {}, folder="/etc")
    assert refused.status_code == 422


# -- Whose they are


def test_measurements_of_two_rigs_are_not_compared(
    ann: TestClient, rig: int, stores: Stores, observer: Observer, tmp_path: Path
):
    other = new_rig(stores, observer, "Other")
    one = own_frames.measured(tmp_path)
    numbers = [add(stores, observer, number, one) for number in (rig, other)]
    answer = ann.get(f"/frames/compare?before={numbers[0]}&after={numbers[1]}")
    assert answer.status_code == 422
    assert "of two rigs" in words_of(answer)


def add(stores: Stores, observer: Observer, rig: int, one: Measured) -> int:
    with stores.writing() as store:
        return store.add_measured(observer.id, rig, None, "A set", one).id


def test_nobody_meets_the_sets_and_measurements_of_another(
    ann: TestClient, rig: int, stores: Stores, observer: Observer, tmp_path: Path, at_once: None
):
    number = add(stores, observer, rig, own_frames.measured(tmp_path))
    where = set_of(hand_in(ann, rig, own_frames.pair()))
    other = set_of(hand_in(ann, new_rig(stores, observer, "Other"), own_frames.pair())).rpartition("/")[2]
    assert "another rig" in words_of(ann.get(f"/bench/{rig}/frames/set/{other}"))
    ann.post("/observers", data={"name": "Ben", "units": "metric"})
    for path in (where, f"/frames/{number}", f"/frames/{number}/stars.csv", f"/bench/{rig}/frames"):
        assert ann.get(path).status_code == 404, path
    for path in (where, f"{where}/keep", f"/frames/{number}/remove", f"/frames/{number}/screws"):
        data = {"radius_mm": "40 mm", "angles": "90, 210, 330"}
        assert ann.post(path, data=data).status_code == 404, path
