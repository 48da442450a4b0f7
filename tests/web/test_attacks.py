"""Nothing that a client sends holds the others: no body is waited for with a unit of work open."""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event, Lock
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from httpx import ASGITransport, AsyncClient

from server.app import create_app, create_share_app
from server.domain.missing import wants
from server.domain.rig import Rig
from server.domain.stars.wishes import StarWishes
from server.flow.draw_stars import StarView
from server.flow.protocols import Store, Stores
from server.rim.entry_file import read_entry_file
from server.settings import Settings
from server.store import open_stores
from tests.loop import run_to_its_end
from tests.web.conftest import ADDRESS

AT_ONCE_S = 1.0
"""Common sense, no source: how soon an attack is answered."""


class Watched:
    """A database that counts how many units of work are open, and how many ever were."""

    def __init__(self, stores: Stores) -> None:
        self.stores = stores
        self.open = self.opened = 0

    @contextmanager
    def _counted(self, unit: Any) -> Iterator[Store]:
        self.open += 1
        self.opened += 1
        try:
            with unit as store:
                yield store
        finally:
            self.open -= 1

    def reading(self) -> Any:
        return self._counted(self.stores.reading())

    def writing(self) -> Any:
        return self._counted(self.stores.writing())

    def close(self) -> None:
        self.stores.close()


@pytest.fixture
def watched(stores: Stores) -> Watched:
    return Watched(stores)


@pytest.fixture
def app(settings: Settings, watched: Watched) -> FastAPI:
    return create_app(settings, watched)


def every_route(app: FastAPI) -> set[tuple[str, str]]:
    """Method and address of every route of ours, with 1 for each number or name in it."""
    return {
        (method, re.sub(r"\{[^}]*\}", "1", context.path or ""))
        for context in iter_route_contexts(app.routes)
        for method in getattr(context, "methods", None) or ()
    }


async def held_back(app: FastAPI, watched: Watched, method: str, path: str, kind: str, host: str) -> int:
    """How many units are open while half of the body is there, and no more of it comes."""
    waiting = asyncio.Event()
    halves = [{"type": "http.request", "body": b"version=1&name=", "more_body": True}]
    before = watched.opened

    async def receive() -> dict[str, Any]:
        if halves:
            return halves.pop()
        waiting.set()
        await asyncio.Event().wait()
        raise AssertionError

    async def send(message: object) -> None:
        waiting.set()

    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "root_path": "",
        "server": ("127.0.0.1", 8321),
        "client": ("127.0.0.1", 1),
        "state": {},
        "headers": [
            (b"host", host.encode()),
            (b"cookie", b"observer=1"),
            (b"content-type", kind.encode()),
            (b"content-length", b"100000"),
        ],
    }
    task = asyncio.create_task(app(scope, receive, send))
    await asyncio.wait_for(waiting.wait(), 10)
    # A route that opened its unit first, in a thread, has had it open before it asked for the body.
    opened = watched.opened - before
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    return opened


FORM, JSON = "application/x-www-form-urlencoded", "application/json"


def test_no_unit_of_work_is_open_while_a_body_is_being_read_at_any_route(
    ann: TestClient, app: FastAPI, watched: Watched, settings: Settings
):
    shares = create_share_app(settings.model_copy(update={"lan_address": "192.0.2.7"}), watched)
    ours, theirs = every_route(app), every_route(shares)
    assert {
        ("POST", "/bench/1/load"),
        ("POST", "/shelf/import"),
        ("DELETE", "/api/observers/1/rigs/1"),
    } < ours
    assert ("GET", "/s/1") in theirs

    async def walk() -> list[str]:
        return [
            f"{method} {path}"
            for one, routes, host in ((app, ours, "127.0.0.1"), (shares, theirs, "192.0.2.7:8322"))
            for method, path in sorted(routes)
            for kind in (FORM, JSON)
            if await held_back(one, watched, method, path, kind, host)
        ]

    assert not run_to_its_end(walk())


