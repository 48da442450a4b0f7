"""A lost password, by mail: a member confirms an address, and a link is sent to it.

What is asked for answers alike, and as soon, whether or not there is such a member: who it is for is looked
up by a job of its own, after the answer. Sources: OWASP Forgot Password Cheat Sheet; OWASP ASVS 5.0, 6.4
(from memory).
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Protocol

from server.domain.account import (
    LONGEST_MAIL_WAIT_S,
    MAIL_WAIT_S,
    MAILED_LINK_GOOD,
    MAILS_FREE,
    TRIES_FREE,
    Account,
    OneTimeLink,
    Purpose,
    SignedIn,
    after_failure,
    login_key,
    mail_key,
)
from server.domain.errors import FieldErrors, NotFoundError
from server.flow.account_protocols import AccountStore, AccountStores
from server.flow.accounts import TOKEN_BYTES, Club, count_try, digest, placed_key

LONGEST_MAIL = 254
"""RFC 5321, section 4.5.3.1.3, without its angle brackets."""
_MAIL = re.compile(r"[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]{1,64}@(?:[A-Za-z0-9-]+\.)*[A-Za-z0-9-]+")
"""What HTML takes as an address (its section "valid e-mail address")."""

LINK_OVER = (
    "This link confirms nothing: it was used before, has expired, or was sent for another account. Enter the "
    "address once more on My account."
)


@dataclass(frozen=True)
class Letter:
    """A mail of plain text."""

    to: str
    subject: str
    text: str


class Post(Protocol):
    """What sends mail, later."""

    def later(self, job: Callable[[], Letter | None]) -> None:
        """Have the letter written by and by, and send it where there is one."""
        ...


def is_mail(text: str) -> bool:
    """Whether it is an address that mail can be sent to."""
    return len(text) <= LONGEST_MAIL and _MAIL.fullmatch(text) is not None


class LostPasswords:
    """The verbs of addresses and of links by mail. `public` is what the addresses of links begin with;
    without a `post` an address is taken out and no more.
    """

    def __init__(
        self,
        club: Club,
        stores: AccountStores,
        post: Post | None,
        public: str,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._club, self._stores, self._post, self._public, self._now = club, stores, post, public, now

    @property
    def sends(self) -> bool:
        """Whether mail is sent."""
        return self._post is not None

    def _later(self, job: Callable[[], Letter | None]) -> None:
        if self._post is None:
            raise NotFoundError("This club sends no mail. Ask one of its stewards for a link.")
        self._post.later(job)

    def ask(self, typed: str, address: str, url: Callable[[str], str]) -> None:
        """Send a link to the member of this name or address, where there is one. `url` is a token's.

        Raises TooSoonError.
        """
        with self._stores.writing() as store:
            count_try(store, placed_key("mail", address), TRIES_FREE["address"], self._now())
        self._later(lambda: self._link_letter(typed, url))

    def _link_letter(self, typed: str, url: Callable[[str], str]) -> Letter | None:
        with self._stores.writing() as store:
            # The address first: a name that is written like another's keeps nobody from theirs.
            account = store.account_mailed(mail_key(typed.strip())) if "@" in typed else None
            if account is None:
                named = store.account_named(login_key(typed))
                account = named[0] if named else None
            if account is None or account.closed_at is not None or not account.mail:
                return None
            token = self._linked(store, account, "password")
            if token is None:
                return None
            store.log_act(self._now(), "asked for a link by mail", None, account.observer_id)
        return Letter(
            account.mail,
            "A new password for Trainwright",
            f"Somebody (you, we hope) has lost the password of {account.login} at {self._public}\n\n"
            f"Choose a new one here, once and within an hour:\n\n{self._public}{url(token)}\n\n"
            "If it was not you, do nothing: your password stays as it is.\n",
        )

    def enter(self, who: SignedIn, mail: str, present: str, address: str, url: Callable[[str], str]) -> None:
        """Send a link to an address that confirms it. Raises FieldErrors("mail", "mail_proof"),
        TooSoonError.
        """
        mail = mail.strip()
        if not is_mail(mail):
            raise FieldErrors({"mail": "This is no address that mail can be sent to."})
        try:
            self._club.demand_password(who, present, address)
        except FieldErrors as error:
            raise FieldErrors({"mail_proof": error.errors["present"]}) from None
        self._later(lambda: self._confirming_letter(who.account, mail, url))

    def _confirming_letter(self, account: Account, mail: str, url: Callable[[str], str]) -> Letter | None:
        with self._stores.writing() as store:
            token = self._linked(store, account, "mail", mail)
        if token is None:
            return None
        return Letter(
            mail,
            "Your address at Trainwright",
            f"{account.login} has entered this address at {self._public}\n\n"
            f"Confirm it here, once and within an hour:\n\n{self._public}{url(token)}\n\n"
            "If it was not you, do nothing: nothing more is sent.\n",
        )

    def _linked(self, store: AccountStore, account: Account, purpose: Purpose, mail: str = "") -> str | None:
        """The token of a new link; None where too many mails went to this member already. Links of before
        stay, so that nobody is robbed of theirs by a stranger who asks.
        """
        now, key = self._now(), f"mailed:{account.observer_id}"
        tries = store.tries(key)
        if tries is not None and tries.until > now:
            return None
        store.set_tries(key, after_failure(tries, MAILS_FREE, now, MAIL_WAIT_S, LONGEST_MAIL_WAIT_S))
        token = secrets.token_urlsafe(TOKEN_BYTES)
        store.sweep(now, None)
        link = OneTimeLink(0, purpose, account.role, account.observer_id, now, now + MAILED_LINK_GOOD, mail)
        store.add_link(digest(token), link)
        return token

    def waiting(self, who: SignedIn, token: str) -> str:
        """The address that a link confirms. Raises NotFoundError for another's and for one that is over."""
        with self._stores.reading() as store:
            return self._good(store, who, token).mail

    def _good(self, store: AccountStore, who: SignedIn, token: str) -> OneTimeLink:
        link = store.link(digest(token))
        good = link is not None and link.purpose == "mail" and link.expires_at > self._now()
        if link is None or not good or link.observer_id != who.account.observer_id:
            raise NotFoundError(LINK_OVER)
        return link

    def confirm(self, who: SignedIn, token: str) -> None:
        """Keep the address. Raises NotFoundError, and FieldErrors("mail") where another account has it."""
        with self._stores.writing() as store:
            self._keep(store, who, self._good(store, who, token).mail, "confirmed an address for mail")

    def forget(self, who: SignedIn) -> None:
        """Keep none."""
        with self._stores.writing() as store:
            self._keep(store, who, "", "took the address for mail out")

    def _keep(self, store: AccountStore, who: SignedIn, mail: str, what: str) -> None:
        mine = who.account.observer_id
        store.set_mail(mine, mail)
        # What was sent to the address of before leads nowhere.
        for purpose in ("mail", "password"):
            store.remove_links_for(mine, purpose)
        store.log_act(self._now(), what, mine, None)
