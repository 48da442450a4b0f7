"""`trainwright backup` and `restore` as commands, also while a server has the database open."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import httpx
import pytest
from typer.testing import CliRunner, Result

from server.cli import build
from server.store import prepare_database as real_prepare_database
from server.store.dialects import database_at
from tests.cli import tiny_server
from tests.postgres import new_database
from tests.running import OPEN_AT, Running


@pytest.fixture(autouse=True)
def tiny_migrations(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("server.store.prepare_database", tiny_server.prepare_database, raising=False)


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(build(), [str(argument) for argument in arguments])


def note(data: Path, *texts: str) -> None:
    data.mkdir(exist_ok=True)
    tiny_server.prepare_database(data / "trainwright.sqlite3")
    with closing(sqlite3.connect(data / "trainwright.sqlite3")) as opened:
        opened.executemany("INSERT INTO note VALUES (?)", [(text,) for text in texts])
        opened.commit()


def notes(data: Path) -> Sequence[str]:
    with closing(sqlite3.connect(data / "trainwright.sqlite3")) as opened:
        return [row[0] for row in opened.execute("SELECT text FROM note")]


def test_a_backup_comes_back_on_another_machine(tmp_path: Path):
    note(tmp_path / "mine", "a rig")
    assert "Backed up" in run("backup", tmp_path / "out.sqlite3", "--data", tmp_path / "mine").output
    result = run("restore", tmp_path / "out.sqlite3", "--data", tmp_path / "theirs")
    assert result.exit_code == 0, result.output
    assert notes(tmp_path / "theirs") == ["a rig"]


def test_a_restore_says_where_it_kept_what_was_there(tmp_path: Path):
    note(tmp_path / "data", "before")
    run("backup", tmp_path / "out.sqlite3", "--data", tmp_path / "data")
    note(tmp_path / "data", "after")
    result = run("restore", tmp_path / "out.sqlite3", "--data", tmp_path / "data")
    assert "What was there before is kept in" in result.output
    assert notes(tmp_path / "data") == ["before"]
    kept = list((tmp_path / "data").glob("*-before-restore-*.sqlite3"))
    assert len(kept) == 1
    assert str(kept[0]) in result.output.replace("\n", "")


def test_an_existing_file_is_left_unless_forced(tmp_path: Path):
    note(tmp_path / "data", "a rig")
    (tmp_path / "out").write_text("a letter")
    refused = run("backup", tmp_path / "out", "--data", tmp_path / "data")
    assert refused.exit_code == 1
    assert "--force" in refused.output
    assert (tmp_path / "out").read_text() == "a letter"
    assert run("backup", tmp_path / "out", "--data", tmp_path / "data", "--force").exit_code == 0


def test_there_is_nothing_to_back_up_in_an_empty_folder(tmp_path: Path):
    result = run("backup", tmp_path / "out", "--data", tmp_path / "data")
    assert result.exit_code == 1
    assert "nothing to back up" in result.output
    assert not (tmp_path / "out").exists()


def test_a_file_of_another_kind_is_refused_and_the_data_untouched(tmp_path: Path):
    note(tmp_path / "data", "a rig")
    (tmp_path / "parts.csv").write_text("maker,model\n")
    result = run("restore", tmp_path / "parts.csv", "--data", tmp_path / "data")
    assert result.exit_code == 1
    assert "is not a database" in result.output
    assert notes(tmp_path / "data") == ["a rig"]


def test_both_are_safe_while_the_app_is_open_and_it_shows_the_restored_content_at_once(tmp_path: Path):
    with Running("serve", "--data", str(tmp_path / "data"), "--port", "0") as running:
        address = running.wait_for(OPEN_AT)[1]
        httpx.get(f"{address}/note/before")
        assert run("backup", tmp_path / "out.sqlite3", "--data", tmp_path / "data").exit_code == 0
        httpx.get(f"{address}/note/after")
        assert httpx.get(f"{address}/notes").text == "before,after"
        result = run("restore", tmp_path / "out.sqlite3", "--data", tmp_path / "data")
        assert result.exit_code == 0, result.output
        assert httpx.get(f"{address}/notes").text == "before"
        httpx.get(f"{address}/note/later")
        assert httpx.get(f"{address}/notes").text == "before,later"
        assert running.stop() == 0
    assert notes(tmp_path / "data") == ["before", "later"]


def test_a_clubs_database_goes_out_and_comes_back_and_is_named_without_its_password(
    postgres: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("server.store.prepare_database", real_prepare_database)
    club, other = new_database(postgres, "club_out"), new_database(postgres, "club_in")
    real_prepare_database(club)
    named = club.replace("tests@", "tests:secret@")
    done = run("backup", tmp_path / "out", "--database", named)
    assert done.exit_code == 0, done.output
    assert "Backed up the database “club_out” at 127.0.0.1" in done.output
    assert "secret" not in done.output
    assert run("backup", tmp_path / "out", "--database", club).exit_code == 1
    back = run("restore", tmp_path / "out", "--database", other)
    assert back.output.splitlines() == [f"Restored {tmp_path / 'out'} into {database_at(other)}."]
    again = run("restore", tmp_path / "out", "--database", other)
    assert "What was there before is kept in its schema before_restore_" in again.output
    nowhere = run("restore", tmp_path / "out", "--database", other, "--data", tmp_path)
    assert "two databases" in nowhere.output


def test_a_clubs_file_goes_out_and_comes_back(tmp_path: Path):
    note(tmp_path, "a rig")
    file = tmp_path / "trainwright.sqlite3"
    assert run("backup", tmp_path / "out", "--database", file).exit_code == 0
    note(tmp_path, "another")
    result = run("restore", tmp_path / "out", "--database", file)
    assert result.exit_code == 0, result.output
    assert notes(tmp_path) == ["a rig"]
    missing = run("backup", tmp_path / "out2", "--database", tmp_path / "none.sqlite3")
    assert "nothing to back up" in missing.output
