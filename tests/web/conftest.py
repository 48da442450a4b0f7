"""The whole app over a real database of its own, for the tests of pages."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from server.app import create_app
from server.paths import SEED_DATA
from server.rim.demo_club import load_demo_club
from server.settings import Settings
from server.store import Stores, open_stores, prepare_database
from server.web.bridge import kit_routes, routes
from tests.conftest import place_of
from tests.postgres import new_database

ADDRESS = "http://127.0.0.1:8321"


@pytest.fixture(scope="session")
def empty_database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database as the migrations make it; copied for each test, which is quicker than migrating anew."""
    path = tmp_path_factory.mktemp("empty") / "trainwright.sqlite3"
    prepare_database(path)
    return path


@pytest.fixture(scope="session")
def club_database(tmp_path_factory: pytest.TempPathFactory, empty_database: Path) -> Path:
    """A database with the demo club in it; a module asks for it by a `settings` fixture of its own."""
    path = Path(shutil.copy(empty_database, tmp_path_factory.mktemp("club")))
    _load(path)
    return path


@pytest.fixture(scope="session")
def club_on_postgres(postgres: str) -> str:
    """The name of a PostgreSQL database with the demo club in it, to be copied."""
    address = new_database(postgres, "club")
    prepare_database(address)
    _load(address)
    return "club"


def _load(where: Path | str) -> None:
    opened = open_stores(where)
    with opened.writing() as store:
        load_demo_club(store, SEED_DATA)
    opened.close()


@pytest.fixture
def settings(tmp_path: Path, empty_database: Path) -> Settings:
    made = Settings(data=tmp_path)
    shutil.copyfile(empty_database, made.database)
    return made


@pytest.fixture
def stores(request: pytest.FixtureRequest, settings: Settings) -> Iterator[Stores]:
    where = place_of(request, settings.database)
    if isinstance(where, str) and "club_database" in request.fixturenames:
        club = request.getfixturevalue("club_on_postgres")
        where = new_database(request.getfixturevalue("postgres"), "club_of_a_test", template=club)
    opened = open_stores(where)
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
