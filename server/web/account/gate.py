"""The gate of the hosted form: who asks, and whether a change comes of a page of ours.

`Gate` finds the session that the cookie names, before a body is read, and sends everybody else to the
sign-in, but for the few places that are open. `check_token` stands before every route and refuses a change
that carries no token of the session (OWASP's synchronizer token pattern, derived instead of stored), beside
the check of the origin in server/web/safety.py. `Addressed` says by which address people come, whatever
stands between, and `OnceMore` asks again for a page that was lost with a connection to the database.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Sequence
from datetime import timedelta
from typing import Literal, cast
from urllib.parse import urlsplit

import anyio
from fastapi import HTTPException, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.datastructures import MutableHeaders
from starlette.requests import cookie_parser
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from server.domain.account import SESSION_LONGEST, SignedIn
from server.domain.errors import TrainwrightError
from server.flow.accounts import Club, form_token, is_form_token
from server.web.account.urls import ACCOUNT_URLS
from server.web.errors import answer, trouble_of
from server.web.rendering import TOKEN_FIELD, TOKEN_HEADER, wants_block
from server.web.safety import SAFE_METHODS
from server.web.urls import page_before

log = logging.getLogger(__name__)

PREFIX = "__Host-"
"""Makes browsers take a cookie only over https, for this host and every path (RFC 6265bis, 4.1.3.2)."""
SESSION_COOKIE = f"{PREFIX}session"
_COOKIE = re.compile(rb"([!#$%&'*+.^_`|~0-9A-Za-z-]+)=([\x21\x23-\x2b\x2d-\x3a\x3c-\x5b\x5d-\x7e]*)")

OPEN = frozenset({"/sign-in", "/lost-password", "/door", "/health", "/ready"})
OPEN_BELOW = ("/sign-in/", "/invitation/", "/password/", "/static/")
OPEN_TO_READ_BELOW = ("/s/",)
"""Where nobody need be signed in."""
UNASKED = ("/health", "/ready")
"""Where it is all the same who asks: the database may be away."""

LOOKED_UP_AT_ONCE = 4
"""Sessions are looked up in threads beside those that units of work are handed through."""


def is_open(method: str, path: str) -> bool:
    """Whether who is not signed in may ask for this."""
    return (
        path in OPEN
        or path.startswith(OPEN_BELOW)
        or (method in SAFE_METHODS and path.startswith(OPEN_TO_READ_BELOW))
    )


def safe_next(wanted: str) -> str:
    """Where to go after the sign-in: a path of this server, or its first page for anything else."""
    parts = urlsplit(wanted) if wanted.isascii() and wanted.isprintable() else None
    if parts is None or parts.scheme or parts.netloc or "\\" in wanted:
        return "/"
    return wanted if wanted.startswith("/") and not wanted.startswith("//") else "/"


def keep_session(response: Response, token: str) -> Response:
    """Let the browser keep the session."""
    return keep_secret(response, SESSION_COOKIE, token, SESSION_LONGEST, "lax")


def keep_secret(
    response: Response, name: str, token: str, good_for: timedelta, samesite: Literal["lax", "strict"]
) -> Response:
    """Let the browser keep a cookie that no script reads and nobody else sets."""
    seconds = int(good_for.total_seconds())
    response.set_cookie(name, token, max_age=seconds, path="/", secure=True, httponly=True, samesite=samesite)
    return response


def drop_session(response: Response) -> Response:
    """Let the browser forget it."""
    # What the browser kept of pages goes as well (W3C, Clear Site Data); the theme may stay.
    response.headers["Clear-Site-Data"] = '"cache", "storage"'
    response.delete_cookie(SESSION_COOKIE, path="/", secure=True, httponly=True, samesite="lax")
    return response


class Gate:
    """Lets through who is signed in, and anybody to what is open."""

    def __init__(self, app: ASGIApp, club: Club) -> None:
        self._app, self._club = app, club
        self._threads: anyio.CapacityLimiter | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Note who asks, and pass the request on or answer it."""
        if scope["type"] != "http" or scope["path"].startswith("/static/") or scope["path"] in UNASKED:
            await self._app(scope, receive, send)
            return
        scope = _own_cookies(scope)
        request = Request(scope)
        try:
            refused = await self._refusal(request)
        except TrainwrightError as error:
            # It may read the database, which keeps a thread waiting and not the loop.
            refused = await run_in_threadpool(answer, request, trouble_of(error))
        if refused is not None:
            await refused(scope, receive, send)
            return

        async def send_secured(message: Message) -> None:
            if message["type"] == "http.response.start":
                _secure_cookies(MutableHeaders(scope=message))
            await send(message)

        await self._app(scope, receive, send_secured)

    async def _refusal(self, request: Request) -> Response | None:
        cookie = session_token(request)
        if cookie:
            # Made here, since it belongs to the loop that it is used in.
            self._threads = self._threads or anyio.CapacityLimiter(LOOKED_UP_AT_ONCE)
            who = await anyio.to_thread.run_sync(self._club.who, cookie, limiter=self._threads)
            if who is not None:
                request.state.signed_in = who
                request.state.session_token = cookie
                request.state.form_token = form_token(cookie)
                return None
        if is_open(request.method, request.url.path):
            return None
        return _sign_in_first(request)


