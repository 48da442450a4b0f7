"""Backing up and restoring the real database while the app's own sessions and search index have it open."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from server.domain.observer import Observer
from server.flow.protocols import PartQuery
from server.store import Stores, open_stores, prepare_database
from server.store.backup import APPLICATION_ID, back_up, check_is_ours, restore
from tests.cli import tiny_server
from tests.store.conftest import ring, ticking_clock

pytestmark = pytest.mark.file_alone(reason="copies of a file; those of PostgreSQL are in test_dumps.py")

PATIENCE_S = 60.0
NOW = datetime(2026, 3, 20, 22, 15, 0, tzinfo=UTC)


@pytest.fixture
def stores(database: Path) -> Iterator[Stores]:
    """A file: PostgreSQL has copies of its own kind."""
    opened = open_stores(database, ticking_clock())
    yield opened
    opened.close()


def models_found(stores: Stores, observer: Observer, text: str) -> list[str]:
    with stores.reading() as store:
        return [line.item.part.model for line in store.find_parts(PartQuery(observer.id, text)).lines]


def test_the_migrations_make_a_database_that_is_known_as_ours(database: Path):
    check_is_ours(database)
    assert tiny_server.APPLICATION_ID == APPLICATION_ID


def test_open_sessions_and_the_search_see_what_was_restored(
    stores: Stores, database: Path, observer: Observer, tmp_path: Path
):
    with stores.writing() as store:
        store.add_part(ring("Heron 10"), observer.id)
    back_up(database, tmp_path / "saved.sqlite3")
    with stores.writing() as store:
        store.add_part(ring("Plover 20"), observer.id)
    assert models_found(stores, observer, "plover") == ["Plover 20"]

    restore(tmp_path / "saved.sqlite3", database, bring_up_to_date=prepare_database, now=NOW)

    assert models_found(stores, observer, "plover") == []
    assert models_found(stores, observer, "heron") == ["Heron 10"]
    with stores.writing() as store:
        store.add_part(ring("Dunlin 5"), observer.id)
    assert models_found(stores, observer, "dunlin") == ["Dunlin 5"]


def test_what_was_there_before_a_restore_opens_as_it_was(
    stores: Stores, database: Path, observer: Observer, tmp_path: Path
):
    back_up(database, tmp_path / "saved.sqlite3")
    with stores.writing() as store:
        store.add_part(ring("Plover 20"), observer.id)
    done = restore(tmp_path / "saved.sqlite3", database, bring_up_to_date=prepare_database, now=NOW)
    assert done.set_aside is not None
    kept = open_stores(done.set_aside)
    assert models_found(kept, observer, "plover") == ["Plover 20"]
    kept.close()


def test_changes_go_on_while_backups_and_a_restore_are_made(
    stores: Stores, database: Path, observer: Observer, tmp_path: Path
):
    failures: list[Exception] = []
    stop = threading.Event()
    wrote = threading.Semaphore(0)

    def work() -> None:
        number = 0
        while not stop.wait(0.002):
            number += 1
            try:
                with stores.writing() as store:
                    store.add_part(ring(f"Knot {number}"), observer.id)
                wrote.release()
            except Exception as error:  # noqa: BLE001 - any failure is what this test looks for
                failures.append(error)
                return

    worker = threading.Thread(target=work)
    worker.start()
    try:
        for number in range(3):
            assert wrote.acquire(timeout=PATIENCE_S)
            back_up(database, tmp_path / f"{number}.sqlite3")
        restore(tmp_path / "2.sqlite3", database, bring_up_to_date=prepare_database, now=NOW)
        assert wrote.acquire(timeout=PATIENCE_S)
    finally:
        stop.set()
        worker.join()
    assert failures == []
    assert models_found(stores, observer, "knot")
    for file in (database, *(tmp_path / f"{number}.sqlite3" for number in range(3))):
        check_is_ours(file)
