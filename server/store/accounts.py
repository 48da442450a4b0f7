"""Accounts, their sessions and links, who asks at the door, slow-down and log: of the hosted form alone."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Self

from sqlalchemy import Row, Table, delete, func, insert, or_, select, text, update
from sqlalchemy.exc import DBAPIError

from server.domain.account import (
    ASKING_GOOD,
    SESSION_IDLE,
    SESSION_LONGEST,
    TRIES_FORGOTTEN,
    Account,
    Asked,
    LogLine,
    OneTimeLink,
    Purpose,
    Role,
    Session,
    Tries,
    login_key,
    mail_key,
)
from server.domain.errors import FieldErrors
from server.flow.protocols import RigLine
from server.store import tables
from server.store.account_tables import (
    account,
    account_asked,
    account_challenge,
    account_link,
    account_log,
    account_passkey,
    account_session,
    account_tries,
    club_entry,
    leaving,
    maybe_moment,
    moment_of,
    noted_search,
    seconds_of,
)
from server.store.club import ClubStore
from server.store.merging import Merging
from server.store.noted_searches import NotedSearches
from server.store.passkeys import Passkeys
from server.store.prepare import known_revisions
from server.store.session import SqlStore, Stores
from server.store.unit import Unit, not_found

SEARCH_KEPT = timedelta(hours=1)
"""How long what a search has found is kept after it was last asked after."""
ANOTHERS = "a rig of another member"
FORMER = "a former member"
"""What stands in the catalogue in place of who has left."""


class Accounts(ClubStore):
    """Who may sign in."""

    def accounts(self) -> tuple[Account, ...]:
        """All accounts, by name."""
        return tuple(_account(row) for row in self._rows(select(account).order_by(account.c.login_key)))

    def account(self, observer_id: int) -> Account:
        """An observer's account. Raises NotFoundError."""
        asked = select(account).where(account.c.observer_id == observer_id)
        return _account(self._one(asked, "member", observer_id))

    def account_named(self, key: str) -> tuple[Account, str] | None:
        """The account of a login name, with its password's hash."""
        row = self._connection.execute(select(account).where(account.c.login_key == key)).first()
        return None if row is None else (_account(row), str(row.password_hash))

    def add_account(self, observer_id: int, login: str, role: Role, password_hash: str, at: datetime) -> None:
        """Give an observer an account. Raises FieldErrors("login") where the name is taken."""
        key = login_key(login)
        if self.account_named(key) is not None:
            raise FieldErrors({"login": f"“{login}” is taken. Choose another name."})
        values = {
            "observer_id": observer_id,
            "login": login,
            "login_key": key,
            "role": role,
            "password_hash": password_hash,
            "created_at": seconds_of(at),
        }
        self._run(insert(account), values)

    def set_password_hash(self, observer_id: int, password_hash: str) -> None:
        """Keep another password."""
        self._change(observer_id, password_hash=password_hash)

    def set_role(self, observer_id: int, role: Role) -> None:
        """Make someone a steward or a member."""
        self._change(observer_id, role=role)

    def set_closed(self, observer_id: int, at: datetime | None) -> None:
        """Close an account, or (None) open it again."""
        self._change(observer_id, closed_at=None if at is None else seconds_of(at))

    def set_mail(self, observer_id: int, mail: str) -> None:
        """Keep an address that was confirmed, or ("") none. Raises FieldErrors("mail") where another account
        has it.
        """
        other = self.account_mailed(mail_key(mail)) if mail else None
        if other is not None and other.observer_id != observer_id:
            raise FieldErrors({"mail": "Another account has this address. Take it out there first."})
        self._change(observer_id, mail=mail or None, mail_key=mail_key(mail) or None)

    def account_mailed(self, key: str) -> Account | None:
        """The account of a confirmed address."""
        row = self._connection.execute(select(account).where(account.c.mail_key == key)).first()
        return None if row is None else _account(row)

    def _change(self, observer_id: int, **values: object) -> None:
        if not self._run(update(account).where(account.c.observer_id == observer_id).values(**values)):
            raise not_found("member", observer_id)

    def remove_person(self, observer_id: int) -> None:
        """Remove an observer with all that is theirs alone. What of their parts others have or use stays in
        the catalogue, entered by “a former member”.
        """
        part, entry = tables.part.c, tables.entry.c
        self._run(insert(leaving), {"observer_id": observer_id})
        mine = select(entry.id).where(entry.observer_id == observer_id)
        self.forget_prices(observer_id)
        for shown in (tables.share, club_entry):
            self._run(delete(shown).where(shown.c.entry_id.in_(mine)))
        for table in (tables.measured, tables.entry, tables.rig, tables.holding, tables.site, tables.target,
                      tables.needs, account, account_session, account_link, account_passkey,
                      account_challenge, noted_search, leaving):  # fmt: skip
            self._run(delete(table).where(table.c.observer_id == observer_id))
        unused = [
            part.id.not_in(select(used.c.part_id)) for used in (tables.holding, tables.rig_state_part)
        ]  # fmt: skip
        self._run(delete(tables.part).where(part.entered_by == observer_id, *unused))
        person = tables.observer.c.id == observer_id
        left = select(func.count()).select_from(tables.part).where(part.entered_by == observer_id)
        if not self._connection.execute(left).scalar_one():
            self._run(delete(tables.observer).where(person))
            return
        for column in (account_log.c.by_id, account_log.c.about_id, tables.part_change.c.by_id):
            self._run(update(column.table).where(column == observer_id).values({column.name: None}))
        # No name holds a line's end, so nobody's is in its way.
        changed = update(tables.observer).where(person)
        self._run(changed.values(name=FORMER, name_key=f"{FORMER}\n{observer_id}"))


