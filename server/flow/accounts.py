"""Sign in and out, be invited, ask at the door, look after one's account, and what stewards do.

Each verb opens the units of work that it needs: a password takes a fifth of a second to be hashed, and nobody
else's change waits for that.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal

from server.domain.account import (
    INVITATION_GOOD,
    PASSWORD_LINK_GOOD,
    TRIES_FREE,
    Account,
    Asked,
    LogLine,
    OneTimeLink,
    Purpose,
    Role,
    Session,
    SignedIn,
    Tries,
    after_failure,
    login_key,
)
from server.domain.errors import FieldErrors, NotFoundError, RefusedError, TooSoonError
from server.flow.account_protocols import AccountStore, AccountStores
from server.flow.keep_observers import checked_observer_name
from server.flow.passwords import checked_password, hashed, is_outdated, is_right

TOKEN_BYTES = 32
"""256 random bits."""
SEEN_EVERY = timedelta(minutes=5)
"""A session's last use is noted no more often: looking at a page should write nothing."""
MOST_ASKED = 100
LONGEST_WORDS = 500
LONGEST_AGENT = 200
LOG_SHOWN = 500

NOT_TOGETHER = "This name and this password do not go together."
LINK_OVER = "This link leads to nothing: it was used before, has expired, or was not copied whole."
CLUB_NAMES = ("The club", "The club’s loan gear", "The club’s loan cupboard")
"""What the club's own observer is called: the first that no member has."""
HAS_ACCOUNT = (
    "This observer has an account already. A lost password is set anew by a link that a steward makes on the "
    "page Members."
)
LAST_STEWARD = "The club would be left without a steward. Make another member a steward first."


def digest(token: str) -> str:
    """What the store keeps of a token: 256 random bits need no slow hash."""
    return hashlib.sha256(token.encode()).hexdigest()


def form_token(token: str, salt: str = "") -> str:
    """What the forms of a session carry, which no other site can know. It is another one each time, since
    what stands in every compressed page beside what a stranger may put there could be guessed by its length.
    """
    salt = salt or secrets.token_hex(8)
    return salt + hmac.new(token.encode(), salt.encode(), hashlib.sha256).hexdigest()


def is_form_token(token: str, given: str) -> bool:
    """Whether it is one of this session's, compared in constant time."""
    return hmac.compare_digest(form_token(token, given[:16] or "-").encode(), given.encode())


@dataclass(frozen=True)
class MembersView:
    """What stewards look after; `taken` are the numbers of those who ask by a name that somebody has."""

    accounts: tuple[Account, ...]
    invitations: tuple[OneTimeLink, ...]
    asked: tuple[Asked, ...]
    taken: frozenset[int]


