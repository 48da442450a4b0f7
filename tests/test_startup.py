"""What a start must not wait for: libraries that only some answers need."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from server import app as wiring
from server.app import create_app
from server.settings import Settings
from server.store import prepare_database
from tests.running import ROOT

LATER = {"alembic", "matplotlib", "numpy", "pandas", "PIL", "pint", "scipy", "segno"}
"""Each takes a tenth of a second or more to load, and no first page needs any."""

FIRST_PAGE = """
import json, sys
from pathlib import Path
from fastapi.testclient import TestClient
from server.app import create_app
from server.cli import serve, serving
from server.settings import Settings
from server.store import prepare_database

settings = Settings(data=Path(sys.argv[1]))
prepare_database(settings.database)
answer = TestClient(create_app(settings), base_url=settings.address).get("/")
print(json.dumps([answer.status_code, sorted({name.partition(".")[0] for name in sys.modules})]))
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    prepare_database(Settings(data=tmp_path).database)
    return tmp_path


def test_the_first_page_of_an_existing_database_loads_none_of_the_heavy_libraries(folder: Path):
    run = subprocess.run(
        [sys.executable, "-c", FIRST_PAGE, str(folder)], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    status, loaded = json.loads(run.stdout)
    assert status == 200
    assert {"fastapi", "sqlalchemy", "jinja2"} <= set(loaded), "the app itself was not loaded"
    assert not LATER & set(loaded)


FIRST_DOOR = """
import sys
from pathlib import Path
from server.app import create_app
from server.settings import Settings

create_app(Settings(data=Path(sys.argv[1])), at_once=False)
print(*sorted(name for name in sys.modules if name.startswith(("server.api", "server.doors", "server.web."))))
"""


def test_the_first_page_waits_for_no_other_door(folder: Path):
    run = subprocess.run(
        [sys.executable, "-c", FIRST_DOOR, str(folder)], cwd=ROOT, capture_output=True, text=True, check=True
    )
    loaded = run.stdout.split()
    assert "server.web.welcome.first" in loaded
    assert not {"server.doors", "server.api.door", "server.web.shelf"} & set(loaded)


@pytest.mark.parametrize(
    "path", ["/shelf", "/about", "/nowhere", "/api/openapi.json", "/api/observers", "/sky", "/bench/1/frames"]
)
def test_a_door_that_is_asked_for_first_answers_as_if_all_had_been_open(folder: Path, path: str):
    settings = Settings(data=folder)
    answers = []
    for at_once in (True, False):
        with TestClient(create_app(settings, at_once=at_once), base_url=settings.address) as client:
            answer = client.get(path, follow_redirects=False)
            answers.append((answer.status_code, answer.headers.get("Location"), answer.text))
    assert answers[0] == answers[1]


def paths_of(app: FastAPI) -> set[str]:
    return {str(vars(route)["path"]) for route in app.routes}


LATER_PATHS = ("/api/", "/sky", "/scout", "/frames", "/bench/{rig_id}/frames")
"""Below these is what is loaded when it is asked for, but for the document of the API, which is a file."""


def test_the_pages_open_once_the_first_page_is_out_and_the_sky_and_operations_when_they_are_asked_for(
    folder: Path,
):
    settings = Settings(data=folder)
    app = create_app(settings, at_once=False)
    few = len(app.routes)
    with TestClient(app, base_url=settings.address) as client:
        assert client.get("/").status_code == 200
        for _ in range(200):
            if len(app.routes) > few:
                break
            time.sleep(0.05)
        whole = paths_of(create_app(settings))
        later = {one for one in whole if one.startswith(LATER_PATHS)} - {"/api/openapi.json"}
        assert paths_of(app) == whole - later
        assert client.get("/api/observers").status_code == 200
        assert client.get("/scout", follow_redirects=False).status_code == 303
        assert paths_of(app) == whole


@pytest.mark.parametrize("load", [wiring._pages, wiring._sky_pages, wiring._operations])
def test_each_address_is_behind_the_door_that_has_it(load: wiring.Load):
    behind = FastAPI(openapi_url=None)
    load()(behind)
    assert len(behind.routes) > 10
    assert {wiring._behind(path) for path in paths_of(behind)} == {load}


COLLECTED = """
import gc, sys
from pathlib import Path
from server.cli import serve, serving
from server.settings import Settings

serving.serve_apps = lambda listeners, on_ready: print(len(listeners), gc.isenabled())
lan = {"lan_address": "127.0.0.1", "lan_port": 0} if sys.argv[2:] else {}
serve._serve(Settings(data=Path(sys.argv[1]), port=0, browser=False, lan=bool(lan), **lan))
"""


@pytest.mark.parametrize(("asked", "printed"), [((), "1 False"), (("lan",), "2 True")])
def test_garbage_waits_for_the_doors_but_not_where_guests_may_come_who_open_none(
    folder: Path, asked: tuple[str, ...], printed: str
):
    run = subprocess.run(
        [sys.executable, "-c", COLLECTED, str(folder), *asked],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.split("\n")[-2] == printed


ONE_PRODUCT = """
import psutil
import server
import numpy
numpy.ones((800, 800)) @ numpy.ones((800, 800))
print(psutil.Process().num_threads())
"""


def test_the_linear_algebra_works_in_one_thread():
    environment = {name: value for name, value in os.environ.items() if not name.endswith("_THREADS")}
    run = subprocess.run(
        [sys.executable, "-c", ONE_PRODUCT],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    assert run.stdout.strip() == "1"
