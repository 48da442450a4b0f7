"""The door for the terminal: one module a command, all listed in COMMANDS in the order that help shows.

A command reads its options, calls what does the work and says in sentences what came of it. Heavy libraries
are imported inside the commands, so that help answers at once. To add a command, write its module with one
function and add a line to COMMANDS.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import typer

from server.cli import backup, entries, frames, host, move, serve

COMMANDS: tuple[tuple[str, Callable[..., None]], ...] = (
    ("serve", serve.serve),
    ("backup", backup.backup),
    ("restore", backup.restore),
    ("move", move.move),
    ("export", entries.export_entry),
    ("import", entries.import_entry),
    ("frames", frames.measure_frames),
    ("host", host.host),
    ("migrate", host.migrate),
    ("invite", host.invite),
)


def build() -> typer.Typer:
    """The command line with all its commands."""
    line = typer.Typer(
        name="trainwright",
        help=(
            "Plan a deep-sky imaging rig part by part, and see at once whether the optical train works "
            "and why. Begin with: trainwright serve"
        ),
        no_args_is_help=True,
        pretty_exceptions_enable=False,
        add_completion=False,
    )
    for name, function in COMMANDS:
        line.command(name)(function)
    return line


def main(arguments: Sequence[str] | None = None) -> None:
    """Runs the command line on the arguments given, or on those of this process, and exits."""
    build()(args=None if arguments is None else list(arguments), prog_name="trainwright")
