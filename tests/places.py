"""Databases that tests are lent, on both kinds: copies of one that was filled once, anew after a test that
wrote.

A test that asks for `place` (tests/conftest.py) runs on a SQLite file and on PostgreSQL.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from sqlalchemy import create_engine

from server.paths import SEED_DATA
from server.rim.demo_club import load_demo_club
from server.store import open_stores, prepare_database
from tests.postgres import emptied, new_database

Place = Path | str
Fill = Callable[[Place], None]

KINDS = ("sqlite", "postgresql")


class Places(Protocol):
    """Databases of one kind."""

    def lent(self, name: str, fill: Fill, folder: Path) -> Place:
        """A database as `fill` made it out of an empty one, once for all who ask by this name. Only one of a
        name is lent at a time; what is a file lies in the folder.
        """


def nothing(place: Place) -> None:
    """Leaves a database empty."""


def demo_club(place: Place) -> None:
    """Loads the demo club into a database."""
    stores = open_stores(place)
    with stores.writing() as store:
        load_demo_club(store, SEED_DATA)
    stores.close()


class Files:
    """SQLite files."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _filled(self, name: str, fill: Fill) -> Path:
        file = self._folder / f"{name}.sqlite3"
        if not file.exists():
            # Named as it is at last only when it is whole: a fill that fails fails again for the next test.
            part = self._folder / f"{name}.part"
            if fill is nothing:
                prepare_database(part)
            else:
                shutil.copyfile(self._filled("empty", nothing), part)
                fill(part)
            part.rename(file)
        return file

    def lent(self, name: str, fill: Fill, folder: Path) -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        return Path(shutil.copyfile(self._filled(name, fill), folder / "trainwright.sqlite3"))


class OnPostgres:
    """Databases of a PostgreSQL server that this process has for itself.

    Whether a test wrote is asked of the server: every transaction that changes something takes the next
    of its numbers. Most tests of pages only read, and a copy takes fifty milliseconds.
    """

    def __init__(self, server: str) -> None:
        self._server = server
        self._engine = create_engine(server, isolation_level="AUTOCOMMIT")
        self._made: dict[str, str] = {}
        self._copies: dict[str, tuple[str, int]] = {}
        # Numbers taken by the making of copies, which changes no other copy.
        self._own = 0

    def _changes(self) -> int:
        with self._engine.connect() as connection:
            number = connection.exec_driver_sql("SELECT pg_snapshot_xmax(pg_current_snapshot())").scalar()
        return int(str(number)) - self._own

    def lent(self, name: str, fill: Fill, folder: Path) -> str:
        address, seen = self._copies.get(name, ("", -1))
        before = self._changes()
        if seen != before:
            address = self._anew(name, fill)
            self._own += self._changes() - before
            self._copies[name] = (address, before)
        return address

    def _anew(self, name: str, fill: Fill) -> str:
        if fill is nothing:
            # A few rows are sooner taken out than a database is copied.
            if name not in self._made:
                self._made[name] = new_database(self._server, name)
                prepare_database(self._made[name])
            emptied(self._made[name])
            return self._made[name]
        if name not in self._made:
            address = new_database(self._server, f"{name}_kept")
            prepare_database(address)
            fill(address)
            self._made[name] = address
        return new_database(self._server, name, template=f"{name}_kept")

    def close(self) -> None:
        self._engine.dispose()
