"""Backups and restores by SQLite's backup interface, alone and while others have the database open."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import threading
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from server.domain.errors import RefusedError
from server.store.backup import APPLICATION_ID, back_up, check_is_ours, copy_database, restore

pytestmark = pytest.mark.file_alone(reason="copies of a file; those of PostgreSQL are in test_dumps.py")

PATIENCE_S = 60.0
NOW = datetime(2026, 3, 20, 22, 15, 0, tzinfo=UTC)


def make_database(path: Path, *notes: str, mark: int = APPLICATION_ID) -> Path:
    with closing(sqlite3.connect(path)) as opened:
        opened.execute("PRAGMA journal_mode=WAL")
        opened.execute(f"PRAGMA application_id={mark}")
        opened.execute("CREATE TABLE note (text TEXT NOT NULL)")
        opened.executemany("INSERT INTO note VALUES (?)", [(note,) for note in notes])
        opened.commit()
    return path


def notes_in(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as opened:
        return [row[0] for row in opened.execute("SELECT text FROM note ORDER BY rowid")]


def leave_as_it_is(path: Path) -> None:
    """Stands for the migrations where the backup is of the newest schema already."""


@pytest.fixture
def database(tmp_path: Path) -> Path:
    return make_database(tmp_path / "trainwright.sqlite3", "first", "second")


def test_the_mark_spells_the_programs_name():
    assert APPLICATION_ID.to_bytes(4, "big") == b"Trwk"


def test_a_backup_holds_what_the_database_held(database: Path, tmp_path: Path):
    back_up(database, tmp_path / "out.sqlite3")
    assert notes_in(tmp_path / "out.sqlite3") == ["first", "second"]


def test_a_backup_is_one_file_that_can_be_read_from_a_folder_nobody_may_write(database: Path, tmp_path: Path):
    folder = tmp_path / "stick"
    folder.mkdir()
    back_up(database, folder / "out.sqlite3")
    assert [file.name for file in folder.iterdir()] == ["out.sqlite3"]
    with closing(sqlite3.connect(folder / "out.sqlite3")) as opened:
        assert opened.execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_a_backup_holds_commits_that_are_only_in_the_log_so_far(database: Path, tmp_path: Path):
    with closing(sqlite3.connect(database)) as serving:
        serving.execute("PRAGMA wal_autocheckpoint=0")
        serving.execute("INSERT INTO note VALUES ('third')")
        serving.commit()
        assert database.with_name(database.name + "-wal").stat().st_size > 0
        back_up(database, tmp_path / "out.sqlite3")
    assert notes_in(tmp_path / "out.sqlite3") == ["first", "second", "third"]


def test_a_backup_leaves_out_a_change_that_is_not_committed(database: Path, tmp_path: Path):
    with closing(sqlite3.connect(database)) as serving:
        serving.execute("BEGIN IMMEDIATE")
        serving.execute("INSERT INTO note VALUES ('unfinished')")
        back_up(database, tmp_path / "out.sqlite3")
        serving.rollback()
    assert notes_in(tmp_path / "out.sqlite3") == ["first", "second"]


def test_an_existing_backup_is_not_overwritten_unless_asked(database: Path, tmp_path: Path):
    target = tmp_path / "out.sqlite3"
    target.write_text("a letter")
    with pytest.raises(RefusedError, match="exists and was left as it is"):
        back_up(database, target)
    assert target.read_text() == "a letter"
    back_up(database, target, replace=True)
    assert notes_in(target) == ["first", "second"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="only these systems have files that are none")
def test_what_is_no_file_is_never_replaced(database: Path, tmp_path: Path):
    pipe = tmp_path / "device"
    os.mkfifo(pipe)
    with pytest.raises(RefusedError, match="is a device, not a file"):
        back_up(database, pipe, replace=True)
    assert pipe.is_fifo()


def test_the_database_itself_is_no_target_for_its_backup(database: Path):
    with pytest.raises(RefusedError, match="is the database itself"):
        back_up(database, database, replace=True)
    assert notes_in(database) == ["first", "second"]


def test_a_folder_that_is_not_there_is_told(database: Path, tmp_path: Path):
    with pytest.raises(RefusedError, match="cannot be written"):
        back_up(database, tmp_path / "nowhere" / "out.sqlite3")


def test_a_database_of_another_program_is_refused(tmp_path: Path):
    other = make_database(tmp_path / "other.sqlite3", mark=0x0BADCAFE)
    with pytest.raises(RefusedError, match="0x0BADCAFE"):
        check_is_ours(other)


@pytest.mark.parametrize("content", [b"", b"SQLite", b"maker,model\n", bytes(4096)])
def test_a_file_that_is_no_database_is_refused(tmp_path: Path, content: bytes):
    file = tmp_path / "file"
    file.write_bytes(content)
    with pytest.raises(RefusedError, match="is not a database"):
        check_is_ours(file)


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path):
    with pytest.raises(RefusedError, match="There is no file"):
        check_is_ours(tmp_path / "missing")
    with pytest.raises(RefusedError, match="is not a file"):
        check_is_ours(tmp_path)


def damage(path: Path) -> None:
    """Overwrites every page but the first, which holds the header and the table's definition."""
    content = bytearray(path.read_bytes())
    content[4096:] = b"\xa5" * (len(content) - 4096)
    path.write_bytes(bytes(content))


