"""Serves one or two ASGI apps from one process and one event loop, until a signal says stop."""

from __future__ import annotations

import asyncio
import gc
import signal
import socket
from collections.abc import Callable, Generator, Sequence
from contextlib import contextmanager
from types import FrameType
from typing import Any

import uvicorn

STOP_SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
"""Those of them that the system has: Ctrl-C, a polite kill, a closed terminal, and Windows's Ctrl-Break."""

GRACE_S = 3
"""How long requests under way may take to finish after a stop was asked for."""


class _Server(uvicorn.Server):
    """uvicorn's server, but for the signals: with two in a loop, one place must handle them once for both."""

    @contextmanager
    def capture_signals(self) -> Generator[None, None, None]:
        yield


def serve_apps(
    listeners: Sequence[tuple[Any, socket.socket]], on_ready: Callable[[], None] = lambda: None
) -> bool:
    """Serves each ASGI app on its socket until a stop signal comes, then lets requests under way finish.

    `on_ready` is called once when all of them answer. A second stop signal does not wait for requests.
    Returns True after a stop that was asked for, False where an app could not start (it has logged why).
    """
    servers = [_Server(_config(app)) for app, _ in listeners]

    def stop(number: int, frame: FrameType | None) -> None:  # noqa: ARG001 - the signature that signal asks for
        for server in servers:
            server.force_exit = server.should_exit
            server.should_exit = True

    numbers = [getattr(signal, name) for name in STOP_SIGNALS if hasattr(signal, name)]
    before = {number: signal.signal(number, stop) for number in numbers}
    try:
        asyncio.run(_run(servers, [listener for _, listener in listeners], on_ready))
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        for _, listener in listeners:
            listener.close()
    return all(server.started for server in servers)


def _config(app: Any) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        lifespan="on",
        log_level="warning",
        access_log=False,
        server_header=False,
        # Nothing stands in front of this server, so no header may say where a request came from.
        proxy_headers=False,
        ws="none",
        timeout_graceful_shutdown=GRACE_S,
    )


async def _run(
    servers: Sequence[_Server], sockets: Sequence[socket.socket], on_ready: Callable[[], None]
) -> None:
    tasks = [
        asyncio.create_task(server.serve(sockets=[listener]))
        for server, listener in zip(servers, sockets, strict=True)
    ]
    while not all(server.started for server in servers):
        if any(task.done() for task in tasks):
            break
        await asyncio.sleep(0.01)
    else:
        # What was loaded up to here stays to the end: Python's collector need not look through it again and
        # again, which is a tenth of the time of a large answer.
        gc.collect()
        gc.freeze()
        # Nor need it look often: an answer makes thousands of objects, nearly all of which go by themselves.
        gc.set_threshold(20_000, 10, 10)
        gc.enable()
        on_ready()
    # Where one of them ends, by a stop or because it could not start, none of them serves on.
    await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    for server in servers:
        server.should_exit = True
    await asyncio.gather(*tasks)
