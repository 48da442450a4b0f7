"""What stands between the network and the app: who may ask, how much, and what a browser may do with it.

Two plain ASGI middlewares. `Safety` checks the Host header (against DNS rebinding), refuses requests that
another site's page makes (against cross-site request forgery) and puts the policy headers on every answer.
`WholeBody` bounds what a request may send, and how long that may take. Both refuse in a sentence, as a page
or as JSON.

Sources: Fetch Metadata Request Headers (W3C), section 2 (Sec-Fetch-Site); Content Security Policy Level 3
(W3C); RFC 9110, sections 7.2 (Host), 15.5.9 (408) and 15.5.20 (421); RFC 6454, section 7 (Origin).
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from tempfile import SpooledTemporaryFile
from typing import IO
from urllib.parse import urlsplit

from markupsafe import escape
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.web.urls import page_before

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "[::1]")
"""The names a browser on this machine may use for the app itself."""

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'self'",
        "img-src 'self' data:",
        "style-src 'self'",
        "script-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
"""Methods that change nothing (RFC 9110, section 9.2.1), so another site's link to a page is no harm."""

MEGABYTE = 1_000_000
DEFAULT_LIMIT = 1 * MEGABYTE

DRAINED_AT_MOST = 50 * MEGABYTE
"""How much of a body that is too long is read and dropped so that the browser gets to read the refusal."""

BODY_S = 10.0
"""How long a body may take to come whole: it comes from this machine, or one beside it."""

IN_MEMORY = 8 * MEGABYTE
"""A body that may be longer is kept on disk while it comes."""
FILE_S = 300.0
"""How long such a body may take."""
_PIECE = 1 << 20


@dataclass(frozen=True)
class Refusal:
    """A request that is turned away: the status, and why in a sentence."""

    status: int
    title: str
    sentence: str

    async def answer(self, scope: Scope, send: Send) -> None:
        """Sends it as JSON below /api and to who asks for JSON, else as a small page."""
        accept = Headers(scope=scope).get("accept", "")
        if scope["path"].startswith("/api/") or ("json" in accept and "html" not in accept):
            kind = "application/json"
            text = json.dumps({"error": {"code": self.title, "message": self.sentence}})
        else:
            kind = "text/html; charset=utf-8"
            before = page_before(Headers(scope=scope))
            back = f'<p><a href="{escape(before)}">Back to where you were</a></p>' if before else ""
            text = (
                '<!doctype html><html lang="en"><head><meta charset="utf-8">'
                '<meta name="viewport" content="width=device-width">'
                f"<title>{escape(self.title)}</title></head><body><main>"
                f'<h1>{escape(self.title)}</h1><p role="alert">{escape(self.sentence)}</p>'
                f'{back}<p><a href="/">To the first page</a></p></main></body></html>'
            )
        body = text.encode()
        await send(
            {
                "type": "http.response.start",
                "status": self.status,
                "headers": [
                    (b"content-type", kind.encode()),
                    (b"content-length", str(len(body)).encode()),
                    # What may still come of a body is of no use to anybody.
                    (b"connection", b"close"),
                ],
            }
        )
        await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})


NO_LENGTH = Refusal(400, "Length not understood", "The request does not say its length in bytes.")
TOO_SLOW = Refusal(
    408,
    "Not all arrived",
    "What was sent did not arrive whole in time, so nothing was done. Send it once more.",
)


