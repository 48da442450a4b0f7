"""What a club lends: the shelf of its own observer, which stewards keep."""

from __future__ import annotations

from server.flow.account_protocols import AccountStore
from server.flow.protocols import PartQuery, ShelfLine

MOST_LISTED = 200
"""The shelf searches all of it."""


def loan_gear(store: AccountStore) -> tuple[tuple[ShelfLine, ...], bool]:
    """What the club lends, by name, with how many of each it owns; and whether there is more than that."""
    club = store.club_id()
    if club is None:
        return (), False
    found = store.find_parts(PartQuery(club, holding="owned", limit=MOST_LISTED))
    return found.lines, found.total > len(found.lines)
