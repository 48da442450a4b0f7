"""Copies of the database made and brought back by SQLite's own backup interface, safe while the app serves.

The interface reads a database as it stood at one moment, whatever others write meanwhile, and writes the
target in one transaction: whoever has the target open sees the old content or the new, never a mixture
(SQLite documentation, "SQLite Backup API", and "Using the SQLite Online Backup API").
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from server.domain.errors import RefusedError
from server.store.trouble import trouble_with

APPLICATION_ID = 0x5472776B
"""The mark "Trwk" that the migrations put into the file's header (PRAGMA application_id)."""

LOCK_WAIT_S = 15.0
"""How long a copy waits for another program's transaction on the target to end."""

SQLITE_HEADER = b"SQLite format 3\x00"
"""The first sixteen bytes of every database (SQLite documentation, "Database File Format", section 1.3.1)."""


@dataclass(frozen=True)
class Restored:
    """What a restore did."""

    database: Path
    """The file that holds the restored content now."""

    set_aside: Path | None
    """The copy of what was there before, or None where nothing was."""

    was_damaged: bool
    """Whether the file set aside could not be read as a database, and was moved as it is."""


def copy_database(source: Path, target: Path, *, wait_s: float = LOCK_WAIT_S) -> None:
    """Copies the content of the database `source` into `target`, which may exist, be in use, or both.

    All in one transaction on the target. Raises RefusedError where the target stayed locked for `wait_s`
    seconds, and sqlite3.DatabaseError where either file is damaged.
    """
    deadline = time.monotonic() + wait_s

    def give_up_in_time(status: int, remaining: int, total: int) -> None:  # noqa: ARG001 - sqlite3's signature
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > deadline:
            raise RefusedError(
                f"{target} is being written by another program and stayed locked for {wait_s:g} seconds; "
                "nothing was changed. Try again in a moment."
            )

    with closing(_open_to_read(source)) as reading, closing(sqlite3.connect(target, timeout=0)) as writing:
        # All pages in one step, so that the target's lock is held once, and only for the writing itself.
        reading.backup(writing, pages=-1, progress=give_up_in_time, sleep=0.002)


def check_is_ours(path: Path) -> None:
    """Returns where `path` is a sound database of Trainwright; else raises RefusedError saying why not."""
    if not path.exists():
        raise RefusedError(f"There is no file {path}.")
    if not path.is_file():
        raise RefusedError(f"{path} is not a file. Name the backup file itself.")
    try:
        with path.open("rb") as opened:
            header = opened.read(len(SQLITE_HEADER))
    except OSError as error:
        raise RefusedError(f"{path} cannot be read: {error.strerror}.") from error
    if header != SQLITE_HEADER:
        raise RefusedError(f"{path} is not a database. Name a file that `trainwright backup` has made.")
    try:
        with closing(_open_to_read(path)) as reading:
            mark = reading.execute("PRAGMA application_id").fetchone()[0]
            if mark != APPLICATION_ID:
                raise RefusedError(
                    f"{path} is a database of another program, not of Trainwright "
                    f"(its application id is 0x{mark & 0xFFFFFFFF:08X}, ours is 0x{APPLICATION_ID:08X})."
                )
            faults = [str(row[0]) for row in reading.execute("PRAGMA quick_check(3)")]
    except sqlite3.DatabaseError as error:
        faults = [str(error)]
    if faults != ["ok"]:
        raise RefusedError(
            f"{path} is a damaged database ({'; '.join(faults)}) and was left as it is. Name another backup."
        )


def check_target(target: Path, *, replace: bool) -> None:
    """Returns where a backup may be written to `target`; else raises RefusedError."""
    if target.is_dir():
        raise RefusedError(f"{target} is a folder. Name the file to write, for example {target / 'backup'}.")
    if target.exists() and not target.is_file():
        raise RefusedError(f"{target} is a device, not a file, and was left as it is. Name a file to write.")
    if target.exists() and not replace:
        raise RefusedError(
            f"{target} exists and was left as it is. Name another file, or say --force to replace it."
        )


