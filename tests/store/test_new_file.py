"""A new file is made in one go, and is what the migrations would have made of it.

`python -m tests.store.test_new_file` records anew what they come to.
"""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from server.paths import MIGRATIONS
from server.store import prepare_database
from server.store.prepare import known_revisions

pytestmark = pytest.mark.file_alone(reason="what makes a file; PostgreSQL is always migrated")

SHADOWS = "SELECT name FROM pragma_table_list WHERE type = 'shadow'"
"""The tables that SQLite makes for the full-text index by itself."""


def migrated(folder: Path) -> Path:
    """A new file that went through every migration."""
    without = shutil.ignore_patterns("*.sql", "__pycache__")
    steps = Path(shutil.copytree(MIGRATIONS, folder / "steps", ignore=without))
    prepare_database(folder / "migrated.sqlite3", steps)
    return folder / "migrated.sqlite3"


def statements(path: Path) -> Iterator[str]:
    """What makes such a file."""
    with closing(sqlite3.connect(path)) as opened:
        yield f"PRAGMA application_id = {opened.execute('PRAGMA application_id').fetchone()[0]}"
        by_itself = f"name LIKE 'sqlite_%' OR name IN ({SHADOWS})"
        for (sql,) in opened.execute(f"SELECT sql FROM sqlite_master WHERE NOT ({by_itself}) ORDER BY rowid"):
            yield sql
        (revision,) = opened.execute("SELECT version_num FROM alembic_version").fetchone()
        yield f"INSERT INTO alembic_version VALUES ('{revision}')"


def all_of(path: Path) -> list[object]:
    """Everything that is in a file: its marks, schema and rows."""
    with closing(sqlite3.connect(path)) as opened:
        marks = [
            opened.execute(f"PRAGMA {name}").fetchone()
            for name in ("application_id", "user_version", "journal_mode", "page_size", "auto_vacuum")
        ]
        schema = opened.execute("SELECT type, name, sql FROM sqlite_master ORDER BY name").fetchall()
        rows = [
            (name, opened.execute(f'SELECT * FROM "{name}"').fetchall())
            for kind, name, _ in schema
            if kind == "table"
        ]
        return [marks, schema, rows]


def test_a_new_file_is_what_every_migration_would_have_made_of_it(tmp_path: Path):
    prepare_database(tmp_path / "new.sqlite3")
    assert all_of(tmp_path / "new.sqlite3") == all_of(migrated(tmp_path))


def test_a_new_file_is_made_without_importing_alembic(tmp_path: Path):
    script = (
        "import sys; from pathlib import Path; from server.store import prepare_database\n"
        f"assert prepare_database(Path({str(tmp_path / 'new.sqlite3')!r})).created\n"
        "assert 'alembic' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", script], check=True)


def record() -> None:
    """Write what the migrations come to beside them, in the place of what they came to before."""
    with TemporaryDirectory() as folder:
        told = list(statements(migrated(Path(folder))))
    assert not any(";\n\n" in one for one in told)
    for old in MIGRATIONS.glob("*.sql"):
        old.unlink()
    (MIGRATIONS / f"{known_revisions()[1]}.sql").write_text(";\n\n".join(told) + "\n", encoding="utf-8")


if __name__ == "__main__":
    record()
