"""The tables. Row classes never leave this folder and are never trusted: SQLModel does not validate a row
class, so what goes in and comes out is a domain object, made and read by `mapping`.

Queries use the tables themselves (the names in small letters at the end): rows turn into domain objects at
once, and no session holds a copy that could grow stale.
"""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    literal_column,
    table,
)
from sqlmodel import Field, SQLModel

from server.store.dialects import Words

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}

# Numbers are never given twice: a saved entry names parts by number long after one has left the catalogue.
NEVER_AGAIN = {"sqlite_autoincrement": True}


class Row(SQLModel):
    """Base of the row classes: one set of tables, with names that a migration can rely on."""

    metadata: ClassVar[MetaData] = MetaData(naming_convention=NAMING)


class ObserverRow(Row, table=True):
    """A person of this install. `name_key` is the name without regard to letter case."""

    __tablename__ = "observer"
    __table_args__ = (UniqueConstraint("name_key"), NEVER_AGAIN)

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(sa_type=Text)
    name_key: str = Field(sa_type=Text)
    units: str = Field(sa_type=Text)
    created_at: datetime


class PartRow(Row, table=True):
    """A part of the catalogue: what is asked for in columns, all of it in the document.

    `sort_key` is maker and model without regard to letter case; `words` is all text that a search looks
    through.
    """

    __tablename__ = "part"
    __table_args__ = (
        CheckConstraint("json_valid(document)", name="document_json"),
        CheckConstraint("revision >= 1", name="revision"),
        CheckConstraint("(price_hundredths IS NULL) = (currency IS NULL)", name="price"),
        Index(None, "sort_key", "id"),
        Index(None, "kind", "sort_key", "id"),
        Index(None, "entered_by"),
        NEVER_AGAIN,
    )

    id: int | None = Field(default=None, primary_key=True)
    kind: str = Field(sa_type=Text)
    sort_key: str = Field(sa_type=Text)
    entered_by: int = Field(sa_column=Column(ForeignKey("observer.id", ondelete="RESTRICT"), nullable=False))
    revision: int
    length_mm: float | None = None
    mass_kg: float | None = None
    # Beyond the 32 bits that PostgreSQL has for an integer.
    price_hundredths: int | None = Field(
        default=None, sa_column=Column(BigInteger().with_variant(Integer(), "sqlite"), nullable=True)
    )
    currency: str | None = Field(default=None, sa_type=Text)
    created_at: datetime
    changed_at: datetime
    maker: str = Field(sa_type=Text)
    model: str = Field(sa_type=Text)
    words: str = Field(sa_type=Words)
    document: str = Field(sa_type=Text)


class PartSideRow(Row, table=True):
    """One connection of a part: at its sky side, its camera side, a guider's side port, a saddle.

    `size_key` is the connection's key without its gender, `gender` is "male", "female" or empty (unknown,
    or the kind has none), `width_mm` is given for dovetails, whose clamps take neighbouring widths.
    """

    __tablename__ = "part_side"
    __table_args__ = (Index(None, "size_key", "gender", "part_id"), Index(None, "width_mm"))

    part_id: int = Field(sa_column=Column(ForeignKey("part.id", ondelete="CASCADE"), primary_key=True))
    side: str = Field(sa_type=Text, primary_key=True)
    size_key: str = Field(sa_type=Text)
    gender: str = Field(sa_type=Text)
    width_mm: float | None = None


class PartChangeRow(Row, table=True):
    """That a part was changed, or a double merged into it: what it said before and after.

    `of_id` is the number that the part had which was changed or merged; `part_id` where it stands now.
    """

    __tablename__ = "part_change"
    __table_args__ = (
        CheckConstraint("json_valid(was)", name="was_json"),
        CheckConstraint("json_valid(became)", name="became_json"),
        CheckConstraint("act IN ('changed', 'merged')", name="act"),
        Index(None, "part_id"),
        Index(None, "of_id"),
        Index(None, "by_id"),
        NEVER_AGAIN,
    )

    id: int | None = Field(default=None, primary_key=True)
    part_id: int = Field(sa_column=Column(ForeignKey("part.id", ondelete="CASCADE"), nullable=False))
    of_id: int
    act: str = Field(sa_type=Text)
    at: datetime
    by_id: int | None = Field(
        default=None, sa_column=Column(ForeignKey("observer.id", ondelete="SET NULL"), nullable=True)
    )
    was: str = Field(sa_type=Text)
    became: str = Field(sa_type=Text)


