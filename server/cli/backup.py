"""`trainwright backup` and `trainwright restore`: the whole database out to one file, and back."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from server.cli.terminal import DataFolder, read_settings, refuse
from server.domain.errors import TrainwrightError

if TYPE_CHECKING:
    from server.store.dialects import PostgresAddress

Database = Annotated[
    str | None,
    typer.Option(
        "--database",
        metavar="URL-OR-FILE",
        help="A club's: its file, or its address. The password may come from PGPASSWORD or PGPASSFILE.",
        show_default=False,
    ),
]


def backup(
    file: Annotated[Path, typer.Argument(help="The file to write.", show_default=False)],
    data: DataFolder = None,
    database: Database = None,
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it exists.")] = False,
) -> None:
    """Write everything (gear, rigs, logbooks) into one file. Safe while Trainwright is open."""
    from server.store.backup import back_up
    from server.store.dumps import back_up_at

    try:
        where = _where(data, database)
        if not isinstance(where, Path):
            back_up_at(where, file, replace=force)
        elif where.exists():
            back_up(where, file, replace=force)
        else:
            place, another = (where, "--database FILE") if database else (where.parent, "--data FOLDER")
            refuse(f"There is nothing to back up: {place} holds no data. Name another with {another}.")
    except TrainwrightError as error:
        refuse(str(error))
    size_mb = file.stat().st_size / 1e6
    typer.echo(f"Backed up {where} to {file} ({size_mb:.1f} MB).")


def restore(
    file: Annotated[Path, typer.Argument(help="A file that `trainwright backup` made.", show_default=False)],
    data: DataFolder = None,
    database: Database = None,
    while_open: Annotated[
        bool, typer.Option("--while-open", help="Of a club on PostgreSQL: even while members are connected.")
    ] = False,
) -> None:
    """Bring a backup back; what is there now is kept beside it. Safe while Trainwright is open."""
    from server.store import backup as store_backup
    from server.store import dumps, prepare_database

    now = datetime.now().astimezone()
    try:
        where = _where(data, database)
        if not isinstance(where, Path):
            kept = dumps.restore_at(
                file, where, bring_up_to_date=prepare_database, now=now, while_open=while_open
            ).kept_in
            typer.echo(f"Restored {file} into {where}.")
            if kept:
                typer.echo(f"What was there before is kept in its schema {kept}.")
            return
        done = store_backup.restore(file, where, bring_up_to_date=prepare_database, now=now)
    except TrainwrightError as error:
        refuse(str(error))
    typer.echo(f"Restored {file} into {done.database}.")
    if done.set_aside is None:
        return
    if done.was_damaged:
        typer.echo(f"What was there could not be read as a database; it was moved to {done.set_aside}.")
    else:
        typer.echo(f"What was there before is kept in {done.set_aside}.")


def _where(data: Path | None, database: str | None) -> Path | PostgresAddress:
    """The file or the address that the options name. Raises RefusedError for an address that is none."""
    if database is None:
        return read_settings(data=data).database
    if data is not None:
        refuse("--data and --database name two databases. Say one of them.")
    from server.store.dialects import SqliteFile, database_at

    found = database_at(database)
    return found.path if isinstance(found, SqliteFile) else found
