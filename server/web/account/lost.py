"""A lost password by mail, and the address that a member enters for it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from fastapi import Depends, Request
from fastapi.responses import Response

from server.domain.errors import FieldErrors, NotFoundError, RefusedError
from server.flow.lost_passwords import LostPasswords
from server.handed.routing import pages
from server.web.account.deps import AT_ONCE, Typed, Who, address_of, errors_of, lost_passwords_of, waiting
from server.web.account.page import ConfirmMailPage, LostPasswordPage
from server.web.account.routes import mine
from server.web.account.urls import ACCOUNT_URLS as AT
from server.web.rendering import go_to, render_page

router = pages()


def _lost(request: Request) -> Iterator[LostPasswords]:
    if not lost_passwords_of(request).sends:
        raise NotFoundError("This club sends no mail. Ask one of its stewards for a link.")
    yield lost_passwords_of(request)


TheLost = Annotated[LostPasswords, Depends(_lost, scope="function", max_concurrency=AT_ONCE)]


@router.get("/lost-password")
def show_lost(request: Request, lost: TheLost) -> Response:  # noqa: ARG001 - where there is none, no page
    """Ask for a link."""
    return render_page(request, LostPasswordPage())


@router.post("/lost-password")
def ask(request: Request, lost: TheLost, login: Typed = "") -> Response:
    """The same answer whoever it is."""
    try:
        lost.ask(login, address_of(request), AT.password_link)
    except RefusedError as error:
        errors, status = errors_of(error)
        page = LostPasswordPage(login[:254], errors=errors)
        return waiting(render_page(request, page, status), error)
    return render_page(request, LostPasswordPage(asked=True))


@router.post("/account/mail")
def enter(request: Request, lost: TheLost, who: Who, mail: Typed = "", mail_proof: Typed = "") -> Response:
    """Have a link sent to an address that confirms it."""
    try:
        lost.enter(who, mail, mail_proof, address_of(request), AT.confirm_mail)
    except (FieldErrors, RefusedError) as error:
        errors, status = errors_of(error)
        page = mine(request, who, errors=errors, mail=mail[:254])
        return waiting(render_page(request, page, status), error)
    return go_to(request, AT.account("mailed"))


@router.post("/account/mail/forget")
def forget(request: Request, who: Who) -> Response:
    """Keep no address, even where no mail is sent any more."""
    lost_passwords_of(request).forget(who)
    return go_to(request, AT.account("forgotten"))


@router.get("/account/mail/{token}")
def show_confirm(request: Request, lost: TheLost, who: Who, token: str) -> Response:
    """A page with a button, since programs that look through mail open every link."""
    return render_page(request, ConfirmMailPage(lost.waiting(who, token), token))


@router.post("/account/mail/{token}")
def confirm(request: Request, lost: TheLost, who: Who, token: str) -> Response:
    """Keep the address."""
    try:
        lost.confirm(who, token)
    except FieldErrors as error:
        return render_page(request, mine(request, who, errors=error.errors), 422)
    return go_to(request, AT.account("confirmed"))
