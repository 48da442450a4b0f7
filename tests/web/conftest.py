"""The whole app over a real database of its own, for the tests of pages."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from server.app import create_app
from server.settings import Settings
from server.store import Stores, open_stores
from server.web.bridge import kit_routes, routes
from tests.places import Place

ADDRESS = "http://127.0.0.1:8321"


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(data=tmp_path)


@pytest.fixture
def stores(place: Place) -> Iterator[Stores]:
    """Over an empty database; a folder or module that wants the demo club's has a `place` of its own."""
    opened = open_stores(place)
    yield opened
    opened.close()


@pytest.fixture
def app(settings: Settings, stores: Stores) -> FastAPI:
    return create_app(settings, stores)


@pytest.fixture
def client(app: FastAPI) -> TestClient:
    return TestClient(app, base_url=ADDRESS)


@pytest.fixture
def ann(client: TestClient) -> TestClient:
    """A browser in which Ann has been taken in and chosen; she reads metric units."""
    client.post("/observers", data={"name": "Ann", "units": "metric"})
    return client


@pytest.fixture(autouse=True)
def _no_hurry(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Lets a page wait for its search's end: on a busy machine half a second may be too short for one that
    takes a tenth. What is shown meanwhile has tests of its own, whose search waits to be told (`slow`).
    """
    if "slow" not in request.fixturenames:
        for module in (routes, kit_routes):
            monkeypatch.setattr(module, "QUICK_S", 20.0)
