"""The tables of accounts and of what a club has in common: of the hosted form alone, so the local one does
not load them.

Moments are whole seconds since 1970 (UTC), which both databases keep alike. Of a secret only
its hash is here.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Table,
    Text,
    UniqueConstraint,
    false,
)
from sqlmodel import Field

from server.store.tables import NEVER_AGAIN, Row


def _person(ondelete: str, *, primary_key: bool = False, nullable: bool = False) -> Column[int]:
    return Column(
        ForeignKey("observer.id", ondelete=ondelete), primary_key=primary_key, nullable=nullable
    )  # fmt: skip


class AccountRow(Row, table=True):
    """What lets one person sign in as one observer."""

    __tablename__ = "account"
    __table_args__ = (
        UniqueConstraint("login_key"),
        CheckConstraint("role IN ('member', 'steward')", name="role"),
    )

    observer_id: int = Field(sa_column=_person("CASCADE", primary_key=True))
    login: str = Field(sa_type=Text)
    login_key: str = Field(sa_type=Text)
    role: str = Field(sa_type=Text)
    password_hash: str = Field(sa_type=Text)
    created_at: int = Field(sa_type=BigInteger)
    closed_at: int | None = Field(default=None, sa_type=BigInteger)


class AccountSessionRow(Row, table=True):
    """A browser that is signed in; `as_club`: a steward works there as the club's own observer."""

    __tablename__ = "account_session"
    __table_args__ = (UniqueConstraint("token_hash"), Index(None, "observer_id"), NEVER_AGAIN)

    id: int | None = Field(default=None, primary_key=True)
    observer_id: int = Field(sa_column=_person("CASCADE"))
    token_hash: str = Field(sa_type=Text)
    agent: str = Field(sa_type=Text)
    began_at: int = Field(sa_type=BigInteger)
    seen_at: int = Field(sa_type=BigInteger)
    as_club: bool = Field(default=False, sa_column=Column(Boolean, nullable=False, server_default=false()))


class AccountLinkRow(Row, table=True):
    """An invitation, or a link that sets a lost password."""

    __tablename__ = "account_link"
    __table_args__ = (UniqueConstraint("token_hash"), Index(None, "observer_id"), NEVER_AGAIN)

    id: int | None = Field(default=None, primary_key=True)
    purpose: str = Field(sa_type=Text)
    role: str = Field(sa_type=Text)
    observer_id: int | None = Field(sa_column=_person("CASCADE", nullable=True))
    token_hash: str = Field(sa_type=Text)
    made_at: int = Field(sa_type=BigInteger)
    expires_at: int = Field(sa_type=BigInteger)


class AccountAskedRow(Row, table=True):
    """Someone who asked at the door."""

    __tablename__ = "account_asked"
    __table_args__ = (NEVER_AGAIN,)

    id: int | None = Field(default=None, primary_key=True)
    login: str = Field(sa_type=Text)
    words: str = Field(sa_type=Text)
    password_hash: str = Field(sa_type=Text)
    asked_at: int = Field(sa_type=BigInteger)


class AccountTriesRow(Row, table=True):
    """Tries in a row that failed, of a name or of an address."""

    __tablename__ = "account_tries"

    key: str = Field(sa_type=Text, primary_key=True)
    failed: int
    last_at: int = Field(sa_type=BigInteger)
    until: int = Field(sa_type=BigInteger)


class AccountLogRow(Row, table=True):
    """A line of the log of sign-ins and of stewards' acts."""

    __tablename__ = "account_log"
    __table_args__ = (Index(None, "at"), Index(None, "by_id"), Index(None, "about_id"), NEVER_AGAIN)

    id: int | None = Field(default=None, primary_key=True)
    at: int = Field(sa_type=BigInteger)
    what: str = Field(sa_type=Text)
    by_id: int | None = Field(sa_column=_person("SET NULL", nullable=True))
    about_id: int | None = Field(sa_column=_person("SET NULL", nullable=True))


class LeavingRow(Row, table=True):
    """An observer who leaves: for as long as the row stands, their saved entries may be removed."""

    __tablename__ = "leaving"

    observer_id: int = Field(sa_column=_person("CASCADE", primary_key=True))


class ClubEntryRow(Row, table=True):
    """A saved entry that its owner has listed for all members."""

    __tablename__ = "club_entry"

    entry_id: int = Field(
        sa_column=Column(ForeignKey("entry.id", ondelete="CASCADE"), primary_key=True, nullable=False)
    )
    listed_at: int = Field(sa_type=BigInteger)


class ClubRow(Row, table=True):
    """Which observer is the club itself, whose shelf is what it lends; one row, or none yet."""

    __tablename__ = "club"
    __table_args__ = (UniqueConstraint("observer_id"), CheckConstraint("number = 1", name="one"))

    number: int = Field(primary_key=True)
    observer_id: int = Field(sa_column=_person("RESTRICT"))


class OwnPriceRow(Row, table=True):
    """What an observer says a part costs that another has entered."""

    __tablename__ = "own_price"
    __table_args__ = (CheckConstraint("price_hundredths >= 0", name="not_negative"), Index(None, "part_id"))

    observer_id: int = Field(sa_column=_person("CASCADE", primary_key=True))
    part_id: int = Field(sa_column=Column(ForeignKey("part.id", ondelete="CASCADE"), primary_key=True))
    price_hundredths: int = Field(sa_type=BigInteger)
    currency: str = Field(sa_type=Text)


_TABLES = Row.metadata.tables
account: Table = _TABLES["account"]
account_session: Table = _TABLES["account_session"]
account_link: Table = _TABLES["account_link"]
account_asked: Table = _TABLES["account_asked"]
account_tries: Table = _TABLES["account_tries"]
account_log: Table = _TABLES["account_log"]
leaving: Table = _TABLES["leaving"]
club_entry: Table = _TABLES["club_entry"]
club: Table = _TABLES["club"]
own_price: Table = _TABLES["own_price"]
