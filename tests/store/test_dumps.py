"""Backups of a PostgreSQL database, and back, by PostgreSQL's real programs."""

from __future__ import annotations

import stat
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import make_url

from server.domain.errors import RefusedError
from server.store import dumps, open_stores, prepare_database
from server.store.dialects import PostgresAddress, database_at
from server.store.dumps import Replaced, back_up_at, restore_at
from tests.postgres import LOCKED, new_database, run

NOW = datetime(2026, 3, 20, 22, 0, tzinfo=UTC)


def address_of(where: str) -> PostgresAddress:
    found = database_at(where)
    assert isinstance(found, PostgresAddress)
    return found


@pytest.fixture
def club(postgres: str) -> str:
    """The address of a club with Ana in it."""
    where = new_database(postgres, "dumped")
    prepare_database(where)
    add(where, "Ana")
    return where


@pytest.fixture
def other(postgres: str) -> str:
    """The address of a database with nothing in it."""
    return new_database(postgres, "another")


def add(where: str, name: str) -> None:
    stores = open_stores(where)
    with stores.writing() as store:
        store.add_observer(name, "metric")
    stores.close()


def names(where: str) -> list[str]:
    stores = open_stores(where)
    with stores.reading() as store:
        found = [one.name for one in store.observers()]
    stores.close()
    return found


def restored(file: Path, where: str, *, while_open: bool = False) -> Replaced:
    return restore_at(
        file, address_of(where), bring_up_to_date=prepare_database, now=NOW, while_open=while_open
    )


@pytest.fixture
def file(club: str, tmp_path: Path) -> Path:
    made = tmp_path / "club.backup"
    back_up_at(address_of(club), made)
    return made


def test_a_backup_comes_back_into_an_empty_database_and_goes_on_there(club: str, other: str, file: Path):
    assert restored(file, other) == Replaced(None)
    add(other, "Bo")
    assert names(other) == ["Ana", "Bo"]
    assert names(club) == ["Ana"]


def test_only_its_owner_may_read_a_backup(file: Path):
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_what_was_there_is_kept_in_a_schema_beside_it_and_is_no_part_of_later_backups(
    club: str, other: str, file: Path, tmp_path: Path
):
    add(club, "Bo")
    done = restored(file, club)
    assert names(club) == ["Ana"]
    assert done.kept_in == "before_restore_20260320_220000"
    back_up_at(address_of(club), tmp_path / "later")
    restored(tmp_path / "later", other)
    before = f"SELECT string_agg(name, ' ') FROM {done.kept_in}.observer"
    assert dumps._asked(address_of(club), before) == "Ana Bo"
    with pytest.raises(Exception, match="does not exist"):
        dumps._asked(address_of(other), before)


def test_a_backup_of_an_older_schema_is_brought_to_the_newest(
    club: str, other: str, tmp_path: Path, older: str
):
    back_up_at(address_of(older), tmp_path / "older")
    restored(tmp_path / "older", club)
    assert names(club) == []


@pytest.fixture
def older(postgres: str, tmp_path: Path) -> str:
    """A database of an earlier schema."""
    from tests.store.test_upgrading import made_at

    where = new_database(postgres, "older")
    made_at(where, "0002")
    return where


@pytest.fixture
def guest(club: str) -> Iterator[None]:
    """Somebody who is connected to the club."""
    stores = open_stores(club)
    with stores.reading() as store:
        store.observers()
        yield
    stores.close()


def test_a_club_with_members_connected_is_left_alone_unless_told(club: str, file: Path, guest: None):
    add(club, "Bo")
    with pytest.raises(RefusedError, match="Others are connected to the database “dumped”.*--while-open"):
        restored(file, club)
    assert names(club) == ["Ana", "Bo"]
    restored(file, club, while_open=True)
    assert names(club) == ["Ana"]


def test_an_existing_file_is_not_overwritten_unless_asked(club: str, tmp_path: Path):
    target = tmp_path / "letter"
    target.write_text("Dear Ana")
    with pytest.raises(RefusedError, match="exists and was left as it is"):
        back_up_at(address_of(club), target)
    assert target.read_text() == "Dear Ana"
    back_up_at(address_of(club), target, replace=True)
    assert target.read_bytes().startswith(dumps.DUMP_HEADER)


