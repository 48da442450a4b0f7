"""Addresses of the account's pages, as `server/web/urls.py` has those of all others."""

from __future__ import annotations

from urllib.parse import quote

from server.web.urls import Urls, with_query

URLS = Urls()


class AccountUrls:
    """A method a page or action."""

    def sign_in(self, after: str = "", said: str = "") -> str:
        """The sign-in; `after` is where to go then, `said` names what was just done."""
        return with_query("/sign-in", {"next": "" if after == "/" else after, "said": said})

    def begin_passkey(self) -> str:
        """Asks a passkey to sign in."""
        return "/sign-in/passkey/begin"

    def sign_in_by_passkey(self) -> str:
        """Signs in by its answer."""
        return "/sign-in/passkey"

    def door(self) -> str:
        """Asks to be let in."""
        return "/door"

    def invitation(self, token: str) -> str:
        """Takes up an invitation."""
        return f"/invitation/{quote(token)}"

    def password_link(self, token: str) -> str:
        """Sets a lost password."""
        return f"/password/{quote(token)}"

    def lost(self) -> str:
        """Asks for such a link by mail."""
        return "/lost-password"

    def enter_mail(self) -> str:
        """Has an address confirmed."""
        return "/account/mail"

    def forget_mail(self) -> str:
        """Keeps no address."""
        return "/account/mail/forget"

    def confirm_mail(self, token: str) -> str:
        """Confirms one."""
        return f"/account/mail/{quote(token)}"

    def account(self, said: str = "") -> str:
        """One's own account; `said` names what was just done."""
        return with_query("/account", {"said": said})

    def change_password(self) -> str:
        """Takes another password."""
        return "/account/password"

    def new_passkey(self) -> str:
        """Asks for a new passkey."""
        return "/account/passkeys/new"

    def add_passkey(self) -> str:
        """Keeps the one that was made."""
        return "/account/passkeys"

    def remove_passkey(self, passkey_id: int) -> str:
        """Removes one."""
        return f"/account/passkeys/{passkey_id}/remove"

    def end_session(self, session_id: int) -> str:
        """Ends one of one's sessions."""
        return f"/account/sessions/{session_id}/end"

    def end_other_sessions(self) -> str:
        """Ends all but this one."""
        return "/account/sessions/end-others"

    def take_out(self) -> str:
        """All that is one's own, as a file."""
        return "/account/take-out.json"

    def take_out_tables(self) -> str:
        """The same as tables, packed into one file."""
        return "/account/take-out.zip"

    def delete(self) -> str:
        """Deletes the account."""
        return "/account/delete"

    def members(self, said: str = "", about: int | None = None) -> str:
        """The club's members, for stewards; `said` names what was just done, to the member `about`."""
        return with_query("/members", {"said": said, "about": about})

    def log(self) -> str:
        """What happened, for stewards."""
        return "/members/log"

    def doubles(self) -> str:
        """Parts that may have been entered twice, for stewards."""
        return "/members/doubles"

    def beside(self, part_id: int) -> str:
        """Others that may be the same as one part."""
        return URLS.doubles(part_id)

    def pair(self, part_id: int, other_part_id: int) -> str:
        """Two parts side by side."""
        return f"{URLS.doubles(part_id)}/{other_part_id}"

    def invite(self) -> str:
        """Makes an invitation."""
        return "/members/invite"

    def withdraw_invitation(self, link_id: int) -> str:
        """Withdraws one."""
        return f"/members/invitations/{link_id}/withdraw"

    def answer_asked(self, asked_id: int) -> str:
        """Answers who asked at the door."""
        return f"/members/asked/{asked_id}"

    def lost_password(self, observer_id: int) -> str:
        """Makes a link that sets a member's lost password."""
        return f"/members/{observer_id}/password-link"

    def role(self, observer_id: int) -> str:
        """Makes a member a steward, or the other way round."""
        return f"/members/{observer_id}/role"

    def closed(self, observer_id: int) -> str:
        """Closes an account, or opens it again."""
        return f"/members/{observer_id}/closed"


ACCOUNT_URLS = AccountUrls()
