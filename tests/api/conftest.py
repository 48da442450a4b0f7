"""The whole app on a real database in a temporary file, asked as a program would ask it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from server.app import create_app
from server.settings import Settings
from server.store import Stores, open_stores
from tests.places import Place

ADDRESS = "http://127.0.0.1:8321"

Json = dict[str, Any]


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(data=tmp_path)


@pytest.fixture
def stores(place: Place) -> Iterator[Stores]:
    opened = open_stores(place)
    yield opened
    opened.close()


@pytest.fixture
def client(settings: Settings, stores: Stores) -> Iterator[TestClient]:
    with TestClient(create_app(settings, stores), base_url=ADDRESS) as client:
        yield client


def good(answer: Any, status: int = 200) -> Any:
    """What a request that was carried out answers."""
    assert answer.status_code == status, answer.text
    return answer.json() if answer.content else None


def trouble(answer: Any, status: int) -> Json:
    """What a request that was refused answers: the one shape, whatever went wrong."""
    assert answer.status_code == status, answer.text
    body = answer.json()
    assert list(body) == ["error"]
    error: Json = body["error"]
    assert {"code", "message"} <= error.keys() <= {
        "code", "message", "fields", "current_version", "rigs", "number",
    }  # fmt: skip
    assert error["message"].endswith((".", "?"))
    return error


class Api:
    """The API as one observer uses it."""

    def __init__(self, client: TestClient, name: str, number: int | None = None) -> None:
        """A new observer of this name, or the one of this number."""
        self.client = client
        if number is None:
            number = good(client.post("/api/observers", json={"name": name}), 201)["id"]
        self.id: int = number
        self.base = f"/api/observers/{self.id}"

    def get(self, path: str, **query: Any) -> Any:
        return self.client.get(self.base + path, params=query)

    def post(self, path: str, body: object = None) -> Any:
        return self.client.post(self.base + path, json=body)

    def put(self, path: str, body: object) -> Any:
        return self.client.put(self.base + path, json=body)

    def delete(self, path: str) -> Any:
        return self.client.delete(self.base + path)

    def part(self, kind: str, model: str, **fields: object) -> int:
        part = {"kind": kind, "maker": "Halden", "model": model, **fields}
        number: int = good(self.post("/parts", {"part": part, "holding": {"owned": 1}}), 201)["id"]
        return number

    def rig(self, name: str = "Garden") -> Json:
        rig: Json = good(self.post("/rigs", {"name": name}), 201)
        return rig

    def change(self, rig: Json, **change: object) -> Json:
        answer = self.post(f"/rigs/{rig['id']}/changes", {"version": rig["version"], "change": change})
        changed: Json = good(answer)
        return changed

    def built(self, name: str = "Garden") -> Json:
        """A rig of tube, ring and camera that mate."""
        rig = self.rig(name)
        for number in (self.tube(), self.ring(), self.camera()):
            rig = self.change(rig, verb="add", part_id=number)
        return rig

    def tube(self, **fields: object) -> int:
        figures: Json = {"aperture_mm": measure(80), "focal_length_mm": measure(480)}
        return self.part(
            "optical_tube",
            "Nordlicht 80",
            design="apochromat",
            camera_side=thread(54, "female"),
            **figures | fields,
        )

    def ring(self, model: str = "Ring 10", length_mm: float = 10.0) -> int:
        return self.part(
            "spacer_ring",
            model,
            length_mm=measure(length_mm),
            sky_side=thread(54, "male"),
            camera_side=thread(42, "male"),
        )

    def camera(self) -> int:
        sensor: Json = {"width_px": 6000, "height_px": 4000, "pixel_um": measure(3.8)}
        return self.part(
            "camera", "Auge 26", sky_side=thread(42, "female"), flange_mm=measure(17.5), **sensor
        )


@pytest.fixture
def ana(client: TestClient) -> Api:
    return Api(client, "Ana")


@pytest.fixture
def ben(client: TestClient, ana: Api) -> Api:
    return Api(client, "Ben")


def measure(nominal: float, **more: object) -> Json:
    return {"nominal": nominal, **more}


def thread(diameter_mm: float, gender: str) -> Json:
    return {"type": "metric_thread", "diameter_mm": diameter_mm, "pitch_mm": 0.75, "gender": gender}