class Sessions(Unit):
    """Browsers that are signed in."""

    def add_session(self, observer_id: int, token_hash: str, agent: str, at: datetime) -> None:
        """Begin a session."""
        now = seconds_of(at)
        values = {
            "observer_id": observer_id,
            "token_hash": token_hash,
            "agent": agent,
            "began_at": now,
            "seen_at": now,
        }
        self._run(insert(account_session), values)

    def session(self, token_hash: str) -> Session | None:
        """The session of a token."""
        asked = select(account_session).where(account_session.c.token_hash == token_hash)
        row = self._connection.execute(asked).first()
        return None if row is None else _session(row)

    def sessions(self, observer_id: int) -> tuple[Session, ...]:
        """Someone's sessions, the last seen first."""
        asked = select(account_session).where(account_session.c.observer_id == observer_id)
        ordered = asked.order_by(account_session.c.seen_at.desc(), account_session.c.id.desc())
        return tuple(_session(row) for row in self._rows(ordered))

    def set_as_club(self, session_id: int, as_club: bool) -> None:
        """Let a session work as the club, or as who is signed in."""
        changed = update(account_session).where(account_session.c.id == session_id)
        self._run(changed.values(as_club=as_club))

    def see_session(self, session_id: int, at: datetime) -> None:
        """Note that it was used."""
        seen = update(account_session).where(account_session.c.id == session_id)
        self._run(seen.values(seen_at=seconds_of(at)))

    def end_session(self, observer_id: int, session_id: int) -> None:
        """End one of someone's sessions; none where it is not theirs."""
        of = account_session.c
        self._run(delete(account_session).where(of.id == session_id, of.observer_id == observer_id))

    def end_sessions(self, observer_id: int, but: int | None = None) -> None:
        """End all of someone's sessions but one."""
        of = account_session.c
        ended = delete(account_session).where(of.observer_id == observer_id)
        self._run(ended if but is None else ended.where(of.id != but))


