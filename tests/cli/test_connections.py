"""A connection that is slow or idle is closed after a while, and others are served meanwhile."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import suppress
from typing import Any

import pytest

from server.cli import serving
from server.cli.listening import open_listener, port_of
from tests.loop import run_to_its_end

A_WHILE_S = 0.3
PATIENCE_S = 10.0
LARGE = 50_000_000
"""More than any system's buffers between the two ends hold."""


async def app(scope: dict[str, Any], receive: Any, send: Any) -> None:
    if scope["type"] == "lifespan":
        for word in ("startup", "shutdown"):
            await receive()
            await send({"type": f"lifespan.{word}.complete"})
        return
    if scope["path"] == "/slow":
        await asyncio.sleep(15 * A_WHILE_S)  # Long, for a busy machine.
    size = LARGE if scope["path"] == "/large" else 2
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"o" * size})


Client = Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]]


def served(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serving, "WAITING_S", A_WHILE_S)
    listener = open_listener("127.0.0.1", 0)

    async def both() -> None:
        server = serving._Server(serving._config(app))
        task = asyncio.create_task(server.serve(sockets=[listener]))
        try:
            async with asyncio.timeout(PATIENCE_S):
                reader, writer = await asyncio.open_connection("127.0.0.1", port_of(listener))
                await client(reader, writer)
                writer.close()
                with suppress(ConnectionError):
                    await writer.wait_closed()
        finally:
            server.should_exit = True
            await task

    run_to_its_end(both())


async def ended(reader: asyncio.StreamReader) -> bytes:
    """All that still comes until the other side ends it."""
    try:
        return await reader.read()
    except ConnectionResetError:
        return b""


@pytest.mark.parametrize("begun", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: a\r\nX-"])
def test_a_connection_that_asks_for_nothing_is_closed(begun: bytes, monkeypatch: pytest.MonkeyPatch):
    async def silent(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(begun)
        assert await ended(reader) == b""

    served(silent, monkeypatch)


@pytest.mark.parametrize("first", [b"", b"GET / HTTP/1.1\r\nHost: a\r\n\r\n"])
def test_a_connection_that_asks_drop_by_drop_is_closed(first: bytes, monkeypatch: pytest.MonkeyPatch):
    async def drip(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(first)
        if first:
            assert b"200 OK" in await reader.readuntil(b"\r\n\r\n")
        end = asyncio.create_task(ended(reader))
        for drop in b"GET /" + b"a" * 10_000:
            writer.write(bytes([drop]))
            await asyncio.wait([end], timeout=A_WHILE_S / 5)
            if end.done():
                return

    served(drip, monkeypatch)


def test_a_connection_that_does_not_take_its_answer_is_closed(monkeypatch: pytest.MonkeyPatch):
    async def deaf(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(b"GET /large HTTP/1.1\r\nHost: a\r\n\r\n")
        await asyncio.sleep(15 * A_WHILE_S)  # Long, for a busy machine.
        assert len(await ended(reader)) < LARGE

    served(deaf, monkeypatch)


def test_an_answer_that_takes_long_is_waited_for(monkeypatch: pytest.MonkeyPatch):
    async def patient(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(b"GET /slow HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n")
        assert (await reader.read()).endswith(b"oo\r\n0\r\n\r\n")

    served(patient, monkeypatch)


def test_a_large_answer_that_is_taken_slowly_but_steadily_comes_whole(monkeypatch: pytest.MonkeyPatch):
    async def slow(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(b"GET /large HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n")
        taken = 0
        while piece := await reader.read(LARGE // 10):
            taken += len(piece)
            await asyncio.sleep(A_WHILE_S / 300)
        assert taken > LARGE

    served(slow, monkeypatch)
