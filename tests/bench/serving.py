"""The app with two bare routes added, served by uvicorn in a process of its own, and a client for it.

`python -m tests.bench.serving FOLDER` is that process: it prints the address, and ends when its input closes.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from http.client import HTTPConnection
from pathlib import Path
from typing import Self
from urllib.parse import urlencode

from tests.running import ROOT

BARE = "/bare"
HTMX = {"HX-Request": "true", "Trainwright-Drawn": "wide"}


class Served:
    """A data folder being served, and one kept-alive connection to it. Leaving the `with` block ends both."""

    def __init__(self, folder: Path, observer_id: int) -> None:
        # Closing its input is what ends it, so that it never outlives this process.
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.serving", str(folder)],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if not line:
            raise RuntimeError("The benchmark's server did not start; what it says stands above.")
        self._port = int(line)
        self._client = HTTPConnection("127.0.0.1", self._port, timeout=60)
        self._headers = {"Cookie": f"observer={observer_id}", **HTMX}

    def ask(self, path: str, form: Mapping[str, object] | None = None) -> tuple[float, bytes]:
        """The time to the last byte of the answer in seconds, and its body. Raises where it is not a 200."""
        body = None if form is None else urlencode(form).encode()
        headers = self._headers | ({"Content-Type": "application/x-www-form-urlencoded"} if body else {})
        begun = time.perf_counter()
        self._client.request("GET" if body is None else "POST", path, body, headers)
        answer = self._client.getresponse()
        content = answer.read()
        took = time.perf_counter() - begun
        if answer.status != 200:
            raise RuntimeError(f"{path} answered {answer.status}: {content[:300]!r}")
        return took, content

    @contextmanager
    def another(self) -> Iterator[Callable[[str], float]]:
        """A connection of its own for another thread: gives the time of each answer, as `ask` does."""
        client = HTTPConnection("127.0.0.1", self._port, timeout=60)

        def ask(path: str) -> float:
            begun = time.perf_counter()
            client.request("GET", path, headers=self._headers)
            answer = client.getresponse()
            answer.read()
            if answer.status != 200:
                raise RuntimeError(f"{path} answered {answer.status}")
            return time.perf_counter() - begun

        with closing(client):
            yield ask

    def bare(self, size: int, form: Mapping[str, object] | None = None) -> float:
        """The time of the bare route for an answer of `size` bytes, asked as the other one was."""
        took, content = self.ask(f"{BARE}?size={size}", form)
        if len(content) != size:
            raise RuntimeError(f"the bare route gave {len(content)} bytes, not {size}")
        return took

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._client.close()
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(30)
        self.process.stdout.close()


def serve(folder: Path) -> None:
    """Serves the folder as `trainwright serve` does, with the bare routes added, until the input ends."""
    from fastapi.responses import HTMLResponse

    from server.app import create_app
    from server.cli.listening import open_listener, port_of
    from server.cli.serving import serve_apps
    from server.settings import Settings
    from server.steady import settle

    app = create_app(Settings(data=folder))

    # Plain functions, as the house's routes are, that do nothing but answer.
    @app.get(BARE)
    def bare(size: int) -> HTMLResponse:
        return HTMLResponse(b"x" * size)

    @app.post(BARE)
    def bare_change(size: int) -> HTMLResponse:
        return HTMLResponse(b"x" * size)

    listener = open_listener("127.0.0.1", 0)

    def end_with_the_input() -> None:
        sys.stdin.read()
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=end_with_the_input, daemon=True).start()
    settle()
    serve_apps([(app, listener)], on_ready=lambda: print(port_of(listener), flush=True))


if __name__ == "__main__":
    serve(Path(sys.argv[1]))