class Entrances(Unit):
    """One-time links, and who asks at the door."""

    def add_link(self, token_hash: str, link: OneTimeLink) -> None:
        """Keep a link; its number is given here."""
        values = {
            "purpose": link.purpose,
            "role": link.role,
            "observer_id": link.observer_id,
            "token_hash": token_hash,
            "made_at": seconds_of(link.made_at),
            "expires_at": seconds_of(link.expires_at),
            "mail": link.mail or None,
        }
        self._run(insert(account_link), values)

    def link(self, token_hash: str) -> OneTimeLink | None:
        """The link of a token, whether or not it is still good."""
        asked = select(account_link).where(account_link.c.token_hash == token_hash)
        row = self._connection.execute(asked).first()
        return None if row is None else _link(row)

    def links(self, purpose: Purpose) -> tuple[OneTimeLink, ...]:
        """All links of a purpose, newest first."""
        asked = select(account_link).where(account_link.c.purpose == purpose)
        return tuple(_link(row) for row in self._rows(asked.order_by(account_link.c.id.desc())))

    def remove_link(self, link_id: int) -> bool:
        """Remove one; whether it was there."""
        return bool(self._run(delete(account_link).where(account_link.c.id == link_id)))

    def remove_links_for(self, observer_id: int, purpose: Purpose) -> None:
        """Remove those that are about someone."""
        of = account_link.c
        self._run(delete(account_link).where(of.observer_id == observer_id, of.purpose == purpose))

    def add_asked(self, login: str, words: str, password_hash: str, at: datetime) -> None:
        """Remember who asks."""
        values = {"login": login, "words": words, "password_hash": password_hash, "asked_at": seconds_of(at)}
        self._run(insert(account_asked), values)

    def asked(self) -> tuple[Asked, ...]:
        """Who asks, the longest first."""
        return tuple(_asked(row) for row in self._rows(select(account_asked).order_by(account_asked.c.id)))

    def one_asked(self, asked_id: int) -> tuple[Asked, str]:
        """One of them, with the hash of their password. Raises NotFoundError."""
        row = self._one(select(account_asked).where(account_asked.c.id == asked_id), "request", asked_id)
        return _asked(row), str(row.password_hash)

    def remove_asked(self, asked_id: int) -> bool:
        """Forget one; whether there was one."""
        return bool(self._run(delete(account_asked).where(account_asked.c.id == asked_id)))


class Watch(Unit):
    """Slow-down, and the log."""

    def tries(self, key: str) -> Tries | None:
        """What is known of tries that failed."""
        row = self._connection.execute(select(account_tries).where(account_tries.c.key == key)).first()
        return None if row is None else Tries(row.failed, moment_of(row.last_at), moment_of(row.until))

    def set_tries(self, key: str, tries: Tries | None) -> None:
        """Keep it, or (None) forget it."""
        self._run(delete(account_tries).where(account_tries.c.key == key))
        if tries is not None:
            values = {
                "key": key,
                "failed": tries.failed,
                "last_at": seconds_of(tries.last_at),
                # A wait is never shorter than was told, and where there is none it does not become one.
                "until": (math.ceil if tries.until > tries.last_at else math.floor)(tries.until.timestamp()),
            }
            self._run(insert(account_tries), values)

    def log_act(self, at: datetime, what: str, by: int | None, about: int | None) -> None:
        """Write a line of the log."""
        values = {"at": seconds_of(at), "what": what, "by_id": by, "about_id": about}
        self._run(insert(account_log), values)

    def log_lines(self, limit: int, since: datetime | None = None) -> tuple[LogLine, ...]:
        """The newest lines, those alone that are newer than a moment where one is said."""
        by, about = account.alias("by"), account.alias("about")
        asked = (
            select(
                account_log.c.at,
                account_log.c.what,
                by.c.login.label("by_name"),
                about.c.login.label("about_name"),
            )
            .outerjoin(by, by.c.observer_id == account_log.c.by_id)
            .outerjoin(about, about.c.observer_id == account_log.c.about_id)
            .where(account_log.c.at > (0 if since is None else seconds_of(since)))
            .order_by(account_log.c.id.desc())
            .limit(limit)
        )
        return tuple(
            LogLine(moment_of(row.at), row.what, row.by_name or "", row.about_name or "")
            for row in self._rows(asked)
        )

    def sweep(self, now: datetime, log_kept: timedelta | None) -> None:
        """Remove what is over: sessions, links, challenges, those who asked, tries, lines of the log that are
        older than so long (None: none).
        """
        session = account_session.c
        over: tuple[tuple[Table, Any], ...] = (
            (
                account_session,
                or_(
                    session.seen_at <= seconds_of(now - SESSION_IDLE),
                    session.began_at <= seconds_of(now - SESSION_LONGEST),
                ),
            ),
            (account_link, account_link.c.expires_at <= seconds_of(now)),
            (account_challenge, account_challenge.c.expires_at <= seconds_of(now)),
            (account_asked, account_asked.c.asked_at <= seconds_of(now - ASKING_GOOD)),
            (account_tries, account_tries.c.last_at <= seconds_of(now - TRIES_FORGOTTEN)),
        )
        if log_kept is not None:
            over += ((account_log, account_log.c.at <= seconds_of(now - log_kept)),)
        for table, clause in over:
            self._run(delete(table).where(clause))
        self._run(delete(noted_search).where(noted_search.c.seen_at < (now - SEARCH_KEPT).timestamp()))


