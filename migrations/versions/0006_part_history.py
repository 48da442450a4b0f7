"""What was changed on parts, by whom, and which doubles were merged."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
"""Sorted and compared sign by sign, as SQLite does."""


def upgrade() -> None:
    op.create_table(
        "part_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("of_id", sa.Integer(), nullable=False),
        sa.Column("act", TEXT, nullable=False),
        sa.Column("at", UTCDateTime(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=True),
        sa.Column("was", TEXT, nullable=False),
        sa.Column("became", TEXT, nullable=False),
        sa.CheckConstraint("json_valid(was)", name=op.f("ck_part_change_was_json")),
        sa.CheckConstraint("json_valid(became)", name=op.f("ck_part_change_became_json")),
        sa.CheckConstraint("act IN ('changed', 'merged')", name=op.f("ck_part_change_act")),
        sa.ForeignKeyConstraint(
            ["part_id"], ["part.id"], name=op.f("fk_part_change_part_id_part"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["by_id"], ["observer.id"], name=op.f("fk_part_change_by_id_observer"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_change")),
        sqlite_autoincrement=True,
    )
    for column in ("part_id", "of_id", "by_id"):
        op.create_index(op.f(f"ix_part_change_{column}"), "part_change", [column])


def downgrade() -> None:
    op.drop_table("part_change")
