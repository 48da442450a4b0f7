"""How Python keeps house in a process that serves."""

from __future__ import annotations

import gc
import sys

TURN_S = 0.0005
"""How long a thread may keep the others waiting for Python (5 ms where nothing is said)."""


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
