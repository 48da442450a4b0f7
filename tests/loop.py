"""Runs a coroutine to its end, also in a process that drives a browser: that keeps a loop in the main
thread.
"""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

_Done = TypeVar("_Done")


def run_to_its_end(coroutine: Coroutine[Any, Any, _Done]) -> _Done:
    """What the coroutine gives, from a loop in a thread of its own."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, coroutine).result()
