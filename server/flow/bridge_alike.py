"""Stacks laid beside one another: which are alike, how one differs from another, which none beats."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace

from server.domain.connections import Connection, print_connection
from server.domain.measure import nominal
from server.domain.parts import PathPart
from server.domain.train import Place
from server.flow.bridge_offers import Offer, offer_of
from server.flow.bridge_pose import Posed
from server.flow.bridge_stock import hundredths, key_of
from server.search.problem import MEASURES, Front, Stack

Key = Callable[[Place], Hashable]


def same_part(place: Place) -> Hashable:
    """Equal for two places that hold the same part of the catalogue."""
    return place.item.id


def equal_part(place: Place) -> Hashable:
    """Equal for two parts of one kind with the same threads and length, whoever makes them.

    A shim has no thread of its own: it is equal to another of its thickness.
    """
    part, length = place.part, nominal(place.length)
    sides = (part.sky_side, part.camera_side) if isinstance(part, PathPart) else ()
    return part.kind, frozenset(map(_thread, sides)), None if length is None else hundredths(length)


def _thread(side: Connection | None) -> str | None:
    return None if side is None else key_of(side) or print_connection(side)


@dataclass(frozen=True)
class Gathered:
    """Stacks that differ only in the order of equal parts, or by which of several equal parts is taken.

    Attributes:
        offer: the best of them; `alike` the others.
        unbeaten: whether no other stack beats it in money, joints, error and mass at once.
    """

    offer: Offer
    alike: tuple[Offer, ...]
    unbeaten: bool


def gather(posed: Posed, offers: Sequence[Offer], front: Front | None) -> tuple[Gathered, ...]:
    """The stacks of an answer, best first and alike ones together, and behind them those that only the front
    has.
    """
    points = {} if front is None else {_measures(stack): stack for stack in front.points}
    further = [points[key] for key in points.keys() - {_measures(offer.stack) for offer in offers}]
    further.sort(key=lambda stack: stack.key(posed.problem.lead))
    found: dict[Hashable, Gathered] = {}
    for offer in (*offers, *(offer_of(posed, stack) for stack in further)):
        measures = _measures(offer.stack)
        unbeaten = measures in points
        key = _makeup(offer)
        first = found.get(key)
        if first is not None and unbeaten and _measures(first.offer.stack) != measures:
            # It is alike and beaten in nothing (lighter, say, and dearer): that wants a line of its own.
            key, first = (key, measures), found.get((key, measures))
        if first is None:
            found[key] = Gathered(offer, (), unbeaten)
        else:
            found[key] = replace(first, alike=(*first.alike, offer))
    return tuple(found.values())


def _measures(stack: Stack) -> tuple[int, ...]:
    return stack.key(MEASURES)


def _makeup(offer: Offer) -> Hashable:
    """Equal for stacks that are alike."""
    kept = {place.key for place in offer.posed.gap.kept}
    free = Counter(equal_part(place) for place in offer.places if place.key not in kept)
    guide = Counter(equal_part(place) for place in (() if offer.guide is None else offer.guide.places))
    return (
        frozenset(free.items()),
        tuple((place.key, place.flipped) for place in offer.places if place.key in kept),
        frozenset(guide.items()),
    )


def difference(
    first: Sequence[Place], other: Sequence[Place], key: Key
) -> tuple[tuple[Place, ...], tuple[Place, ...]]:
    """What `other` has and `first` has not, and the other way round, each in its order; `key` says what is
    the same.
    """
    return _beyond(other, first, key), _beyond(first, other, key)


def _beyond(these: Sequence[Place], those: Sequence[Place], key: Key) -> tuple[Place, ...]:
    left = Counter(map(key, these)) - Counter(map(key, those))
    found = []
    for place in these:
        if left[key(place)]:
            left[key(place)] -= 1
            found.append(place)
    return tuple(found)
