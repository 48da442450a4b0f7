"""The app itself, listening on a port of its own in a thread, for the browser."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from server.app import create_app
from server.settings import Settings

PATIENCE_S = 10.0


@contextmanager
def serving(folder: Path, database: Path) -> Iterator[str]:
    """Serves a copy of a database, as `trainwright serve` does, and gives the address."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        settings = Settings(data=folder, port=listener.getsockname()[1])
        shutil.copyfile(database, settings.database)
        with answering(create_app(settings), listener):
            yield settings.address


@contextmanager
def answering(app: FastAPI, listener: socket.socket) -> Iterator[None]:
    """Lets an app answer on a socket."""
    config = uvicorn.Config(app, log_level="warning", server_header=False, timeout_graceful_shutdown=2)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    try:
        _wait_for(server, thread)
        yield
    finally:
        server.should_exit = True
        thread.join(PATIENCE_S)


def _wait_for(server: uvicorn.Server, thread: threading.Thread) -> None:
    given_up = time.monotonic() + PATIENCE_S
    while not server.started:
        if not thread.is_alive() or time.monotonic() > given_up:
            raise RuntimeError("The app did not begin to listen.")
        time.sleep(0.01)
