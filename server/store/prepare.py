"""Bringing a database to the newest schema before it is opened.

Alembic takes a third of a second to import, and a database is nearly always of the newest schema already;
so that is found out without it.
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from server.domain.errors import RefusedError
from server.paths import MIGRATIONS
from server.store.backup import APPLICATION_ID, check_is_ours, copy_database
from server.store.session import make_engine

_REVISION = re.compile(r"^revision(?:: *str)? *= *[\"']([^\"']+)[\"']", re.MULTILINE)
_BEFORE_IT = re.compile(r"^down_revision(?:: *[^=]+)? *= *[\"']([^\"']+)[\"']", re.MULTILINE)


@dataclass(frozen=True)
class PreparedDatabase:
    """What had to be done.

    Attributes:
        created: the file was not there, or empty.
        migrated_from: the schema's revision that it had before, where that was an older one.
        copied_to: the copy of the file as it was before, where it was migrated.
    """

    created: bool
    migrated_from: str | None
    copied_to: Path | None


def known_revisions(migrations: Path = MIGRATIONS) -> tuple[frozenset[str], str]:
    """All revisions of the schema that this program knows, and the newest of them."""
    known: set[str] = set()
    followed: set[str] = set()
    for file in (migrations / "versions").glob("*.py"):
        text = file.read_text(encoding="utf-8")
        known.update(_REVISION.findall(text))
        followed.update(_BEFORE_IT.findall(text))
    (newest,) = known - followed
    return frozenset(known), newest


def prepare_database(path: Path, migrations: Path = MIGRATIONS) -> PreparedDatabase:
    """Create the database at `path`, or bring it to the newest schema after copying the file aside.

    A migration happens whole or not at all. Raises RefusedError, with nothing changed, where the file is no
    database, one of another program, damaged, or made by a newer Trainwright.
    """
    known, newest = known_revisions(migrations)
    path.parent.mkdir(parents=True, exist_ok=True)
    revision = _revision_of(path)
    if revision == newest:
        return PreparedDatabase(created=False, migrated_from=None, copied_to=None)
    if revision is None:
        _upgrade(path, migrations)
        return PreparedDatabase(created=True, migrated_from=None, copied_to=None)
    if revision not in known:
        raise RefusedError(
            f"{path} was made by a newer Trainwright (schema {revision}; this one knows {newest} at most). "
            "It was left as it is. Update Trainwright, or name another folder."
        )
    check_is_ours(path)
    copy = _free_name(path, revision)
    copy_database(path, copy)
    _upgrade(path, migrations)
    return PreparedDatabase(created=False, migrated_from=revision, copied_to=copy)


def _revision_of(path: Path) -> str | None:
    """The revision of the schema of a database of ours, None where there is nothing yet."""
    if not path.exists() or (path.is_file() and path.stat().st_size == 0):
        return None
    try:
        with closing(sqlite3.connect(path)) as opened:
            mark = opened.execute("PRAGMA application_id").fetchone()[0]
            tables = {row[0] for row in opened.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            if mark == 0 and not tables:
                return None
            if mark == APPLICATION_ID and "alembic_version" in tables:
                row = opened.execute("SELECT version_num FROM alembic_version").fetchone()
                if row is not None:
                    return str(row[0])
    except sqlite3.DatabaseError as error:
        raise RefusedError(
            f"{path} cannot be opened as a database: {error}. It was left as it is. Bring back a backup "
            "(trainwright restore FILE), or name another folder."
        ) from error
    raise RefusedError(
        f"{path} is not a database that Trainwright has made; it was left as it is. Name another folder."
    )


def _free_name(path: Path, revision: str) -> Path:
    stem = f"{path.stem}-before-update-from-{revision}-{datetime.now(UTC):%Y%m%d-%H%M%S}"
    copy = path.with_name(f"{stem}{path.suffix}")
    number = 2
    while copy.exists():
        copy = path.with_name(f"{stem}-{number}{path.suffix}")
        number += 1
    return copy


def _upgrade(path: Path, migrations: Path) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    # Alembic reads its options as templates, in which a percent sign is written twice.
    config.set_main_option("script_location", str(migrations).replace("%", "%%"))
    # Foreign keys are off, as they must be while SQLite changes a table by copying it, and checked at the
    # end.
    engine = make_engine(path, "BEGIN IMMEDIATE", foreign_keys=False)
    try:
        with engine.begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
            if broken is not None:
                raise RefusedError(
                    f"{path} could not be brought to the newest schema: a row of “{broken[0]}” names one of "
                    f"“{broken[2]}” that is not there. Nothing was changed. Please report this."
                )
    finally:
        engine.dispose()
