"""What every command needs: the settings from its options, the data, and a refusal in one sentence."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn, TypeVar

import typer

from server import INTERRUPTED, STOPPED
from server.domain.refusals import sentence_of
from server.settings import Settings

if TYPE_CHECKING:
    from server.store import Stores

DataFolder = Annotated[
    Path | None,
    typer.Option(
        "--data",
        metavar="FOLDER",
        help="Keep the data in this folder instead of this user's own (also: TRAINWRIGHT_DATA).",
        show_default=False,
    ),
]


Chosen = TypeVar("Chosen", bound=Settings)


def read_settings(**chosen: Any) -> Settings:
    """The local form's settings, as `settings_of_kind` reads them."""
    return settings_of_kind(Settings, **chosen)


def settings_of_kind(kind: type[Chosen], **chosen: Any) -> Chosen:
    """The settings of the environment, outweighed by each option that was given (those that are not None).

    A value that cannot be used ends the command with a sentence for each.
    """
    from pydantic import ValidationError

    try:
        return kind(**{name: value for name, value in chosen.items() if value is not None})
    except ValidationError as error:
        refuse(
            " ".join(
                f"The setting TRAINWRIGHT_{str(fault['loc'][0]).upper()} does not fit. {sentence_of(fault)}"
                for fault in error.errors()
            )
        )


def open_data(data: Path | None) -> Stores:
    """The database of a data folder; a folder without one ends the command."""
    from server.store import open_stores, prepare_database

    settings = read_settings(data=data)
    if not settings.database.exists():
        refuse(f"{settings.data} holds no data yet. Start with trainwright serve, or name a --data FOLDER.")
    prepare_database(settings.database)
    return open_stores(settings.database)


def serve_until_stopped(serving: Callable[[], bool]) -> None:
    """Serve, and end in one line: when it was stopped, by Ctrl-C too, or where it could not start (False)."""
    try:
        stopped = serving()
    except KeyboardInterrupt:
        # Ctrl-C before the signals are handled by the server itself.
        typer.echo(f"\n{STOPPED}")
        raise typer.Exit(INTERRUPTED) from None
    if not stopped:
        refuse("Trainwright could not start; the lines above say why.")
    typer.echo(STOPPED)


def refuse(sentence: str, status: int = 1) -> NoReturn:
    """Ends the command with this sentence on the error stream and an exit status."""
    typer.echo(sentence, err=True)
    raise typer.Exit(status)
