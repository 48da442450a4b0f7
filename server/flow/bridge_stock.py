"""From parts to the search's pieces, and the parts left out with the reason for each.

A node of the search is a connection that faces the camera, thread and gender; a part leads from the node that
it is put onto to the node that it shows. Lengths are rounded to whole hundredths of a millimetre, masses up
to whole grams.

Left out are parts of which something is missing that the search must know: their length, a connection or its
gender, the clear aperture where a smallest one is asked for, the mass where a greatest one is, the price
where they would have to be bought. Money is counted in one currency, that of most of the parts on offer; what
is priced in another cannot be bought. An adjustable part has no length of its own: it is left out, unless it
stands in the gap, where it stays as it is set.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import ceil
from typing import TYPE_CHECKING, Literal

from server.domain.connections import (
    Barrel,
    Connection,
    InchThread,
    MetricThread,
    connection_key,
    opposite,
)
from server.domain.connections.printing import MM_PER_INCH
from server.domain.measure import Money, nominal
from server.domain.much import much_is_made
from server.domain.observer import Holding
from server.domain.parts import CataloguedPart, PathPart, Shim
from server.domain.said import Said, said
from server.domain.train import Place
from server.flow.protocols import Stock
from server.search.problem import LONGEST, Arc, Piece, Threads

if TYPE_CHECKING:
    from server.search.index import Index

Source = Literal["owned", "wished", "catalogue"]
LOOSE_MM = 2.0
"""A shim whose hole is wider than its thread by more than this does not sit centred (a choice of ours, no
source).
"""
ADJUSTABLE = said("left.adjustable")
_EDGE = 1e-9


@dataclass(frozen=True)
class Way:
    """One way to put a part in: the keys of the connections that it goes onto and that it shows, and the
    threads of its sides as the search takes them.
    """

    onto: str
    shows: str
    flipped: bool
    threads: Threads = (None, None)


@dataclass(frozen=True)
class Ready:
    """A part as the search will want it; `lacks` says why it cannot be used, None where it can.

    `threads` are the keys of its threads and of their counterparts, with their diameters in mm.
    """

    item: CataloguedPart
    ways: tuple[Way, ...]
    length: int
    clear_mm: float | None
    mass_g: int | None
    shim_mm: tuple[float, float] | None
    push_fit: bool
    lacks: Said | None
    threads: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class LeftOut:
    """Parts that are not searched, for one reason."""

    reason: Said
    items: tuple[CataloguedPart, ...]


def hundredths(length_mm: float) -> int:
    """A length in whole hundredths of a millimetre."""
    return round(length_mm * 100.0)


def grams(mass_kg: float | None) -> int | None:
    """A mass in whole grams, rounded up; None where it is not known."""
    return None if mass_kg is None else ceil(mass_kg * 1000.0 - _EDGE)


# A catalogue has few connections and many parts: each connection's words are put together once.
@lru_cache(maxsize=4096)
def key_of(connection: Connection | None) -> str | None:
    """The key of a connection; None where something of it is not known."""
    if connection is None:
        return None
    key = connection_key(connection)
    return None if "?" in key else key


@lru_cache(maxsize=4096)
def onto_key(sky_side: Connection | None) -> str | None:
    """The key of the connection that a sky side goes onto."""
    return None if sky_side is None else key_of(opposite(sky_side))


@lru_cache(maxsize=4096)
def thread_of(connection: Connection | None) -> int | None:
    """A thread as the search takes it: how long a male one is, less than 0 how deep a female one."""
    if not isinstance(connection, MetricThread | InchThread) or connection.thread_mm is None:
        return None
    return hundredths(connection.thread_mm) * (1 if connection.gender == "male" else -1)


def ways_of(part: PathPart) -> tuple[Way, ...]:
    """The ways to put a part in; none where a connection is not wholly known."""
    sky, camera = part.sky_side, part.camera_side
    sides = [(sky, camera, False), *([(camera, sky, True)] if part.reversible else ())]
    found = []
    for upper, lower, flipped in sides:
        onto, shows = onto_key(upper), key_of(lower)
        if onto and shows:
            found.append(Way(onto, shows, flipped, (thread_of(upper), thread_of(lower))))
    return tuple(found)


def ready(item: CataloguedPart, set_length_mm: float | None = None) -> Ready:
    """A part made ready; `set_length_mm` is what an adjustable one that stands in the gap is set to."""
    part = item.part
    if isinstance(part, Shim):
        inner, outer = nominal(part.fits_from_mm), nominal(part.fits_to_mm)
        length = nominal(part.length_mm)
        lacks = said("left.no_hole") if inner is None else None
        lacks = said("left.no_thickness") if length is None else lacks
        span = None if inner is None else (inner, float("inf") if outer is None else outer)
        mass = grams(nominal(part.mass_kg))
        return Ready(item, (), hundredths(length or 0.0), None, mass, span, False, lacks)
    assert isinstance(part, PathPart)
    length = nominal(part.length_mm)
    adjustable = part.figure("longest") is not None
    lacks = None
    if length is None:
        lacks = said("left.no_length")
    elif adjustable and set_length_mm is None:
        lacks = ADJUSTABLE
    elif key_of(part.sky_side) is None or key_of(part.camera_side) is None:
        lacks = said("left.no_connection")
    elif not 0 <= hundredths(length) <= LONGEST:
        lacks = said("left.odd_length")
    push = isinstance(part.sky_side, Barrel) or isinstance(part.camera_side, Barrel)
    own = length if set_length_mm is None else set_length_mm
    return Ready(
        item,
        ways_of(part),
        hundredths(own or 0.0),
        nominal(part.clear_aperture_mm),
        grams(nominal(part.mass_kg)),
        None,
        push,
        lacks,
        _threads(part.sky_side, part.camera_side),
    )


_last: dict[int, Ready] = {}


@lru_cache(maxsize=2)
def ready_stock(stock: Stock) -> tuple[Ready, ...]:
    """All parts of a stock made ready, kept by the stock itself: another state of the catalogue is another.

    A part that is the very same object as in the stock before is not made ready again.
    """
    global _last
    before = _last
    made = []
    with much_is_made():
        for item in stock.parts:
            known = before.get(item.id)
            made.append(known if known is not None and known.item is item else ready(item))
    _last = {one.item.id: one for one in made}
    return tuple(made)


@lru_cache(maxsize=4096)
def _threads(sky: Connection | None, camera: Connection | None) -> tuple[tuple[str, float], ...]:
    return tuple(diameters((sky, camera)))


def diameters(connections: Iterable[Connection | None]) -> Iterator[tuple[str, float]]:
    """(key, thread diameter in mm) of both genders of every thread among some connections."""
    for connection in connections:
        if isinstance(connection, MetricThread):
            size = connection.diameter_mm
        elif isinstance(connection, InchThread):
            size = connection.diameter_in * MM_PER_INCH
        else:
            continue
        for one in (connection, opposite(connection)):
            key = key_of(one)
            if key is not None:
                yield key, size


@dataclass(frozen=True)
class Demands:
    """What a part must keep to, to be searched: see `bridge_gap.Wishes`.

    Where nobody `clear_asked` for an opening, what is asked for follows from the light: a part of no known
    opening is then searched, and the light's own finding says what is not known.
    """

    source: Source
    clear_mm: float
    weighed: bool
    push_fit: bool
    without: frozenset[int]
    most_parts: int
    clear_asked: bool = True


@dataclass(frozen=True, eq=False)
class Pieces:
    """What is searched: pieces with the ways behind their arcs, nodes by connection, the currency, what is
    left out, and of which parts there are but the club's.
    """

    pieces: tuple[Piece, ...]
    ways: Mapping[int, tuple[Way, ...]]
    items: Mapping[int, CataloguedPart]
    nodes: Mapping[str, int]
    currency: str | None
    left_out: tuple[LeftOut, ...]
    borrowed: frozenset[int] = frozenset()

    @cached_property
    def index(self) -> Index:
        """The pieces made ready for searching, once for all searches over them."""
        # It brings numpy, which nothing else here needs: a start without it is quicker.
        from server.search.index import Index

        return Index(self.pieces)


def make_pieces(
    stock: Stock,
    shelf: Mapping[int, Holding],
    used_elsewhere: Mapping[int, int],
    freed: tuple[Place, ...],
    ends: tuple[Connection, ...],
    demands: Demands,
) -> Pieces:
    """Choose the parts that may be used, and make them pieces; what was made last is kept by all that it came
    from.

    `used_elsewhere` counts the copies that other places of this train need, `freed` are the rings, adapters
    and shims that stand in the gap now, `ends` every connection that the ends and the required parts bring.
    """
    had = tuple(sorted((number, held.owned, held.lent, held.any) for number, held in shelf.items()))
    standing = tuple((place.item.id, place.set_length_mm) for place in freed)
    with much_is_made():
        return _make(stock, had, tuple(sorted(used_elsewhere.items())), standing, ends, demands)


@lru_cache(maxsize=4)
def _make(
    stock: Stock,
    had: tuple[tuple[int, int, int, bool], ...],
    elsewhere: tuple[tuple[int, int], ...],
    freed: tuple[tuple[int, float | None], ...],
    ends: tuple[Connection, ...],
    demands: Demands,
) -> Pieces:
    shelf = {number: Holding(owned, int(held), lent=lent) for number, owned, lent, held in had}
    standing: dict[int, list[float | None]] = {}
    for number, length in freed:
        standing.setdefault(number, []).append(length)
    reasons: dict[Said, list[CataloguedPart]] = defaultdict(list)
    chosen = _chosen(stock, shelf, dict(elsewhere), standing, demands, reasons)
    currency = _currency(chosen)
    nodes: dict[str, int] = {}
    for connection in ends:
        for key in (key_of(connection), key_of(opposite(connection))):
            if key is not None:
                nodes.setdefault(key, len(nodes))
    threads = dict(diameters(ends))
    pieces: list[Piece] = []
    ways: dict[int, tuple[Way, ...]] = {}
    items: dict[int, CataloguedPart] = {}
    shims: list[tuple[tuple[float, float], Ready, int, int | None]] = []
    buys = demands.source != "owned"
    for one, owned, more in chosen:
        number, price = one.item.id, one.item.part.price
        cost = price.hundredths if buys and price is not None and price.currency == currency else None
        if cost is None and not owned:
            if buys or number in standing:
                reasons[_not_had(price, currency, buys)].append(one.item)
            continue
        items[number] = one.item
        if one.shim_mm is not None:
            shims.append((one.shim_mm, one, owned, cost))
            continue
        arcs = []
        for way in one.ways:
            start = nodes.setdefault(way.onto, len(nodes))
            arcs.append(Arc(start, nodes.setdefault(way.shows, len(nodes)), way.threads))
        ways[number] = one.ways
        threads.update(one.threads)
        pieces.append(_piece(one, tuple(arcs), owned, cost, more))
    loops = {size: _loops(size, nodes, threads) for size in {size for size, *_ in shims}}
    for size, one, owned, cost in shims:
        if loops[size]:
            pieces.append(_piece(one, loops[size], owned, cost, demands.most_parts))
    found = tuple(LeftOut(reason, tuple(_own_first(items_, shelf))) for reason, items_ in reasons.items())
    pieces.sort(key=lambda piece: piece.number)
    borrowed = frozenset(number for number, held in shelf.items() if held.borrowed)
    return Pieces(tuple(pieces), ways, items, nodes, currency, found, borrowed)


def _chosen(
    stock: Stock,
    shelf: Mapping[int, Holding],
    used_elsewhere: Mapping[int, int],
    standing: Mapping[int, list[float | None]],
    demands: Demands,
    reasons: dict[Said, list[CataloguedPart]],
) -> list[tuple[Ready, int, int]]:
    """What may be used, its free copies, and how many more may be bought; `reasons` takes up the others."""
    chosen: list[tuple[Ready, int, int]] = []
    for one in ready_stock(stock):
        number = one.item.id
        holding = shelf.get(number, _NOTHING)
        here = number in standing
        wished = holding.any and demands.source == "wished"
        if not (holding.at_hand or here or wished or demands.source == "catalogue"):
            continue
        if number in demands.without:
            continue
        only: int | None = None
        if here and one.lacks == ADJUSTABLE and len(set(standing[number])) == 1:
            # Only the copies that stand there are set to this length.
            only = len(standing[number])
            one = ready(one.item, standing[number][0] or _shortest(one.item))
        reason = _unfit(one, demands)
        if reason is not None:
            reasons[reason].append(one.item)
            continue
        owned = max(0, holding.at_hand - used_elsewhere.get(number, 0))
        if only is None:
            chosen.append((one, owned, demands.most_parts))
        else:
            chosen.append((one, min(owned, only), max(0, only - owned)))
    return chosen


def _not_had(price: Money | None, currency: str | None, buys: bool) -> Said:
    """Why a part of which no copy is free is not bought."""
    if not buys:
        return said("left.no_copy")
    if price is None:
        return said("left.no_price")
    return said("left.currency", priced=price.currency, counted=currency)


def _loops(
    shim_mm: tuple[float, float], nodes: Mapping[str, int], threads: Mapping[str, float]
) -> tuple[Arc, ...]:
    """A shim's arcs: one at every connection whose thread it lies around."""
    return tuple(
        Arc(node, node) for key, node in nodes.items() if key in threads and shim_fits(shim_mm, threads[key])
    )