class OnceMore:
    """Asks once more for what changes nothing, where the connection to the database was cut on the way. A
    change is never repeated here: nobody knows whether it was kept.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, twice at most."""
        if scope["type"] != "http" or scope["method"] not in SAFE_METHODS:
            await self._app(scope, receive, send)
            return
        state = scope.setdefault("state", {})

        async def send_unless_cut(message: Message) -> None:
            if not state.get("cut"):
                await send(message)

        await self._app(scope, receive, send_unless_cut)
        if not state.get("cut"):
            return
        read = False

        async def receive_again() -> Message:
            nonlocal read
            if read:
                return await receive()
            read = True
            return {"type": "http.request", "body": b"", "more_body": False}

        await self._app({**scope, "state": {}, "path_params": {}}, receive_again, send)


def signed_in(request: Request) -> SignedIn | None:
    """Who is signed in."""
    return cast("SignedIn | None", getattr(request.state, "signed_in", None))


def session_token(request: Request) -> str:
    """What the browser's cookie holds, "" for none."""
    return cookie_parser(request.headers.get("cookie", "")).get(SESSION_COOKIE, "")[:200]


def _sign_in_first(request: Request) -> Response:
    path = request.url.path
    if path.startswith("/api/"):
        error = {"code": "sign_in_first", "message": "Sign in first: the cookie of a session says who asks."}
        return JSONResponse({"error": error}, 401)
    asks = request.method in SAFE_METHODS and not wants_block(request)
    query = f"?{request.url.query}" if request.url.query else ""
    # What is asked for again must not change anything, so after a change it is the page that it was on.
    url = ACCOUNT_URLS.sign_in(safe_next(path + query if asks else page_before(request.headers)))
    if wants_block(request):
        return Response(status_code=200, headers={"HX-Redirect": url})
    return RedirectResponse(url, 302 if asks else 303)


def _secure_cookies(headers: MutableHeaders) -> None:
    """Let no cookie, of the theme or of the units either, be sent in the clear or be set by another host."""
    cookies = headers.getlist("set-cookie")
    if cookies:
        del headers["set-cookie"]
        for cookie in cookies:
            own = cookie if cookie.startswith(PREFIX) else f"{PREFIX}{cookie}; Secure"
            headers.append("set-cookie", own)


def _own_cookies(scope: Scope) -> Scope:
    """The request with its cookies by the names that the local form gives them as well. What is no cookie's
    name or value by RFC 6265 (section 4.1.1) is left out before anything reads it: quoted ones could hold
    another cookie.
    """
    headers = [(name, value) for name, value in scope["headers"] if name != b"cookie"]
    sent: dict[bytes, bytes] = {}
    for pair in b";".join(value for name, value in scope["headers"] if name == b"cookie").split(b";"):
        if whole := _COOKIE.fullmatch(pair.strip(b" \t")):
            sent.setdefault(whole[1], whole[2])
    # One that another host may have set gives way to ours.
    start = PREFIX.encode()
    named = sent | {name.removeprefix(start): one for name, one in sent.items() if name.startswith(start)}
    cookie = b"; ".join(name + b"=" + value for name, value in named.items())
    return {**scope, "headers": [*headers, (b"cookie", cookie)] if cookie else headers}


async def check_token(request: Request) -> None:
    """Refuse a change that a cookie alone vouches for. Stands before every route of the hosted app."""
    if (
        request.method in SAFE_METHODS
        or signed_in(request) is None
        or is_open(request.method, request.url.path)
    ):
        return
    given = request.headers.get(TOKEN_HEADER, "")
    if not given and request.headers.get("content-type", "").startswith(
        ("application/x-www-form-urlencoded", "multipart/form-data")
    ):
        given = str((await request.form(max_files=20)).get(TOKEN_FIELD, ""))
    if not is_form_token(request.state.session_token, given):
        log.warning("A change at /%s without the token of its session", request.url.path.split("/")[1])
        raise HTTPException(
            403,
            "This page was made before you signed in here, or is none of ours, so nothing was changed. Load "
            "it again and repeat the step",
        )


class Addressed:
    """Puts the scheme of the public address on every request, and, from those who are trusted, the address of
    the browser that a proxy has passed on.
    """

    def __init__(self, app: ASGIApp, scheme: str, trusted: Sequence[str]) -> None:
        self._app, self._scheme = app, scheme
        self._inner: ASGIApp = self._with_scheme
        if trusted:
            self._inner = ProxyHeadersMiddleware(self._with_scheme, list(trusted))  # type: ignore[arg-type,assignment]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on."""
        await self._inner(scope, receive, send)

    async def _with_scheme(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            scope = {**scope, "scheme": self._scheme}
        await self._app(scope, receive, send)
