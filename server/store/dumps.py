"""Copies of a PostgreSQL database in one file, and back, by PostgreSQL's own programs.

`pg_dump` reads the database as it stood at one moment. What is brought back goes in by one transaction, and
what was there stays in the same database, in a schema beside it (PostgreSQL documentation, "pg_dump",
"pg_restore", "psql").
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from server.domain.errors import RefusedError
from server.store.backup import SQLITE_HEADER, check_target
from server.store.dialects import MIGRATING_LOCK, WRITING_LOCK, PostgresAddress
from server.store.prepare import MARK, known_revisions, revision_of

DUMP_HEADER = b"PGDMP"
"""The first bytes of a file in pg_dump's custom format (PostgreSQL source, pg_backup_archiver.c)."""

ASIDE = "before_restore_"
"""The beginning of the names of schemas that hold what was there before; no backup takes them along."""

_DEBIAN = Path("/usr/lib/postgresql")
_REVISION = re.compile(r"^COPY \S+\.alembic_version .*\n(\S+)$", re.MULTILINE)
_TABLE = re.compile(r"^\d+; \d+ \d+ TABLE (\S+) alembic_version ", re.MULTILINE)


@dataclass(frozen=True)
class Replaced:
    """What a restore did: the schema that keeps what was there, None where nothing was."""

    kept_in: str | None


@dataclass(frozen=True)
class _Programs:
    """PostgreSQL's programs for one database."""

    folder: Path
    database: PostgresAddress

    def run(self, name: str, *arguments: str | Path, connected: bool = False) -> str:
        """What the program says. The password goes by its environment, since everybody sees its arguments.

        Raises RefusedError with the program's first complaint where it fails.
        """
        environment = dict(os.environ) | {"LC_ALL": "C", "PGCONNECT_TIMEOUT": "5", "PGTZ": "UTC"}
        command = [str(self.folder / name), *map(str, arguments)]
        if connected:
            said, password = _said(self.database)
            command.append(f"--dbname={said}")
            if password:
                environment["PGPASSWORD"] = password
        done = subprocess.run(
            command, capture_output=True, text=True, encoding="utf-8", env=environment, check=False
        )
        if done.returncode:
            complaint = next((line for line in done.stderr.splitlines() if line.strip()), "it gave no reason")
            raise RefusedError(f"{name} says: {complaint.removeprefix(f'{name}: ').removeprefix('error: ')}.")
        return done.stdout


def _said(database: PostgresAddress) -> tuple[str, str]:
    """The database as the programs are told of it, and the password apart."""
    from psycopg.conninfo import make_conninfo

    url = database.encrypted()
    known = dict(url.translate_connect_args(username="user", database="dbname")) | dict(url.query)
    return make_conninfo(**{name: str(value) for name, value in known.items() if name != "password"}), str(
        url.password or ""
    )


def _programs(database: PostgresAddress) -> _Programs:
    """The programs of this machine that are as new as the database's server."""
    wanted = int(_asked(database, "SHOW server_version_num")) // 10000
    on_path = shutil.which("pg_dump")
    folders = [Path(on_path).parent] if on_path else []
    folders += sorted(_DEBIAN.glob("*/bin"), key=lambda one: one.parent.name, reverse=True)
    versions = [(_version(folder), folder) for folder in folders if (folder / "pg_dump").exists()]
    advice = f"Install the client programs of PostgreSQL {wanted} (Debian: postgresql-client-{wanted})."
    if not versions:
        raise RefusedError(f"pg_dump is not on this machine. {advice}")
    for version, folder in versions:
        if version >= wanted:
            return _Programs(folder, database)
    raise RefusedError(
        f"pg_dump of this machine is of version {max(versions)[0]}, and the server of {wanted}. {advice}"
    )


def _version(folder: Path) -> int:
    told = subprocess.run([folder / "pg_dump", "--version"], capture_output=True, text=True, check=False)
    found = re.search(r"\) (\d+)", told.stdout)
    return int(found[1]) if found else 0


def back_up_at(database: PostgresAddress, target: Path, *, replace: bool = False) -> None:
    """Writes the database as it stands at this moment into the one file `target`, for its owner's eyes alone.

    The file appears whole or not at all. Raises RefusedError where there is nothing to back up, where
    `target` exists and `replace` is not set, where it cannot be written, and where PostgreSQL's programs are
    missing.
    """
    if revision_of(database) is None:
        raise RefusedError(f"There is nothing to back up: {database} has nothing in it yet.")
    check_target(target, replace=replace)
    programs = _programs(database)
    part = target.with_name(target.name + ".part")
    try:
        part.unlink(missing_ok=True)
        os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        plain = ("--format=custom", "--no-owner", "--no-privileges", f"--exclude-schema={ASIDE}*")
        programs.run("pg_dump", *plain, f"--file={part}", connected=True)
        part.replace(target)
    except OSError as error:
        raise RefusedError(f"{target} cannot be written: {error.strerror}.") from error
    finally:
        part.unlink(missing_ok=True)


