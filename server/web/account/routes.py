"""Sign in and out, invitations, the door, one's own account, the club's members."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal, cast

from fastapi import Form, Query, Request
from fastapi.responses import Response

from server.domain.account import ROLES, Role, SignedIn
from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.flow.account_protocols import AccountStore
from server.flow.accounts import Club
from server.flow.protocols import Store
from server.handed import Number, ReadingStore
from server.handed.routing import pages
from server.handed.turns import IN_TURN
from server.rim.take_out import take_out
from server.rim.take_out_tables import tables_out
from server.web.account.deps import (
    Steward,
    TheClub,
    ThePasskeys,
    Typed,
    Who,
    address_of,
    agent_of,
    club_of,
    errors_of,
    hosted_settings,
    lost_passwords_of,
    passkeys_of,
    waiting,
)
from server.web.account.gate import drop_session, keep_session, safe_next, signed_in
from server.web.account.page import (
    DoorPage,
    LinkOverPage,
    LogPage,
    MembersPage,
    MinePage,
    NewPasswordPage,
    SignInPage,
)
from server.web.account.urls import ACCOUNT_URLS as AT
from server.web.errors import trouble_of
from server.web.rendering import URLS, go_to, render_page

router = pages()

SAID = {
    "password": "Your password was changed, and every other browser was signed out.",
    "passkey": "The passkey was added. You may sign in by it from now on.",
    "removed": "The passkey was removed. Your device may still show it: remove it there, too.",
    "mailed": "A link is on its way to the address. Open it here within an hour to confirm the address.",
    "confirmed": "The address is confirmed. A link for a lost password is sent to it from now on.",
    "forgotten": "The address is gone.",
    "ended": "That browser is signed out.",
    "others": "Every other browser is signed out.",
}
"""What was just done by oneself."""
GONE, ALL_GONE = "gone", "Your account is gone, with all that was your own."
SAID_OF_MEMBERS = {
    "withdrawn": "The invitation leads nowhere now.",
    "confirm": "{who} may sign in now, by the password that they chose.",
    "decline": "They were not let in, and what they had typed is gone.",
    "role": "{who} is a {role} now.",
    "closed": "The account of {who} is closed, and signed out everywhere.",
    "opened": "The account of {who} is open again.",
}
"""What was just done by a steward; who and role are those of the member whom it was done to."""
LOST = "lost"
"""A lost password was set, and there are passkeys."""


# Signing in


@router.get("/sign-in")
def show_sign_in(
    request: Request, after: Annotated[str, Query(alias="next")] = "/", said: str = ""
) -> Response:
    """Who are you?"""
    if signed_in(request) is not None:
        return go_to(request, safe_next(after))
    page = sign_in_page(request, after)
    return render_page(request, replace(page, said=ALL_GONE) if said == GONE else page)


def sign_in_page(
    request: Request, after: str, login: str = "", errors: dict[str, str] | None = None
) -> SignInPage:
    """The page, with what this club offers on it."""
    is_open = hosted_settings(request).door == "open"
    possible, mails = passkeys_of(request).possible, lost_passwords_of(request).sends
    return SignInPage(safe_next(after), is_open, possible, mails, login[:80], errors=errors or {})


@router.post("/sign-in")
def sign_in(
    request: Request,
    club: TheClub,
    login: Typed = "",
    password: Typed = "",
    after: Annotated[str, Form(alias="next")] = "/",
) -> Response:
    """Begin a session; one that this browser had ends."""
    try:
        token = club.sign_in(login, password, address_of(request), agent_of(request))
    except RefusedError as error:
        errors, status = errors_of(error)
        return waiting(render_page(request, sign_in_page(request, after, login, errors), status), error)
    before = signed_in(request)
    if before is not None:
        club.sign_out(before)
    return keep_session(go_to(request, safe_next(after)), token)


@router.post("/sign-out")
def sign_out(request: Request, club: TheClub, who: Who) -> Response:
    """End the session."""
    club.sign_out(who)
    return drop_session(go_to(request, AT.sign_in()))


# One-time links


def _link_over(request: Request, error: NotFoundError, mails: bool) -> Response:
    page = trouble_of(error)
    return render_page(request, LinkOverPage(page.sentence, mails), page.status)


@router.get("/invitation/{token}")
def show_invitation(request: Request, club: TheClub, token: str) -> Response:
    """Choose a name and a password."""
    try:
        club.link(token, "invitation")
    except NotFoundError as error:
        return _link_over(request, error, mails=False)
    return render_page(request, NewPasswordPage(AT.invitation(token), invitation=True))


@router.post("/invitation/{token}")
def accept(
    request: Request, club: TheClub, token: str, login: Typed = "", password: Typed = "", again: Typed = ""
) -> Response:
    """Take up an invitation."""
    try:
        session = club.accept(token, login, password, again, agent_of(request))
    except FieldErrors as error:
        page = NewPasswordPage(AT.invitation(token), invitation=True, login=login[:80], errors=error.errors)
        return render_page(request, page, 422)
    except NotFoundError as error:
        return _link_over(request, error, mails=False)
    return keep_session(go_to(request, URLS.home()), session)


@router.get("/password/{token}")
def show_password_link(request: Request, club: TheClub, token: str) -> Response:
    """Choose a new password in place of a lost one."""
    try:
        club.link(token, "password")
    except NotFoundError as error:
        return _link_over(request, error, lost_passwords_of(request).sends)
    return render_page(request, NewPasswordPage(AT.password_link(token), invitation=False))


@router.post("/password/{token}")
def set_lost_password(
    request: Request, club: TheClub, token: str, password: Typed = "", again: Typed = ""
) -> Response:
    """Set it."""
    try:
        session = club.set_lost_password(token, password, again, agent_of(request))
    except FieldErrors as error:
        page = NewPasswordPage(AT.password_link(token), invitation=False, errors=error.errors)
        return render_page(request, page, 422)
    except NotFoundError as error:
        return _link_over(request, error, lost_passwords_of(request).sends)
    who = club.who(session)
    # Whoever had the password may have added one.
    look = who is not None and passkeys_of(request).mine(who)
    return keep_session(go_to(request, AT.account(LOST) if look else URLS.home()), session)


# The door


def _demand_open_door(request: Request) -> None:
    if hosted_settings(request).door != "open":
        raise NotFoundError("This club takes in members by invitation. Ask one of its stewards.")


@router.get("/door")
def show_door(request: Request) -> Response:
    """Ask to be let in."""
    _demand_open_door(request)
    return render_page(request, DoorPage())


@router.post("/door")
def ask(
    request: Request,
    club: TheClub,
    login: Typed = "",
    words: Typed = "",
    password: Typed = "",
    again: Typed = "",
) -> Response:
    """Ask a steward."""
    _demand_open_door(request)
    try:
        club.ask(login, words, password, again, address_of(request))
    except (FieldErrors, RefusedError) as error:
        errors, status = errors_of(error)
        page = DoorPage(login[:80], words[:500], errors=errors)
        return waiting(render_page(request, page, status), error)
    return render_page(request, DoorPage(asked=True))


# One's own account


@router.get("/account")
def show_account(request: Request, who: Who, said: str = "") -> Response:
    """Password, passkeys, sessions, take out, leave."""
    page = mine(request, who, said=SAID.get(said, ""))
    return render_page(request, replace(page, was_lost=said == LOST))


def mine(
    request: Request,
    who: SignedIn,
    said: str = "",
    errors: dict[str, str] | None = None,
    passkey: str = "",
    mail: str = "",
) -> MinePage:
    """The page; `passkey` and `mail` are what was typed for new ones."""
    passkeys = passkeys_of(request)
    return MinePage(
        who.account,
        club_of(request).sessions(who),
        who.session.id,
        passkeys.mine(who),
        passkeys.possible,
        lost_passwords_of(request).sends,
        passkey,
        mail,
        said,
        errors=errors or {},
    )


@router.post("/account/password")
def change_password(
    request: Request, club: TheClub, who: Who, present: Typed = "", password: Typed = "", again: Typed = ""
) -> Response:
    """Take another password."""
    try:
        club.change_password(who, present, password, again, address_of(request))
    except (FieldErrors, RefusedError) as error:
        errors, status = errors_of(error)
        return waiting(render_page(request, mine(request, who, errors=errors), status), error)
    return go_to(request, AT.account("password"))


@router.post("/account/sessions/end-others")
def end_other_sessions(request: Request, club: TheClub, who: Who) -> Response:
    """Sign every other browser out."""
    club.end_other_sessions(who)
    return go_to(request, AT.account("others"))


@router.post("/account/sessions/{session_id}/end")
def end_session(request: Request, club: TheClub, who: Who, session_id: Number) -> Response:
    """Sign one browser out."""
    club.end_session(who, session_id)
    return go_to(request, AT.account("ended"))


@router.get("/account/take-out.json", dependencies=[IN_TURN])
def take_all_out(who: Who, store: ReadingStore, passkeys: ThePasskeys) -> Response:
    """All that is one's own, as a file."""
    headers = {"Content-Disposition": 'attachment; filename="trainwright-account.json"'}
    told = take_out(_own(who, store), who.account, passkeys.mine(who))
    return Response(told, media_type="application/json", headers=headers)