class Club:
    """The verbs of accounts, over a store. `words` are those that no password may be made of; `log_kept` is
    for how long a line of the log is kept, None for who does not serve the club and so removes none.
    """

    def __init__(
        self,
        stores: AccountStores,
        words: Sequence[str] = (),
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        log_kept: timedelta | None = None,
    ) -> None:
        self._stores = stores
        self._words = ("trainwright", *words)
        self._log_kept = log_kept
        self._now = now

    # Signing in
    def who(self, token: str) -> SignedIn | None:
        """Whose session a token is, None where it is over, or none."""
        now = self._now()
        with self._stores.reading() as store:
            session = store.session(digest(token))
            if session is None or not session.is_good(now):
                return None
            account = store.account(session.observer_id)
            # A steward who is none any more works as themselves.
            club_id = store.club_id() if session.as_club and account.is_steward else None
        if account.closed_at is not None:
            return None
        if now - session.seen_at > SEEN_EVERY:
            with self._stores.writing() as store:
                store.see_session(session.id, now)
        return SignedIn(session, account, club_id)

    def sign_in(self, login: str, password: str, address: str, agent: str) -> str:
        """Begin a session; its token. Raises RefusedError in the same words whatever of the two is wrong,
        and TooSoonError after too many tries.
        """
        found = self._tried(login, password, address)
        if found is None or found.closed_at is not None:
            raise RefusedError(NOT_TOGETHER)
        return self.begun(found.observer_id, "signed in", agent)

    def sign_out(self, who: SignedIn) -> None:
        """End the session."""
        self.end_session(who, who.session.id)

    def begun(self, observer_id: int, what: str, agent: str) -> str:
        """Begin a session, whatever let one in; its token. The log says `what`."""
        token, now = secrets.token_urlsafe(TOKEN_BYTES), self._now()
        with self._stores.writing() as store:
            store.sweep(now, self._log_kept)
            store.add_session(observer_id, digest(token), agent[:LONGEST_AGENT], now)
            store.log_act(now, what, observer_id, None)
        return token

    def _tried(self, login: str, password: str, address: str) -> Account | None:
        """The account of the name, where the password is its own. A try counts as failed until it is known
        to be right, so that many at once gain nothing.
        """
        now, key = self._now(), login_key(login)
        named, placed = f"name:{digest(key)}", placed_key("address", address)
        with self._stores.writing() as store:
            before = {one: store.tries(one) for one in (named, placed)}
            demand_waited(now, *before.values())
            for one, tries in before.items():
                free = TRIES_FREE["name" if one == named else "address"]
                store.set_tries(one, after_failure(tries, free, now))
            known = store.account_named(key)
        right = is_right(password, known and known[1])
        with self._stores.writing() as store:
            if known is None:
                return None
            account, kept = known
            if not right:
                store.log_act(now, "wrong password", None, account.observer_id)
                return None
            store.set_tries(named, None)
            store.set_tries(placed, before[placed])
            if is_outdated(kept):
                store.set_password_hash(account.observer_id, hashed(password))
        return account

    # One-time links
    def link(self, token: str, purpose: Purpose) -> OneTimeLink:
        """A link that is still good. Raises NotFoundError, in the same words for every other."""
        with self._stores.reading() as store:
            return self._good_link(store, token, purpose)

    def _good_link(self, store: AccountStore, token: str, purpose: Purpose) -> OneTimeLink:
        link = store.link(digest(token))
        if link is None or link.purpose != purpose or link.expires_at <= self._now():
            raise NotFoundError(LINK_OVER)
        return link

    def accept(self, token: str, login: str, password: str, again: str, agent: str) -> str:
        """Take up an invitation; the token of the session that begins. Raises NotFoundError, FieldErrors;
        RefusedError where its observer has an account meanwhile.
        """
        self.link(token, "invitation")
        login = _checked_login(login)
        kept = hashed(checked_password(password, again, (*self._words, login)))
        with self._stores.writing() as store:
            link = self._good_link(store, token, "invitation")
            observer_id = self._join(store, login, link.role, kept, link.observer_id)
            store.remove_link(link.id)
        return self.begun(observer_id, "came by invitation", agent)

    def set_lost_password(self, token: str, password: str, again: str, agent: str) -> str:
        """Set a new password by a link: all sessions end, one begins. Raises NotFoundError, FieldErrors."""
        with self._stores.reading() as store:
            link = self._good_link(store, token, "password")
            account = store.account(link.observer_id or 0)
        kept = hashed(checked_password(password, again, (*self._words, account.login)))
        with self._stores.writing() as store:
            link = self._good_link(store, token, "password")
            store.set_password_hash(account.observer_id, kept)
            store.remove_links_for(account.observer_id, "password")
            store.end_sessions(account.observer_id)
            store.set_tries(f"name:{digest(login_key(account.login))}", None)
        return self.begun(account.observer_id, "set a lost password", agent)

    def _join(
        self, store: AccountStore, login: str, role: Role, kept: str, observer_id: int | None = None
    ) -> int:
        if observer_id is not None and _has_account(store, observer_id):
            raise RefusedError(HAS_ACCOUNT)
        if observer_id is None:
            try:
                observer_id = store.add_observer(login, "metric").id
            except FieldErrors:
                raise FieldErrors({"login": f"“{login}” is taken. Choose another name."}) from None
        store.add_account(observer_id, login, role, kept, self._now())
        return observer_id

    # The door
    def ask(self, login: str, words: str, password: str, again: str, address: str) -> None:
        """Ask to be let in. The answer does not say whether the name is taken: a steward sees that.

        Raises FieldErrors, TooSoonError.
        """
        login, words, now = _checked_login(login), " ".join(words.split()), self._now()
        if len(words) > LONGEST_WORDS:
            raise FieldErrors({"words": f"Take at most {LONGEST_WORDS} characters; this has {len(words)}."})
        password = checked_password(password, again, (*self._words, login))
        key = placed_key("door", address)
        with self._stores.writing() as store:
            count_try(store, key, TRIES_FREE["name"], now)
            store.sweep(now, self._log_kept)
            if len(store.asked()) >= MOST_ASKED:
                raise RefusedError("Very many ask at this door just now. Come back in some days.")
        kept = hashed(password)
        with self._stores.writing() as store:
            store.add_asked(login, words, kept, now)

    # One's own account
    def sessions(self, who: SignedIn) -> tuple[Session, ...]:
        """Where one is signed in, the last seen first."""
        with self._stores.reading() as store:
            mine = store.sessions(who.account.observer_id)
        return tuple(one for one in mine if one.is_good(self._now()))

    def end_session(self, who: SignedIn, session_id: int) -> None:
        """End one of one's own sessions."""
        with self._stores.writing() as store:
            store.end_session(who.account.observer_id, session_id)

    def end_other_sessions(self, who: SignedIn) -> None:
        """End all of one's sessions but this one."""
        with self._stores.writing() as store:
            store.end_sessions(who.account.observer_id, who.session.id)

    def change_password(self, who: SignedIn, present: str, password: str, again: str, address: str) -> None:
        """Take another password; all other sessions end. Raises FieldErrors, TooSoonError."""
        self.demand_password(who, present, address)
        kept = hashed(checked_password(password, again, (*self._words, who.account.login)))
        with self._stores.writing() as store:
            store.set_password_hash(who.account.observer_id, kept)
            store.remove_links_for(who.account.observer_id, "password")
            store.end_sessions(who.account.observer_id, who.session.id)
            store.log_act(self._now(), "changed the password", who.account.observer_id, None)

    def delete(self, who: SignedIn, present: str, address: str) -> None:
        """Leave, with all that is one's own. Raises FieldErrors, TooSoonError, RefusedError for the last
        steward.
        """
        self.demand_password(who, present, address)
        with self._stores.writing() as store:
            _demand_another_steward(store, who.account.observer_id)
            store.log_act(self._now(), "a member left", None, None)
            store.remove_person(who.account.observer_id)

    def demand_password(self, who: SignedIn, present: str, address: str) -> None:
        """Before what a session alone is not enough for. Raises FieldErrors("present"), TooSoonError."""
        if self._tried(who.account.login, present, address) is None:
            raise FieldErrors({"present": "This is not your password. Nothing was changed."})

    # Stewards
    def members(self, by: SignedIn) -> MembersView:
        """All accounts, open invitations, and who asks at the door."""
        with self._stores.reading() as store:
            demand_steward(store, by)
            now = self._now()
            open_ = tuple(one for one in store.links("invitation") if one.expires_at > now)
            accounts, asked = store.accounts(), store.asked()
            names = {login_key(one.name) for one in store.observers()} | {
                login_key(one.login) for one in accounts
            }
            taken = frozenset(one.id for one in asked if login_key(one.login) in names)
            return MembersView(accounts, open_, asked, taken)

    def log(self, by: SignedIn) -> tuple[LogLine, ...]:
        """The newest lines of the log."""
        with self._stores.reading() as store:
            demand_steward(store, by)
            since = None if self._log_kept is None else self._now() - self._log_kept
            return store.log_lines(LOG_SHOWN, since)

    def work_as_club(self, by: SignedIn) -> None:
        """Let this session work as the club's own observer, who is made where there is none yet."""
        with self._stores.writing() as store:
            demand_steward(store, by)
            if store.club_id() is None:
                store.set_club(_add_club(store))
            store.set_as_club(by.session.id, True)
            store.log_act(self._now(), "began to work as the club", by.account.observer_id, None)

    def work_as_oneself(self, who: SignedIn) -> None:
        """Let this session work as who is signed in."""
        with self._stores.writing() as store:
            store.set_as_club(who.session.id, False)

    def invite(self, by: SignedIn | None, role: Role, observer_id: int | None = None) -> str:
        """Make an invitation; its token, which is shown this once. `by` None: who runs the machine."""
        with self._stores.writing() as store:
            if by is not None:
                demand_steward(store, by)
            if observer_id is not None and observer_id == store.club_id():
                raise RefusedError("The club itself has no account: a steward works as the club.")
            if observer_id is not None and _has_account(store, observer_id):
                raise RefusedError(HAS_ACCOUNT)
            return self._linked(store, by, "invitation", role, observer_id, INVITATION_GOOD)

    def withdraw_invitation(self, by: SignedIn, link_id: int) -> None:
        """Let an invitation lead nowhere. Raises NotFoundError."""
        with self._stores.writing() as store:
            demand_steward(store, by)
            if link_id not in {one.id for one in store.links("invitation")}:
                raise NotFoundError("This invitation is not here any more.")
            store.remove_link(link_id)
            store.log_act(self._now(), "withdrew an invitation", by.account.observer_id, None)

    def password_link(self, by: SignedIn, observer_id: int) -> str:
        """A link that sets a member's lost password; its token, which is shown this once."""
        with self._stores.writing() as store:
            demand_steward(store, by)
            role = store.account(observer_id).role
            store.remove_links_for(observer_id, "password")
            return self._linked(store, by, "password", role, observer_id, PASSWORD_LINK_GOOD)

    def _linked(
        self,
        store: AccountStore,
        by: SignedIn | None,
        purpose: Purpose,
        role: Role,
        observer_id: int | None,
        good: timedelta,
    ) -> str:
        token, now = secrets.token_urlsafe(TOKEN_BYTES), self._now()
        store.sweep(now, self._log_kept)
        store.add_link(digest(token), OneTimeLink(0, purpose, role, observer_id, now, now + good))
        what = "made a link for a lost password" if purpose == "password" else f"invited a {role}"
        store.log_act(now, what, None if by is None else by.account.observer_id, observer_id)
        return token

    def answer_asked(self, by: SignedIn, asked_id: int, answer: Literal["confirm", "decline"]) -> int | None:
        """Let someone in who asked at the door, or not; the new member's number, else None. Raises
        NotFoundError; RefusedError: a taken name.
        """
        with self._stores.writing() as store:
            demand_steward(store, by)
            asked, kept = store.one_asked(asked_id)
            try:
                about = self._join(store, asked.login, "member", kept) if answer == "confirm" else None
            except FieldErrors:
                raise RefusedError(_name_taken(asked.login)) from None
            store.remove_asked(asked_id)
            what = "let a member in" if about else "declined who asked at the door"
            store.log_act(self._now(), what, by.account.observer_id, about)
            return about

    def set_role(self, by: SignedIn, observer_id: int, role: Role) -> None:
        """Make someone a steward or a member."""
        with self._stores.writing() as store:
            demand_steward(store, by)
            if role == "member":
                _demand_another_steward(store, observer_id)
            store.set_role(observer_id, role)
            store.log_act(self._now(), f"made a {role}", by.account.observer_id, observer_id)

    def set_closed(self, by: SignedIn, observer_id: int, closed: bool) -> None:
        """Close someone's account, which ends their sessions, or open it again."""
        now = self._now()
        with self._stores.writing() as store:
            demand_steward(store, by)
            if closed:
                _demand_another_steward(store, observer_id)
                store.end_sessions(observer_id)
            store.set_closed(observer_id, now if closed else None)
            what = "closed an account" if closed else "opened an account again"
            store.log_act(now, what, by.account.observer_id, observer_id)


