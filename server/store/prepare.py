"""Bringing a database to the newest schema before it is opened.

Alembic takes a third of a second to import and a tenth of all memory, and a database is nearly always of the
newest schema already, or new; so that is found out, and a new file is made, without it.
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection

from server.domain.errors import NewerDatabaseError, RefusedError, UnpreparedDatabaseError
from server.paths import MIGRATIONS
from server.store.backup import APPLICATION_ID, check_is_ours, copy_database
from server.store.dialects import MIGRATING_LOCK, Database, PostgresAddress, SqliteFile, database_at

_REVISION = re.compile(r"^revision(?:: *str)? *= *[\"']([^\"']+)[\"']", re.MULTILINE)
MARK = "Trwk"
"""The mark of a PostgreSQL database of ours, a comment on its table of revisions."""

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


def prepare_database(where: Path | str, migrations: Path = MIGRATIONS) -> PreparedDatabase:
    """Create the database at `where`, or bring it to the newest schema, a file after copying it aside.

    A migration happens whole or not at all, and by one process at a time. Raises RefusedError, with nothing
    changed, where it is no database, one of another program, damaged, or made by a newer Trainwright.
    """
    database = database_at(where)
    known, newest = known_revisions(migrations)
    if isinstance(database, SqliteFile):
        database.path.parent.mkdir(parents=True, exist_ok=True)
    revision = revision_of(database)
    if revision == newest:
        return PreparedDatabase(created=False, migrated_from=None, copied_to=None)
    whole = migrations / f"{newest}.sql"
    if revision is None and isinstance(database, SqliteFile) and whole.exists():
        return PreparedDatabase(created=_make(database, whole), migrated_from=None, copied_to=None)
    if revision is not None and revision not in known:
        raise _newer(database, revision, newest)
    copy = None
    if revision is not None and isinstance(database, SqliteFile):
        check_is_ours(database.path)
        copy = _free_name(database.path, revision)
        copy_database(database.path, copy)
    if not _upgrade(database, migrations, newest):
        return PreparedDatabase(created=False, migrated_from=None, copied_to=None)
    return PreparedDatabase(created=revision is None, migrated_from=revision, copied_to=copy)


def check_is_prepared(database: Database) -> None:
    """Returns where the database is of the newest schema; else raises NewerDatabaseError or
    UnpreparedDatabaseError saying what it is.
    """
    known, newest = known_revisions()
    revision = revision_of(database)
    if revision == newest:
        return
    if revision is not None and revision not in known:
        raise _newer(database, revision, newest)
    state = "has nothing in it yet" if revision is None else f"is of an older schema ({revision})"
    raise UnpreparedDatabaseError(
        f"{_capital(database)} {state}; this Trainwright works with {newest}. Bring it up to date: "
        "trainwright migrate --database ADDRESS."
    )


def _newer(database: Database, revision: str, newest: str) -> NewerDatabaseError:
    return NewerDatabaseError(
        f"{_capital(database)} was made by a newer Trainwright (schema {revision}; this one knows "
        f"{newest} at most). It was left as it is. Update Trainwright, or name another folder."
    )


def _capital(database: Database) -> str:
    name = str(database)
    return name if isinstance(database, SqliteFile) else name[0].upper() + name[1:]


def revision_of(database: Database) -> str | None:
    """The revision of the schema of a database of ours, None where there is nothing yet."""
    return _revision_at(database) if isinstance(database, PostgresAddress) else _revision_in(database.path)


def _revision_at(database: PostgresAddress) -> str | None:
    engine = database.reading()
    try:
        with engine.connect() as connection:
            tables = set(
                connection.exec_driver_sql(
                    "SELECT tablename FROM pg_tables WHERE schemaname = current_schema()"
                ).scalars()
            )
            mark = connection.exec_driver_sql(
                "SELECT obj_description(to_regclass('alembic_version'), 'pg_class')"
            ).scalar()
            if mark == MARK:
                found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
                return None if found is None else str(found)
            encoding = connection.exec_driver_sql("SHOW server_encoding").scalar()
    finally:
        engine.dispose()
    if tables:
        raise RefusedError(
            f"{_capital(database)} is not one that Trainwright has made; it was left as it is. Name an empty "
            "one."
        )
    if encoding != "UTF8":
        raise RefusedError(f"{_capital(database)} is kept in {encoding}. Make one that is kept in UTF8.")
    return None


def _revision_in(path: Path) -> str | None:
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


def _make(database: SqliteFile, whole: Path) -> bool:
    """Makes a new file by what the migrations come to, which a test holds them to; whether it was not made
    meanwhile by another process.
    """
    engine = database.migrating()
    try:
        with engine.begin() as connection:
            is_empty = connection.exec_driver_sql("SELECT 1 FROM sqlite_master").first() is None
            for statement in whole.read_text(encoding="utf-8").split(";\n\n") if is_empty else ():
                connection.exec_driver_sql(statement)
            return is_empty
    finally:
        engine.dispose()


def _upgrade(database: Database, migrations: Path, newest: str) -> bool:
    """Brings the database to the newest schema; whether there was anything to do, which another process may
    have done meanwhile.
    """
    from alembic import command
    from alembic.config import Config

    config = Config()
    # Alembic reads its options as templates, in which a percent sign is written twice.
    config.set_main_option("script_location", str(migrations).replace("%", "%%"))
    engine = database.migrating()
    try:
        with engine.connect() as connection:
            if isinstance(database, PostgresAddress):
                _take_turn(connection, database)
                if revision_of(database) == newest:
                    return False
            with connection.begin():
                config.attributes["connection"] = connection
                command.upgrade(config, "head")
                if isinstance(database, SqliteFile):
                    _check_keys(connection, database)
        return True
    finally:
        engine.dispose()


def _take_turn(connection: Connection, database: PostgresAddress) -> None:
    """Holds back any other process that would change the schema, until the connection is closed."""
    with connection.begin():
        taken = connection.exec_driver_sql(f"SELECT pg_try_advisory_lock({MIGRATING_LOCK})").scalar()
    if not taken:
        raise RefusedError(
            f"{_capital(database)} is being brought to the newest schema by another process. Wait until that "
            "has ended."
        )


def _check_keys(connection: Connection, database: SqliteFile) -> None:
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
    if broken is not None:
        raise RefusedError(
            f"{database} could not be brought to the newest schema: a row of “{broken[0]}” names one of "
            f"“{broken[2]}” that is not there. Nothing was changed. Please report this."
        )