def test_a_file_that_is_no_entry_is_refused_at_once_and_read_with_no_unit_of_work_open(
    ann: TestClient, monkeypatch: pytest.MonkeyPatch, watched: Watched
):
    seen: list[int] = []

    def read(data: bytes) -> Any:
        seen.append(watched.open)
        return read_entry_file(data)

    monkeypatch.setattr("server.web.logbook.routes.read_entry_file", read)
    begun = time.monotonic()
    answer = ann.post("/logbook/take-in", files={"file": ("x.html", b"<a " * 100_000)})
    assert time.monotonic() - begun < AT_ONCE_S
    assert answer.status_code == 422
    assert seen == [0]


CROWD = 12
"""More than the units that light pages may have open at once."""


@pytest.mark.parametrize("door", ["", "/api/observers/1"])
def test_answers_that_are_worked_out_for_long_are_bounded_and_a_light_page_is_not_behind_them(
    ann: TestClient, app: FastAPI, monkeypatch: pytest.MonkeyPatch, door: str
):
    ann.post("/bench", data={"name": "Garden"})
    go_on, lock, at_work, most = Event(), Lock(), 0, 0

    def draw(rig: Rig, wishes: StarWishes) -> StarView:
        nonlocal at_work, most
        with lock:
            at_work += 1
            most = max(most, at_work)
        go_on.wait(10)
        with lock:
            at_work -= 1
        return StarView(rig, wishes, (wants("tube_in_train"),))

    for module in ("server.web.stars.routes", "server.api.stars"):
        monkeypatch.setattr(f"{module}.draw_stars", draw)
    stars = f"{door}/rigs/1/stars" if door else "/bench/1/stars"

    async def ask() -> list[int]:
        transport = ASGITransport(app)
        async with AsyncClient(transport=transport, base_url=ADDRESS, cookies={"observer": "1"}) as client:
            heavy = [asyncio.create_task(client.get(stars)) for _ in range(CROWD)]
            while not at_work:
                await asyncio.sleep(0.01)
            begun = time.monotonic()
            light = await asyncio.wait_for(client.get(f"{door}/rigs" if door else "/bench"), 5)
            assert light.status_code == 200
            assert time.monotonic() - begun < AT_ONCE_S
            go_on.set()
            return [answer.status_code for answer in await asyncio.gather(*heavy)]

    assert run_to_its_end(ask()) == [200] * CROWD
    assert most == 1


@pytest.mark.parametrize(
    "address", ["/", "/shelf", "/bench/1", "/about", "/nowhere", "/static/css/base.css", "/api/kinds"]
)
def test_head_answers_like_get_without_the_body(ann: TestClient, address: str):
    ann.post("/bench", data={"name": "Garden"})
    got, head = ann.get(address), ann.head(address)
    assert head.content == b""
    assert head.status_code == got.status_code
    told = ("content-type", "content-length", "cache-control", "etag", "content-security-policy")
    assert {name: head.headers.get(name) for name in told} == {name: got.headers.get(name) for name in told}


def test_a_rig_that_was_changed_in_another_tab_is_not_removed_by_an_older_one(ann: TestClient):
    ann.post("/bench", data={"name": "Garden"})
    ann.post("/bench/1/name", data={"version": 1, "name": "Roof"})
    stale = ann.post("/bench/1/remove", data={"version": 1})
    assert stale.status_code == 409
    assert "was changed elsewhere since this page was made" in stale.text
    assert ann.get("/bench/1").status_code == 200
    ann.post("/bench/1/remove", data={"version": 2})
    assert ann.get("/bench/1").status_code == 404


@pytest.mark.file_alone(reason="a file whose folder is gone; account/test_watch.py cuts off PostgreSQL")
def test_trouble_with_the_disk_is_said_on_the_page_and_to_programs(
    ann: TestClient, watched: Watched, tmp_path: Path
):
    watched.stores = open_stores(tmp_path / "gone" / "trainwright.sqlite3")
    page, program = ann.get("/shelf"), ann.get("/api/observers")
    assert page.status_code == program.status_code == 503
    assert "cannot be written" in page.text
    assert program.json()["error"]["code"] == "disk_trouble"
    watched.stores.close()
