"""What the disk does to a database, in words: it is full, it may not be written, or the file is damaged."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from server.domain.errors import DiskTroubleError

_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_NOT_WRITABLE = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM)
_PRIMARY = 0xFF
"""The lower byte of an extended result code is the primary one (SQLite documentation, "Result Codes")."""


def trouble_with(path: Path, error: BaseException | None) -> DiskTroubleError | None:
    """What an error of SQLite says of the disk under the file `path`; None where it says nothing of it."""
    if not isinstance(error, sqlite3.Error):
        return None
    code = getattr(error, "sqlite_errorcode", 0) & _PRIMARY
    if code == sqlite3.SQLITE_FULL:
        return DiskTroubleError(
            f"The disk that holds {path} is full, so nothing was stored. Make room on it, then try again."
        )
    if code in _NOT_WRITABLE:
        return DiskTroubleError(
            f"{path} cannot be written ({error}). Give its folder and what is in it back the right to be "
            "written, or name another folder with --data."
        )
    if code == sqlite3.SQLITE_IOERR:
        return DiskTroubleError(
            f"The disk that holds {path} did not do what was asked ({error}), so nothing was stored. See "
            "whether it has room and is sound, then try again."
        )
    if code in _DAMAGED:
        return DiskTroubleError(f"{path} is damaged ({error}). {_way_back(path)}")
    return None


def _way_back(path: Path) -> str:
    copies = sorted(path.parent.glob(f"{path.stem}-before-*{path.suffix}"))
    beside = f"Copies set aside earlier: {', '.join(copy.name for copy in copies)}. " if copies else ""
    return f"Stop changing things and bring back a backup: trainwright restore FILE. {beside}".strip()
