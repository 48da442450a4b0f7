"""Passkeys: added and removed on My account, used at the sign-in."""

from __future__ import annotations

from typing import Annotated

from fastapi import Form, Request
from fastapi.responses import JSONResponse, Response

from server.domain.account import CHALLENGE_GOOD
from server.domain.errors import FieldErrors, RefusedError
from server.handed import Number
from server.handed.routing import pages
from server.web.account.deps import (
    TheClub,
    ThePasskeys,
    Typed,
    Who,
    address_of,
    agent_of,
    errors_of,
    waiting,
)
from server.web.account.gate import keep_secret, keep_session, safe_next, signed_in
from server.web.account.page import PasskeyPage
from server.web.account.routes import mine, sign_in_page
from server.web.account.urls import ACCOUNT_URLS as AT
from server.web.rendering import go_to, render_page

router = pages()

CHALLENGE_COOKIE = "__Host-passkey"
"""What binds a passkey's answer to the browser that was asked."""

Given = Annotated[str, Form(max_length=20_000)]


def _token(request: Request) -> str:
    return request.cookies.get(CHALLENGE_COOKIE, "")[:300]


def _bound(response: Response, token: str) -> Response:
    return keep_secret(response, CHALLENGE_COOKIE, token, CHALLENGE_GOOD, "strict")


def _freed(response: Response) -> Response:
    response.delete_cookie(CHALLENGE_COOKIE, path="/", secure=True, httponly=True, samesite="strict")
    return response


@router.post("/sign-in/passkey/begin")
def begin_sign_in(request: Request, passkeys: ThePasskeys) -> Response:
    """What the browser asks a passkey for, as JSON; static/js/passkeys.js reads it."""
    try:
        begun = passkeys.begin_sign_in(address_of(request))
    except RefusedError as error:
        errors, status = errors_of(error)
        return waiting(JSONResponse({"said": errors[""]}, status), error)
    return _bound(Response(begun.options, media_type="application/json"), begun.token)


@router.post("/sign-in/passkey")
def sign_in(
    request: Request,
    club: TheClub,
    passkeys: ThePasskeys,
    credential: Given = "",
    after: Annotated[str, Form(alias="next")] = "/",
) -> Response:
    """Begin a session; one that this browser had ends."""
    try:
        token = passkeys.sign_in(_token(request), credential, address_of(request), agent_of(request))
    except RefusedError as error:
        errors, status = errors_of(error)
        page = sign_in_page(request, after, errors=errors)
        return _freed(waiting(render_page(request, page, status), error))
    before = signed_in(request)
    if before is not None:
        club.sign_out(before)
    return _freed(keep_session(go_to(request, safe_next(after)), token))


@router.post("/account/passkeys/new")
def begin_adding(
    request: Request, passkeys: ThePasskeys, who: Who, passkey: Typed = "", proof: Typed = ""
) -> Response:
    """A page on which the browser makes it."""
    try:
        begun = passkeys.begin_adding(who, passkey, proof, address_of(request))
    except (FieldErrors, RefusedError) as error:
        errors, status = errors_of(error)
        page = mine(request, who, errors=errors, passkey=passkey[:80])
        return waiting(render_page(request, page, status), error)
    return _bound(render_page(request, PasskeyPage(passkey, begun.options)), begun.token)


@router.post("/account/passkeys")
def add(
    request: Request, passkeys: ThePasskeys, who: Who, passkey: Typed = "", credential: Given = ""
) -> Response:
    """Keep the one that was made."""
    try:
        passkeys.add(who, _token(request), passkey, credential)
    except FieldErrors as error:
        page = mine(request, who, errors=error.errors, passkey=passkey[:80])
        return _freed(render_page(request, page, 422))
    return _freed(go_to(request, AT.account("passkey")))


@router.post("/account/passkeys/{passkey_id}/remove")
def remove(request: Request, passkeys: ThePasskeys, who: Who, passkey_id: Number) -> Response:
    """Remove one."""
    passkeys.remove(who, passkey_id)
    return go_to(request, AT.account("removed"))
