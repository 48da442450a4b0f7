"""What can be chosen for a run, and from where."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from pydantic import ValidationError

from server import paths
from server.cli.terminal import read_settings
from server.settings import Settings, default_data_folder


def test_the_environment_chooses_and_a_given_value_outweighs_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    monkeypatch.setenv("TRAINWRIGHT_DATA", str(tmp_path))
    monkeypatch.setenv("TRAINWRIGHT_PORT", "9000")
    assert Settings().database == tmp_path / "trainwright.sqlite3"
    assert Settings().port == 9000
    assert Settings(port=9001).port == 9001


def test_an_empty_variable_chooses_nothing(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("TRAINWRIGHT_DATA", "")
    assert Settings().data == default_data_folder()


def test_the_users_own_folder_is_used_where_nothing_is_chosen(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.delenv("TRAINWRIGHT_DATA", raising=False)
    assert Settings().data == default_data_folder()
    assert Settings().data.name == "trainwright"


def test_the_tilde_of_a_folder_is_the_home(monkeypatch: pytest.MonkeyPatch):
    assert Settings(data=Path("~/rigs")).data == Path.home() / "rigs"


@pytest.mark.parametrize("port", [-1, 65536])
def test_a_port_that_cannot_be_is_refused(port: int):
    with pytest.raises(ValidationError, match="port"):
        Settings(port=port)


def test_the_host_is_no_setting(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("TRAINWRIGHT_HOST", "0.0.0.0")
    assert Settings().host == "127.0.0.1"
    assert Settings(port=9000).address == "http://127.0.0.1:9000"


@pytest.mark.parametrize(
    ("chosen", "address"),
    [
        ({}, "http://127.0.0.1:8321"),
        ({"lan": True}, "http://127.0.0.1:8321"),
        ({"lan_address": "192.0.2.7"}, "http://127.0.0.1:8321"),
        ({"lan": True, "lan_address": "192.0.2.7"}, "http://192.0.2.7:8322"),
        ({"lan": True, "lan_address": "192.0.2.7", "lan_port": 80}, "http://192.0.2.7"),
        ({"lan": True, "lan_address": "2001:db8::7"}, "http://[2001:db8::7]:8322"),
        ({"lan": True, "lan_address": "desk.local"}, "http://desk.local:8322"),
    ],
)
def test_a_share_link_begins_with_the_networks_address_only_while_that_is_open(
    chosen: dict[str, object], address: str
):
    assert Settings.model_validate(chosen).share_address == address


def test_a_run_cannot_change_its_settings():
    with pytest.raises(ValidationError, match="frozen"):
        Settings().port = 1  # type: ignore[misc]


@pytest.mark.parametrize("folder", [paths.TEMPLATES, paths.STATIC, paths.MIGRATIONS, paths.SEED_DATA])
def test_the_folders_that_are_not_python_are_found(folder: Path):
    assert any(folder.iterdir())


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        (
            "PORT",
            "many",
            "The setting TRAINWRIGHT_PORT does not fit. “many” is not a whole number, such as 7.",
        ),
        (
            "PORT",
            "70000",
            "The setting TRAINWRIGHT_PORT does not fit. “70000” is not allowed: it has to be at most 65535.",
        ),
        ("LAN", "perhaps", "The setting TRAINWRIGHT_LAN does not fit. “perhaps” is not a yes or a no."),
    ],
)
def test_a_setting_that_cannot_be_used_is_told_by_its_name_in_our_own_words(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], name: str, value: str, said: str
) -> None:
    monkeypatch.setenv(f"TRAINWRIGHT_{name}", value)
    with pytest.raises(typer.Exit):
        read_settings()
    assert capsys.readouterr().err.strip() == said
