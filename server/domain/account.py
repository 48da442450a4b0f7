"""Accounts of the hosted form: who may sign in as which observer, and for how long.

The local form has none of this: there a person chooses an observer, and no door is closed.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

Role = Literal["member", "steward"]
"""What an account may do. A guest has none: whoever holds a share link."""

ROLES: tuple[Role, ...] = ("member", "steward")

SESSION_IDLE = timedelta(days=7)
SESSION_LONGEST = timedelta(days=30)
"""NIST SP 800-63B asks for a new sign-in at least every 30 days at its first level (from memory)."""
INVITATION_GOOD = timedelta(days=7)
PASSWORD_LINK_GOOD = timedelta(days=1)
ASKING_GOOD = timedelta(days=30)
"""How long who asked at the door is remembered, where no steward answers."""
LOG_KEPT = timedelta(days=90)

LONGEST_WAIT_S = 900
"""The longest that one must wait between two tries."""
TRIES_FREE = {"name": 5, "address": 20}
"""So many tries in a row cost no waiting: of one name, and of one address, behind which many may sit."""
TRIES_FORGOTTEN = timedelta(days=1)

Purpose = Literal["invitation", "password"]


@dataclass(frozen=True)
class Account:
    """What lets one person sign in as one observer.

    Attributes:
        closed_at: since when nobody may sign in by it, None while it is open.
    """

    observer_id: int
    login: str
    role: Role
    created_at: datetime
    closed_at: datetime | None = None

    @property
    def is_steward(self) -> bool:
        """Whether it may act for the club."""
        return self.role == "steward" and self.closed_at is None


@dataclass(frozen=True)
class Session:
    """A browser that is signed in. `agent` is what it called itself; `as_club`: a steward works there as the
    club's own observer.
    """

    id: int
    observer_id: int
    began_at: datetime
    seen_at: datetime
    agent: str
    as_club: bool = False

    def is_good(self, now: datetime) -> bool:
        """Whether it has neither lain idle nor lasted for too long."""
        return now - self.seen_at < SESSION_IDLE and now - self.began_at < SESSION_LONGEST


@dataclass(frozen=True)
class SignedIn:
    """Who asks: the session that a request carries, and whose it is; `club_id` is the club's observer where a
    steward works as the club, None elsewhere.
    """

    session: Session
    account: Account
    club_id: int | None = None

    @property
    def observer_id(self) -> int:
        """Whose shelf, bench and logbook are meant."""
        return self.account.observer_id if self.club_id is None else self.club_id


@dataclass(frozen=True)
class OneTimeLink:
    """A link that is good once, and not for long.

    Attributes:
        observer_id: whose password it sets, or who is to have an account; None for a new observer.
    """

    id: int
    purpose: Purpose
    role: Role
    observer_id: int | None
    made_at: datetime
    expires_at: datetime


@dataclass(frozen=True)
class Asked:
    """Someone who asked at the door to be let in."""

    id: int
    login: str
    words: str
    asked_at: datetime


@dataclass(frozen=True)
class Tries:
    """Tries in a row that failed, when the last one was, and until when no other is taken."""

    failed: int
    last_at: datetime
    until: datetime


@dataclass(frozen=True)
class LogLine:
    """Something that was done: by whom and about whom, "" where it was nobody with an account, or where
    they have left.
    """

    at: datetime
    what: str
    by: str
    about: str


@dataclass(frozen=True)
class ListedEntry:
    """A saved entry that is listed for all members: whose it is, what its rig was called, since when."""

    entry_id: int
    observer_id: int
    shared_by: str
    rig: str
    title: str
    listed_at: datetime


def login_key(login: str) -> str:
    """Equal for names that people take for the same: letter case, spaces and ways of writing a letter
    apart.
    """
    return unicodedata.normalize("NFKC", " ".join(login.split())).casefold()


def after_failure(before: Tries | None, free: int, now: datetime) -> Tries:
    """What holds after one more try that failed: each beyond the free ones doubles the wait."""
    failed = 1 if before is None or now - before.last_at > TRIES_FORGOTTEN else before.failed + 1
    # Beyond some thirty the power alone would be a number without use.
    wait = 0 if failed < free else min(LONGEST_WAIT_S, 2 ** min(failed - free + 1, 30))
    return Tries(failed, now, now + timedelta(seconds=wait))
