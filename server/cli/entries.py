"""`trainwright export` and `trainwright import`: one entry of a logbook out to a file, and in from one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from server.cli.terminal import DataFolder, open_data, refuse
from server.domain.errors import NotFoundError, TrainwrightError
from server.rim.phrasebook.tell import write_words


def export_entry(
    entry: Annotated[
        int,
        typer.Argument(min=1, help="The entry's number, as its page's address shows it.", show_default=False),
    ],
    file: Annotated[
        Path,
        typer.Argument(help="The file to write: .json for the data, .html for a page.", show_default=False),
    ],
    data: DataFolder = None,
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it exists.")] = False,
) -> None:
    """Write one entry of a logbook into a file that another Trainwright takes in."""
    if file.suffix not in (".json", ".html"):
        refuse(f"{file} ends in neither .json (the data) nor .html (a page): give it one of the two endings.")
    if file.exists() and not force:
        refuse(f"{file} is there already. Name another file, or replace it with --force.")
    from server.rim.entry_file import entry_json
    from server.web.logbook.files import page_text

    stores = open_data(data)
    try:
        with stores.reading() as store:
            found = store.entry(entry)
            units = store.observer(found.observer_id).units
            measured = store.measurements_of_entry(entry)
    except NotFoundError as error:
        refuse(write_words(error.message))
    finally:
        stores.close()
    document = found.document
    text = entry_json(document) if file.suffix == ".json" else page_text(document, units, measured)
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        refuse(f"{file} cannot be written: {error.strerror}.")
    typer.echo(f"Wrote “{document.title}” of {document.rig} to {file}.")


def import_entry(
    file: Annotated[Path, typer.Argument(help="An entry's .json or .html file.", show_default=False)],
    observer: Annotated[
        str, typer.Option("--observer", help="Whose logbook it goes into, by name.", show_default=False)
    ],
    data: DataFolder = None,
) -> None:
    """Take in an entry's file: its parts, its rig and the entry itself."""
    from server.domain.entry import read_entry
    from server.flow.workbench import Workbench
    from server.rim.entry_file import read_entry_file
    from server.rim.phrasebook.tell import tell

    try:
        content = file.read_bytes()
    except OSError as error:
        refuse(f"{file} cannot be read: {error.strerror}.")
    try:
        document = read_entry(read_entry_file(content))
    except TrainwrightError as error:
        refuse(write_words(error.message))
    stores = open_data(data)
    try:
        with stores.writing() as store:
            observers = {one.name.casefold(): one for one in store.observers()}
            chosen = observers.get(" ".join(observer.split()).casefold())
            if chosen is None:
                names = ", ".join(one.name for one in observers.values()) or "nobody yet"
                refuse(f"There is no observer {observer!r} here. There is: {names}.")
            arrival = Workbench(store, chosen, tell).take_in(document)
    except TrainwrightError as error:
        refuse(write_words(error.message))
    finally:
        stores.close()
    taken = arrival.entry
    if arrival.known:
        typer.echo(
            f"“{taken.document.title}” stands in {chosen.name}'s logbook already, as entry {taken.id}: "
            "nothing was taken in."
        )
    else:
        typer.echo(f"Took in “{taken.document.title}” as entry {taken.id} of {chosen.name}'s logbook.")
