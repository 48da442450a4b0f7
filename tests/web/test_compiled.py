"""Compiled templates are kept from one start to the next, and never stand in a page's way."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from jinja2 import DictLoader, Environment

from server.web.compiled import Compiled


@pytest.fixture
def compiler(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A module's file, where Python keeps compiled modules below a folder of the test's."""
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path / "compiled"))
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    file = tmp_path / "compiler.py"
    file.write_text("as it is")
    return file


def shown(compiler: Path, template: str = "{{ 2 + 3 }}") -> tuple[str, int]:
    """What a template shows in an environment made anew, and how often one was compiled for it."""

    class Counted(Environment):
        compiled = 0

        def _compile(self, source: str, filename: str):
            self.compiled += 1
            return super()._compile(source, filename)

    made = Counted(loader=DictLoader({"one.html": template}), bytecode_cache=Compiled.by(str(compiler)))
    return made.get_template("one.html").render(), made.compiled


def test_a_template_is_compiled_at_the_first_start_alone(compiler: Path):
    assert [shown(compiler) for _ in range(3)] == [("5", 1), ("5", 0), ("5", 0)]


def test_what_was_changed_is_compiled_anew_the_template_or_what_compiles_it(compiler: Path):
    shown(compiler)
    assert shown(compiler, "{{ 2 + 4 }}") == ("6", 1)
    compiler.write_text("as it is now")
    assert shown(compiler, "{{ 2 + 4 }}") == ("6", 1)


def test_nothing_is_kept_where_python_keeps_nothing(compiler: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert [shown(compiler) for _ in range(2)] == [("5", 1), ("5", 1)]


def test_a_folder_that_cannot_be_made_or_written_stops_no_page(
    compiler: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(sys, "pycache_prefix", str(compiler))
    assert shown(compiler) == ("5", 1)
    made = Environment(
        loader=DictLoader({"one.html": "{{ 2 + 3 }}"}), bytecode_cache=Compiled(str(tmp_path / "gone"))
    )
    assert made.get_template("one.html").render() == "5"


def test_a_damaged_file_is_compiled_over(compiler: Path, tmp_path: Path):
    shown(compiler)
    (kept,) = (tmp_path / "compiled").rglob("*.jinja")
    for damaged in (b"", b"j2", kept.read_bytes()[:40], kept.read_bytes()[:-9]):
        kept.write_bytes(damaged)
        assert shown(compiler) == ("5", 1)
    assert shown(compiler) == ("5", 0)
