"""What a club has in common: listed entries, gear that it lends; prices that are one's own."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
"""Sorted and compared sign by sign, as SQLite does."""


def _foreign(table: str, column: str, to: str, ondelete: str = "CASCADE") -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        [column], [f"{to}.id"], name=op.f(f"fk_{table}_{column}_{to}"), ondelete=ondelete
    )


def upgrade() -> None:
    op.create_table(
        "club_entry",
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("listed_at", sa.BigInteger(), nullable=False),
        _foreign("club_entry", "entry_id", "entry"),
        sa.PrimaryKeyConstraint("entry_id", name=op.f("pk_club_entry")),
    )
    op.create_table(
        "club",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.CheckConstraint("number = 1", name=op.f("ck_club_one")),
        _foreign("club", "observer_id", "observer", "RESTRICT"),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_club")),
        sa.UniqueConstraint("observer_id", name=op.f("uq_club_observer_id")),
    )
    op.create_table(
        "own_price",
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("price_hundredths", sa.BigInteger(), nullable=False),
        sa.Column("currency", TEXT, nullable=False),
        sa.CheckConstraint("price_hundredths >= 0", name=op.f("ck_own_price_not_negative")),
        _foreign("own_price", "observer_id", "observer"),
        _foreign("own_price", "part_id", "part"),
        sa.PrimaryKeyConstraint("observer_id", "part_id", name=op.f("pk_own_price")),
    )
    op.create_index(op.f("ix_own_price_part_id"), "own_price", ["part_id"])
    op.add_column(
        "account_session",
        sa.Column("as_club", sa.Boolean(), nullable=False, server_default=sa.false()),
    )


def downgrade() -> None:
    op.drop_column("account_session", "as_club")
    op.drop_table("own_price")
    op.drop_table("club")
    op.drop_table("club_entry")
