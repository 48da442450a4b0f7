"""Hands a request for what takes long over to the process that works such things out, by a socket of this
machine, and its answer back: the process itself asks who is signed in, as any other does.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Sequence
from typing import IO, cast
from urllib.parse import quote

import httpx
from fastapi import Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response

from server.domain.errors import BusyError
from server.web.errors import answer, trouble_of
from server.web.safety import SAFE_METHODS, WHOLE_BODY

LONGEST_S = 120.0
COMES_BACK_S = 6.0
"""A process that has ended is replaced within this time."""
AGAIN_S = 0.2
_OWN = frozenset(
    {b"connection", b"keep-alive", b"transfer-encoding", b"content-length", b"content-encoding", b"date"}
)
"""What each of the two connections says for itself (RFC 9110, section 7.6.1)."""
_AWAY = "What takes long cannot be worked out just now. Ask once more in a moment."


class Handover:
    """The sockets of the processes that work out what takes long: each member is always sent to the same, so
    that a search that goes on is found again.
    """

    def __init__(self, sockets: Sequence[str]) -> None:
        self._clients = [
            httpx.AsyncClient(transport=httpx.AsyncHTTPTransport(uds=one), timeout=LONGEST_S, trust_env=False)
            for one in sockets
        ]

    async def __call__(self, request: Request, error: Exception) -> Response:  # noqa: ARG002 - a handler's
        """Ask there. What changes nothing is asked again where the process ended meanwhile."""
        client = self._clients[request.state.signed_in.account.observer_id % len(self._clients)]
        whole = cast("IO[bytes]", request.scope[WHOLE_BODY])
        whole.seek(0)
        body = whole.read()
        headers = [(name, text) for name, text in request.headers.raw if name not in _OWN]
        headers = [one for one in headers if one[0] not in (b"accept-encoding", b"x-forwarded-for")]
        # It is packed here, for who asked.
        headers.append((b"accept-encoding", b"identity"))
        headers.append((b"x-forwarded-for", (request.client.host if request.client else "").encode()))
        scope = request.scope
        path = scope.get("raw_path") or quote(scope["path"]).encode()
        asks = b"?" + scope["query_string"] if scope["query_string"] else b""
        place = httpx.URL(scheme="http", host="long", raw_path=path + asks)
        until = time.monotonic() + COMES_BACK_S
        while True:
            try:
                asked = client.build_request(request.method, place, headers=headers, content=body)
                given = await client.send(asked)
                break
            except httpx.TransportError as trouble:
                may_again = request.method in SAFE_METHODS or isinstance(trouble, httpx.ConnectError)
                if isinstance(trouble, httpx.LocalProtocolError) or not may_again or time.monotonic() > until:
                    return await run_in_threadpool(answer, request, trouble_of(BusyError(_AWAY)))
                await asyncio.sleep(AGAIN_S)
        response = Response(given.content, given.status_code)
        response.raw_headers = [
            *((name.lower(), text) for name, text in given.headers.raw if name.lower() not in _OWN),
            (b"content-length", str(len(given.content)).encode()),
        ]
        return response

    async def close(self) -> None:
        """Let go of the connections."""
        for client in self._clients:
            await client.aclose()
