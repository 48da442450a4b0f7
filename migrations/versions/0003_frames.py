"""What rigs' own frames said."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
"""Sorted and compared sign by sign, as SQLite does."""


def upgrade() -> None:
    op.create_table(
        "measured",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.Column("rig_id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=True),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.CheckConstraint("json_valid(document)", name=op.f("ck_measured_document_json")),
        sa.ForeignKeyConstraint(
            ["observer_id"],
            ["observer.id"],
            name=op.f("fk_measured_observer_id_observer"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["rig_id"], ["rig.id"], name=op.f("fk_measured_rig_id_rig"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_measured_entry_id_entry"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_measured")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_measured_entry_id"), "measured", ["entry_id"])
    op.create_index(op.f("ix_measured_rig_id"), "measured", ["rig_id"])


def downgrade() -> None:
    op.drop_table("measured")