class HoldingRow(Row, table=True):
    """What an observer has of a part; no row where that is nothing."""

    __tablename__ = "holding"
    __table_args__ = (
        CheckConstraint("owned >= 0 AND wished >= 0 AND considered >= 0", name="not_negative"),
        CheckConstraint("owned + wished + considered > 0", name="something"),
        Index(None, "part_id"),
    )

    observer_id: int = Field(
        sa_column=Column(ForeignKey("observer.id", ondelete="CASCADE"), primary_key=True)
    )
    part_id: int = Field(sa_column=Column(ForeignKey("part.id", ondelete="CASCADE"), primary_key=True))
    owned: int
    wished: int
    considered: int


class RigRow(Row, table=True):
    """A rig. `state_number` points at its present state among `rig_state`; `version` rises with every
    change.
    """

    __tablename__ = "rig"
    __table_args__ = (
        CheckConstraint("version >= 1", name="version"),
        Index(None, "observer_id"),
        NEVER_AGAIN,
    )

    id: int | None = Field(default=None, primary_key=True)
    observer_id: int = Field(sa_column=Column(ForeignKey("observer.id", ondelete="CASCADE"), nullable=False))
    name: str = Field(sa_type=Text)
    version: int
    state_number: int
    created_at: datetime
    changed_at: datetime


class RigStateRow(Row, table=True):
    """One state that undo and redo step through. `words` say what made it of the one before (`clauses`)."""

    __tablename__ = "rig_state"
    __table_args__ = (CheckConstraint("json_valid(plan)", name="plan_json"),)

    rig_id: int = Field(sa_column=Column(ForeignKey("rig.id", ondelete="CASCADE"), primary_key=True))
    number: int = Field(primary_key=True)
    words: str = Field(sa_type=Text)
    parts: int
    made_at: datetime
    plan: str = Field(sa_type=Text)


class RigStatePartRow(Row, table=True):
    """That a state needs a part. It keeps the database itself from losing a part that undo could bring
    back.
    """

    __tablename__ = "rig_state_part"
    __table_args__ = (
        ForeignKeyConstraint(
            ["rig_id", "number"], ["rig_state.rig_id", "rig_state.number"], ondelete="CASCADE"
        ),
        Index(None, "part_id"),
    )

    rig_id: int = Field(primary_key=True)
    number: int = Field(primary_key=True)
    part_id: int = Field(sa_column=Column(ForeignKey("part.id", ondelete="RESTRICT"), primary_key=True))


class EntryRow(Row, table=True):
    """A saved entry. Triggers refuse to change or remove one."""

    __tablename__ = "entry"
    __table_args__ = (
        UniqueConstraint("rig_id", "number"),
        CheckConstraint("json_valid(document)", name="document_json"),
        Index(None, "observer_id"),
        NEVER_AGAIN,
    )

    id: int | None = Field(default=None, primary_key=True)
    rig_id: int = Field(sa_column=Column(ForeignKey("rig.id", ondelete="RESTRICT"), nullable=False))
    observer_id: int = Field(sa_column=Column(ForeignKey("observer.id", ondelete="RESTRICT"), nullable=False))
    number: int
    created_at: datetime
    document: str = Field(sa_type=Text)


class ShareRow(Row, table=True):
    """A link to an entry, good until it is withdrawn."""

    __tablename__ = "share"
    __table_args__ = (UniqueConstraint("token"), Index(None, "entry_id"), NEVER_AGAIN)

    id: int | None = Field(default=None, primary_key=True)
    token: str = Field(sa_type=Text)
    entry_id: int = Field(sa_column=Column(ForeignKey("entry.id", ondelete="RESTRICT"), nullable=False))
    created_at: datetime
    withdrawn_at: datetime | None = None


