"""Take in many parts at once, from a file: what the catalogue has already is not entered a second time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from server.domain.observer import HOLDING_MAXIMUM, Holding, Observer
from server.domain.parts import Part
from server.flow.protocols import Store


@dataclass(frozen=True)
class TakenIn:
    """How many parts were entered, and how many the catalogue had already, word for word."""

    entered: int
    known: int


@dataclass(frozen=True)
class CountedIn:
    """The numbers of the parts that were entered, and of those that the catalogue had, word for word."""

    entered: tuple[int, ...]
    known: tuple[int, ...]


def take_in_parts(store: Store, observer: Observer, rows: Sequence[tuple[Part, Holding]]) -> TakenIn:
    """Enter the parts that are new, in order, and set what the observer has of each, where a row says so."""
    numbered = _entered(store, observer, [part for part, _ in rows])
    holdings = {
        part_id: holding for (part_id, _), (_, holding) in zip(numbered, rows, strict=True) if holding.any
    }
    store.set_holdings(observer.id, holdings)
    for (part_id, was_known), (part, _) in zip(numbered, rows, strict=True):
        if was_known and part.price is not None:
            store.keep_price(observer.id, part_id, part.price)
    known = sum(was_known for _, was_known in numbered)
    return TakenIn(len(rows) - known, known)


def count_in_parts(store: Store, observer: Observer, rows: Sequence[tuple[Part, int]]) -> CountedIn:
    """Enter the parts that are new, and let the observer own so many more of each.

    No part comes twice, and nobody owns more than `HOLDING_MAXIMUM` of one.
    """
    numbered = _entered(store, observer, [part for part, _ in rows])
    held = store.holdings(observer.id, [part_id for part_id, _ in numbered])
    holdings: dict[int, Holding] = {}
    for (part_id, _), (_, more) in zip(numbered, rows, strict=True):
        before = held.get(part_id, Holding())
        holdings[part_id] = replace(before, owned=min(before.owned + more, HOLDING_MAXIMUM))
    store.set_holdings(observer.id, holdings)
    return CountedIn(
        tuple(part_id for part_id, was_known in numbered if not was_known),
        tuple(part_id for part_id, was_known in numbered if was_known),
    )


def _entered(store: Store, observer: Observer, parts: Sequence[Part]) -> list[tuple[int, bool]]:
    """The number of each part, and whether the catalogue had it before."""
    known = store.same_parts(parts)
    new = [part for part, found in zip(parts, known, strict=True) if found is None]
    ids = iter(store.add_parts(new, observer.id))
    return [(next(ids), False) if found is None else (found, True) for found in known]
