"""What the disk does is said in words, and nothing is lost by it."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import event

from server.domain.errors import DiskTroubleError
from server.store import Stores, open_stores, prepare_database
from tests.running import ROOT

pytestmark = pytest.mark.file_alone(
    reason="the disk under a file; PostgreSQL's troubles are in test_postgres.py"
)

ROOM = 200_000
"""Bytes: enough to begin with a copy of a database, and not to end it."""


@pytest.fixture
def database(tmp_path: Path) -> Path:
    path = tmp_path / "trainwright.sqlite3"
    prepare_database(path)
    return path


def limited(room: int, *arguments: str) -> subprocess.CompletedProcess[str]:
    """A command that can write no file longer than `room` bytes, which stands for a full disk."""
    program = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, "
        f"({room}, {room})); from server.__main__ import run; run(sys.argv[1:])"
    )
    return subprocess.run(
        [sys.executable, "-c", program, *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )


def filled(path: Path) -> Path:
    stores = open_stores(path)
    add_many(stores)
    stores.close()
    return path


def add_many(stores: Stores) -> None:
    with stores.writing() as store:
        for number in range(3000):
            store.add_observer(f"Observer {number} {'x' * 60}", "metric")


def test_a_full_disk_is_told_and_nothing_of_the_change_is_kept(database: Path):
    stores = open_stores(database)
    # Pages that the file may have at most: SQLite then says that the disk is full.
    event.listen(stores._writing, "connect", lambda one, _: one.execute("PRAGMA max_page_count=1"))
    with pytest.raises(DiskTroubleError, match="is full, so nothing was stored"):
        add_many(stores)
    with stores.reading() as store:
        assert not store.observers()
    stores.close()


def test_a_database_that_may_not_be_written_is_told(database: Path):
    stores = open_stores(database)
    event.listen(stores._writing, "connect", lambda one, _: one.execute("PRAGMA query_only=ON"))
    with pytest.raises(DiskTroubleError, match="cannot be written"), stores.writing() as store:
        store.add_observer("Ann", "metric")
    stores.close()


def test_a_database_that_can_no_longer_be_opened_is_told(tmp_path: Path):
    stores = open_stores(tmp_path / "gone" / "trainwright.sqlite3")
    for unit in (stores.reading, stores.writing):
        with pytest.raises(DiskTroubleError, match="cannot be written"), unit():
            pass


def test_damage_in_the_middle_of_the_file_is_told_with_the_copies_that_were_set_aside(database: Path):
    filled(database)
    aside = database.with_name("trainwright-before-restore-20260101-000000.sqlite3")
    shutil.copyfile(database, aside)
    with closing(sqlite3.connect(database)) as opened:
        size, page = database.stat().st_size, opened.execute("PRAGMA page_size").fetchone()[0]
    with database.open("r+b") as file:
        file.seek(page)
        file.write(os.urandom(1) * (size - page))
    stores = open_stores(database)
    with pytest.raises(DiskTroubleError, match="is damaged") as raised, stores.reading() as store:
        store.observers()
    assert aside.name in str(raised.value)
    assert "trainwright restore FILE" in str(raised.value)
    stores.close()


def test_a_backup_that_finds_no_room_is_told_and_leaves_nothing_behind(database: Path, tmp_path: Path):
    filled(database)
    folder = tmp_path / "stick"
    folder.mkdir()
    done = limited(ROOM, "backup", str(folder / "out.sqlite3"), "--data", str(tmp_path))
    assert done.returncode == 1
    assert "cannot be written" in done.stderr + done.stdout
    assert "Traceback" not in done.stderr
    assert not list(folder.iterdir())


def test_a_restore_that_finds_no_room_is_told_and_leaves_what_was_there(database: Path, tmp_path: Path):
    backup = tmp_path / "backup.sqlite3"
    shutil.copyfile(filled(database), backup)
    other = tmp_path / "other"
    prepare_database(other / database.name)
    before = (other / database.name).read_bytes()
    done = limited(ROOM, "restore", str(backup), "--data", str(other))
    assert done.returncode == 1
    assert "did not do what was asked" in done.stderr + done.stdout
    assert "Traceback" not in done.stderr
    assert (other / database.name).read_bytes() == before
    assert [file.name for file in other.iterdir() if "restore" in file.name] == []


def test_a_restore_that_finds_no_room_to_set_aside_what_is_there_leaves_it_where_it_is(
    database: Path, tmp_path: Path
):
    backup = tmp_path / "backup.sqlite3"
    prepare_database(backup)
    before = filled(database).read_bytes()
    room = backup.stat().st_size + ROOM // 4
    assert len(before) > room
    done = limited(room, "restore", str(backup), "--data", str(tmp_path))
    assert done.returncode == 1
    assert "did not do what was asked" in done.stderr + done.stdout
    assert database.read_bytes() == before
    assert sorted(file.name for file in tmp_path.iterdir() if "journal" in file.name) == []