class HostedStore(Accounts, Sessions, Entrances, Passkeys, Watch, NotedSearches, Merging):
    """One unit of work of the hosted form; `server.flow.account_protocols.AccountStore`."""

    @classmethod
    def over(cls, unit: SqlStore) -> Self:
        """The same unit, with what the hosted form knows beside."""
        made = cls.__new__(cls)
        made.__dict__.update(unit.__dict__)
        return made

    def is_steward(self, observer_id: int) -> bool:
        """Whether an observer looks after the club."""
        asked = select(account.c.role).where(
            account.c.observer_id == observer_id, account.c.closed_at.is_(None)
        )
        return self._connection.execute(asked).scalar() == "steward"

    def log_steward(self, what: str, by: int, about: int) -> None:
        """Write a line of the log of stewards' acts."""
        self.log_act(self._now(), what, by, about)

    def rigs_using(self, part_id: int) -> tuple[RigLine, ...]:
        """Rigs that hold a part. That others' do is told, since it keeps the part here, but not which."""
        found = super().rigs_using(part_id)
        mine = tuple(line for line in found if line.observer_id == self._reader)
        others = [line for line in found if line.observer_id != self._reader]
        return (*mine, replace(others[0], id=0, observer_id=0, name=ANOTHERS)) if others else mine

    def moments(self) -> tuple[datetime | None, datetime | None]:
        """What the clock of the database's server says, None of a file; and the newest moment kept."""
        on_server = self._connection.dialect.name == "postgresql"
        theirs = self._connection.execute(text("SELECT now()")).scalar_one() if on_server else None
        kept = [
            self._connection.execute(select(func.max(column))).scalar()
            for column in (account_log.c.at, account_session.c.seen_at)
        ]
        return theirs, maybe_moment(max((one for one in kept if one is not None), default=None))

    def revision(self) -> str:
        """The schema's revision. Raises DBAPIError where there is none."""
        return str(self._connection.execute(text("SELECT version_num FROM alembic_version")).scalar())


class HostedStores:
    """The open database of the hosted form."""

    def __init__(self, stores: Stores) -> None:
        self._stores = stores

    @contextmanager
    def writing(self) -> Iterator[HostedStore]:
        """A unit that may write."""
        with self._stores.writing() as unit:
            yield HostedStore.over(unit)

    @contextmanager
    def reading(self) -> Iterator[HostedStore]:
        """A unit that cannot write."""
        with self._stores.reading() as unit:
            yield HostedStore.over(unit)

    def close(self) -> None:
        """Close all connections."""
        self._stores.close()

    def is_prepared(self) -> bool:
        """Whether the database is of the newest schema: the hosted form migrates nothing by itself."""
        try:
            with self.reading() as unit:
                return unit.revision() == known_revisions()[1]
        except DBAPIError:
            return False


def _account(row: Row[Any]) -> Account:
    since, closed = moment_of(row.created_at), maybe_moment(row.closed_at)
    return Account(row.observer_id, row.login, row.role, since, closed, row.mail or "")


def _session(row: Row[Any]) -> Session:
    return Session(
        row.id, row.observer_id, moment_of(row.began_at), moment_of(row.seen_at), row.agent, row.as_club
    )


def _link(row: Row[Any]) -> OneTimeLink:
    made, expires = moment_of(row.made_at), moment_of(row.expires_at)
    return OneTimeLink(row.id, row.purpose, row.role, row.observer_id, made, expires, row.mail or "")


def _asked(row: Row[Any]) -> Asked:
    return Asked(row.id, row.login, row.words, moment_of(row.asked_at))