_NOTHING = Holding()


def shim_fits(shim_mm: tuple[float, float], thread_mm: float) -> bool:
    """Whether a shim lets a thread through, lies on the shoulder around it, and sits centred."""
    inner, outer = shim_mm
    return inner >= thread_mm - _EDGE and inner <= thread_mm + LOOSE_MM + _EDGE and outer > thread_mm


def _piece(one: Ready, arcs: tuple[Arc, ...], owned: int, cost: int | None, more: int) -> Piece:
    return Piece(
        number=one.item.id,
        arcs=arcs,
        length=one.length,
        owned=owned,
        for_sale=0 if cost is None else more,
        price=cost,
        mass=one.mass_g or 0,
        shim=one.shim_mm is not None,
    )


def _unfit(one: Ready, demands: Demands) -> Said | None:
    """Why a part is not searched; None where it is."""
    if one.lacks is not None:
        return one.lacks
    if one.push_fit and not demands.push_fit:
        return said("left.push_fit")
    if demands.clear_mm > 0 and one.shim_mm is None:
        if one.clear_mm is None and demands.clear_asked:
            return said("left.no_clear")
        if one.clear_mm is not None and one.clear_mm < demands.clear_mm - _EDGE:
            return said("left.narrow")
    if demands.weighed and one.mass_g is None:
        return said("left.no_mass")
    return None


