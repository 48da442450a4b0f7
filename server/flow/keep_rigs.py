"""Rigs of an observer: begin, copy, rename, remove.

And the rule that a rig is changed by its owner, on its newest version.
"""

from __future__ import annotations

from itertools import count

from server.domain.errors import FieldErrors, NotFoundError, StaleVersionError
from server.domain.observer import Observer
from server.domain.rig import RigPlan
from server.domain.said import said
from server.flow.protocols import Store, StoredRig

LONGEST_NAME = 120


def own_rig(store: Store, observer: Observer, rig_id: int) -> StoredRig:
    """A rig of this observer's. Another's answers as if it were not there: NotFoundError."""
    stored = store.rig(rig_id)
    if stored.observer_id != observer.id:
        raise NotFoundError("There is no such rig among yours.")
    return stored


def demand_version(stored: StoredRig, version: int) -> None:
    """Raise StaleVersionError unless the change was made on the newest version."""
    if stored.version != version:
        raise StaleVersionError(
            said("refused.stale_rig", rig=stored.name, last=stored.undo_words), stored.version
        )


def checked_name(name: str) -> str:
    """A rig's name, trimmed. Raises FieldErrors."""
    name = " ".join(name.split())
    if not name:
        raise FieldErrors({"name": "Give the rig a name, such as “Garden refractor”."})
    if len(name) > LONGEST_NAME:
        raise FieldErrors(
            {"name": f"A name has at most {LONGEST_NAME} characters; this one has {len(name)}."}
        )
    return name


def new_rig(store: Store, observer: Observer, name: str) -> StoredRig:
    """Begin a rig with an empty train."""
    return store.add_rig(observer.id, checked_name(name), RigPlan())


def copy_rig(store: Store, observer: Observer, rig_id: int) -> StoredRig:
    """Begin a rig as one of the observer's own stands, under a name that no other rig of theirs has."""
    stored = own_rig(store, observer, rig_id)
    taken = {line.name for line in store.rigs(observer.id)}
    endings = (" (copy)" if nth == 1 else f" (copy {nth})" for nth in count(1))
    names = (stored.name[: LONGEST_NAME - len(ending)] + ending for ending in endings)
    copy = store.add_rig(observer.id, next(name for name in names if name not in taken), stored.plan)
    store.set_rig_site(copy.id, stored.site_id)
    return store.rig(copy.id)


def rename_rig(store: Store, observer: Observer, rig_id: int, version: int, name: str) -> StoredRig:
    """Give a rig another name."""
    stored = own_rig(store, observer, rig_id)
    demand_version(stored, version)
    return store.rename_rig(rig_id, version, checked_name(name))


def remove_rig(store: Store, observer: Observer, rig_id: int, version: int) -> None:
    """Remove a rig without entries."""
    demand_version(own_rig(store, observer, rig_id), version)
    store.remove_rig(rig_id)
