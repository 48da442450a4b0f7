"""Many requests at once, over a real server: each is answered, and soon.

A unit of work is opened in one of the framework's threads and used in another. If as many requests as there
are threads waited for the write lock, the one that holds it could get no thread to go on in.
"""

from __future__ import annotations

import sqlite3
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import httpx
import pytest

from tests.running import OPEN_AT, THE_SERVER, Running

pytestmark = pytest.mark.file_alone(reason="the local form's file; tests/load.py has PostgreSQL's crowd")

CROWD = 60
"""More than the 40 threads that work at once (AnyIO documentation, "Working with threads")."""
MANY_READERS = 120
SOON_S = 30.0
"""Common sense, no source: stuck threads come loose after 5 s for each write, or after 30 s for all reads."""


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    with Running("serve", "--data", str(tmp_path), "--port", "0", program=THE_SERVER) as running:
        yield running.wait_for(OPEN_AT)[1]


def answers_of(requests: list[httpx.Request]) -> Counter[int]:
    """Sends all of them at the same time; how often each status came back."""
    with httpx.Client(timeout=SOON_S, limits=httpx.Limits(max_connections=None)) as client:
        client.get(requests[0].url.join("/about"))
        with ThreadPoolExecutor(len(requests)) as crowd:
            return Counter(answer.status_code for answer in crowd.map(client.send, requests))


def a_rig(address: str) -> str:
    ann = httpx.post(f"{address}/api/observers", json={"name": "Ann"}).json()
    rigs = f"{address}/api/observers/{ann['id']}/rigs"
    return f"{rigs}/{httpx.post(rigs, json={'name': 'Garden'}).json()['id']}"


def test_of_many_changes_on_one_version_one_is_kept_and_the_others_are_told(address: str):
    rig = a_rig(address)
    version = httpx.get(rig).json()["version"]
    rename = [
        httpx.Request("PUT", f"{rig}/name", json={"version": version, "name": f"Garden {number}"})
        for number in range(CROWD)
    ]
    begun = time.monotonic()
    assert answers_of(rename) == {200: 1, 409: CROWD - 1}
    assert time.monotonic() - begun < SOON_S


def test_many_writers_by_pages_and_api_among_many_readers_are_all_answered(address: str, tmp_path: Path):
    rig = a_rig(address)
    cookie = {"cookie": f"observer={rig.split('/')[-3]}", "origin": address}
    requests = [
        httpx.Request("POST", f"{address}/bench", data={"name": f"Page {n}"}, headers=cookie)
        for n in range(CROWD)
    ]
    requests += [
        httpx.Request("POST", rig.rpartition("/")[0], json={"name": f"Api {n}"}) for n in range(CROWD)
    ]
    requests += [httpx.Request("GET", f"{address}/shelf", headers=cookie) for _ in range(MANY_READERS)]
    begun = time.monotonic()
    assert answers_of(requests) == {303: CROWD, 201: CROWD, 200: MANY_READERS}
    assert time.monotonic() - begun < SOON_S
    with closing(sqlite3.connect(tmp_path / "trainwright.sqlite3")) as database:
        assert database.execute("SELECT count(*) FROM rig").fetchone() == (1 + 2 * CROWD,)
