"""A search that one process runs is told of, and stopped, by any other."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup

from server.flow import bridge_offers, search_board
from server.flow.search_board import SearchBoard
from server.flow.search_notes import Noted
from server.hosted import create_hosted_app, open_hosted
from server.search.problem import Outcome
from server.settings import HostedSettings
from server.store.accounts import HostedStores
from server.web.bridge import jobs
from tests.places import Place
from tests.web.hosted import ADDRESS, PASSWORD, Browser, kept


class Slow:
    """A search that has found one stack, and goes on until it is let go or stopped."""

    def __init__(self) -> None:
        self.let_go, self.begun, self.stopped = threading.Event(), 0, threading.Event()

    def __call__(self, posed: Any, progress: Any) -> Outcome:
        self.begun += 1
        whole = bridge_offers.search_stacks(posed)
        part = Outcome(whole.best[:1], proven=False, exhausted=False)
        while progress(part):
            if self.let_go.wait(0.02):
                return whole
        self.stopped.set()
        return part


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Iterator[Slow]:
    made = Slow()
    monkeypatch.setattr("server.web.bridge.jobs.search_stacks", made)
    monkeypatch.setattr("server.web.bridge.jobs.NOTED_S", 0.05)
    yield made
    made.let_go.set()


@dataclass
class Two:
    """One member's browser at each of two processes, and where the Bridge of a rig of theirs is."""

    here: Browser
    there: Browser
    path: str
    board: SearchBoard
    searches: jobs.Searches


@pytest.fixture
def two(place: Place, tmp_path: Path) -> Iterator[Two]:
    settings = HostedSettings(data=tmp_path, place=str(place), public=ADDRESS, port=8330)
    stores: list[HostedStores] = [open_hosted(settings.place) for _ in range(2)]
    apps = [create_hosted_app(settings, one) for one in stores]
    with stores[0].writing() as store:
        number, rig = next(
            (one.id, line.id)
            for one in store.observers()
            for line in store.rigs(one.id)
            if line.name == "Fast Newtonian"
        )
        store.add_account(number, "Someone", "member", kept(PASSWORD), datetime.now(UTC))
    here, there = (
        Browser(app, apps[0].state.club.begun(number, "signed in", "a test"), number) for app in apps
    )
    yield Two(
        here,
        there,
        f"/bench/{rig}/bridge",
        SearchBoard(stores[0], lambda: datetime.now(UTC)),
        apps[0].state.searches,
    )
    for app, one in zip(apps, stores, strict=True):
        app.state.searches.stop_all()
        for search in app.state.searches._known.values():
            assert search._ended.wait(10)
        one.close()


def words_at(browser: Browser, path: str) -> str:
    return BeautifulSoup(browser.get(path).text, "html.parser").get_text(" ", strip=True)


def waited_for(words: str, browser: Browser, path: str) -> str:
    until = time.monotonic() + 10
    while words not in (shown := words_at(browser, path)):
        assert time.monotonic() < until, shown
        time.sleep(0.05)
    return shown


def test_another_process_shows_what_was_found_and_how_it_ended(two: Two, slow: Slow):
    assert "Still searching" in words_at(two.here, two.path)
    assert "a better one may come" in words_at(two.there, two.path)
    slow.let_go.set()
    assert "Still searching" not in waited_for("Proven:", two.there, two.path)
    assert slow.begun == 1


def test_another_process_stops_it(two: Two, slow: Slow):
    words_at(two.here, two.path)
    stopped = two.there.post(f"{two.path}/stop")
    assert stopped.status_code == 303
    assert slow.stopped.wait(10)
    assert "Stopped before it was proven" in waited_for("Search on", two.here, two.path)
    assert slow.begun == 1


def test_what_a_process_left_behind_is_searched_anew(two: Two, slow: Slow, monkeypatch: pytest.MonkeyPatch):
    words_at(two.here, two.path)
    monkeypatch.setattr(search_board, "SILENT_S", -1.0)
    assert "Still searching" in words_at(two.there, two.path)
    assert slow.begun == 2


def test_one_that_nobody_looks_at_ends_and_so_does_one_that_waits_for_its_turn(
    two: Two, slow: Slow, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(jobs, "_turns", threading.BoundedSemaphore(1))
    words_at(two.here, two.path)
    (first,) = two.searches._known.values()
    assert isinstance(first, jobs.Search)
    # The second waits for a turn that the first has.
    second = jobs.Search(first.posed)
    second._seen -= jobs.UNSEEN_S + 1.0
    second.run()
    assert (second.stopped, second.ended, second.before) == (True, True, None)
    monkeypatch.setattr(jobs, "UNSEEN_S", 0.1)
    assert slow.stopped.wait(10)
    assert slow.begun == 1


def test_a_note_that_fails_leaves_the_search_to_its_end(
    two: Two, slow: Slow, monkeypatch: pytest.MonkeyPatch
):
    def fail(*_: object) -> None:
        raise ValueError("no room")

    monkeypatch.setattr(SearchBoard, "note", fail)
    slow.let_go.set()
    assert "Proven:" in waited_for("Proven:", two.here, two.path)


def test_what_has_ended_is_forgotten_and_what_goes_on_is_nobodys_to_stop(
    two: Two, slow: Slow, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(jobs, "KEPT", 1)
    words_at(two.here, two.path)
    (running,) = two.searches._known.values()
    assert isinstance(running, jobs.Search)
    for who in range(1000, 1004):
        other = two.searches.of("another", running.posed, who)
        assert not running.stopped
    slow.let_go.set()
    assert all(one.wait(20) for one in [*two.searches._known.values(), other])
    two.searches.of("one more", running.posed, 1004).wait(20)
    two.searches.of("the last", running.posed, 1005).wait(20)
    assert len(two.searches._known) <= 2


def test_where_the_app_closes_a_search_is_not_noted_as_ended(two: Two, slow: Slow):
    words_at(two.here, two.path)
    two.searches.stop_all()
    (search,) = two.searches._known.values()
    assert search.ended
    assert search.noting is not None
    noted = two.board.read(two.here.observer_id, search.noting.key)
    assert noted is not None
    assert not noted.ended


def test_nobody_is_told_of_anothers(two: Two):
    at, other = two.here.observer_id, two.here.observer_id + 1
    noted = Noted("[]", 1.0, ended=False, stopped=False)
    assert two.board.note(at, "key", noted) is None
    assert two.board.read(other, "key") is None
    two.board.stop(at, "key")
    known = two.board.note(at, "key", noted)
    assert known is not None
    assert known.stopped
