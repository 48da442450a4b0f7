"""A check that a stranger adds by the steps of DEVELOPERS.md: its module, the registry, the phrasebook.

Source: none needed; it is what the house promises.
"""

from __future__ import annotations

import json

import pytest
from fastapi.testclient import TestClient

from server.domain.checks import registry
from server.domain.findings import Figure
from server.domain.missing import lacks
from server.domain.observer import Observer
from server.domain.said import named, said
from server.domain.verdicts import Act, Advice, Verdict
from server.domain.workings.case import Case, Check, amount, input_of, not_known
from server.flow import run_checks
from server.flow.workbench import Workbench
from server.rim.phrasebook import book
from server.rim.phrasebook.tell import tell
from server.rim.phrasebook.working import Working
from server.store import Stores
from tests.places import Place
from tests.web.club import observer_named, page_of, sit_down, words_of

MOST_MM = 1.0


# What the stranger's module holds.
def check_thick(case: Case) -> tuple[Verdict, ...]:
    camera = case.train.camera
    if camera is None:
        return ()
    bits = camera.part.bits
    window = camera.part.window_thickness_mm
    if bits is None:
        return (not_known("thick.unknown", (lacks(camera, "bits"),)),)
    if window is None or window.nominal <= MOST_MM:
        return ()
    thick = amount(window.nominal, "length", 2)
    out = Act(verb="remove", part=named(camera), place=camera.key)
    return (
        Verdict(
            code="thick.window",
            weight="watch",
            says=(said("thick.window", camera=camera, thick=thick, bits=bits),),
            figure=Figure(label="window", amount=thick),
            remedies=(Advice((said("thick.take_out", camera=camera),), out),),
            inputs=(input_of("window", camera.item, window, "length"),),
            place=camera.key,
        ),
    )


# What it adds to the phrasebook.
WORDS = {
    "thick.unknown": "How thick it may be is not known yet: enter {missing}.",
    "lacks.bits": "the bits of {part}",
    "thick.window": "The window of {camera} is {thick} thick, at {bits#one bit|{bits} bits}.",
    "thick.take_out": "Take {camera} out.",
}
WORKING = Working("thickness of the window", "Invented for this test.")


@pytest.fixture
def place(club_place: Place) -> Place:
    return club_place


@pytest.fixture
def ruta(client: TestClient, stores: Stores, monkeypatch: pytest.MonkeyPatch) -> Observer:
    monkeypatch.setattr(run_checks, "CHECKS", (*registry.CHECKS, Check("thick", check_thick)))
    for key, words in WORDS.items():
        monkeypatch.setitem(book.WORDS, key, words)
    monkeypatch.setitem(book.TITLES, "thick", "Thickness")
    monkeypatch.setitem(book.WORKINGS, "thick", WORKING)
    observer = observer_named(stores, "Ruta Ommerli")
    sit_down(client, observer)
    return observer


def set_camera(stores: Stores, observer: Observer, **figures: object) -> tuple[int, int]:
    """The observer's first rig with a camera of these figures: its number and the camera's."""
    with stores.writing() as store:
        bench = Workbench(store, observer, tell)
        for line in bench.rigs():
            view = bench.bench(line.id)
            camera = view.rig.train.camera
            if camera is not None and camera.item.entered_by == observer.id:
                part = camera.part.model_validate(camera.part.model_dump() | figures)
                bench.change_part(camera.item.id, camera.item.revision, part)
                return line.id, camera.item.id
    raise AssertionError("no camera of the observer's own")


def test_it_shows_on_bench_api_entry_print_and_file_in_both_unit_systems(
    client: TestClient, stores: Stores, ruta: Observer
) -> None:
    rig_id, _ = set_camera(stores, ruta, bits=16, window_thickness_mm={"nominal": 2.54})
    with stores.writing() as store:
        bench = Workbench(store, ruta, tell)
        version = bench.bench(rig_id).stored.version
        entry_id = bench.save_entry(rig_id, version, "With a thick window", "").id
    for units, thick in (("metric", "2.54 mm"), ("imperial", "0.1000 in")):
        client.post("/units", data={"units": units})
        expected = f"is {thick} thick, at 16 bits."
        page = page_of(client.get(f"/bench/{rig_id}"))
        (found,) = page.select('[id^="finding-thick-window"]')
        said_there = " ".join(found.get_text(" ").split())
        for words in (expected, "Thickness", "Take"):
            assert words in said_there
        assert found.select_one("button") is not None
        working = client.get(str(found.select_one("a[data-fetch]")["href"]))
        assert "Invented for this test." in words_of(working)
        answer = client.get(f"/api/observers/{ruta.id}/rigs/{rig_id}").json()
        (told,) = [one for one in answer["findings"] if one["code"] == "thick.window"]
        assert expected in told["text"]["sentence"]
        assert (told["figure"]["amount"]["value"], told["place"] is None) == (2.54, False)
        # The entry's page is also what is printed.
        assert expected in words_of(client.get(f"/logbook/{entry_id}"))
        assert expected in words_of(client.get(f"/logbook/{entry_id}/file.html"))
    document = json.loads(client.get(f"/logbook/{entry_id}/file.json").text)
    (kept,) = [one for one in document["findings"] if one["code"] == "thick.window"]
    assert kept["phrase"]["amounts"]["thick"]["value"] == 2.54


def test_what_it_misses_is_asked_for_at_its_field(client: TestClient, stores: Stores, ruta: Observer) -> None:
    rig_id, part_id = set_camera(stores, ruta, bits=None)
    page = page_of(client.get(f"/bench/{rig_id}"))
    assert page.select('[id^="finding-thick-unknown"]')
    asked = page.select_one(f"#settle-{part_id}-bits")
    assert asked.label.get_text(strip=True).startswith("The bits of ")
    link = asked.select_one(".settle-for a")
    form = page_of(client.get(str(link["href"])))
    assert str(link["href"]).startswith(f"/shelf/{part_id}")
    assert form.select_one("#field-bits, [name=bits]") is not None
