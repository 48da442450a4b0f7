"""What the command line says of itself."""

from __future__ import annotations

import subprocess
import sys

import pytest
from typer.testing import CliRunner

from server.__main__ import arguments_of
from server.cli import COMMANDS, build


@pytest.mark.parametrize("name", [name for name, _ in COMMANDS])
def test_help_names_each_command_with_a_sentence(name: str):
    listing = CliRunner().invoke(build(), ["--help"]).output
    assert name in listing
    own = CliRunner().invoke(build(), [name, "--help"])
    assert own.exit_code == 0
    assert "Usage" in own.output
    function = dict(COMMANDS)[name]
    assert function.__doc__, f"the command {name} says nothing of itself"


def test_help_answers_without_loading_the_heavy_libraries():
    loaded = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys, server.cli; server.cli.build(); print(*sys.modules)",
        ],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    heavy = {"fastapi", "starlette", "sqlalchemy", "sqlmodel", "alembic", "pint", "numpy", "scipy", "segno"}
    assert not heavy & set(loaded)


def test_an_unknown_command_is_told():
    result = CliRunner().invoke(build(), ["fly"])
    assert result.exit_code == 2
    assert "fly" in result.output


@pytest.mark.parametrize(
    ("given", "meant"),
    [
        ([], ["serve"]),
        (["--port", "0"], ["serve", "--port", "0"]),
        (["serve", "--lan"], ["serve", "--lan"]),
        (["backup", "file"], ["backup", "file"]),
        (["--help"], ["--help"]),
    ],
)
def test_the_package_run_as_a_program_serves_unless_told_otherwise(given: list[str], meant: list[str]):
    assert arguments_of(given) == meant