def back_up(database: Path, target: Path, *, replace: bool = False) -> None:
    """Writes the database as it stands at this moment into the one file `target`, also while the app serves.

    The file appears whole or not at all. Raises RefusedError where there is no database yet, where `target`
    exists and `replace` is not set, where it cannot be written, and where the database turns out to be
    damaged.
    """
    check_is_ours(database)
    if target.is_file() and target.samefile(database):
        raise RefusedError(f"{target} is the database itself. Name another file.")
    check_target(target, replace=replace)
    part = target.with_name(target.name + ".part")
    try:
        part.unlink(missing_ok=True)
        copy_database(database, part)
        with closing(sqlite3.connect(part)) as copy:
            # The serving database keeps a log beside it; a backup must be one file, readable from anywhere.
            copy.execute("PRAGMA journal_mode=DELETE")
        check_is_ours(part)
        part.replace(target)
    except (OSError, sqlite3.OperationalError) as error:
        raise RefusedError(f"{target} cannot be written: {error}.") from error
    finally:
        for ending in ("", "-journal"):
            part.with_name(part.name + ending).unlink(missing_ok=True)


def restore(
    source: Path, database: Path, *, bring_up_to_date: Callable[[Path], object], now: datetime
) -> Restored:
    """Puts the content of the backup `source` into `database`, also while the app serves it.

    In this order, so that a refusal or a crash at any point leaves a whole database: the backup is checked,
    copied and brought to the newest schema by `bring_up_to_date` away from the database; what is there now is
    set aside in the same folder under a name with the time `now`; the new content replaces it in one
    transaction. Raises RefusedError where the backup is none of ours, damaged, or newer than this program.
    """
    check_is_ours(source)
    if database.exists() and source.samefile(database):
        raise RefusedError(f"{source} is the database itself. Name the backup to bring back.")
    try:
        return _restore(source, database, bring_up_to_date, now)
    except OSError as error:
        raise RefusedError(f"{database} cannot be written: {error.strerror}. It is as it was.") from error
    except sqlite3.Error as error:
        trouble = trouble_with(database, error)
        if trouble is None:
            raise
        raise trouble from error


def _restore(
    source: Path, database: Path, bring_up_to_date: Callable[[Path], object], now: datetime
) -> Restored:
    database.parent.mkdir(parents=True, exist_ok=True)
    # In the database's own folder, since there is room there for one database at least.
    with TemporaryDirectory(prefix="restore-", dir=database.parent) as scratch:
        ready = Path(scratch) / database.name
        copy_database(source, ready)
        try:
            bring_up_to_date(ready)
        except RefusedError as error:
            # The person named the backup, not the copy of it that is worked on.
            raise RefusedError(str(error).replace(str(ready), str(source))) from error
        set_aside, was_damaged = _set_aside(database, now)
        copy_database(ready, database)
    return Restored(database=database, set_aside=set_aside, was_damaged=was_damaged)


def _set_aside(database: Path, now: datetime) -> tuple[Path | None, bool]:
    """Copies what is there now to a free name beside it, or moves it where it is too damaged to be copied."""
    if not database.exists():
        return None, False
    stem = f"{database.stem}-before-restore-{now:%Y%m%d-%H%M%S}"
    aside = database.with_name(f"{stem}{database.suffix}")
    number = 2
    while aside.exists():
        aside = database.with_name(f"{stem}-{number}{database.suffix}")
        number += 1
    try:
        copy_database(database, aside)
    except sqlite3.DatabaseError as error:
        for ending in ("", "-journal"):
            aside.with_name(aside.name + ending).unlink(missing_ok=True)
        if isinstance(error, sqlite3.OperationalError):
            # The disk's trouble and not the database's, which stays where it is.
            raise
        # The log files belong to it: left behind, SQLite would play them into the restored database.
        for ending in ("-wal", "-shm", ""):
            file = database.with_name(database.name + ending)
            if file.exists():
                file.rename(aside.with_name(aside.name + ending))
        return aside, True
    return aside, False


def _open_to_read(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
