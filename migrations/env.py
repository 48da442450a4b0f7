"""Run by Alembic. The app hands over an open connection inside a transaction; `alembic` on the command
line, for making a new migration, is told which database: `alembic -x database=FILE-OR-ADDRESS ...`."""

from __future__ import annotations

from typing import Literal

from alembic import context
from sqlalchemy import Connection
from sqlalchemy.schema import SchemaItem

import server.store.account_tables  # noqa: F401 - so that its tables are known
from server.store.dialects import database_at
from server.store.tables import Row


def include_object(_item: SchemaItem, name: str | None, kind: str, *_: object) -> bool:
    """Leave out the full-text index, and SQLite's tables for it: migrations make them by hand."""
    return not (kind in ("table", "index") and (name or "").startswith("part_search"))


def migrate(connection: Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=Row.metadata,
        include_object=include_object,
        compare_type=True,
        # SQLite changes most things of a table only by copying it.
        render_as_batch=True,
        transactional_ddl=True,
    )
    with context.begin_transaction():
        context.run_migrations()


def main() -> None:
    handed_over = context.config.attributes.get("connection")
    if handed_over is not None:
        migrate(handed_over)
        return
    where: str | Literal[False] = context.get_x_argument(as_dictionary=True).get("database", False)
    if not where:
        raise SystemExit("Say which database: alembic -x database=FILE-OR-ADDRESS ...")
    engine = database_at(where).migrating()
    with engine.begin() as connection:
        migrate(connection)
    engine.dispose()


main()
