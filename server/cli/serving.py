"""Serves one or two ASGI apps from one process and one event loop, until a signal says stop."""

from __future__ import annotations

import asyncio
import signal
import socket
import threading
from collections.abc import Callable, Generator, Mapping, Sequence
from contextlib import contextmanager
from types import FrameType
from typing import Any

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from server.steady import share_out

STOP_SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
"""Those of them that the system has: Ctrl-C, a polite kill, a closed terminal, and Windows's Ctrl-Break."""

GRACE_S = 3
"""How long requests under way may take to finish after a stop was asked for."""
WAITING_S = 20.0
"""How long a connection may be open without a whole request's head, or without taking any of its answer."""


class _Connection(H11Protocol):
    """uvicorn's connection, which is closed by itself only where it is silent after an answer.

    This one is also closed where it never asks, where it asks drop by drop, and where it takes nothing of its
    answer. (How long a body may take is the app's own affair, which can say so.)
    """

    _closing: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Wait for a whole head from its first piece on; nothing is waited for while the app is at work."""
        super().data_received(data)
        cycle: object = self.cycle
        if cycle is None or self.cycle.response_complete:
            if self._closing is None:
                self._wait()
        elif not self.flow.write_paused:
            self._wait_no_more()

    def pause_writing(self) -> None:
        """Begin to wait: the other side takes no more of its answer for now."""
        super().pause_writing()
        self._wait()

    def resume_writing(self) -> None:
        """It goes on."""
        super().resume_writing()
        self._wait_no_more()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait for nothing more."""
        self._wait_no_more()
        super().connection_lost(exc)

    def _wait(self) -> None:
        self._wait_no_more()
        untaken = self.transport.get_write_buffer_size()
        self._closing = self.loop.call_later(WAITING_S, self._waited, untaken)

    def _wait_no_more(self) -> None:
        if self._closing is not None:
            self._closing.cancel()
            self._closing = None

    def _waited(self, untaken: int) -> None:
        if self.transport.get_write_buffer_size() < untaken:
            self._wait()
        else:
            self.transport.abort()


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
    share_out()
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


def serve_workers(
    factory: str,
    listener: socket.socket,
    workers: int,
    beside: Mapping[str, str],
    on_ready: Callable[[], None],
) -> bool:
    """Serves the app that `factory` makes ("module:function") by so many processes, and by one more each what
    the factories `beside` make, on the Unix sockets with these paths, until a stop signal comes. True.
    `on_ready` is called once when one of them answers.
    """
    from uvicorn.supervisors import Multiprocess

    class Workers(Multiprocess):
        """Which passes a signal to begin anew on to those beside."""

        def handle_hup(self) -> None:
            super().handle_hup()
            for one in others:
                one.restart_all()

    others = []
    for path, made_by in beside.items():
        own = socket.socket(socket.AF_UNIX)
        own.bind(path)
        others.append(Multiprocess(_config(made_by, factory=True, workers=1, log_config=None), sockets=[own]))
    # The last one made is who hears the signals.
    chief = Workers(_config(factory, factory=True, workers=workers, log_config=None), sockets=[listener])
    kept = [threading.Thread(target=one.run) for one in others]
    for thread in kept:
        thread.start()
    threading.Thread(target=_when_answered, args=(listener, on_ready), daemon=True).start()
    chief.run()
    for one in others:
        one.should_exit.set()
    for thread in kept:
        thread.join()
    return True


def _when_answered(listener: socket.socket, on_ready: Callable[[], None]) -> None:
    with socket.create_connection(listener.getsockname()[:2]) as asking:
        asking.sendall(b"GET /health HTTP/1.0\r\n\r\n")
        if asking.recv(1):
            on_ready()


def _config(app: Any, **options: Any) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        **options,
        lifespan="on",
        log_level="warning",
        access_log=False,
        server_header=False,
        # Nothing stands in front of this server, so no header may say where a request came from.
        proxy_headers=False,
        http=_Connection,
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
        on_ready()
    # Where one of them ends, by a stop or because it could not start, none of them serves on.
    await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    for server in servers:
        server.should_exit = True
    await asyncio.gather(*tasks)
