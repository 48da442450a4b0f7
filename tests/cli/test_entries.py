"""`trainwright export` and `import` as commands, from one data folder to another."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from server.cli import build
from server.paths import SEED_DATA
from server.rim.demo_club import load_demo_club
from server.store import open_stores, prepare_database


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("club")
    prepare_database(folder / "trainwright.sqlite3")
    stores = open_stores(folder / "trainwright.sqlite3")
    with stores.writing() as store:
        load_demo_club(store, SEED_DATA)
    stores.close()
    return folder


@pytest.fixture
def other(tmp_path: Path) -> Path:
    folder = tmp_path / "other"
    prepare_database(folder / "trainwright.sqlite3")
    stores = open_stores(folder / "trainwright.sqlite3")
    with stores.writing() as store:
        store.add_observer("Bo Lind", "imperial")
    stores.close()
    return folder


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(build(), [str(argument) for argument in arguments])


@pytest.mark.parametrize("ending", ["json", "html"])
def test_an_entry_goes_from_one_machine_to_another(
    club: Path, other: Path, tmp_path: Path, ending: str
) -> None:
    file, again = tmp_path / f"entry.{ending}", tmp_path / "again.json"
    out = run("export", "1", file, "--data", club)
    assert out.exit_code == 0, out.output
    taken = run("import", file, "--observer", "bo  lind", "--data", other)
    assert taken.exit_code == 0, taken.output
    assert "as entry 1 of Bo Lind's logbook" in taken.output
    assert run("export", "1", again, "--data", other).exit_code == 0
    run("export", "1", tmp_path / "first.json", "--data", club)
    first = json.loads((tmp_path / "first.json").read_text(encoding="utf-8"))
    second = json.loads(again.read_text(encoding="utf-8"))
    for key in ("title", "note", "rig", "observer", "saved_at", "findings"):
        assert second[key] == first[key]


def test_a_file_is_not_replaced_unasked(club: Path, tmp_path: Path) -> None:
    file = tmp_path / "entry.json"
    file.write_text("mine")
    refused = run("export", "1", file, "--data", club)
    assert refused.exit_code == 1
    assert "--force" in refused.output
    assert file.read_text() == "mine"
    assert run("export", "1", file, "--data", club, "--force").exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("export", "9999", "x.json"), "9999"),
        (("export", "1", "x.pdf"), "neither .json"),
        (("import", "missing.json", "--observer", "Ruta Ommerli"), "cannot be read"),
        (("import", "bad.json", "--observer", "Ruta Ommerli"), "neither an entry page nor an entry's JSON"),
        (("import", "good.json", "--observer", "Nobody"), "There is no observer 'Nobody' here"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(
    club: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str, ...],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bad.json").write_text("a,b\n1,2\n")
    run("export", "1", "good.json", "--data", club)
    result = run(*arguments, "--data", club)
    assert result.exit_code == 1
    assert said in result.output
