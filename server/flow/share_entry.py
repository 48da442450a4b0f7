"""Make a link to one entry, and withdraw it."""

from __future__ import annotations

import secrets
from datetime import datetime

from server.domain.entry import Entry, Share
from server.domain.errors import NotFoundError
from server.domain.observer import Observer
from server.flow.protocols import Store
from server.flow.save_entry import own_entry

TOKEN_BYTES = 24
"""192 random bits: a link cannot be guessed."""


def share(store: Store, observer: Observer, entry_id: int, at: datetime) -> Share:
    """Make a new link to an entry of the observer's own."""
    own_entry(store, observer, entry_id)
    return store.add_share(entry_id, secrets.token_urlsafe(TOKEN_BYTES), at)


def withdraw(store: Store, observer: Observer, entry_id: int, share_id: int, at: datetime) -> Share:
    """Withdraw a link: from now on it answers as if it had never been."""
    own_entry(store, observer, entry_id)
    if share_id not in {share.id for share in store.shares(entry_id)}:
        raise NotFoundError("That link does not belong to this entry.")
    return store.withdraw_share(share_id, at)


def open_share(store: Store, token: str) -> Entry:
    """The entry that a link shows, to whoever holds it.

    Raises NotFoundError, in the same words, for a token that never was and for one that was withdrawn.
    """
    return store.entry(store.share_by_token(token).entry_id)
