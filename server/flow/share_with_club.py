"""Share an entry with the members of the club, take that back, and take in what another has shared so."""

from __future__ import annotations

from server.domain.errors import RefusedError
from server.flow.account_protocols import AccountStore
from server.flow.save_entry import own_entry
from server.flow.take_in_entry import Arrival, take_in
from server.flow.workbench import Workbench


def share_with_club(store: AccountStore, bench: Workbench, entry_id: int) -> None:
    """List an entry of the observer's own for all members. Raises NotFoundError for another's."""
    own_entry(store, bench.observer, entry_id)
    store.list_entry(entry_id, bench.now())


def withdraw_from_club(store: AccountStore, bench: Workbench, entry_id: int) -> None:
    """List it no more: from now on it answers as if it had never been. Raises NotFoundError."""
    own_entry(store, bench.observer, entry_id)
    store.unlist_entry(entry_id)


def take_in_from_club(store: AccountStore, bench: Workbench, entry_id: int) -> Arrival:
    """Copy what another shares with the club: parts, rig and entry. Raises NotFoundError, RefusedError."""
    entry = store.listed_entry(entry_id)
    if entry.observer_id == bench.observer.id:
        raise RefusedError("This entry is your own: it stands in your logbook already.")
    return take_in(store, bench.observer, entry.document)
