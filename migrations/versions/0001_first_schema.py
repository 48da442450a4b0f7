"""The first schema: observers, catalogue, shelves, rigs, logbook and shares."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0001"
down_revision = None

APPLICATION_ID = 0x5472776B
"""The mark "Trwk" in the file's header."""

branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
"""Sorted and compared sign by sign, as SQLite does."""


def upgrade() -> None:
    if on_postgres():
        _postgres_json_valid()
    op.create_table(
        "observer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("name_key", TEXT, nullable=False),
        sa.Column("units", TEXT, nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_observer")),
        sa.UniqueConstraint("name_key", name=op.f("uq_observer_name_key")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "part",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("sort_key", TEXT, nullable=False),
        sa.Column("entered_by", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("length_mm", sa.Float(), nullable=True),
        sa.Column("mass_kg", sa.Float(), nullable=True),
        sa.Column("price_hundredths", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=True),
        sa.Column("currency", TEXT, nullable=True),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.Column("changed_at", UTCDateTime(), nullable=False),
        sa.Column("maker", TEXT, nullable=False),
        sa.Column("model", TEXT, nullable=False),
        sa.Column("words", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.CheckConstraint("(price_hundredths IS NULL) = (currency IS NULL)", name=op.f("ck_part_price")),
        sa.CheckConstraint("json_valid(document)", name=op.f("ck_part_document_json")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_part_revision")),
        sa.ForeignKeyConstraint(
            ["entered_by"], ["observer.id"], name=op.f("fk_part_entered_by_observer"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_part_entered_by"), "part", ["entered_by"])
    op.create_index(op.f("ix_part_kind_sort_key_id"), "part", ["kind", "sort_key", "id"])
    op.create_index(op.f("ix_part_sort_key_id"), "part", ["sort_key", "id"])
    op.create_table(
        "rig",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("state_number", sa.Integer(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.Column("changed_at", UTCDateTime(), nullable=False),
        sa.CheckConstraint("version >= 1", name=op.f("ck_rig_version")),
        sa.ForeignKeyConstraint(
            ["observer_id"], ["observer.id"], name=op.f("fk_rig_observer_id_observer"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rig")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_rig_observer_id"), "rig", ["observer_id"])
    op.create_table(
        "entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rig_id", sa.Integer(), nullable=False),
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.CheckConstraint("json_valid(document)", name=op.f("ck_entry_document_json")),
        sa.ForeignKeyConstraint(
            ["observer_id"], ["observer.id"], name=op.f("fk_entry_observer_id_observer"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["rig_id"], ["rig.id"], name=op.f("fk_entry_rig_id_rig"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_entry")),
        sa.UniqueConstraint("rig_id", "number", name=op.f("uq_entry_rig_id_number")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_entry_observer_id"), "entry", ["observer_id"])
    op.create_table(
        "holding",
        sa.Column("observer_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("owned", sa.Integer(), nullable=False),
        sa.Column("wished", sa.Integer(), nullable=False),
        sa.Column("considered", sa.Integer(), nullable=False),
        sa.CheckConstraint("owned + wished + considered > 0", name=op.f("ck_holding_something")),
        sa.CheckConstraint(
            "owned >= 0 AND wished >= 0 AND considered >= 0", name=op.f("ck_holding_not_negative")
        ),
        sa.ForeignKeyConstraint(
            ["observer_id"], ["observer.id"], name=op.f("fk_holding_observer_id_observer"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["part_id"], ["part.id"], name=op.f("fk_holding_part_id_part"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("observer_id", "part_id", name=op.f("pk_holding")),
    )
    op.create_index(op.f("ix_holding_part_id"), "holding", ["part_id"])
    op.create_table(
        "part_side",
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("side", TEXT, nullable=False),
        sa.Column("size_key", TEXT, nullable=False),
        sa.Column("gender", TEXT, nullable=False),
        sa.Column("width_mm", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(
            ["part_id"], ["part.id"], name=op.f("fk_part_side_part_id_part"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("part_id", "side", name=op.f("pk_part_side")),
    )
    op.create_index(
        op.f("ix_part_side_size_key_gender_part_id"), "part_side", ["size_key", "gender", "part_id"]
    )
    op.create_index(op.f("ix_part_side_width_mm"), "part_side", ["width_mm"])
    op.create_table(
        "rig_state",
        sa.Column("rig_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("words", TEXT, nullable=False),
        sa.Column("parts", sa.Integer(), nullable=False),
        sa.Column("made_at", UTCDateTime(), nullable=False),
        sa.Column("plan", TEXT, nullable=False),
        sa.CheckConstraint("json_valid(plan)", name=op.f("ck_rig_state_plan_json")),
        sa.ForeignKeyConstraint(
            ["rig_id"], ["rig.id"], name=op.f("fk_rig_state_rig_id_rig"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("rig_id", "number", name=op.f("pk_rig_state")),
    )
    op.create_table(
        "rig_state_part",
        sa.Column("rig_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["part_id"], ["part.id"], name=op.f("fk_rig_state_part_part_id_part"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["rig_id", "number"],
            ["rig_state.rig_id", "rig_state.number"],
            name=op.f("fk_rig_state_part_rig_id_number_rig_state"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("rig_id", "number", "part_id", name=op.f("pk_rig_state_part")),
    )
    op.create_index(op.f("ix_rig_state_part_part_id"), "rig_state_part", ["part_id"])
    op.create_table(
        "share",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token", TEXT, nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.Column("withdrawn_at", UTCDateTime(), nullable=True),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["entry.id"], name=op.f("fk_share_entry_id_entry"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_share")),
        sa.UniqueConstraint("token", name=op.f("uq_share_token")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_share_entry_id"), "share", ["entry_id"])
    if on_postgres():
        _postgres_search_index()
        _postgres_entries_never_change()
        op.execute("COMMENT ON TABLE alembic_version IS 'Trwk'")
        return
    _sqlite_search_index()
    _sqlite_entries_never_change()
    op.execute(f"PRAGMA application_id = {APPLICATION_ID}")


def _sqlite_search_index() -> None:
    """Full-text search over the words of parts. The text itself stays in the table; triggers keep the
    index."""
    op.execute(
        """
        CREATE VIRTUAL TABLE part_search USING fts5(
            words, kind, content='part', content_rowid='id', columnsize=0,
            tokenize='unicode61 remove_diacritics 2', prefix='1 2 3'
        )
        """
    )
    put = "INSERT INTO part_search(rowid, words, kind) VALUES (new.id, new.words, new.kind);"
    take = (
        "INSERT INTO part_search(part_search, rowid, words, kind) "
        "VALUES ('delete', old.id, old.words, old.kind);"
    )
    op.execute(f"CREATE TRIGGER part_search_put AFTER INSERT ON part BEGIN {put} END")
    op.execute(f"CREATE TRIGGER part_search_take AFTER DELETE ON part BEGIN {take} END")
    op.execute(
        "CREATE TRIGGER part_search_change AFTER UPDATE ON part "
        f"WHEN old.words <> new.words OR old.kind <> new.kind BEGIN {take} {put} END"
    )


def _sqlite_entries_never_change() -> None:
    for event in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER entry_no_{event.lower()} BEFORE {event} ON entry "
            "BEGIN SELECT RAISE(ABORT, 'a saved entry never changes'); END"
        )
    # INSERT OR REPLACE removes the row in its way; without this it would be a way round.
    op.execute(
        "CREATE TRIGGER entry_no_replace BEFORE INSERT ON entry "
        "WHEN EXISTS (SELECT 1 FROM entry "
        "WHERE id = new.id OR (rig_id = new.rig_id AND number = new.number)) "
        "BEGIN SELECT RAISE(ABORT, 'a saved entry never changes'); END"
    )


def on_postgres() -> bool:
    return op.get_context().dialect.name == "postgresql"


def _postgres_json_valid() -> None:
    """SQLite's function of this name, by which the checks of documents are the same on both."""
    op.execute(
        """
        CREATE FUNCTION json_valid(document text) RETURNS boolean LANGUAGE plpgsql IMMUTABLE STRICT AS $$
        BEGIN
            PERFORM document::json;
            RETURN true;
        EXCEPTION WHEN invalid_text_representation THEN
            RETURN false;
        END $$
        """
    )


def _postgres_search_index() -> None:
    """The words are tokens with a space between: the store takes them apart as SQLite's index does. What the
    function is said to cost keeps the planner from asking every row."""
    op.execute(
        """
        CREATE FUNCTION part_lexemes(words text) RETURNS tsvector
        LANGUAGE plpgsql IMMUTABLE STRICT PARALLEL SAFE COST 1000 AS $$
        BEGIN
            RETURN array_to_tsvector(string_to_array(words, ' '));
        END $$
        """
    )
    op.execute("CREATE INDEX part_search ON part USING gin (part_lexemes(words))")


def _postgres_entries_never_change() -> None:
    op.execute(
        """
        CREATE FUNCTION entry_never_changes() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            RAISE EXCEPTION 'a saved entry never changes' USING ERRCODE = 'integrity_constraint_violation';
        END $$
        """
    )
    op.execute(
        "CREATE TRIGGER entry_no_change BEFORE UPDATE OR DELETE ON entry "
        "FOR EACH ROW EXECUTE FUNCTION entry_never_changes()"
    )
    op.execute(
        "CREATE TRIGGER entry_no_truncate BEFORE TRUNCATE ON entry "
        "FOR EACH STATEMENT EXECUTE FUNCTION entry_never_changes()"
    )


def downgrade() -> None:
    if not on_postgres():
        op.execute("DROP TABLE part_search")
    op.drop_table("share")
    op.drop_table("rig_state_part")
    op.drop_table("rig_state")
    op.drop_table("part_side")
    op.drop_table("holding")
    op.drop_table("entry")
    op.drop_table("rig")
    op.drop_table("part")
    op.drop_table("observer")
    if on_postgres():
        op.execute("DROP FUNCTION entry_never_changes, json_valid, part_lexemes")
