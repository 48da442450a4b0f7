"""Very many objects made at once."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def much_is_made() -> Iterator[None]:
    """Keep the collector still while very many objects are made, none of them garbage.

    It would look through all of them again and again, which takes longer than making them.
    """
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