def test_a_damaged_backup_is_refused_and_the_database_untouched(database: Path, tmp_path: Path):
    bad = make_database(tmp_path / "bad.sqlite3", *["x" * 500] * 50)
    damage(bad)
    with pytest.raises(RefusedError, match="damaged"):
        restore(bad, database, bring_up_to_date=leave_as_it_is, now=NOW)
    assert notes_in(database) == ["first", "second"]


def test_a_restore_brings_the_backup_back_and_keeps_what_was_there(database: Path, tmp_path: Path):
    saved = make_database(tmp_path / "saved.sqlite3", "old")
    done = restore(saved, database, bring_up_to_date=leave_as_it_is, now=NOW)
    assert notes_in(database) == ["old"]
    assert done.set_aside == tmp_path / "trainwright-before-restore-20260320-221500.sqlite3"
    assert notes_in(done.set_aside) == ["first", "second"]
    assert notes_in(saved) == ["old"]


def test_two_restores_in_one_second_keep_both_earlier_states(database: Path, tmp_path: Path):
    saved = make_database(tmp_path / "saved.sqlite3", "old")
    first = restore(saved, database, bring_up_to_date=leave_as_it_is, now=NOW)
    second = restore(saved, database, bring_up_to_date=leave_as_it_is, now=NOW)
    assert first.set_aside is not None
    assert second.set_aside is not None
    assert notes_in(first.set_aside) == ["first", "second"]
    assert notes_in(second.set_aside) == ["old"]


def test_a_restore_into_an_empty_folder_makes_the_database(tmp_path: Path):
    saved = make_database(tmp_path / "saved.sqlite3", "old")
    target = tmp_path / "new" / "trainwright.sqlite3"
    done = restore(saved, target, bring_up_to_date=leave_as_it_is, now=NOW)
    assert done.set_aside is None
    assert notes_in(target) == ["old"]
    assert [file.name for file in target.parent.iterdir()] == [target.name]


def test_a_restore_replaces_a_database_that_cannot_be_read(tmp_path: Path):
    saved = make_database(tmp_path / "saved.sqlite3", "old")
    broken = tmp_path / "trainwright.sqlite3"
    broken.write_bytes(b"not a database at all" * 1000)
    done = restore(saved, broken, bring_up_to_date=leave_as_it_is, now=NOW)
    assert done.was_damaged
    assert done.set_aside is not None
    assert done.set_aside.read_bytes().startswith(b"not a database")
    assert notes_in(broken) == ["old"]


def test_the_log_of_a_database_that_cannot_be_read_goes_aside_with_it(database: Path, tmp_path: Path):
    saved = make_database(tmp_path / "saved.sqlite3", "old")
    # As a program that was killed leaves it: with commits in the log alone.
    broken = tmp_path / "killed" / "trainwright.sqlite3"
    broken.parent.mkdir()
    with closing(sqlite3.connect(database)) as serving:
        serving.execute("PRAGMA wal_autocheckpoint=0")
        serving.execute("INSERT INTO note VALUES ('third')")
        serving.commit()
        for ending in ("-wal", "-shm"):
            shutil.copyfile(f"{database}{ending}", f"{broken}{ending}")
    broken.write_bytes(b"not a database at all" * 1000)
    log = Path(f"{broken}-wal").read_bytes()
    done = restore(saved, broken, bring_up_to_date=leave_as_it_is, now=NOW)
    assert done.was_damaged
    assert Path(f"{done.set_aside}-wal").read_bytes() == log
    assert Path(f"{done.set_aside}-shm").exists()
    assert notes_in(broken) == ["old"]
    check_is_ours(broken)


