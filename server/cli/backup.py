"""`trainwright backup` and `trainwright restore`: the whole database out to one file, and back."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from server.cli.terminal import DataFolder, read_settings, refuse
from server.domain.errors import TrainwrightError


def backup(
    file: Annotated[Path, typer.Argument(help="The file to write.", show_default=False)],
    data: DataFolder = None,
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it exists.")] = False,
) -> None:
    """Write everything (gear, rigs, logbooks) into one file. Safe while Trainwright is open."""
    from server.store.backup import back_up

    settings = read_settings(data=data)
    if not settings.database.exists():
        refuse(
            f"There is nothing to back up: {settings.data} holds no data. Name another with --data FOLDER."
        )
    try:
        back_up(settings.database, file, replace=force)
    except TrainwrightError as error:
        refuse(str(error))
    size_mb = file.stat().st_size / 1e6
    typer.echo(f"Backed up {settings.database} to {file} ({size_mb:.1f} MB).")


def restore(
    file: Annotated[Path, typer.Argument(help="A file that `trainwright backup` made.", show_default=False)],
    data: DataFolder = None,
) -> None:
    """Bring a backup back; what is there now is kept beside it. Safe while Trainwright is open."""
    from server.store import backup as store_backup
    from server.store import prepare_database

    settings = read_settings(data=data)
    try:
        done = store_backup.restore(
            file,
            settings.database,
            bring_up_to_date=prepare_database,
            now=datetime.now().astimezone(),
        )
    except TrainwrightError as error:
        refuse(str(error))
    typer.echo(f"Restored {file} into {done.database}.")
    if done.set_aside is None:
        return
    if done.was_damaged:
        typer.echo(f"What was there could not be read as a database; it was moved to {done.set_aside}.")
    else:
        typer.echo(f"What was there before is kept in {done.set_aside}.")
