"""Take in many parts at once, from a file: what the catalogue has already is not entered a second time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from server.domain.observer import Holding, Observer
from server.domain.parts import Part
from server.flow.protocols import Store


@dataclass(frozen=True)
class TakenIn:
    """How many parts were entered, and how many the catalogue had already, word for word."""

    entered: int
    known: int


def take_in_parts(store: Store, observer: Observer, rows: Sequence[tuple[Part, Holding]]) -> TakenIn:
    """Enter the parts that are new, in order, and set what the observer has of each, where a row says so."""
    known = store.same_parts([part for part, _ in rows])
    new = [part for (part, _), found in zip(rows, known, strict=True) if found is None]
    ids = iter(store.add_parts(new, observer.id))
    holdings: dict[int, Holding] = {}
    for (_, holding), found in zip(rows, known, strict=True):
        part_id = next(ids) if found is None else found
        if holding.any:
            holdings[part_id] = holding
    store.set_holdings(observer.id, holdings)
    return TakenIn(len(new), len(rows) - len(new))
