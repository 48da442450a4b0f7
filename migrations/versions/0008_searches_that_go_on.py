"""How far the searches are that the processes of the hosted form run."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
"""Compared sign by sign, as SQLite does."""


def upgrade() -> None:
    op.create_table(
        "noted_search",
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("found", TEXT, nullable=False),
        sa.Column("seconds", sa.Double(), nullable=False),
        sa.Column("ended", sa.Boolean(), nullable=False),
        sa.Column("stopped", sa.Boolean(), nullable=False),
        sa.Column("noted_at", sa.Double(), nullable=False),
        sa.Column("seen_at", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(
            ["observer_id"],
            ["observer.id"],
            name=op.f("fk_noted_search_observer_id_observer"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("observer_id", "key", name=op.f("pk_noted_search")),
    )


def downgrade() -> None:
    op.drop_table("noted_search")
