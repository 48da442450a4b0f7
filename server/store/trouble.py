"""What the disk or the server does to a database, in words: the disk is full, it may not be written, the
file is damaged, the server does not answer or does not let anybody in.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from server.domain.errors import DatabaseAwayError, DiskTroubleError, NoEntryError

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


_SERVER_STATES = {
    "53100": "The disk of {place} is full, so nothing was stored. Make room on it, then try again.",
    "25006": "{place} cannot be written: it takes no changes here. See whether its server is a copy.",
    "42501": "{place} cannot be used by “{user}”, who lacks the right to: {why}.",
    "53300": "{place} takes no more connections now. Try again in a moment, or let its server have more.",
    "57014": "{place} took too long over a question, so it was given up and nothing was stored. Try again.",
    "25P03": "A change took too long, so it was given up and nothing was stored. Try again.",
}
"""What a state says (PostgreSQL documentation, "Error Codes")."""

_PLAIN = "The club's database cannot be used now, so nothing was stored. Try again in a moment."
_SLOW = "The club's database took too long, so it was given up and nothing was stored. Try again in a moment."
_NO_ROOM = "The club's database has no room left on its disk, so nothing was stored. Tell who looks after it."
_CUT = "The club's database went away while it was asked. Look whether a change was kept, then try again."
_PLAIN_OF = {"53100": _NO_ROOM, "57014": _SLOW, "25P03": _SLOW}
"""What those read who do not run the server."""

_WRONG = "{place} does not let “{user}” in: the name or the password in the address is wrong."
_NO_ENTRY = (
    (("password", "role", "authentication", "pg_hba.conf"), _WRONG),
    (("too many", "starting up", "shutting down", "remaining connection slots"), _SERVER_STATES["53300"]),
    (
        ("FATAL", "does not exist"),
        "{place} is not there: its server answers and has no database of that name. Make it, or mend the "
        "address.",
    ),
)
"""Words of a connection that failed, which has no state, and what they say; the first that fits."""


def trouble_at(
    place: str, user: str, error: BaseException | None, *, opening: bool
) -> DiskTroubleError | None:
    """What an error of PostgreSQL says of the server; None where it says nothing of it. `place` is how
    sentences name the database, `user` who asks, and `opening` whether a connection was being opened.
    """
    name = type(error).__module__
    if error is None or not name.startswith("psycopg"):
        return None
    state = getattr(error, "sqlstate", None)
    why = str(error).strip().splitlines()[0] if str(error).strip() else "no reason was given"

    def told(
        sentence: str, plain: str = _PLAIN, kind: type[DatabaseAwayError] = DatabaseAwayError
    ) -> DiskTroubleError:
        said = sentence.format(place=place, user=user, why=why)
        return kind(said[0].upper() + said[1:], plain, cut=plain is _CUT)

    if state in _SERVER_STATES:
        return told(_SERVER_STATES[state], _PLAIN_OF.get(state, _PLAIN))
    # Class 57P is the server's going down, class 08 a connection's end.
    gone = state is None or state.startswith(("57P", "08"))
    if not gone or type(error).__name__ not in ("OperationalError", "AdminShutdown", "ConnectionTimeout"):
        return None
    if not opening:
        return told("{place} went away while it was asked ({why}). Look whether it kept the change.", _CUT)
    for words, sentence in _NO_ENTRY:
        if any(word in str(error) for word in words if word != "FATAL"):
            return told(sentence, kind=NoEntryError if sentence is _WRONG else DatabaseAwayError)
    return told("No PostgreSQL server answers for {place} ({why}). Start it, or mend the address.")
