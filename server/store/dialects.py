"""What differs between the two databases that the store knows: a SQLite file, and a PostgreSQL address.

All else of the store is the same SQL. Either database is one object that opens engines (`reading`, `writing`,
`migrating`) and tells errors in words; the clauses below are written by each database in its own way.

One writes at a time on both, from before it reads: SQLite by BEGIN IMMEDIATE, PostgreSQL by an advisory lock
of the transaction. So what a unit has read is still so when it writes, on both alike, and no unit has to be
begun again after a failure to serialise, which a unit that a door has opened could not be.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any

from sqlalchemy import (
    JSON,
    URL,
    BindParameter,
    Boolean,
    ColumnElement,
    Connection,
    Dialect,
    Engine,
    ExceptionContext,
    Insert,
    Table,
    Text,
    TypeDecorator,
    create_engine,
    event,
    make_url,
)
from sqlalchemy.exc import ArgumentError, OperationalError
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

from server.domain.errors import BusyError, NotFoundError, RefusedError, TrainwrightError
from server.store.trouble import trouble_at, trouble_with

BUSY_WAIT_MS = 5000
"""How long a unit waits for another one's write to end."""

STATEMENT_MS, IDLE_MS, CONNECT_S = 30_000, 60_000, 5
"""PostgreSQL: how long one statement may take; how long a unit may ask nothing before it is ended; how long
a connection may take.
"""

# Connections kept open; more are opened while they are needed, and closed after. With SQLite as many as there
# may be threads; PostgreSQL has a hundred for everybody, and each process has two of these pools.
_KEPT_OPEN = 4
_AT_MOST_FILE = 64
_AT_MOST_READING, _AT_MOST_WRITING = 16, 4

WRITING_LOCK, MIGRATING_LOCK = 0x5472776B, 0x5472776C
"""The numbers of the advisory locks: of who writes, and of who changes the schema."""

_NAME = "postgresql+psycopg://"


@dataclass(frozen=True)
class SqliteFile:
    """A SQLite file.

    Python's sqlite3 module would begin transactions late and by its own rules, which loses updates between
    threads; so it is told to keep out (isolation_level None) and each unit begins its own: IMMEDIATE where it
    will write, which takes the one write lock before anything is read, and DEFERRED where it only reads
    (SQLite documentation, "Transactions", section 2.2).
    """

    path: Path

    def __str__(self) -> str:
        return str(self.path)

    def reading(self) -> Engine:
        """An engine whose units see one state and cannot write."""
        return self._engine("BEGIN DEFERRED", query_only=True)

    def writing(self) -> Engine:
        """An engine whose units write, one at a time."""
        return self._engine("BEGIN IMMEDIATE")

    def migrating(self) -> Engine:
        """An engine to change the schema by. Foreign keys are off, as they must be while SQLite changes a
        table by copying it.
        """
        return self._engine("BEGIN IMMEDIATE", foreign_keys=False)

    def trouble(self, error: BaseException | None, *, opening: bool) -> TrainwrightError | None:  # noqa: ARG002
        """What an error says to a person; None where it is the program's own."""
        if isinstance(error, OverflowError):
            # A number beyond the 64 bits that SQLite has for one: no row carries it.
            return _no_such_number()
        return trouble_with(self.path, error)

    def _engine(self, begin: str, *, foreign_keys: bool = True, query_only: bool = False) -> Engine:
        engine = create_engine(
            f"sqlite:///{self.path.absolute()}",
            pool_size=_KEPT_OPEN,
            max_overflow=_AT_MOST_FILE - _KEPT_OPEN,
        )

        @event.listens_for(engine, "connect")
        def on_connect(connection: Any, record: object) -> None:  # noqa: ARG001 - SQLAlchemy's signature
            _set_up(connection, foreign_keys=foreign_keys, query_only=query_only)

        return _told(engine, self, begin)


