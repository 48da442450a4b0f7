"""The tables of accounts and of what a club has in common: of the hosted form alone, so the local one does
not load them.

Moments are whole seconds since 1970 (UTC), which both databases keep alike. Of a secret only
its hash is here.
"""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    Index,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
    false,
)
from sqlmodel import Field

from server.store.tables import NEVER_AGAIN, Row


def seconds_of(at: datetime) -> int:
    """A moment as the tables of accounts keep it."""
    return int(at.timestamp())


def moment_of(seconds: int) -> datetime:
    """And back."""
    return datetime.fromtimestamp(seconds, UTC)


def maybe_moment(seconds: int | None) -> datetime | None:
    """And back, where there may be none."""
    return None if seconds is None else moment_of(seconds)


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
        Index(None, "mail_key", unique=True),
    )

    observer_id: int = Field(sa_column=_person("CASCADE", primary_key=True))
    login: str = Field(sa_type=Text)
    login_key: str = Field(sa_type=Text)
    role: str = Field(sa_type=Text)
    password_hash: str = Field(sa_type=Text)
    created_at: int = Field(sa_type=BigInteger)
    closed_at: int | None = Field(default=None, sa_type=BigInteger)
    mail: str | None = Field(default=None, sa_type=Text)
    mail_key: str | None = Field(default=None, sa_type=Text)


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
    """An invitation, or a link that sets a lost password, or one that confirms an address for mail."""

    __tablename__ = "account_link"
    __table_args__ = (UniqueConstraint("token_hash"), Index(None, "observer_id"), NEVER_AGAIN)

    id: int | None = Field(default=None, primary_key=True)
    purpose: str = Field(sa_type=Text)
    role: str = Field(sa_type=Text)
    observer_id: int | None = Field(sa_column=_person("CASCADE", nullable=True))
    token_hash: str = Field(sa_type=Text)
    made_at: int = Field(sa_type=BigInteger)
    expires_at: int = Field(sa_type=BigInteger)
    mail: str | None = Field(default=None, sa_type=Text)


class AccountPasskeyRow(Row, table=True):
    """The public half of a passkey; `handle` is what its authenticator knows the account by."""

    __tablename__ = "account_passkey"
    __table_args__ = (UniqueConstraint("credential"), Index(None, "observer_id"), NEVER_AGAIN)

    id: int | None = Field(default=None, primary_key=True)
    observer_id: int = Field(sa_column=_person("CASCADE"))
    credential: str = Field(sa_type=Text)
    public_key: str = Field(sa_type=Text)
    handle: str = Field(sa_type=Text)
    sign_count: int = Field(sa_type=BigInteger)
    name: str = Field(sa_type=Text)
    added_at: int = Field(sa_type=BigInteger)
    used_at: int | None = Field(default=None, sa_type=BigInteger)


class AccountChallengeRow(Row, table=True):
    """What a passkey was asked to sign, by the browser that has the token; of someone who is signed in, or
    (None) of whoever will turn out to sign in.
    """

    __tablename__ = "account_challenge"
    __table_args__ = (Index(None, "observer_id"),)

    token_hash: str = Field(sa_type=Text, primary_key=True)
    challenge: str = Field(sa_type=Text)
    observer_id: int | None = Field(sa_column=_person("CASCADE", nullable=True))
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


class NotedSearchRow(Row, table=True):
    """How far a search is that one of the processes runs. Moments are seconds, with fractions."""

    __tablename__ = "noted_search"
    __table_args__ = (PrimaryKeyConstraint("observer_id", "key"),)

    observer_id: int = Field(sa_column=_person("CASCADE"))
    key: str = Field(sa_type=Text)
    found: str = Field(sa_type=Text)
    seconds: float = Field(sa_type=Double)
    ended: bool = Field(sa_type=Boolean)
    stopped: bool = Field(sa_type=Boolean)
    noted_at: float = Field(sa_type=Double)
    seen_at: float = Field(sa_type=Double)


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
account_passkey: Table = _TABLES["account_passkey"]
account_challenge: Table = _TABLES["account_challenge"]
account_asked: Table = _TABLES["account_asked"]
account_tries: Table = _TABLES["account_tries"]
account_log: Table = _TABLES["account_log"]
leaving: Table = _TABLES["leaving"]
noted_search: Table = _TABLES["noted_search"]
club_entry: Table = _TABLES["club_entry"]
club: Table = _TABLES["club"]
own_price: Table = _TABLES["own_price"]
