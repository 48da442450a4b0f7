"""The account's pages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import ClassVar

from server.domain.account import Account, LogLine, Passkey, Session
from server.flow.accounts import MembersView
from server.flow.passkeys import LONGEST_NAME
from server.flow.passwords import LONGEST, SHORTEST
from server.web.account.agents import browser_words
from server.web.account.urls import ACCOUNT_URLS, AccountUrls


@dataclass(frozen=True)
class AccountPage:
    """What these pages have in common.

    Attributes:
        errors: sentences by field name; "" is what was refused as a whole.
    """

    at: ClassVar[AccountUrls] = ACCOUNT_URLS
    shortest: ClassVar[int] = SHORTEST
    longest: ClassVar[int] = LONGEST

    errors: Mapping[str, str] = field(default_factory=dict, kw_only=True)

    def error(self, name: str = "") -> str:
        """Why a field could not be taken, or ""."""
        return self.errors.get(name, "")

    @property
    def first_wrong(self) -> str:
        """The field to go to after a refusal, "" where it is about none. Errors come in the page's order."""
        return next((name for name in self.errors if name), "")


@dataclass(frozen=True)
class SignInPage(AccountPage):
    """Sign in.

    Attributes:
        after: where to go then.
        door: whether strangers may ask to be let in.
        passkeys: whether one may sign in by a passkey.
        mails: whether a link for a lost password is sent by mail.
        login: what was typed.
        said: what was just done, a sentence, or "".
    """

    template: ClassVar[str] = "account/sign_in.html"

    after: str
    door: bool
    passkeys: bool
    mails: bool
    login: str = ""
    said: str = ""


@dataclass(frozen=True)
class NewPasswordPage(AccountPage):
    """Choose a name and a password by an invitation, or a password alone by a link for a lost one.

    Attributes:
        url: where it posts to.
        invitation: whether a name is chosen, too.
        login: what was typed.
    """

    template: ClassVar[str] = "account/invitation.html"

    url: str
    invitation: bool
    login: str = ""


@dataclass(frozen=True)
class LinkOverPage(AccountPage):
    """A one-time link that is good no more.

    Attributes:
        sentence: what is wrong with it.
        mails: whether another one is sent by mail.
    """

    template: ClassVar[str] = "account/link_over.html"

    sentence: str
    mails: bool


@dataclass(frozen=True)
class DoorPage(AccountPage):
    """Ask to be let in.

    Attributes:
        login, words: what was typed.
        asked: whether it was asked.
    """

    template: ClassVar[str] = "account/door.html"

    login: str = ""
    words: str = ""
    asked: bool = False


@dataclass(frozen=True)
class MinePage(AccountPage):
    """One's own account.

    Attributes:
        sessions: where one is signed in.
        here: the number of this session.
        passkeys: those that sign in to it.
        more: whether browsers make passkeys for this address.
        passkey: the name that was typed for a new one.
        mails: whether this club sends mail.
        mail: the address that was typed.
        said: what was just done, a sentence, or "".
        was_lost: whether a lost password was just set.
    """

    template: ClassVar[str] = "account/mine.html"
    longest_name: ClassVar[int] = LONGEST_NAME

    account: Account
    sessions: tuple[Session, ...]
    here: int
    passkeys: tuple[Passkey, ...]
    more: bool
    mails: bool
    passkey: str = ""
    mail: str = ""
    said: str = ""
    was_lost: bool = False

    def browser(self, agent: str) -> str:
        """What a browser that is signed in calls itself, as a person would say it."""
        words = browser_words(agent)
        return words[0].upper() + words[1:]


@dataclass(frozen=True)
class LostPasswordPage(AccountPage):
    """Ask for a link by mail.

    Attributes:
        login: what was typed.
        asked: whether it was asked.
    """

    template: ClassVar[str] = "account/lost_password.html"

    login: str = ""
    asked: bool = False


@dataclass(frozen=True)
class ConfirmMailPage(AccountPage):
    """Confirm an address.

    Attributes:
        mail: the address.
        token: that of the link.
    """

    template: ClassVar[str] = "account/confirm_mail.html"

    mail: str
    token: str


@dataclass(frozen=True)
class PasskeyPage(AccountPage):
    """Let the browser make a passkey.

    Attributes:
        name: what it is to be called.
        options: what the browser is told, as JSON.
    """

    template: ClassVar[str] = "account/passkey.html"

    name: str
    options: str


@dataclass(frozen=True)
class MembersPage(AccountPage):
    """The club's members.

    Attributes:
        me: the number of the steward who looks.
        link: a link that was just made, whole, or ""; it is shown this once.
        link_words: what it is for.
        said: what was just done, a sentence, or "".
    """

    template: ClassVar[str] = "account/members.html"

    view: MembersView
    me: int
    link: str = ""
    link_words: str = ""
    said: str = ""


@dataclass(frozen=True)
class LogPage(AccountPage):
    """What happened.

    Attributes:
        days: for how long a line is kept.
    """

    template: ClassVar[str] = "account/log.html"

    lines: tuple[LogLine, ...]
    days: int