def _set_up(connection: sqlite3.Connection, *, foreign_keys: bool, query_only: bool) -> None:
    connection.isolation_level = None
    for pragma in (
        f"busy_timeout={BUSY_WAIT_MS}",
        "journal_mode=WAL",
        # A laptop in a field dies without warning: FULL makes every commit reach the disk before it is
        # acknowledged (SQLite documentation, "PRAGMA synchronous").
        "synchronous=FULL",
        f"foreign_keys={'ON' if foreign_keys else 'OFF'}",
        # Without it INSERT OR REPLACE would remove rows behind the back of the triggers that refuse removal.
        "recursive_triggers=ON",
        # Of 2 MB for each connection little is asked again; the system keeps the file's pages as well.
        "cache_size=-400",
        f"query_only={'ON' if query_only else 'OFF'}",
    ):
        connection.execute(f"PRAGMA {pragma}").close()


_NUL = re.compile(r"(?<!\\)(?:\\\\)*\\u0000")
"""A NUL in a JSON text."""


@dataclass(frozen=True)
class PostgresAddress:
    """A database of a PostgreSQL server, 15 or newer."""

    url: URL

    def __str__(self) -> str:
        """As sentences name it: without the password."""
        port = f":{self.url.port}" if self.url.port else ""
        return f"the database “{self.url.database}” at {self.url.host or 'this machine'}{port}"

    def encrypted(self) -> URL:
        """Its address, which asks another machine for TLS and a certificate of its name, unless it says
        itself what to ask for (libpq's sslmode).
        """
        host = self.url.host or str(self.url.query.get("host", ""))
        is_here = not host or host.startswith("/") or host in ("localhost", "127.0.0.1", "::1")
        if is_here or "sslmode" in self.url.query:
            return self.url
        return self.url.update_query_dict({"sslmode": "verify-full", "sslrootcert": "system"})

    def reading(self) -> Engine:
        """An engine whose units see one state and cannot write."""
        engine = self._engine("REPEATABLE READ", _AT_MOST_READING)

        @event.listens_for(engine, "connect")
        def on_connect(connection: Any, record: object) -> None:  # noqa: ARG001 - SQLAlchemy's signature
            connection.read_only = True

        return _told(engine, self, None)

    def writing(self) -> Engine:
        """An engine whose units write, one at a time; each question sees what was kept before it."""
        engine = self._engine("READ COMMITTED", _AT_MOST_WRITING)

        @event.listens_for(engine, "before_cursor_execute")
        def before(*told: Any) -> None:
            # A document with a NUL in a text would be kept, and could not be asked for anything.
            lines = told[3] if isinstance(told[3], list) else [told[3]]
            for line in lines:
                for value in line.values() if isinstance(line, dict) else line or ():
                    if isinstance(value, str) and _NUL.search(value):
                        raise RefusedError(
                            "A text in this holds a NUL, a sign that cannot be seen or typed. Take it out, "
                            "by copying the text as plain text for example."
                        )

        return _told(engine, self, f"SELECT pg_advisory_xact_lock({WRITING_LOCK})")

    def migrating(self) -> Engine:
        """An engine to change the schema by, while nobody writes. It waits for locks, and works, as long as
        it takes.
        """
        engine = self._engine("READ COMMITTED", _AT_MOST_WRITING, limited=False)
        return _told(engine, self, f"SELECT pg_advisory_xact_lock({WRITING_LOCK})")

    def trouble(self, error: BaseException | None, *, opening: bool) -> TrainwrightError | None:
        """What an error says to a person; None where it is the program's own. `opening`: it came while a
        connection was opened.
        """
        state = getattr(error, "sqlstate", None)
        if state == "22003":
            return _no_such_number()
        if type(error).__name__ == "DataError" and "NUL" in str(error):
            return NotFoundError("There is nothing here by a name with a NUL sign in it.")
        if state in ("40001", "40P01"):
            return BusyError(
                "Another change was being stored at the same moment, so this one was not made. "
                "Try again in a moment."
            )
        return trouble_at(str(self), self.url.username or "", error, opening=opening)

    def _engine(self, isolation: str, at_most: int, *, limited: bool = True) -> Engine:
        settings = {"timezone": "UTC"}
        if limited:
            settings |= {
                "statement_timeout": str(STATEMENT_MS),
                "lock_timeout": str(BUSY_WAIT_MS),
                "idle_in_transaction_session_timeout": str(IDLE_MS),
            }
        options = " ".join(f"-c {name}={value}" for name, value in settings.items())
        given = self.url.query.get("options", "")
        try:
            return create_engine(
                self.encrypted(),
                isolation_level=isolation,
                pool_size=_KEPT_OPEN,
                max_overflow=at_most - _KEPT_OPEN,
                pool_timeout=BUSY_WAIT_MS / 1000,
                # A connection that the server has cut meanwhile is opened anew, and nobody notices.
                pool_pre_ping=True,
                connect_args={"options": f"{given} {options}", "connect_timeout": CONNECT_S},
            )
        except ModuleNotFoundError as error:
            raise RefusedError(
                "A PostgreSQL database asks for more than the local form has: "
                "pip install 'trainwright[host]'."
            ) from error


