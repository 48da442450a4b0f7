"""How Python keeps house in a process that serves."""

from __future__ import annotations

import ctypes
import gc
import sys
from contextlib import suppress

TURN_S = 0.0005
"""How long a thread may keep the others waiting for Python (5 ms where nothing is said)."""

MOST_HEAPS = -8
"""M_ARENA_MAX of glibc's malloc.h."""


def settle() -> None:
    """Call it once, when all that stays to the end is loaded."""
    # Python's collector need not look through what stays again and again, which is a tenth of the time of a
    # large answer.
    gc.collect()
    gc.freeze()
    # Nor need it look often: an answer makes thousands of objects, nearly all of which go by themselves.
    gc.set_threshold(20_000, 10, 10)
    gc.enable()
    # A light answer is handed from thread to thread some ten times, and each time a thread that works for
    # long would keep it waiting.
    sys.setswitchinterval(TURN_S)
    # glibc would give each thread a heap of its own, and what one thread gives back no other could use. Here
    # one works at a time anyway: 5 MB less after one reader, 20 after ten at once. Other C libraries have no
    # such name, and no such heaps.
    with suppress(AttributeError, OSError, TypeError):
        ctypes.CDLL(None).mallopt(MOST_HEAPS, 1)
