"""The notes of searches that go on, kept in the database."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from server.flow.account_protocols import AccountStores
from server.flow.search_notes import Noted

SILENT_S = 10.0
"""A search of which nothing was noted for so long has gone with its process."""


class SearchBoard:
    """The board that is kept in the database."""

    def __init__(self, stores: AccountStores, now: Callable[[], datetime]) -> None:
        self._stores, self._now = stores, now

    def note(self, who: int, key: str, noted: Noted) -> Noted | None:
        """Note this; what was known of it. Raises TrainwrightError where the database is away."""
        now = self._now().timestamp()
        with self._stores.writing() as store:
            known = store.noted_search(who, key)
            stopped = noted.stopped or (known is not None and known[0].stopped and not known[0].ended)
            store.note_search(who, key, replace(noted, stopped=stopped), now)
        return None if known is None else replace(known[0], stopped=stopped, seen_ago_s=now - known[2])

    def read(self, who: int, key: str) -> Noted | None:
        """What is noted, None for nothing."""
        now = self._now().timestamp()
        with self._stores.reading() as store:
            known = store.noted_search(who, key)
        if known is None:
            return None
        noted, noted_at, seen_at = known
        alive = noted.ended or now - noted_at < SILENT_S
        return replace(noted, alive=alive, seen_ago_s=now - seen_at)

    def see(self, who: int, key: str) -> None:
        """Note that a page asks after it."""
        with self._stores.writing() as store:
            store.see_search(who, key, self._now().timestamp())

    def stop(self, who: int, key: str) -> None:
        """Ask that it ends."""
        with self._stores.writing() as store:
            store.stop_search(who, key)