def _shortest(item: CataloguedPart) -> float:
    part = item.part
    return part.length_mm.nominal if isinstance(part, PathPart) and part.length_mm is not None else 0.0


def _currency(chosen: Iterable[tuple[Ready, int, int]]) -> str | None:
    """The currency of most of the prices; of several alike the first by its letters."""
    counts = Counter(one.item.part.price.currency for one, *_ in chosen if one.item.part.price is not None)
    return min(counts, key=lambda code: (-counts[code], code)) if counts else None


def misfits(
    pieces: Pieces, stock: Stock, clear_mm: float, push_fit: bool, *, clear_asked: bool
) -> tuple[frozenset[int], tuple[LeftOut, ...]]:
    """The numbers of pieces that have no place where a smallest clear aperture is asked for, or no push-fit
    is wanted; and the same parts by reason.
    """
    demands = Demands("catalogue", clear_mm, False, push_fit, frozenset(), 0, clear_asked)
    reasons: dict[Said, list[CataloguedPart]] = {}
    for one in ready_stock(stock):
        if one.item.id in pieces.items:
            # An adjustable part is among the pieces where it is set to a length: that is no lack here.
            reason = _unfit(replace(one, lacks=None), demands)
            if reason is not None:
                reasons.setdefault(reason, []).append(one.item)
    found = frozenset(item.id for items in reasons.values() for item in items)
    return found, tuple(LeftOut(reason, tuple(items)) for reason, items in reasons.items())


def _own_first(items: list[CataloguedPart], shelf: Mapping[int, Holding]) -> list[CataloguedPart]:
    return sorted(items, key=lambda item: (item.id not in shelf, item.id))
