"""What a start must not wait for: libraries that only some answers need."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

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
