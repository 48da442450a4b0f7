"""Take in an entry that was saved elsewhere: its parts, a rig, and the entry with its own date and words."""

from __future__ import annotations

from server.domain.entry import Entry, EntryDocument
from server.domain.observer import Holding, Observer
from server.flow.protocols import Store
from server.flow.save_entry import renumbered


def take_in(store: Store, observer: Observer, document: EntryDocument) -> Entry:
    """Copy parts, rig and entry for an observer.

    A part that the catalogue holds already, under any number and word for word the same, is used and not
    entered twice. Parts come onto the shelf as under consideration, unless something of them is there
    already. The entry keeps its date, its title, its note, who saved it, and its findings.
    """
    numbers: dict[int, int] = {}
    for frozen in document.parts:
        known = store.same_part(frozen.part)
        item = known if known is not None else store.add_part(frozen.part, observer.id)
        numbers[frozen.id] = item.id
        if not store.holdings(observer.id, [item.id]).get(item.id, Holding()).any:
            store.set_holding(observer.id, item.id, Holding(considered=1))
    plan = renumbered(document.plan, numbers)
    parts = tuple(
        p.model_copy(update={"id": numbers[p.id], "revision": store.part(numbers[p.id]).revision})
        for p in document.parts
    )
    rig = store.add_rig(observer.id, document.rig, plan)
    return store.add_entry(rig.id, document.model_copy(update={"plan": plan, "parts": parts}))
