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
MAILED_LINK_GOOD = timedelta(hours=1)
CHALLENGE_GOOD = timedelta(minutes=5)
"""Web Authentication Level 3 (W3C), section 15.1, would have five to ten minutes."""
ASKING_GOOD = timedelta(days=30)
"""How long who asked at the door is remembered, where no steward answers."""

LONGEST_WAIT_S = 900
"""The longest that one must wait between two tries."""
TRIES_FREE = {"name": 5, "address": 20, "begun": 50}
"""So many tries in a row cost no waiting: of one name, and of one address, behind which many may sit. What is
only begun there is counted apart.
"""
MAILS_FREE, MAIL_WAIT_S, LONGEST_MAIL_WAIT_S = 3, 900, 21_600
"""So many mails may go to one member in a row; each further one doubles a wait of a quarter of an hour."""
TRIES_FORGOTTEN = timedelta(days=1)

Purpose = Literal["invitation", "password", "mail"]


@dataclass(frozen=True)
class Account:
    """What lets one person sign in as one observer.

    Attributes:
        closed_at: since when nobody may sign in by it, None while it is open.
        mail: the address for links for a lost password, which its owner has confirmed; "" for none.
    """

    observer_id: int
    login: str
    role: Role
    created_at: datetime
    closed_at: datetime | None = None
    mail: str = ""

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
        mail: the address that it was sent to and confirms, else "".
    """

    id: int
    purpose: Purpose
    role: Role
    observer_id: int | None
    made_at: datetime
    expires_at: datetime
    mail: str = ""


@dataclass(frozen=True)
class Passkey:
    """A passkey that signs in; bytes are written in base64url.

    Attributes:
        credential: the number that its authenticator gave it.
        handle: what the authenticator knows the account by: random, since everybody who holds it may read it.
        sign_count: how often it had signed when it was last used; 0 where it does not count.
        used_at: None where it has not been used yet.
    """

    id: int
    observer_id: int
    credential: str
    public_key: str
    handle: str
    sign_count: int
    name: str
    added_at: datetime
    used_at: datetime | None = None


@dataclass(frozen=True)
class Challenge:
    """What a passkey is asked to sign, once: by someone who is signed in, or (None) to sign in."""

    challenge: str
    observer_id: int | None
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


def mail_key(mail: str) -> str:
    """Equal for addresses that reach the same person."""
    return mail.casefold()


def after_failure(
    before: Tries | None, free: int, now: datetime, first_s: int = 2, longest_s: int = LONGEST_WAIT_S
) -> Tries:
    """What holds after one more try that failed: each beyond the free ones doubles the wait."""
    failed = 1 if before is None or now - before.last_at > TRIES_FORGOTTEN else before.failed + 1
    # Beyond some thirty the power alone would be a number without use.
    wait = 0 if failed < free else min(longest_s, first_s * 2 ** min(failed - free, 30))
    return Tries(failed, now, now + timedelta(seconds=wait))
