"""How Python keeps house in a process that serves."""

from __future__ import annotations

import ctypes
import gc
import json
import logging
import sys
import time
import traceback
from contextlib import suppress
from datetime import UTC, datetime
from typing import Literal

TURN_S = 0.0005
"""How long a thread may keep the others waiting for Python (5 ms where nothing is said)."""

MOST_HEAPS = -8
"""M_ARENA_MAX of glibc's malloc.h."""


def share_out() -> None:
    """Call it once, before the first thread begins."""
    # A light answer is handed from thread to thread some ten times, and each time a thread that works for
    # long would keep it waiting.
    sys.setswitchinterval(TURN_S)
    # glibc would give each thread a heap of its own, and what one thread gives back no other could use. Here
    # one works at a time anyway: 5 MB less after one reader, 20 after ten at once. Other C libraries have no
    # such name, and no such heaps.
    with suppress(AttributeError, OSError, TypeError):
        ctypes.CDLL(None).mallopt(MOST_HEAPS, 1)


def settle() -> None:
    """Call it whenever something was loaded that stays to the end."""
    # Python's collector need not look through what stays again and again, which is a tenth of the time of a
    # large answer.
    gc.collect()
    gc.freeze()
    # Nor need it look often: an answer makes thousands of objects, nearly all of which go by themselves.
    gc.set_threshold(20_000, 10, 10)
    gc.enable()


def keep_log(kind: Literal["lines", "json"]) -> None:
    """Write the log to the error stream, an event a line. What an error says of itself is left out, since it
    may quote what somebody typed; where it came from is not.
    """
    handler = logging.StreamHandler()
    lines = _Lines("%(asctime)sZ %(levelname)s %(name)s: %(message)s", "%Y-%m-%dT%H:%M:%S")
    handler.setFormatter(_AsJson() if kind == "json" else lines)
    logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)


class _Lines(logging.Formatter):
    converter = staticmethod(time.gmtime)

    def formatException(self, ei: object) -> str:  # noqa: N802 - logging's name
        """The way down to an error, and its kind."""
        error = ei[1] if isinstance(ei, tuple) else None
        told = []
        while error is not None:
            told.append(f"{''.join(traceback.format_tb(error.__traceback__))}{type(error).__qualname__}")
            error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
        return "\nafter\n".join(told)


class _AsJson(_Lines):
    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        event = {"at": at, "level": record.levelname, "from": record.name, "message": record.getMessage()}
        if record.exc_info:
            event["trace"] = self.formatException(record.exc_info)
        return json.dumps(event)