class SiteRow(Row, table=True):
    """An observer's place under the sky; all of it is in the document."""

    __tablename__ = "site"
    __table_args__ = (
        CheckConstraint("json_valid(document)", name="document_json"),
        CheckConstraint("revision >= 1", name="revision"),
        Index(None, "observer_id"),
        NEVER_AGAIN,
    )

    id: int | None = Field(default=None, primary_key=True)
    observer_id: int = Field(sa_column=Column(ForeignKey("observer.id", ondelete="CASCADE"), nullable=False))
    revision: int
    sort_key: str = Field(sa_type=Text)
    document: str = Field(sa_type=Text)


class RigSiteRow(Row, table=True):
    """The site that a rig is usually used at; no row while none is said."""

    __tablename__ = "rig_site"
    __table_args__ = (Index(None, "site_id"),)

    rig_id: int = Field(sa_column=Column(ForeignKey("rig.id", ondelete="CASCADE"), primary_key=True))
    site_id: int = Field(sa_column=Column(ForeignKey("site.id", ondelete="CASCADE"), nullable=False))


class TargetRow(Row, table=True):
    """A line of an observer's list of targets: one's own with its document, or the catalogue's by name."""

    __tablename__ = "target"
    __table_args__ = (
        CheckConstraint("document IS NULL OR json_valid(document)", name="document_json"),
        CheckConstraint("revision >= 1", name="revision"),
        UniqueConstraint("observer_id", "sort_key"),
        NEVER_AGAIN,
    )

    id: int | None = Field(default=None, primary_key=True)
    observer_id: int = Field(sa_column=Column(ForeignKey("observer.id", ondelete="CASCADE"), nullable=False))
    revision: int
    name: str = Field(sa_type=Text)
    sort_key: str = Field(sa_type=Text)
    document: str | None = Field(default=None, sa_type=Text)


class NeedsRow(Row, table=True):
    """What an observer asked the Scout for, kept by a name; all of it is in the document."""

    __tablename__ = "needs"
    __table_args__ = (
        CheckConstraint("json_valid(document)", name="document_json"),
        UniqueConstraint("observer_id", "sort_key"),
        NEVER_AGAIN,
    )

    id: int | None = Field(default=None, primary_key=True)
    observer_id: int = Field(sa_column=Column(ForeignKey("observer.id", ondelete="CASCADE"), nullable=False))
    name: str = Field(sa_type=Text)
    sort_key: str = Field(sa_type=Text)
    document: str = Field(sa_type=Text)


class MeasuredRow(Row, table=True):
    """What a rig's own frames said; all of it is in the document."""

    __tablename__ = "measured"
    __table_args__ = (
        CheckConstraint("json_valid(document)", name="document_json"),
        Index(None, "rig_id"),
        Index(None, "entry_id"),
        NEVER_AGAIN,
    )

    id: int | None = Field(default=None, primary_key=True)
    observer_id: int = Field(sa_column=Column(ForeignKey("observer.id", ondelete="CASCADE"), nullable=False))
    rig_id: int = Field(sa_column=Column(ForeignKey("rig.id", ondelete="CASCADE"), nullable=False))
    entry_id: int | None = Field(
        default=None, sa_column=Column(ForeignKey("entry.id", ondelete="RESTRICT"), nullable=True)
    )
    name: str = Field(sa_type=Text)
    document: str = Field(sa_type=Text)


_TABLES = Row.metadata.tables
observer: Table = _TABLES["observer"]
part: Table = _TABLES["part"]
part_side: Table = _TABLES["part_side"]
part_change: Table = _TABLES["part_change"]
holding: Table = _TABLES["holding"]
rig: Table = _TABLES["rig"]
rig_state: Table = _TABLES["rig_state"]
rig_state_part: Table = _TABLES["rig_state_part"]
entry: Table = _TABLES["entry"]
share: Table = _TABLES["share"]
site: Table = _TABLES["site"]
rig_site: Table = _TABLES["rig_site"]
target: Table = _TABLES["target"]
needs: Table = _TABLES["needs"]
measured: Table = _TABLES["measured"]

part_search = table("part_search")
"""SQLite's full-text index over part.words and part.kind; the migrations make it, and triggers keep it.
PostgreSQL has an index over the words themselves.
"""

search_rowid = literal_column("part_search.rowid", Integer)
