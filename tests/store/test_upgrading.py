"""Databases of every earlier schema, with rows in them, are brought to the newest and read back."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import Column, Table, delete, insert, inspect, select

from server.flow.protocols import PartQuery
from server.paths import MIGRATIONS
from server.store import Stores, open_stores, prepare_database
from server.store import tables as tables_of
from server.store.account_tables import account, account_link, account_log, account_session
from server.store.accounts import HostedStores
from server.store.dialects import database_at, set_numbers_given
from server.store.prepare import known_revisions
from server.store.tables import Row
from tests.places import Place, Places, demo_club
from tests.postgres import new_database
from tests.store.conftest import ring

KNOWN, NEWEST = known_revisions()
EARLIER = sorted(KNOWN - {NEWEST})


def made_at(place: Place, revision: str) -> None:
    """Makes a database as the Trainwright of that schema made it."""
    script = ScriptDirectory(str(MIGRATIONS))
    earlier = {Path(one.path).name for one in script.iterate_revisions(revision, "base")}
    with TemporaryDirectory() as folder:
        migrations = Path(shutil.copytree(MIGRATIONS, Path(folder) / "migrations"))
        for file in (migrations / "versions").glob("*.py"):
            if file.name not in earlier:
                file.unlink()
        assert prepare_database(place, migrations).created


def columns_in(place: Place, tables: list[Table]) -> dict[str, list[Column]]:
    """Those columns of the tables that the database has."""
    engine = database_at(place).reading()
    known = inspect(engine)
    found = {table.name: [table.c[one["name"]] for one in known.get_columns(table.name)] for table in tables}
    engine.dispose()
    return found


def rows_in(place: Place, tables: dict[str, list[Column]]) -> dict[str, list[tuple]]:
    """All rows of the tables, of these columns."""
    engine = database_at(place).reading()
    with engine.connect() as connection:
        found = {
            name: [tuple(row) for row in connection.execute(select(*columns).order_by(*columns))]
            for name, columns in tables.items()
        }
    engine.dispose()
    return found


def filled_from(source: Place, place: Place) -> list[Table]:
    """Brings every row of the source that the database has a table for into it; these tables."""
    reading, writing = database_at(source).reading(), database_at(place).writing()
    with reading.connect() as here, writing.begin() as there:
        known = inspect(there)
        tables = [table for table in Row.metadata.sorted_tables if known.has_table(table.name)]
        for table in tables:
            names = [one["name"] for one in known.get_columns(table.name)]
            rows = here.execute(select(*(table.c[name] for name in names))).mappings().all()
            if rows:
                there.execute(insert(table), [dict(row) for row in rows])
            if rows and table.dialect_options["sqlite"]["autoincrement"]:
                set_numbers_given(there, table.name, max(row["id"] for row in rows))
    reading.dispose()
    writing.dispose()
    return tables


def give_account(place: Place, tables: list[Table]) -> bool:
    """Brings an account into it, signed in, with a link and a line of the log; whether its schema has any."""
    if account not in tables:
        return False
    engine = database_at(place).writing()
    with engine.begin() as connection:
        who = connection.execute(select(tables_of.observer.c.id).limit(1)).scalar_one()
        for table, row in (
            (account, {"observer_id": who, "login": "Ann", "login_key": "ann", "role": "steward",
                       "password_hash": "x", "created_at": 1}),
            (account_session, {"observer_id": who, "token_hash": "s", "agent": "a", "began_at": 1,
                               "seen_at": 2}),
            (account_link, {"purpose": "password", "role": "steward", "observer_id": who, "token_hash": "l",
                            "made_at": 1, "expires_at": 2}),
            (account_log, {"at": 1, "what": "signed in", "by_id": who, "about_id": None}),
        ):  # fmt: skip
            connection.execute(insert(table), row)
    engine.dispose()
    return True


def without(place: Place, tables: list[Table]) -> None:
    """Takes out every row of all other tables."""
    engine = database_at(place).writing()
    with engine.begin() as connection:
        for table in reversed(Row.metadata.sorted_tables):
            if table not in tables:
                connection.execute(delete(table))
    engine.dispose()


def told(stores: Stores) -> list[object]:
    """What people read of a database."""
    with stores.reading() as store:
        observers = store.observers()
        rigs = [line.id for one in observers for line in store.rigs(one.id)]
        entries = [name.id for one in observers for name in store.entry_names(one.id)]
        return [
            observers,
            [store.rig(number) for number in rigs],
            [store.entry(number) for number in entries],
            store.find_parts(PartQuery(observers[0].id, "ring")),
            [store.shelf(one.id) for one in observers],
        ]


@pytest.mark.parametrize("revision", EARLIER)
def test_a_database_of_an_earlier_schema_is_migrated_and_everything_is_read_back(
    places: Places, tmp_path: Path, revision: str, request: pytest.FixtureRequest
):
    source = places.lent("club", demo_club, tmp_path / "source")
    place: Place = tmp_path / "old.sqlite3"
    if isinstance(source, str):
        place = new_database(request.getfixturevalue("postgres"), "old")
    made_at(place, revision)
    tables = filled_from(source, place)
    assert {"part", "entry", "rig_state"} <= {table.name for table in tables}
    has_account = give_account(place, tables)
    columns = columns_in(place, tables)
    before = rows_in(place, columns)
    done = prepare_database(place)
    assert (done.created, done.migrated_from) == (False, revision)
    assert rows_in(place, columns) == before
    without(source, tables)
    here, there = open_stores(place), open_stores(source)
    assert told(here) == told(there)
    with here.writing() as store:
        added = store.add_part(ring("After all that"), store.observers()[0].id)
        assert added.id not in [row[0] for row in before["part"]]
        found = store.find_parts(PartQuery(1, "after all that")).lines
    assert [line.item.id for line in found] == [added.id]
    if has_account:
        with HostedStores(here).reading() as store:
            (kept,), session, link = store.accounts(), store.session("s"), store.link("l")
            assert (kept.login, kept.role, kept.mail) == ("Ann", "steward", "")
            assert session is not None
            assert (session.observer_id, session.as_club) == (kept.observer_id, False)
            assert link is not None
            assert (link.observer_id, link.mail) == (kept.observer_id, "")
            assert [(line.what, line.by) for line in store.log_lines(9)] == [("signed in", "Ann")]
    here.close()
    there.close()


def test_the_models_hold_every_table_of_the_earlier_schemas(tmp_path: Path):
    for revision in EARLIER:
        place = tmp_path / f"{revision}.sqlite3"
        made_at(place, revision)
        engine = database_at(place).reading()
        own = {name for name in inspect(engine).get_table_names() if not name.startswith("part_search")}
        engine.dispose()
        assert own - {"alembic_version"} <= set(Row.metadata.tables)


def test_of_two_that_migrate_at_once_one_does_it_and_the_other_is_told(postgres: str):
    for _ in range(2):
        place = new_database(postgres, "twice")
        made_at(place, EARLIER[0])
        command = [sys.executable, "-m", "server", "migrate", "--database", place]
        both = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT) for _ in range(2)]
        said = sorted(one.communicate(timeout=60)[0].decode() for one in both)
        assert said.count("The data was brought up to date.\n") == 1
        assert any("by another process" in one or "newest schema already" in one for one in said), said
        open_stores(place).close()
