"""A mark in the data folder for each port that a Trainwright serves this data at.

The mark is a file that its server keeps locked. The system frees the lock however the server ends, so that a
mark without a lock is only an old file.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

if sys.platform == "win32":
    import msvcrt

    def _lock(file: IO[bytes]) -> None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _lock(file: IO[bytes]) -> None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _mark(data: Path, port: int) -> Path:
    return data / f"serving-{port}.lock"


@contextmanager
def marked(data: Path, port: int) -> Iterator[None]:
    """Marks the port as one that this data is served at, until the block ends.

    Where the folder does not let itself be marked (some network drives cannot lock) nothing is marked.
    """
    path = _mark(data, port)
    try:
        file = path.open("ab")
    except OSError:
        yield
        return
    with suppress(OSError):
        _lock(file)
    try:
        yield
    finally:
        file.close()
        # On Windows another start may be looking at it in this moment; an old mark does no harm.
        with suppress(OSError):
            path.unlink()


def is_marked(data: Path, port: int) -> bool:
    """Whether a Trainwright under way serves this data at this port."""
    try:
        file = _mark(data, port).open("r+b")
    except OSError:
        return False
    with file:
        try:
            _lock(file)
        except OSError:
            return True
    return False