def restore_at(
    source: Path,
    database: PostgresAddress,
    *,
    bring_up_to_date: Callable[[str], object],
    now: datetime,
    while_open: bool = False,
) -> Replaced:
    """Puts the content of the backup `source` in place of the database's, by one transaction.

    What is there now is kept in the same database, in a schema with the time `now` in its name. Nobody writes
    meanwhile. Then the content is brought to the newest schema by `bring_up_to_date`. Raises RefusedError,
    with nothing changed, where the backup is none of ours, not whole, or newer than this program, and where
    others are connected and `while_open` is not set.
    """
    _check_header(source)
    was = revision_of(database)
    programs = _programs(database)
    others = _others(database)
    if others and not while_open:
        raise RefusedError(
            f"Others are connected to {database} ({others}). Stop the club first, or say --while-open: what "
            "somebody is typing is lost then."
        )
    with TemporaryDirectory(prefix="trainwright-restore-") as scratch:
        script = Path(scratch) / "restore.sql"
        schema = _read(programs, source, script, Path(scratch) / "list")
        here = _current_schema(database)
        if schema != here:
            raise RefusedError(f"{source} holds the schema {schema}, and {database} is kept in {here}.")
        aside = f"{ASIDE}{now:%Y%m%d_%H%M%S}"
        statements = [
            "SET LOCAL lock_timeout = '10s'",
            f"SELECT pg_advisory_xact_lock({MIGRATING_LOCK}), pg_advisory_xact_lock({WRITING_LOCK})",
            f'ALTER SCHEMA "{schema}" RENAME TO "{aside}"',
            f'CREATE SCHEMA "{schema}"',
        ]
        if was is None:
            statements.append(f'DROP SCHEMA "{aside}"')
        # Off again, since it is the session's: what comes back may take as long as it takes.
        statements.append("SET LOCAL lock_timeout = 0")
        programs.run(
            "psql", "--no-psqlrc", "--quiet", "--single-transaction", "--set=ON_ERROR_STOP=1",
            *(f"--command={one}" for one in statements), f"--file={script}", connected=True,
        )  # fmt: skip
    bring_up_to_date(database.url.render_as_string(hide_password=False))
    return Replaced(None if was is None else aside)


def _check_header(source: Path) -> None:
    if not source.is_file():
        raise RefusedError(f"There is no file {source}.")
    try:
        with source.open("rb") as opened:
            header = opened.read(len(SQLITE_HEADER))
    except OSError as error:
        raise RefusedError(f"{source} cannot be read: {error.strerror}.") from error
    if header == SQLITE_HEADER:
        raise RefusedError(
            f"{source} is a SQLite file. Bring it into an empty database: "
            f"trainwright move --from {source} --to ADDRESS."
        )
    if not header.startswith(DUMP_HEADER):
        raise RefusedError(
            f"{source} is no backup of a database. Name a file that `trainwright backup` made."
        )


def _read(programs: _Programs, source: Path, script: Path, chosen: Path) -> str:
    """Reads the whole backup into a script; the schema that it holds."""
    try:
        lines = programs.run("pg_restore", "--list", source)
        found = _TABLE.search(lines)
        marks = [line for line in lines.splitlines() if re.search(r"\balembic_version\b", line)]
        about = _part_of(programs, source, chosen, marks)
        # Where a schema is made and what is said of it is the target's own.
        rest = [line for line in lines.splitlines() if not re.search(r" (SCHEMA - |COMMENT - SCHEMA )", line)]
        chosen.write_text("\n".join(rest), encoding="utf-8")
        programs.run("pg_restore", "--no-owner", "--no-privileges", f"--use-list={chosen}",
                     f"--file={script}", source)  # fmt: skip
    except RefusedError as error:
        raise RefusedError(f"{source} is damaged or not whole, and nothing was changed: {error}") from error
    revision = _REVISION.search(about)
    if found is None or revision is None or f"IS '{MARK}'" not in about:
        raise RefusedError(f"{source} is a backup of another program's database, not of Trainwright's.")
    known, newest = known_revisions()
    if revision[1] not in known:
        raise RefusedError(
            f"{source} was made by a newer Trainwright (schema {revision[1]}; this one knows {newest} "
            "at most). Update Trainwright."
        )
    return found[1]


def _part_of(programs: _Programs, source: Path, chosen: Path, lines: Sequence[str]) -> str:
    chosen.write_text("\n".join(lines), encoding="utf-8")
    return programs.run("pg_restore", f"--use-list={chosen}", "--file=-", source)


def _others(database: PostgresAddress) -> int:
    return int(
        _asked(
            database,
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
            "AND pid <> pg_backend_pid() AND backend_type = 'client backend'",
        )
    )


def _current_schema(database: PostgresAddress) -> str:
    return _asked(database, "SELECT current_schema()")


def _asked(database: PostgresAddress, question: str) -> str:
    engine = database.reading()
    try:
        with engine.connect() as connection:
            return str(connection.exec_driver_sql(question).scalar())
    finally:
        engine.dispose()
