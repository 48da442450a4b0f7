"""The sky: sites, which one a rig is usually used at, lists of targets; and needs that are kept."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
"""Sorted and compared sign by sign, as SQLite does."""


def upgrade() -> None:
    op.create_table(
        "site",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("sort_key", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.CheckConstraint("json_valid(document)", name=op.f("ck_site_document_json")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_site_revision")),
        sa.ForeignKeyConstraint(
            ["observer_id"], ["observer.id"], name=op.f("fk_site_observer_id_observer"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_site_observer_id"), "site", ["observer_id"])
    op.create_table(
        "target",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("sort_key", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=True),
        sa.CheckConstraint("document IS NULL OR json_valid(document)", name=op.f("ck_target_document_json")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_target_revision")),
        sa.ForeignKeyConstraint(
            ["observer_id"], ["observer.id"], name=op.f("fk_target_observer_id_observer"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_target")),
        sa.UniqueConstraint("observer_id", "sort_key", name=op.f("uq_target_observer_id_sort_key")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "rig_site",
        sa.Column("rig_id", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["rig_id"], ["rig.id"], name=op.f("fk_rig_site_rig_id_rig"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["site_id"], ["site.id"], name=op.f("fk_rig_site_site_id_site"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("rig_id", name=op.f("pk_rig_site")),
    )
    op.create_index(op.f("ix_rig_site_site_id"), "rig_site", ["site_id"])
    op.create_table(
        "needs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("sort_key", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.CheckConstraint("json_valid(document)", name=op.f("ck_needs_document_json")),
        sa.ForeignKeyConstraint(
            ["observer_id"], ["observer.id"], name=op.f("fk_needs_observer_id_observer"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_needs")),
        sa.UniqueConstraint("observer_id", "sort_key", name=op.f("uq_needs_observer_id_sort_key")),
        sqlite_autoincrement=True,
    )


def downgrade() -> None:
    for table in ("needs", "rig_site", "target", "site"):
        op.drop_table(table)