def test_a_folder_that_is_not_there_is_told_and_an_empty_database_has_nothing_to_back_up(
    club: str, other: str, tmp_path: Path
):
    with pytest.raises(RefusedError, match="cannot be written: No such file"):
        back_up_at(address_of(club), tmp_path / "none" / "file")
    with pytest.raises(RefusedError, match="nothing to back up: the database “another” at"):
        back_up_at(address_of(other), tmp_path / "file")
    assert not list(tmp_path.iterdir())


def test_what_is_no_whole_backup_of_ours_is_refused_and_nothing_is_changed(
    club: str, other: str, file: Path, tmp_path: Path, postgres: str
):
    run(
        other,
        "CREATE TABLE alembic_version (version_num TEXT)",
        "INSERT INTO alembic_version VALUES ('0001')",
    )
    strange = tmp_path / "strange"
    dumps._programs(address_of(other)).run("pg_dump", "--format=custom", f"--file={strange}", connected=True)
    cut, letter, sqlite = tmp_path / "cut", tmp_path / "letter", tmp_path / "sqlite"
    cut.write_bytes(file.read_bytes()[:-400])
    letter.write_text("Dear Ana")
    sqlite.write_bytes(b"SQLite format 3\0" + bytes(100))
    for wrong, said in (
        (tmp_path / "none", "There is no file"),
        (tmp_path, "There is no file"),
        (letter, "is no backup"),
        (sqlite, "trainwright move --from"),
        (cut, "damaged or not whole, and nothing was changed: pg_restore says"),
        (strange, "of another program's database"),
    ):
        with pytest.raises(RefusedError, match=said):
            restored(wrong, club)
    assert names(club) == ["Ana"]


def test_a_backup_of_a_newer_program_is_refused(club: str, other: str, tmp_path: Path):
    run(club, "UPDATE alembic_version SET version_num = '9999'")
    back_up_at(address_of(club), tmp_path / "newer")
    with pytest.raises(RefusedError, match="newer Trainwright .schema 9999; this one knows 0006 at most"):
        restored(tmp_path / "newer", other)
    with pytest.raises(RefusedError, match="has nothing in it yet"):
        open_stores(other)


def test_a_restore_that_fails_half_way_leaves_all_as_it_was(
    club: str, file: Path, monkeypatch: pytest.MonkeyPatch
):
    add(club, "Bo")
    real = dumps._Programs.run

    def run_with_a_fault(
        self: dumps._Programs, name: str, *arguments: str | Path, connected: bool = False
    ) -> str:
        if name == "psql":
            script = Path(str(arguments[-1]).partition("=")[2])
            script.write_text(script.read_text() + "SELECT nowhere;\n")
        return real(self, name, *arguments, connected=connected)

    monkeypatch.setattr(dumps._Programs, "run", run_with_a_fault)
    with pytest.raises(RefusedError, match="psql says.*nowhere"):
        restored(file, club)
    assert names(club) == ["Ana", "Bo"]
    schemas = "SELECT count(*) FROM pg_namespace WHERE nspname ~ '^before'"
    assert dumps._asked(address_of(club), schemas) == "0"


def test_the_password_goes_by_the_environment_alone(
    club: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    run(club, f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {LOCKED}")
    run(club, f"GRANT SELECT ON ALL SEQUENCES IN SCHEMA public TO {LOCKED}")
    locked = address_of(make_url(club).set(username=LOCKED, password="secret").render_as_string(False))
    seen: list[list[str]] = []
    real = subprocess.run

    def noted(command, **more):
        seen.append([str(word) for word in command])
        return real(command, **more)

    monkeypatch.setattr(subprocess, "run", noted)
    back_up_at(locked, tmp_path / "file")
    assert any(LOCKED in word for command in seen for word in command)
    assert "secret" not in str(seen)
    wrong = address_of(make_url(club).set(username=LOCKED, password="wrong").render_as_string(False))
    with pytest.raises(Exception, match="the name or the password") as told:
        back_up_at(wrong, tmp_path / "other")
    assert "wrong." in str(told.value)


def test_programs_that_are_missing_or_older_than_the_server_are_told_in_a_sentence(
    club: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    old = tmp_path / "pg_dump"
    old.write_text("#!/bin/sh\necho 'pg_dump (PostgreSQL) 9.6.1'\n")
    old.chmod(0o755)
    monkeypatch.setattr(dumps, "_DEBIAN", tmp_path / "none")
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(RefusedError, match=r"of version 9, and the server of \d+\. Install the client"):
        back_up_at(address_of(club), tmp_path / "file")
    old.unlink()
    with pytest.raises(RefusedError, match=r"pg_dump is not on this machine. Install the client programs of"):
        back_up_at(address_of(club), tmp_path / "file")
