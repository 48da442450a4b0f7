"""A rig's cautions: the same on the bench, its load, its packing list, its sheet, shared and in a file.

Common practice, no source: about 9 kg (20 lb) for one, two people above it; weights before the tube; a
hand on the tube when a clutch is loosened.
"""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.web.bench.test_page import Bench, enter, page_of

CLUTCHES = "an axis that does not balance swings at once"


@pytest.fixture
def heavy(ann: TestClient) -> Bench:
    """A tube of 8 kg and a camera of 3 kg, neither above 20 lb, on a mount with weights."""
    bench = Bench(ann, "Heavy")
    for kind, mass, verb in (
        ("optical_tube", "8 kg", "add"),
        ("camera", "3 kg", "add"),
        ("mount", "7 kg", "gear"),
        ("counterweight", "5 kg", "gear"),
    ):
        number = enter(ann, kind, model=f"A {kind}", mass_kg=mass)
        data = {"verb": verb, "part_id": number} | ({"quantity": 1} if verb == "gear" else {})
        assert bench.post("change", **data).status_code == 200
    return bench


def _told(client: TestClient, path: str, selector: str) -> list[str]:
    return [" ".join(one.get_text().split()) for one in page_of(client.get(path)).select(selector)]


def test_they_are_the_same_wherever_the_rig_is_shown(ann: TestClient, heavy: Bench) -> None:
    told = _told(ann, heavy.url, ".cautions .caution")
    assert len(told) == 3
    assert "ask a clinician about your own back" in told[0]
    assert told[1].startswith("Counterweights.")
    assert CLUTCHES in told[2]
    assert _told(ann, f"{heavy.url}/load", ".load-cautions li") == told
    assert _told(ann, f"{heavy.url}/packing", ".load-cautions li") == told

    saved = ann.post(
        f"{heavy.url}/save", data={"version": heavy.version, "title": "Heavy"}, follow_redirects=False
    )
    assert saved.status_code == 303
    entry = saved.headers["location"]
    # Who reads a saved sheet may point it at the Sun.
    for path in (entry, f"{entry}/file.html"):
        sheet = _told(ann, path, ".sheet-cautions p")
        assert sheet[0].startswith("The Sun.")
        assert sheet[1:] == told
    ann.post(f"{entry}/share")
    link = page_of(ann.get(entry)).select_one(".links a")
    assert link is not None
    assert _told(ann, "/s/" + str(link["href"]).rpartition("/s/")[2], ".sheet-cautions p")[1:] == told


def test_a_light_rig_without_a_mount_keeps_the_general_word(ann: TestClient) -> None:
    told = _told(ann, Bench(ann, "Light").url, ".cautions .caution")
    assert len(told) == 1
    assert "Lift heavy pieces with two people" in told[0]


@pytest.mark.parametrize(
    ("kind", "texts", "where"),
    [
        ("filter", {"solar": "yes", "format": "round_31"}, "in the wheel"),
        ("filter", {"solar": "yes", "sky_side": "M48x0.75 male", "camera_side": "M48x0.75 female"}, "add"),
        ("camera", {"mass_kg": "10 kg"}, "add"),
        ("mount", {"mass_kg": "20 kg"}, "gear"),
        ("counterweight", {"mass_kg": "10 kg"}, "gear"),
        ("support", {"mass_kg": "12 kg"}, "gear"),
        ("power_source", {"chemistry": "lifepo4"}, "gear"),
        ("power_source", {}, "gear"),
    ],
)
def test_a_rig_shows_the_cautions_of_a_part_as_the_parts_own_page_does(
    ann: TestClient, kind: str, texts: dict[str, str], where: str
) -> None:
    bench = Bench(ann, "Rig")
    bench.post("change", verb="add", part_id=enter(ann, "optical_tube", model="Tube"))
    number = enter(ann, kind, model="One", **texts)
    own = [one.removesuffix(" More") for one in _told(ann, f"/shelf/{number}", ".caution")]
    assert own
    match where:
        case "in the wheel":
            wheel = enter(ann, "filter_wheel", model="Wheel", positions="5")
            bench.post("change", verb="add", part_id=wheel)
            changed = bench.post("change", verb="put_filter", place=bench.key("Wheel"), part_id=number)
        case "gear":
            changed = bench.post("change", verb="gear", part_id=number, quantity=1)
        case _:
            changed = bench.post("change", verb="add", part_id=number)
    assert changed.status_code == 200
    saved = ann.post(
        f"{bench.url}/save", data={"version": bench.version, "title": "One"}, follow_redirects=False
    )
    entry = saved.headers["location"]
    for path, selector in (
        (bench.url, ".cautions .caution"),
        (f"{bench.url}/load", ".load-cautions li"),
        (f"{bench.url}/packing", ".load-cautions li"),
        (entry, ".sheet-cautions p"),
        (f"{entry}/file.html", ".sheet-cautions p"),
    ):
        assert set(own) <= set(_told(ann, path, selector)), path
