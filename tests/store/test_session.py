"""Units of work between threads, between processes, and when the process is killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from server.domain.errors import BusyError, StaleVersionError
from server.domain.observer import Observer
from server.store import Stores, dialects, open_stores
from tests.store.conftest import TUBE, plan_of

CHANGES = 100
THREADS = 4


def run_in_threads(count: int, work: Callable[[int], None]) -> list[Exception]:
    failed: list[Exception] = []

    def guarded(number: int) -> None:
        try:
            work(number)
        except Exception as error:  # noqa: BLE001 - the caller looks at what it was
            failed.append(error)

    threads = [threading.Thread(target=guarded, args=(number,)) for number in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return failed


def test_concurrent_changes_are_each_kept_or_refused_and_none_is_lost(stores: Stores, observer: Observer):
    with stores.writing() as store:
        part = store.add_part(TUBE, observer.id)
        rig = store.add_rig(observer.id, "North", plan_of())
    acknowledged: list[str] = []
    refused: list[str] = []

    def change_many(thread: int) -> None:
        for number in range(CHANGES // THREADS):
            while True:
                with stores.reading() as store:
                    seen = store.rig(rig.id)
                words = f"{thread}.{number}"
                try:
                    with stores.writing() as store:
                        store.change_rig(
                            rig.id, seen.version, plan_of(*[part.id] * (len(seen.plan.places) + 1)), words
                        )
                except StaleVersionError:
                    refused.append(words)
                    continue
                acknowledged.append(words)
                break

    assert run_in_threads(THREADS, change_many) == []
    with stores.writing() as store:
        now = store.rig(rig.id)
        assert (now.version, len(now.plan.places)) == (CHANGES + 1, CHANGES)
        kept = []
        while now.undo_words:
            kept.append(str(now.undo_words))
            now = store.step_rig(rig.id, now.version, -1)
    assert sorted(kept) == sorted(acknowledged)
    assert len(kept) == CHANGES


def test_two_who_change_one_version_at_once_are_told_apart(stores: Stores, observer: Observer):
    with stores.writing() as store:
        rig = store.add_rig(observer.id, "North", plan_of())
    start = threading.Barrier(8)
    kept: list[int] = []

    def change(thread: int) -> None:
        start.wait()
        with stores.writing() as store:
            kept.append(store.change_rig(rig.id, 1, plan_of(), f"by {thread}").version)

    failed = run_in_threads(8, change)
    assert kept == [2]
    assert [type(error) for error in failed] == [StaleVersionError] * 7


def test_a_reader_sees_one_state_while_others_write(stores: Stores, observer: Observer):
    with stores.reading() as reader:
        assert len(reader.observers()) == 1
        with stores.writing() as writer:
            writer.add_observer("Bo", "metric")
        assert len(reader.observers()) == 1
    with stores.reading() as reader:
        assert len(reader.observers()) == 2


def test_a_write_lock_held_too_long_is_told_in_a_sentence(place: Path | str, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(dialects, "BUSY_WAIT_MS", 50)
    stores = open_stores(place)
    with stores.writing(), pytest.raises(BusyError, match="Try again in a moment"):
        stores.writing().__enter__()
    with stores.writing() as store:
        store.add_observer("Ana", "metric")
    stores.close()


@pytest.mark.file_alone(reason="what lies beside a file")
def test_a_closed_database_is_one_file(database: Path):
    stores = open_stores(database)
    with stores.writing() as store:
        store.add_observer("Ana", "metric")
    stores.close()
    assert [file.name for file in database.parent.iterdir()] == [database.name]


@pytest.mark.file_alone(reason="settings of SQLite")
@pytest.mark.parametrize("setting", [("journal_mode", "wal"), ("synchronous", 2), ("foreign_keys", 1)])
def test_every_connection_is_set_for_safety(database: Path, setting: tuple[str, object]):
    stores = open_stores(database)
    for unit in (stores.writing, stores.reading):
        with unit() as one, unit() if unit == stores.reading else stores.reading() as two:
            for store in (one, two):
                assert store._connection.exec_driver_sql(f"PRAGMA {setting[0]}").scalar() == setting[1]
    stores.close()


BURST = """
import sys
from server.domain.rig import PlacePlan, RigPlan
from server.store import open_stores
stores = open_stores(sys.argv[1])
version = 1
while True:
    places = tuple(PlacePlan(key=key, part_id=1) for key in range(version % 15))
    with stores.writing() as store:
        version = store.change_rig(1, version, RigPlan(places=places), f"change {version + 1}").version
    # Only now, after the unit has ended, is the change acknowledged.
    sys.stdout.write(f"{version}\\n")
    sys.stdout.flush()
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="Windows has no signal that kills like this")
@pytest.mark.parametrize("after", [1, 40, 150])
def test_a_kill_in_the_middle_of_a_burst_loses_nothing_that_was_acknowledged(place: Path | str, after: int):
    stores = open_stores(place)
    with stores.writing() as store:
        ana = store.add_observer("Ana", "metric")
        store.add_part(TUBE, ana.id)
        store.add_rig(ana.id, "North", plan_of())
    stores.close()
    child = subprocess.Popen([sys.executable, "-c", BURST, str(place)], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    with child, child.stdout as pipe:
        seen = [int(pipe.readline()) for _ in range(after)]
        os.kill(child.pid, signal.SIGKILL)
        # What it acknowledged before it died may still lie in the pipe; a line cut short was not.
        seen += [int(line) for line in pipe.read().splitlines(keepends=True) if line.endswith("\n")]
    assert seen == list(range(2, len(seen) + 2))
    stores = open_stores(place)
    with stores.writing() as store:
        if isinstance(place, Path):
            assert store._connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        rig = store.rig(1)
        # One change more may have been kept and its acknowledgement not written; never one less.
        assert rig.version in (seen[-1], seen[-1] + 1)
        kept = {}
        while rig.undo_words:
            kept[str(rig.undo_words)] = len(rig.plan.places)
            rig = store.step_rig(1, rig.version, -1)
    stores.close()
    for version in seen[-190:]:
        assert kept[f"change {version}"] == (version - 1) % 15
