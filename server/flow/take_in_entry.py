"""Take in an entry that was saved elsewhere: its parts, a rig, and the entry with its own date and words."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.entry import Entry, EntryDocument
from server.domain.observer import Holding, Observer
from server.flow.protocols import Store
from server.flow.save_entry import renumbered


@dataclass(frozen=True)
class Arrival:
    """What became of an entry that was to be taken in.

    Attributes:
        entry: as it stands in this logbook now.
        parts: how many parts it holds; `new` of them were entered into the catalogue just now.
        known: whether it stood in this logbook before; then nothing was taken in.
    """

    entry: Entry
    parts: int
    new: int = 0
    known: bool = False


def take_in(store: Store, observer: Observer, document: EntryDocument) -> Arrival:
    """Copy parts, rig and entry for an observer.

    A part that the catalogue holds already, under any number and word for word the same, is used and not
    entered twice. Parts come onto the shelf as considered, unless something of them is there
    already. The entry keeps its date, its title, its note, who saved it, and its findings. An entry that
    stands in the observer's logbook already, word for word the same, is not taken in again.
    """
    count = len(document.parts)
    standing = _same_entry(store, observer, document)
    if standing is not None:
        return Arrival(standing, count, known=True)
    numbers: dict[int, int] = {}
    new = 0
    for frozen in document.parts:
        known = store.same_part(frozen.part)
        item = known if known is not None else store.add_part(frozen.part, observer.id)
        new += known is None
        numbers[frozen.id] = item.id
        if not store.holdings(observer.id, [item.id]).get(item.id, Holding()).any:
            store.set_holding(observer.id, item.id, Holding(considered=1))
    plan = renumbered(document.plan, numbers)
    parts = tuple(
        p.model_copy(update={"id": numbers[p.id], "revision": store.part(numbers[p.id]).revision})
        for p in document.parts
    )
    rig = store.add_rig(observer.id, document.rig, plan)
    entry = store.add_entry(rig.id, document.model_copy(update={"plan": plan, "parts": parts}))
    return Arrival(entry, count, new)


def _same_entry(store: Store, observer: Observer, document: EntryDocument) -> Entry | None:
    """The entry of the observer's logbook that says the same, whatever numbers its parts have here."""
    wanted = _without_numbers(document)
    named = (document.saved_at, document.title, document.rig)
    for name in store.entry_names(observer.id):
        if (name.saved_at, name.title, name.rig) != named:
            continue
        entry = store.entry(name.id)
        if _without_numbers(entry.document) == wanted:
            return entry
    return None


def _without_numbers(document: EntryDocument) -> EntryDocument:
    """The document with its parts numbered in its own order: catalogues number and revise them otherwise."""
    specifications = [p.part for p in document.parts]
    numbers = {p.id: specifications.index(p.part) for p in document.parts}
    parts = tuple(p.model_copy(update={"id": numbers[p.id], "revision": 0}) for p in document.parts)
    return document.model_copy(update={"plan": renumbered(document.plan, numbers), "parts": parts})
