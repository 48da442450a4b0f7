"""A long list by pages."""

from __future__ import annotations


def offset_within(start: int, total: int, limit: int) -> int:
    """How many lines stand before the page that an address asks for: one from when there were more of them,
    or a mistyped one, shows the last page.
    """
    return max(0, min(start, (total - 1) // limit * limit))
