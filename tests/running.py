"""Starts a command in a process of its own and reads what it prints, for the tests of serving."""

from __future__ import annotations

import os
import queue
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Self

ROOT = Path(__file__).resolve().parents[1]
TINY_SERVER = (sys.executable, "-m", "tests.cli.tiny_server")
THE_SERVER = (sys.executable, "-m", "server")
PATIENCE_S = 60.0
OPEN_AT = re.compile(r"Trainwright is open at (http://\S+?)/ ")
SHARES_AT = re.compile(r"are open to your network at (http://\S+?)/ ")


def compiled_in(folder: Path) -> dict[str, str]:
    """An environment in which Python keeps compiled files below the folder. Where they are forbidden, each
    start would compile the house anew, which no installed one does.
    """
    return {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(folder / "compiled")}


class Running:
    """A command under way. Leaving the `with` block ends it, whatever happened."""

    def __init__(
        self,
        *arguments: str,
        program: Sequence[str] = TINY_SERVER,
        folder: Path = ROOT,
        environment: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        clean = {name: value for name, value in os.environ.items() if not name.startswith("TRAINWRIGHT_")}
        self.lines: list[str] = []
        self._queue: queue.Queue[str | None] = queue.Queue()
        self.process = subprocess.Popen(
            [*program, *arguments],
            cwd=folder,
            env=clean | {"CI": "true", "PYTHONUNBUFFERED": "1", **environment},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        with self.process.stdout as printed:
            for line in printed:
                self._queue.put(line)
        self._queue.put(None)

    def wait_for(self, pattern: re.Pattern[str]) -> re.Match[str]:
        """The first match in what is printed from now on."""
        while True:
            line = self._queue.get(timeout=PATIENCE_S)
            if line is None:
                raise AssertionError(f"ended without printing {pattern.pattern!r}:\n{''.join(self.lines)}")
            self.lines.append(line)
            if match := pattern.search(line):
                return match

    def stop(self, number: int = signal.SIGINT) -> int:
        """Sends the signal and gives the exit status."""
        self.process.send_signal(number)
        return self.finish()

    def finish(self) -> int:
        """The exit status, once it has ended by itself."""
        status = self.process.wait(PATIENCE_S)
        self._reader.join(PATIENCE_S)
        while (line := self._queue.get_nowait()) is not None:
            self.lines.append(line)
        return status

    @property
    def printed(self) -> str:
        """All that was printed up to now and read."""
        return "".join(self.lines)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self._reader.join(PATIENCE_S)
