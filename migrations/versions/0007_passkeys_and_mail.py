"""Passkeys, and the address that a link for a lost password is sent to."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
"""Sorted and compared sign by sign, as SQLite does."""


def _person(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["observer_id"], ["observer.id"], name=op.f(f"fk_{table}_observer_id_observer"), ondelete="CASCADE"
    )


def upgrade() -> None:
    op.create_table(
        "account_passkey",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.Column("credential", TEXT, nullable=False),
        sa.Column("public_key", TEXT, nullable=False),
        sa.Column("handle", TEXT, nullable=False),
        sa.Column("sign_count", sa.BigInteger(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("added_at", sa.BigInteger(), nullable=False),
        sa.Column("used_at", sa.BigInteger(), nullable=True),
        _person("account_passkey"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_account_passkey")),
        sa.UniqueConstraint("credential", name=op.f("uq_account_passkey_credential")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "account_challenge",
        sa.Column("token_hash", TEXT, nullable=False),
        sa.Column("challenge", TEXT, nullable=False),
        sa.Column("observer_id", sa.Integer(), nullable=True),
        sa.Column("expires_at", sa.BigInteger(), nullable=False),
        _person("account_challenge"),
        sa.PrimaryKeyConstraint("token_hash", name=op.f("pk_account_challenge")),
    )
    for table in ("account_passkey", "account_challenge"):
        op.create_index(op.f(f"ix_{table}_observer_id"), table, ["observer_id"])
    op.add_column("account", sa.Column("mail", TEXT, nullable=True))
    op.add_column("account", sa.Column("mail_key", TEXT, nullable=True))
    op.create_index(op.f("ix_account_mail_key"), "account", ["mail_key"], unique=True)
    op.add_column("account_link", sa.Column("mail", TEXT, nullable=True))


def downgrade() -> None:
    op.drop_index(op.f("ix_account_mail_key"), "account")
    for table, column in (("account_link", "mail"), ("account", "mail_key"), ("account", "mail")):
        op.drop_column(table, column)
    op.drop_table("account_challenge")
    op.drop_table("account_passkey")