def _name_taken(login: str) -> str:
    """What a steward is told of who asks by a name that somebody has."""
    return f"The name “{login}” is taken: decline, and let them ask by another name."


def _add_club(store: AccountStore) -> int:
    for name in CLUB_NAMES:
        try:
            return store.add_observer(name, "metric").id
        except FieldErrors:
            continue
    raise RefusedError(f"Members are called {' and '.join(CLUB_NAMES)}, so the club has no name of its own.")


def _checked_login(login: str) -> str:
    try:
        return checked_observer_name(login)
    except FieldErrors as error:
        raise FieldErrors({"login": error.errors["name"]}) from None


def _network(address: str) -> str:
    """What tries are counted by: of an IPv6 address its first half, since one place has all of the second."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return address
    if parsed.version == 4:
        return str(parsed)
    return str(ipaddress.ip_network((parsed, 64), strict=False))


def placed_key(what: str, address: str) -> str:
    """By what tries from an address are counted."""
    return f"{what}:{digest(_network(address))}"


def count_try(store: AccountStore, key: str, free: int, now: datetime) -> Tries | None:
    """Count one more; what there was before. Raises TooSoonError."""
    before = store.tries(key)
    demand_waited(now, before)
    store.set_tries(key, after_failure(before, free, now))
    return before


def demand_waited(now: datetime, *tries: Tries | None) -> None:
    """Before another try. Raises TooSoonError."""
    left = max((one.until - now for one in tries if one), default=timedelta())
    if left > timedelta():
        seconds = int(left.total_seconds()) + 1
        words = (
            "a second"
            if seconds == 1
            else f"{seconds} seconds"
            if seconds < 120
            else f"{-(-seconds // 60)} minutes"
        )
        raise TooSoonError(f"Too many tries in a row. The next one is taken in {words}.", seconds)


def demand_steward(store: AccountStore, by: SignedIn) -> None:
    """Raises NotFoundError for who is no steward."""
    # Asked again in the unit that changes something: the role may have gone meanwhile.
    if not store.account(by.account.observer_id).is_steward:
        raise NotFoundError("There is nothing here for you: stewards of the club look after this.")


def _has_account(store: AccountStore, observer_id: int) -> bool:
    """Whether someone may sign in as this observer."""
    return observer_id in {one.observer_id for one in store.accounts()}


def _demand_another_steward(store: AccountStore, observer_id: int) -> None:
    stewards = {one.observer_id for one in store.accounts() if one.is_steward}
    if stewards == {observer_id}:
        raise RefusedError(LAST_STEWARD)