class Safety:
    """Checks the host and the origin of each request and puts the policy on each answer.

    `hosts` are the names the app may be asked by, with a port each or, without, at any port. `assets` are the
    paths below which files lie that a browser may keep. `policy` are headers beside the usual ones.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        hosts: Collection[str] = LOOPBACK_NAMES,
        assets: tuple[str, ...] = ("/static/",),
        policy: Mapping[str, str] | None = None,
    ) -> None:
        self._app = app
        self._hosts = frozenset(host.lower() for host in hosts)
        self._assets = assets
        self._policy = {
            "Content-Security-Policy": CONTENT_SECURITY_POLICY,
            "X-Content-Type-Options": "nosniff",
            # Addresses of shares are secrets: no other site is told them. Our own pages are, since with
            # "no-referrer" browsers also send "Origin: null" with our own forms, and that check would be
            # lost.
            "Referrer-Policy": "same-origin",
            "Cross-Origin-Resource-Policy": "same-origin",
        }
        if all(without_port(host) in LOOPBACK_NAMES for host in self._hosts):
            # Browsers ignore this one, with a warning on the console, where the page comes by plain http from
            # another machine.
            self._policy["Cross-Origin-Opener-Policy"] = "same-origin"
        self._policy.update(policy or {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Turns the request away, or passes it on and marks the answer."""
        if scope["type"] == "websocket":
            # There is none in this app; a door that nobody uses stays shut.
            await send({"type": "websocket.close", "code": 1008})
            return
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                message.setdefault("headers", [])
                headers = MutableHeaders(scope=message)
                for name, value in self._policy.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", self._keeping(scope, message["status"]))
            await send(message)

        async def send_head(message: Message) -> None:
            if message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send_marked(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal.answer(scope, send_marked)
        elif scope["method"] == "HEAD":
            # The framework's routes know GET only; what it would answer is told without the body (RFC 9110,
            # section 9.3.2).
            await self._app({**scope, "method": "GET"}, receive, send_head)
        else:
            await self._app(scope, receive, send_marked)

    def _keeping(self, scope: Scope, status: int) -> str:
        """How long a browser may keep the answer: pages never, since several observers use one browser."""
        if status not in (200, 206, 304) or not scope["path"].startswith(self._assets):
            return "no-store"
        if b"v=" in scope["query_string"]:
            # The address carries the version, so another version has another address.
            return "public, max-age=31536000, immutable"
        return "no-cache"

    def _refusal(self, scope: Scope) -> Refusal | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if not self._is_known(host):
            return Refusal(
                421,
                "Not this address",
                f"Trainwright does not answer to the address {host[:100]!r}. "
                f"Open it at one of: {', '.join(sorted(self._hosts))}.",
            )
        if scope["method"] not in SAFE_METHODS and not self._comes_from_here(scope, headers, host):
            return Refusal(
                403,
                "Request from another site",
                "This change was asked for by another site's page, so nothing was done. "
                "Make it on Trainwright's own pages.",
            )
        return None

    def _is_known(self, host: str) -> bool:
        host = host.lower()
        return host in self._hosts or without_port(host) in self._hosts

    @staticmethod
    def _comes_from_here(scope: Scope, headers: Mapping[str, str], host: str) -> bool:
        site = headers.get("sec-fetch-site")
        if site is not None:
            # "none": typed, or from a bookmark. "same-site" is not enough: every port of this machine is.
            return site in ("same-origin", "none")
        origin = headers.get("origin")
        if origin is not None:
            return origin.lower() == f"{scope['scheme']}://{host}".lower()
        # Browsers send one of the two with every request that changes anything; this is a program of the
        # user's.
        return True


def without_port(host: str) -> str:
    """The name in a Host header: "[::1]:8321" gives "[::1]"; "" where it cannot be read."""
    try:
        parts = urlsplit(f"//{host}")
        _ = parts.port
        name = parts.hostname or ""
    except ValueError:
        return ""
    if parts.netloc != host or "@" in host:
        return ""
    return f"[{name}]" if ":" in name else name


WHOLE_BODY = "trainwright.body"
"""Where a request's scope has its body, as a file."""


class WholeBody:
    """Passes a request on when its body is there, whole: nothing of the app waits for a client, and no unit
    of work is open meanwhile.

    Refused are a body that is longer than its path allows, whether or not the request says its length, and
    one that takes longer than `seconds` to come. `limits` gives bytes by the beginning of the path; the
    longest that fits counts, and `default` where none does.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        limits: Mapping[str, int] | None = None,
        default: int = DEFAULT_LIMIT,
        seconds: float = BODY_S,
    ) -> None:
        self._app = app
        self._limits = sorted((limits or {}).items(), key=lambda entry: -len(entry[0]))
        self._default = default
        self._seconds = seconds

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on with its whole body, or answer 400, 408 or 413; nothing to who has gone."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        limit = next((n for start, n in self._limits if scope["path"].startswith(start)), self._default)
        announced = Headers(scope=scope).get("content-length", "0")
        if not (announced.isascii() and announced.isdigit()):
            await NO_LENGTH.answer(scope, send)
            return
        with SpooledTemporaryFile(IN_MEMORY) as whole:
            seconds = self._seconds if limit <= IN_MEMORY else max(self._seconds, FILE_S)
            if await self._taken(whole, limit, seconds, receive, scope, send):
                whole.seek(0)
                await self._app({**scope, WHOLE_BODY: whole}, _given(whole, receive), send)

    async def _taken(
        self, whole: IO[bytes], limit: int, seconds: float, receive: Receive, scope: Scope, send: Send
    ) -> bool:
        """Write the body to `whole`; False where it was refused, or who sent it has gone."""
        received = 0
        more_comes = True
        try:
            async with asyncio.timeout(seconds):
                while more_comes and received < limit + DRAINED_AT_MOST:
                    message = await receive()
                    if message["type"] != "http.request":
                        return False
                    piece, more_comes = message.get("body", b""), message.get("more_body", False)
                    received += len(piece)
                    if received <= limit:
                        whole.write(piece)
        except TimeoutError:
            await TOO_SLOW.answer(scope, send)
            return False
        if received > limit:
            await Refusal(
                413,
                "Too much at once",
                f"What was sent is longer than the {in_megabytes(limit)} that this page takes. "
                "Send a smaller file, or split it.",
            ).answer(scope, send)
            return False
        return True


def _given(whole: IO[bytes], receive: Receive) -> Receive:
    """A channel that gives a body piece by piece, and then what else comes."""
    ended = False

    async def piece_by_piece() -> Message:
        nonlocal ended
        if ended:
            return await receive()
        piece = whole.read(_PIECE)
        ended = len(piece) < _PIECE
        return {"type": "http.request", "body": piece, "more_body": not ended}

    return piece_by_piece


def in_megabytes(size: int) -> str:
    """A number of bytes as people say it: "5 MB", "1.5 MB"."""
    return f"{size / MEGABYTE:g} MB"