Database = SqliteFile | PostgresAddress


def database_at(where: Path | str) -> Database:
    """The database of a path, or of an address that begins with postgresql+psycopg://.

    Raises RefusedError for an address of another kind, or one that cannot be read.
    """
    if isinstance(where, Path) or "://" not in where:
        return SqliteFile(Path(where))
    try:
        url = make_url(where)
    except (ArgumentError, ValueError):
        url = None
    if url is None or url.drivername != _NAME.removesuffix("://") or not url.database:
        raise RefusedError(
            f"A database's address is a file, or {_NAME}name:password@host:port/database: this is neither."
        )
    return PostgresAddress(url)


def _told(engine: Engine, database: Database, begin: str | None) -> Engine:
    """The engine, whose errors are told in words, and whose transactions start with the statement `begin`."""

    @event.listens_for(engine, "handle_error")
    def on_error(context: ExceptionContext) -> None:
        if context.is_pre_ping:
            # Only whether a kept connection is still good was asked; another one is opened where it is not.
            return
        trouble = database.trouble(context.original_exception, opening=context.connection is None)
        if trouble is not None:
            raise trouble from context.original_exception

    if begin is not None:

        @event.listens_for(engine, "begin")
        def on_begin(connection: Connection) -> None:
            connection.exec_driver_sql(begin)

    return engine


def is_busy(error: OperationalError) -> bool:
    """Whether another unit's write has lasted too long."""
    code = getattr(error.orig, "sqlite_errorcode", None)
    # lock_not_available (PostgreSQL documentation, "Error Codes").
    return code == sqlite3.SQLITE_BUSY or getattr(error.orig, "sqlstate", None) == "55P03"


def _no_such_number() -> NotFoundError:
    return NotFoundError("There is nothing here by so large a number.")


def on_postgres(connection: Connection) -> bool:
    """Whether a unit's database is PostgreSQL."""
    return connection.dialect.name == "postgresql"


def tried(connection: Connection) -> AbstractContextManager[object]:
    """Around a statement that may be refused in a unit that goes on: PostgreSQL gives up the whole
    transaction else.
    """
    return connection.begin_nested() if on_postgres(connection) else nullcontext()


def numbers_given(connection: Connection, table: str) -> int:
    """The largest number that a row of the table has ever had; 0 where there has been none."""
    if on_postgres(connection):
        last, called = connection.exec_driver_sql(f"SELECT last_value, is_called FROM {table}_id_seq").one()
        return int(last) if called else 0
    asked = f"SELECT seq FROM sqlite_sequence WHERE name = '{table}'"
    return int(connection.exec_driver_sql(asked).scalar() or 0)


def set_numbers_given(connection: Connection, table: str, number: int) -> None:
    """Let the next row of the table have a number above this one."""
    if number == numbers_given(connection, table):
        return
    if on_postgres(connection):
        connection.exec_driver_sql(f"SELECT setval('{table}_id_seq', {number})")
        return
    connection.exec_driver_sql(f"DELETE FROM sqlite_sequence WHERE name = '{table}'")
    connection.exec_driver_sql(f"INSERT INTO sqlite_sequence VALUES ('{table}', {number})")


@cache
def put_or_replace(dialect: str, table: Table, keys: tuple[str, ...]) -> Insert:
    """An insert into the table that replaces what else a row with the same keys holds."""
    columns = [column.name for column in table.c]
    if dialect == "postgresql":
        from sqlalchemy.dialects.postgresql import insert as on_postgresql

        put = on_postgresql(table)
        others = {name: put.excluded[name] for name in columns if name not in keys}
        return put.on_conflict_do_update(index_elements=keys, set_=others)
    from sqlalchemy.dialects.sqlite import insert as on_sqlite

    put_file = on_sqlite(table)
    others = {name: put_file.excluded[name] for name in columns if name not in keys}
    return put_file.on_conflict_do_update(index_elements=keys, set_=others)


