"""What a store must offer for accounts, beside all else that it offers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Protocol

from server.domain.account import (
    Account,
    Asked,
    Challenge,
    ListedEntry,
    LogLine,
    OneTimeLink,
    Passkey,
    Purpose,
    Role,
    Session,
    Tries,
)
from server.domain.entry import Entry
from server.domain.measure import Money
from server.domain.parts import CataloguedPart
from server.flow.protocols import Store
from server.flow.search_notes import Noted


@dataclass(frozen=True)
class Uses:
    """In how many rigs a part stands, undo steps included, and on how many shelves."""

    rigs: int
    shelves: int


class AccountStore(Store, Protocol):
    """One unit of work of the hosted form. Secrets come as their hashes."""

    def read_by(self, observer_id: int) -> None:
        """From here on this unit is this observer's: it names nobody else's rigs."""
        ...

    # Accounts
    def accounts(self) -> tuple[Account, ...]:
        """All of them, by name."""
        ...

    def account(self, observer_id: int) -> Account:
        """An observer's account. Raises NotFoundError."""
        ...

    def account_named(self, key: str) -> tuple[Account, str] | None:
        """The account of a login name, with its password's hash."""
        ...

    def add_account(self, observer_id: int, login: str, role: Role, password_hash: str, at: datetime) -> None:
        """Give an observer an account. Raises FieldErrors("login") where the name is taken."""
        ...

    def set_password_hash(self, observer_id: int, password_hash: str) -> None:
        """Keep another password."""
        ...

    def set_role(self, observer_id: int, role: Role) -> None:
        """Make someone a steward or a member."""
        ...

    def set_closed(self, observer_id: int, at: datetime | None) -> None:
        """Close an account, or (None) open it again."""
        ...

    def set_mail(self, observer_id: int, mail: str) -> None:
        """Keep an address that was confirmed, or ("") none. Raises FieldErrors("mail") where another account
        has it.
        """
        ...

    def account_mailed(self, key: str) -> Account | None:
        """The account of a confirmed address."""
        ...

    def remove_person(self, observer_id: int) -> None:
        """Remove an observer with all that is theirs alone. What of their parts others have or use stays
        in the catalogue, without a name.
        """
        ...

    # Shared with the club
    def listed_count(self) -> int:
        """How many entries are listed for all members."""
        ...

    def listed_entries(self, limit: int | None = None, offset: int = 0) -> tuple[ListedEntry, ...]:
        """At most `limit` of them behind the last `offset`, the last listed first."""
        ...

    def listed_since(self, entry_id: int) -> datetime | None:
        """Since when an entry is listed, None where it is not."""
        ...

    def listed_entry(self, entry_id: int) -> Entry:
        """One that is listed. Raises NotFoundError for any other."""
        ...

    def list_entry(self, entry_id: int, at: datetime) -> None:
        """List an entry for all members."""
        ...

    def unlist_entry(self, entry_id: int) -> None:
        """List it no more."""
        ...

    # Prices
    def own_prices(self) -> Mapping[int, Money]:
        """What the reader says parts cost that others have entered, by their numbers."""
        ...

    # The club's own observer
    def club_id(self) -> int | None:
        """The observer whose shelf is what the club lends, None where there is none yet."""
        ...

    def set_club(self, observer_id: int) -> None:
        """Let an observer be the club's."""
        ...

    # Sessions
    def add_session(self, observer_id: int, token_hash: str, agent: str, at: datetime) -> None:
        """Begin a session."""
        ...

    def session(self, token_hash: str) -> Session | None:
        """The session of a token."""
        ...

    def sessions(self, observer_id: int) -> tuple[Session, ...]:
        """Someone's sessions, the last seen first."""
        ...

    def set_as_club(self, session_id: int, as_club: bool) -> None:
        """Let a session work as the club, or as who is signed in."""
        ...

    def see_session(self, session_id: int, at: datetime) -> None:
        """Note that it was used."""
        ...

    def end_session(self, observer_id: int, session_id: int) -> None:
        """End one of someone's sessions; none where it is not theirs."""
        ...

    def end_sessions(self, observer_id: int, but: int | None = None) -> None:
        """End all of someone's sessions but one."""
        ...

    # One-time links
    def add_link(self, token_hash: str, link: OneTimeLink) -> None:
        """Keep a link; its number is given by the store."""
        ...

    def link(self, token_hash: str) -> OneTimeLink | None:
        """The link of a token, whether or not it is still good."""
        ...

    def links(self, purpose: Purpose) -> tuple[OneTimeLink, ...]:
        """All links of a purpose, newest first."""
        ...

    def remove_link(self, link_id: int) -> bool:
        """Remove one; whether it was there."""
        ...

    def remove_links_for(self, observer_id: int, purpose: Purpose) -> None:
        """Remove those that are about someone."""
        ...

    # Passkeys
    def passkeys(self, observer_id: int) -> tuple[Passkey, ...]:
        """Someone's, in the order in which they were added."""
        ...

    def passkey(self, credential: str) -> Passkey | None:
        """The one with this number of its authenticator's."""
        ...

    def add_passkey(self, passkey: Passkey) -> bool:
        """Keep one, whose own number is given by the store; False where there is one of this credential."""
        ...

    def use_passkey(self, passkey: Passkey, count: int, at: datetime) -> bool:
        """Note that it was used; False where it is gone, or was used meanwhile by another."""
        ...

    def remove_passkey(self, observer_id: int, passkey_id: int) -> bool:
        """Remove one of someone's; whether it was theirs."""
        ...

    def add_challenge(self, token_hash: str, challenge: Challenge) -> None:
        """Keep what a passkey is asked to sign."""
        ...

    def take_challenge(self, token_hash: str) -> Challenge | None:
        """What was asked of the browser with this token, which is forgotten by it."""
        ...

    # Who asks at the door
    def add_asked(self, login: str, words: str, password_hash: str, at: datetime) -> None:
        """Remember who asks."""
        ...

    def asked(self) -> tuple[Asked, ...]:
        """Who asks, the longest first."""
        ...

    def one_asked(self, asked_id: int) -> tuple[Asked, str]:
        """One of them, with the hash of their password. Raises NotFoundError."""
        ...

    def remove_asked(self, asked_id: int) -> bool:
        """Forget one; whether there was one."""
        ...

    # Doubles
    def part_names(self) -> Iterable[tuple[int, str, str]]:
        """Number, kind and name of every part, in the order in which they were entered."""
        ...

    def uses_of(self, part_id: int) -> Uses:
        """Where a part is used."""
        ...

    def move_prices(self, gone_id: int, kept_id: int) -> None:
        """Let what was said that one part costs be said of another, by those who have not said it of that."""
        ...

    def merge_part(self, gone: CataloguedPart, kept: CataloguedPart, by: int) -> None:
        """Let one part stand for both wherever either is named, but in saved entries, and remove the other.
        Its number leads to the one that stays.
        """
        ...

    # Slow-down, the log
    def tries(self, key: str) -> Tries | None:
        """What is known of tries that failed."""
        ...

    def set_tries(self, key: str, tries: Tries | None) -> None:
        """Keep it, or (None) forget it."""
        ...

    def log_act(self, at: datetime, what: str, by: int | None, about: int | None) -> None:
        """Write a line of the log."""
        ...

    def log_lines(self, limit: int, since: datetime | None = None) -> tuple[LogLine, ...]:
        """The newest lines, those alone that are newer than a moment where one is said."""
        ...

    # Searches that go on
    def noted_search(self, observer_id: int, key: str) -> tuple[Noted, float, float] | None:
        """How far a search of someone's is, when that was noted, and when it was last asked after, as seconds
        since 1970.
        """
        ...

    def note_search(self, observer_id: int, key: str, noted: Noted, at: float) -> None:
        """Note how far it is, in place of what was noted."""
        ...

    def see_search(self, observer_id: int, key: str, at: float) -> None:
        """Note that it was asked after."""
        ...

    def stop_search(self, observer_id: int, key: str) -> None:
        """Note that it shall end."""
        ...

    def sweep(self, now: datetime, log_kept: timedelta | None) -> None:
        """Remove what is over: sessions, links, those who asked, tries, lines of the log that are older than
        so long (None: none).
        """
        ...


class AccountStores(Protocol):
    """Where units of work of the hosted form come from."""

    def writing(self) -> AbstractContextManager[AccountStore]:
        """A unit that may write."""
        ...

    def reading(self) -> AbstractContextManager[AccountStore]:
        """A unit that cannot write."""
        ...

    def close(self) -> None:
        """Let go of the database."""
        ...