def _own(who: SignedIn, store: Store) -> AccountStore:
    """The unit, in which they read."""
    unit = cast(AccountStore, store)
    unit.read_by(who.account.observer_id)
    return unit


@router.get("/account/take-out.zip", dependencies=[IN_TURN])
def take_tables_out(who: Who, store: ReadingStore, passkeys: ThePasskeys) -> Response:
    """The same as tables for a spreadsheet."""
    headers = {"Content-Disposition": 'attachment; filename="trainwright-account.zip"'}
    told = tables_out(_own(who, store), who.account, passkeys.mine(who))
    return Response(told, media_type="application/zip", headers=headers)


@router.post("/account/delete")
def delete(request: Request, club: TheClub, who: Who, leaving: Typed = "") -> Response:
    """Leave, with all that is one's own."""
    try:
        club.delete(who, leaving, address_of(request))
    except (FieldErrors, RefusedError) as error:
        errors, status = errors_of(error)
        page = mine(request, who, errors={"leaving": errors.get("present") or errors.get("", "")})
        return waiting(render_page(request, page, status), error)
    return drop_session(go_to(request, AT.sign_in(said=GONE)))


# Members


@router.get("/members")
def show_members(
    request: Request, club: TheClub, by: Steward, said: str = "", about: Number | None = None
) -> Response:
    """Who is in the club, who is invited, who asks."""
    return render_page(request, _members(club, by, words=SAID_OF_MEMBERS.get(said, ""), about=about))