# Clauses that each database writes in its own way.


class Among(FunctionElement[bool]):
    """Whether a number is one of a list, which is handed over as one value, the text of a JSON list."""

    type = Boolean()
    inherit_cache = True

    def __init__(self, number: ColumnElement[Any], listed: str | BindParameter[Any]) -> None:
        super().__init__(number, listed if isinstance(listed, BindParameter) else _text(listed))


class AsJson(FunctionElement[Any]):
    """A document's column, as JSON that a value can be taken out of."""

    type = JSON()
    inherit_cache = True


class Found(FunctionElement[bool]):
    """PostgreSQL's condition that the words of a part hold all of these lexemes; the migrations make the
    function, and the index over it that answers.
    """

    type = Boolean()
    inherit_cache = True

    def __init__(self, words: ColumnElement[Any], lexemes: str) -> None:
        super().__init__(words, _text(lexemes))


def _text(value: str) -> BindParameter[str]:
    return BindParameter(None, value, Text(), unique=True)


@compiles(Among)
def _among(element: Among, compiler: SQLCompiler, **more: Any) -> str:
    number, listed = (compiler.process(one, **more) for one in element.clauses)
    return f"{number} IN (SELECT value FROM json_each({listed}))"


@compiles(Among, "postgresql")
def _among_on_postgres(element: Among, compiler: SQLCompiler, **more: Any) -> str:
    number, listed = (compiler.process(one, **more) for one in element.clauses)
    each = f"SELECT value::integer FROM json_array_elements_text(CAST({listed} AS json))"
    return f"{number} = ANY (ARRAY({each}))"


@compiles(AsJson)
def _as_json(element: AsJson, compiler: SQLCompiler, **more: Any) -> str:
    return compiler.process(element.clauses, **more)


@compiles(AsJson, "postgresql")
def _as_json_on_postgres(element: AsJson, compiler: SQLCompiler, **more: Any) -> str:
    return f"CAST({compiler.process(element.clauses, **more)} AS json)"


@compiles(Found, "postgresql")
def _found_on_postgres(element: Found, compiler: SQLCompiler, **more: Any) -> str:
    words, lexemes = (compiler.process(one, **more) for one in element.clauses)
    return f"part_lexemes({words}) @@ CAST({lexemes} AS tsquery)"


# How words are taken apart.

TOKENIZER = "unicode61 remove_diacritics 2"
"""SQLite's (FTS5 documentation, "Unicode61 Tokenizer"); the migrations name the same."""

_LONGEST = 256
"""Signs of a token that PostgreSQL is handed: more than a search has, and less than it takes."""


class _Tokenizer:
    """SQLite's own tokenizer, so that a word is the same on both databases."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._opened = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        self._opened.execute(f"CREATE VIRTUAL TABLE text USING fts5(words, tokenize='{TOKENIZER}')")
        self._opened.execute("CREATE VIRTUAL TABLE token USING fts5vocab(text, instance)")

    def tokens(self, text: str) -> list[str]:
        with self._lock:
            self._opened.execute("INSERT INTO text VALUES (?)", (text,))
            rows = self._opened.execute("SELECT term FROM token ORDER BY offset").fetchall()
            self._opened.execute("DELETE FROM text")
        return [row[0][:_LONGEST] for row in rows]


@cache
def _tokenizer() -> _Tokenizer:
    return _Tokenizer()


def tokens_of(text: str) -> list[str]:
    """The tokens that the search index makes of a text: letters and digits, small, without diacritics."""
    return _tokenizer().tokens(text)


def lexemes_of(phrases: Iterable[list[str]]) -> str:
    """A question for `Found`: all tokens of all phrases, the last of each as a beginning."""
    return " & ".join(
        f"'{token}'{':*' if place == len(phrase) else ''}"
        for phrase in phrases
        for place, token in enumerate(phrase, start=1)
    )


class Words(TypeDecorator[str]):
    """The words of a part: as they are for SQLite, whose index takes them apart itself, and as their tokens
    with a space between for PostgreSQL.
    """

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        """The words as this database keeps them."""
        if value is None or dialect.name != "postgresql":
            return value
        return " ".join(tokens_of(value))
