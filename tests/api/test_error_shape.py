"""Whatever is refused, and by whom: one shape.

{"error": {
    "code":             a stable word for programs            always
    "message":          a sentence for people                 always
    "fields":           {path: sentence}                      what could not be taken, field by field
    "current_version":  number                                a rig was changed meanwhile
    "rigs":             [name]                                rigs still hold the part
    "number":           text                                  where the log tells of our own fault
}}
"""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from server.app import create_app
from server.flow.protocols import Stores
from server.settings import Settings
from tests.api.conftest import ADDRESS, Api, trouble

ANY = {"kind": "shim", "model": "Shim"}


def test_an_address_that_is_not_there(client: TestClient):
    assert trouble(client.get("/api/nowhere"), 404)["code"] == "not_found"


def test_a_number_that_is_no_number_leads_nowhere(client: TestClient):
    assert trouble(client.get("/api/observers/ana"), 404)["code"] == "not_found"


@pytest.mark.parametrize("number", ["0", "-1", "9007199254740992", "9" * 30, "9" * 5000])
def test_a_number_that_no_thing_can_have_leads_nowhere(client: TestClient, ana: Api, number: str):
    trouble(client.get(f"/api/observers/{number}"), 404)
    trouble(ana.get(f"/parts/{number}"), 404)


def test_a_thing_that_is_not_there_is_named(ana: Api):
    error = trouble(ana.get("/parts/77"), 404)
    assert error["code"] == "not_found"
    assert "77" in error["message"]


def test_a_method_that_the_address_does_not_take(client: TestClient):
    answer = client.patch("/api/observers")
    assert trouble(answer, 405)["code"] == "method_not_allowed"
    assert answer.headers["allow"]


def test_a_field_that_the_schema_refuses_is_named_by_its_path(client: TestClient):
    error = trouble(client.post("/api/observers", json={"name": 5, "units": "furlongs"}), 422)
    assert error["code"] == "not_understood"
    assert error["fields"].keys() == {"name", "units"}


def test_a_field_that_a_rule_refuses_is_named_by_its_path(client: TestClient, ana: Api):
    error = trouble(client.post("/api/observers", json={"name": "ANA"}), 422)
    assert error["code"] == "field_errors"
    assert "here already" in error["fields"]["name"]


def test_a_field_deep_in_a_part_is_named_by_its_path(ana: Api):
    part = {**ANY, "mass_kg": {"nominal": "2"}, "length_mm": {"nominal": 0.5, "plus": -1}}
    error = trouble(ana.post("/parts", {"part": part}), 422)
    assert error["fields"] == {
        "mass_kg.nominal": "“2” is not a number, such as 12.5.",
        "length_mm.plus": "A tolerance is written without its sign: 0.2, not -0.2.",
    }


def test_a_stale_version_names_the_present_one(ana: Api):
    rig = ana.rig()
    ana.put(f"/rigs/{rig['id']}/name", {"version": 1, "name": "Balcony"})
    error = trouble(ana.put(f"/rigs/{rig['id']}/name", {"version": 1, "name": "Roof"}), 409)
    assert error["code"] == "stale_version"
    assert error["current_version"] == 2


def test_a_part_in_use_names_the_rigs_that_hold_it(ana: Api):
    rig = ana.built("Garden")
    error = trouble(ana.delete(f"/parts/{rig['train'][1]['part']['id']}"), 409)
    assert error["code"] == "part_in_use"
    assert error["rigs"] == ["Garden"]


def test_another_observers_part_is_not_to_be_changed(ana: Api, ben: Api):
    number = ana.part("shim", "Shim")
    error = trouble(ben.put(f"/parts/{number}", {"revision": 1, "part": ANY}), 403)
    assert error["code"] == "not_yours"
    assert "Ana" in error["message"]


@pytest.mark.parametrize(
    "text",
    [
        b"{",
        b"",
        b"nothing",
        b'{"name": "Eve"',
        b'{"name": NaN}',
        b"\xff\xfe\x00",
        b"[" * 100_000,
        b'{"name": ' + b"9" * 5000 + b"}",
        b'{"name": "\\ud800"}',
        b'["Eve"]',
        b"null",
    ],
)
def test_a_body_that_is_no_json_or_not_the_one_asked_for(client: TestClient, text: bytes):
    answer = client.post("/api/observers", content=text, headers={"Content-Type": "application/json"})
    assert answer.status_code in (400, 422)
    trouble(answer, answer.status_code)
    assert client.get("/api/observers").json() == []


def test_a_body_of_another_type_is_not_read_as_json(client: TestClient):
    answer = client.post("/api/observers", content=b'{"name": "Eve"}', headers={"Content-Type": "text/plain"})
    trouble(answer, 422)


def test_a_body_that_is_too_long(client: TestClient, ana: Api):
    answer = client.post(
        f"{ana.base}/take-in", content=b" " * 2_200_000, headers={"Content-Type": "application/json"}
    )
    assert "2 MB" in trouble(answer, 413)["message"]


def test_a_change_that_another_sites_page_asks_for(client: TestClient):
    answer = client.post("/api/observers", json={"name": "Eve"}, headers={"Sec-Fetch-Site": "cross-site"})
    assert "another site" in trouble(answer, 403)["message"]


class Broken:
    """A store that fails as no code foresees."""

    def writing(self) -> Any:
        raise OSError("the disk is gone")

    def reading(self) -> Any:
        raise OSError("the disk is gone")

    def close(self) -> None:
        pass


def test_a_fault_of_our_own_tells_no_secret_and_a_number_to_find_it_by(settings: Settings):
    broken: Stores = Broken()
    with TestClient(create_app(settings, broken), base_url=ADDRESS) as client:
        error = trouble(client.get("/api/observers"), 500)
    assert error["code"] == "unexpected"
    assert error["number"] in error["message"]
    assert "disk" not in str(error)
