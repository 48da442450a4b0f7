"""Accounts of the hosted form; who leaves it may take their saved entries away."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
"""Sorted and compared sign by sign, as SQLite does."""


def _person(table: str, column: str, ondelete: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        [column], ["observer.id"], name=op.f(f"fk_{table}_{column}_observer"), ondelete=ondelete
    )


def _key(table: str, column: str = "id") -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(column, name=op.f(f"pk_{table}"))


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, TEXT, nullable=False)


def _number(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.Integer(), nullable=nullable)


def _moment(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger(), nullable=nullable)


def upgrade() -> None:
    op.create_table(
        "account",
        _number("observer_id"),
        _text("login"),
        _text("login_key"),
        _text("role"),
        _text("password_hash"),
        _moment("created_at"),
        _moment("closed_at", nullable=True),
        sa.CheckConstraint("role IN ('member', 'steward')", name=op.f("ck_account_role")),
        _person("account", "observer_id", "CASCADE"),
        _key("account", "observer_id"),
        sa.UniqueConstraint("login_key", name=op.f("uq_account_login_key")),
    )
    op.create_table(
        "account_session",
        _number("id"),
        _number("observer_id"),
        _text("token_hash"),
        _text("agent"),
        _moment("began_at"),
        _moment("seen_at"),
        _person("account_session", "observer_id", "CASCADE"),
        _key("account_session"),
        sa.UniqueConstraint("token_hash", name=op.f("uq_account_session_token_hash")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "account_link",
        _number("id"),
        _text("purpose"),
        _text("role"),
        _number("observer_id", nullable=True),
        _text("token_hash"),
        _moment("made_at"),
        _moment("expires_at"),
        _person("account_link", "observer_id", "CASCADE"),
        _key("account_link"),
        sa.UniqueConstraint("token_hash", name=op.f("uq_account_link_token_hash")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "account_asked",
        _number("id"),
        _text("login"),
        _text("words"),
        _text("password_hash"),
        _moment("asked_at"),
        _key("account_asked"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "account_tries",
        _text("key"),
        _number("failed"),
        _moment("last_at"),
        _moment("until"),
        _key("account_tries", "key"),
    )
    op.create_table(
        "account_log",
        _number("id"),
        _moment("at"),
        _text("what"),
        _number("by_id", nullable=True),
        _number("about_id", nullable=True),
        _person("account_log", "by_id", "SET NULL"),
        _person("account_log", "about_id", "SET NULL"),
        _key("account_log"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "leaving",
        _number("observer_id"),
        _person("leaving", "observer_id", "CASCADE"),
        _key("leaving", "observer_id"),
    )
    for table, column in (
        ("account_session", "observer_id"),
        ("account_link", "observer_id"),
        ("account_log", "at"),
        ("account_log", "by_id"),
        ("account_log", "about_id"),
    ):
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])
    _entries_go_with_who_leaves()


REFUSES = "RAISE EXCEPTION 'a saved entry never changes' USING ERRCODE = 'integrity_constraint_violation';"


def _postgres_trigger(before: str) -> None:
    op.execute(
        "CREATE OR REPLACE FUNCTION entry_never_changes() RETURNS trigger LANGUAGE plpgsql AS $$ "
        f"BEGIN {before} {REFUSES} END $$"
    )


def _sqlite_trigger(when: str) -> None:
    op.execute("DROP TRIGGER entry_no_delete")
    op.execute(
        f"CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry {when} "
        "BEGIN SELECT RAISE(ABORT, 'a saved entry never changes'); END"
    )


def _on_postgres() -> bool:
    return op.get_context().dialect.name == "postgresql"


def _entries_go_with_who_leaves() -> None:
    if _on_postgres():
        # Two conditions, one in the other: before a TRUNCATE there is no row to ask.
        _postgres_trigger(
            "IF TG_OP = 'DELETE' THEN "
            "IF EXISTS (SELECT 1 FROM leaving WHERE observer_id = OLD.observer_id) THEN RETURN OLD; END IF; "
            "END IF;"
        )
    else:
        _sqlite_trigger("WHEN NOT EXISTS (SELECT 1 FROM leaving WHERE observer_id = old.observer_id)")


def downgrade() -> None:
    if _on_postgres():
        _postgres_trigger("")
    else:
        _sqlite_trigger("")
    for table in ("leaving", "account_log", "account_tries", "account_asked", "account_link"):
        op.drop_table(table)
    op.drop_table("account_session")
    op.drop_table("account")