def _members(
    club: Club, by: SignedIn, link: str = "", words: str = "", about: int | None = None, error: str = ""
) -> MembersPage:
    """The page; `words` are about a link that was made or else what was just done, to the member `about`."""
    view = club.members(by)
    whom = next((one for one in view.accounts if one.observer_id == about), None)
    words = words.format(who=whom.login if whom else "A member", role=whom.role if whom else "member")
    told = ("", words) if not link else (words, "")
    return MembersPage(view, by.account.observer_id, link, *told, errors={"": error} if error else {})


@router.get("/members/log")
def show_log(request: Request, club: TheClub, by: Steward) -> Response:
    """Sign-ins and stewards' acts."""
    return render_page(request, LogPage(club.log(by), hosted_settings(request).log_days))


def _role(role: str) -> Role:
    return role if role in ROLES else "member"


@router.post("/members/invite")
def invite(request: Request, club: TheClub, by: Steward, role: Typed = "member") -> Response:
    """Make an invitation and show its link, this once."""
    link = hosted_settings(request).address + AT.invitation(club.invite(by, _role(role)))
    words = f"An invitation for a new {_role(role)}, good once and for seven days"
    return render_page(request, _members(club, by, link, words))


@router.post("/members/invitations/{link_id}/withdraw")
def withdraw_invitation(request: Request, club: TheClub, by: Steward, link_id: Number) -> Response:
    """Let an invitation lead nowhere."""
    club.withdraw_invitation(by, link_id)
    return go_to(request, AT.members("withdrawn"))


@router.post("/members/asked/{asked_id}")
def answer_asked(
    request: Request,
    club: TheClub,
    by: Steward,
    asked_id: Number,
    answer: Annotated[Literal["confirm", "decline"], Form()],
) -> Response:
    """Let someone in, or not."""
    try:
        about = club.answer_asked(by, asked_id, answer)
    except RefusedError as error:
        refused = trouble_of(error)
        return render_page(request, _members(club, by, error=refused.sentence), refused.status)
    return go_to(request, AT.members(answer, about))


@router.post("/members/{observer_id}/password-link")
def lost_password(request: Request, club: TheClub, by: Steward, observer_id: Number) -> Response:
    """Make a link for a lost password and show it, this once."""
    link = hosted_settings(request).address + AT.password_link(club.password_link(by, observer_id))
    words = "A link that sets a new password for {who}, good once and for a day"
    return render_page(request, _members(club, by, link, words, observer_id))


@router.post("/members/{observer_id}/role")
def set_role(request: Request, club: TheClub, by: Steward, observer_id: Number, role: Typed = "") -> Response:
    """Make a member a steward, or the other way round."""
    club.set_role(by, observer_id, _role(role))
    return go_to(request, AT.members("role", observer_id))


@router.post("/members/{observer_id}/closed")
def set_closed(
    request: Request, club: TheClub, by: Steward, observer_id: Number, closed: Typed = ""
) -> Response:
    """Close an account, or open it again."""
    club.set_closed(by, observer_id, closed == "yes")
    return go_to(request, AT.members("closed" if closed == "yes" else "opened", observer_id))