def test_a_backup_that_cannot_be_brought_up_to_date_changes_nothing(database: Path, tmp_path: Path):
    saved = make_database(tmp_path / "saved.sqlite3", "from the future")

    def refuse(path: Path) -> None:
        raise RefusedError(f"{path} was made by a newer Trainwright.")

    with pytest.raises(RefusedError, match=re.escape(f"{saved} was made by a newer")):
        restore(saved, database, bring_up_to_date=refuse, now=NOW)
    assert notes_in(database) == ["first", "second"]
    assert sorted(file.name for file in tmp_path.iterdir() if not file.name.endswith(("-wal", "-shm"))) == [
        "saved.sqlite3",
        "trainwright.sqlite3",
    ]


def test_the_schema_is_brought_up_to_date_before_the_database_is_touched(database: Path, tmp_path: Path):
    saved = make_database(tmp_path / "saved.sqlite3", "old")
    seen: list[list[str]] = []

    def migrate(path: Path) -> None:
        seen.append(notes_in(database))
        with closing(sqlite3.connect(path)) as opened:
            opened.execute("UPDATE note SET text = 'old, migrated'")
            opened.commit()

    restore(saved, database, bring_up_to_date=migrate, now=NOW)
    assert seen == [["first", "second"]]
    assert notes_in(database) == ["old, migrated"]
    assert notes_in(saved) == ["old"]


def test_connections_that_were_open_see_the_restored_content(database: Path, tmp_path: Path):
    saved = make_database(tmp_path / "saved.sqlite3", "old")
    with closing(sqlite3.connect(database)) as serving:
        assert serving.execute("SELECT count(*) FROM note").fetchone() == (2,)
        restore(saved, database, bring_up_to_date=leave_as_it_is, now=NOW)
        assert serving.execute("SELECT text FROM note").fetchall() == [("old",)]
        serving.execute("INSERT INTO note VALUES ('after')")
        serving.commit()
        assert serving.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert notes_in(database) == ["old", "after"]


def test_a_reader_in_the_middle_of_its_transaction_keeps_what_it_saw(database: Path, tmp_path: Path):
    saved = make_database(tmp_path / "saved.sqlite3", "old")
    with closing(sqlite3.connect(database)) as reader:
        reader.execute("BEGIN")
        assert reader.execute("SELECT count(*) FROM note").fetchone() == (2,)
        restore(saved, database, bring_up_to_date=leave_as_it_is, now=NOW)
        assert reader.execute("SELECT count(*) FROM note").fetchone() == (2,)
        reader.rollback()
        assert reader.execute("SELECT count(*) FROM note").fetchone() == (1,)


def test_a_target_that_stays_locked_is_told_and_not_changed(database: Path, tmp_path: Path):
    saved = make_database(tmp_path / "saved.sqlite3", "old")
    with closing(sqlite3.connect(database)) as writer:
        writer.execute("BEGIN IMMEDIATE")
        with pytest.raises(RefusedError, match="stayed locked for 0.2 seconds"):
            copy_database(saved, database, wait_s=0.2)
        writer.rollback()
    assert notes_in(database) == ["first", "second"]


def test_writers_at_work_during_backups_and_restores_never_see_a_mixture(database: Path, tmp_path: Path):
    """Each writer's transaction adds a pair; in every copy, and afterwards, no pair may be torn."""
    with closing(sqlite3.connect(database)) as opened:
        opened.execute("DELETE FROM note")
        opened.commit()
    stop = threading.Event()
    wrote = threading.Semaphore(0)
    failures: list[Exception] = []

    def write() -> None:
        with closing(sqlite3.connect(database, timeout=10, isolation_level=None)) as writer:
            number = 0
            while not stop.is_set():
                number += 1
                try:
                    writer.execute("BEGIN IMMEDIATE")
                    writer.execute("INSERT INTO note VALUES (?)", (f"{number} left",))
                    writer.execute("INSERT INTO note VALUES (?)", (f"{number} right",))
                    writer.execute("COMMIT")
                    wrote.release()
                    # Even an eager person leaves the others a moment.
                    time.sleep(0.001)
                except sqlite3.Error as error:
                    failures.append(error)
                    return

    thread = threading.Thread(target=write)
    thread.start()
    try:
        for round_number in range(5):
            for _ in range(3):
                assert wrote.acquire(timeout=PATIENCE_S)
            copy = tmp_path / f"copy-{round_number}.sqlite3"
            back_up(database, copy)
            restore(copy, database, bring_up_to_date=leave_as_it_is, now=NOW)
    finally:
        stop.set()
        thread.join()
    assert failures == []
    for file in (database, *tmp_path.glob("copy-*.sqlite3"), *tmp_path.glob("*-before-restore-*.sqlite3")):
        check_is_ours(file)
        notes = notes_in(file)
        assert notes, "the writer was not at work"
        assert [note.split()[1] for note in notes] == ["left", "right"] * (len(notes) // 2)
