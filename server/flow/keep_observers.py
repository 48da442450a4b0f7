"""Observers of an install: who there is, and how a new one is taken in.

No passwords: it is a choice, not a door.
"""

from __future__ import annotations

from server.domain.errors import FieldErrors
from server.domain.observer import Observer, UnitSystem
from server.flow.protocols import Store

LONGEST_NAME = 80


def checked_observer_name(name: str) -> str:
    """An observer's name with its spaces put in order. Raises FieldErrors where it is empty or too long."""
    name = " ".join(name.split())
    if not name:
        raise FieldErrors({"name": "Write the name that your shelf and your logbook should carry."})
    if len(name) > LONGEST_NAME:
        raise FieldErrors(
            {"name": f"A name has at most {LONGEST_NAME} characters; this one has {len(name)}. Shorten it."}
        )
    if not name.isprintable():
        raise FieldErrors({"name": "This name holds characters that cannot be shown. Type it afresh."})
    return name


def new_observer(store: Store, name: str, units: UnitSystem) -> Observer:
    """Take in an observer with an empty shelf. Raises FieldErrors where the name is bad or taken."""
    return store.add_observer(checked_observer_name(name), units)
