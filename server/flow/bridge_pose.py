"""A gap made a problem for the search, over the parts that may be used."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor
from typing import TYPE_CHECKING

from server.domain.connections import Connection, opposite, print_connection
from server.domain.measure import nominal
from server.domain.observer import Holding
from server.domain.parts import CataloguedPart, GuideCamera, OffAxisGuider, PathPart
from server.domain.said import exact_length, said
from server.domain.train import Place
from server.domain.workings.case import amount
from server.flow.bridge_glue import Composite, glue
from server.flow.bridge_stock import (
    Demands,
    LeftOut,
    Pieces,
    Way,
    grams,
    hundredths,
    key_of,
    make_pieces,
    onto_key,
    thread_of,
    ways_of,
)
from server.flow.bridge_wishes import ContradictionError, Gap, Lead, Wishes
from server.flow.protocols import Stock
from server.search.pairs import Branch
from server.search.problem import Arc, Piece, Problem, Required

if TYPE_CHECKING:
    from server.search.index import Index

LEADS: Mapping[Lead, tuple[str, ...]] = {
    "fit": ("money", "error", "joints", "mass"),
    "money": ("money", "joints", "error", "mass"),
    "joints": ("joints", "money", "error", "mass"),
    "error": ("error", "money", "joints", "mass"),
}
"""What decides, and what decides next where that is equal."""
WANTED = 20
STEP_MM = 0.01
"""The search counts lengths in whole steps of this."""
_EDGE = 1e-7


@dataclass(frozen=True, eq=False)
class Drawer:
    """Pieces that both branches are built of, with the ways behind their arcs."""

    pieces: tuple[Piece, ...]
    ways: Mapping[int, tuple[Way, ...]]

    @cached_property
    def index(self) -> Index:
        """The pieces made ready for searching, once for all searches over them."""
        # It brings numpy, which nothing else here needs: a start without it is quicker.
        from server.search.index import Index

        return Index(self.pieces)


@dataclass(frozen=True, eq=False)
class Side:
    """The guide camera's branch of a problem, as the search takes it.

    Attributes:
        guider, camera: between whose side port and front it stands.
        branch: its figures.
        drawer: the pieces of both branches.
        first: nodes from here on are the branch's own, in the same order as the train's.
        left_out: what is too narrow for the main chain and may stand in the branch only.
    """

    guider: Place[OffAxisGuider]
    camera: CataloguedPart[GuideCamera]
    branch: Branch
    first: int
    drawer: Drawer
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True)
class Posed:
    """A gap made a problem, with what is needed to read the answer.

    `required` and `ways` give for the number of a required item its places and for every number its ways.
    """

    gap: Gap
    wishes: Wishes
    problem: Problem
    pieces: Pieces
    nodes: Mapping[str, int]
    required: Mapping[int, Place]
    ways: Mapping[int, tuple[Way, ...]]
    composites: Mapping[int, Composite]
    side: Side | None = None

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """The parts that are not searched, by reason."""
        return self.pieces.left_out + (() if self.side is None else self.side.left_out)


def required_number(place: Place) -> int:
    """The number under which the search knows a part that must stay."""
    return -1_000_000 - place.key


def sides_of(gap: Gap) -> tuple[Connection, ...]:
    """Every connection that the ends of a gap and what stays in it bring."""
    sides: list[Connection | None] = [gap.sky.camera_connection, gap.camera.sky_connection]
    for place in gap.kept:
        sides += [place.sky_connection, place.camera_connection]
    return tuple(side for side in sides if side is not None)


def elsewhere_of(gap: Gap) -> Counter[int]:
    """The parts that the rig needs outside the gap, the guide camera's branch with them."""
    inside = {place.key for place in gap.between}
    places = (*gap.rig.train, *gap.rig.branch)
    return Counter(place.item.id for place in places if place.key not in inside)


def choose(
    gap: Gap,
    wishes: Wishes,
    stock: Stock,
    shelf: Mapping[int, Holding],
    more: tuple[Connection | None, ...] = (),
    branch: tuple[Place, ...] = (),
) -> Pieces:
    """The parts that may be used in a gap.

    With `more` connections the guide camera's branch is built from them as well: what stands there now is
    free, and a smallest clear aperture is not asked of every part.
    """
    demands = Demands(
        wishes.source,
        0.0 if more else gap.clear_mm,
        wishes.most_kg is not None,
        gap.push_fit,
        frozenset(wishes.without),
        wishes.most_joints - 1,
        gap.clear_asked,
    )
    sides = (*sides_of(gap), *(side for side in more if side is not None))
    elsewhere = elsewhere_of(gap) - Counter(place.item.id for place in branch)
    return make_pieces(stock, shelf, elsewhere, (*gap.freed, *branch), sides, demands)


def pose(gap: Gap, wishes: Wishes, stock: Stock, shelf: Mapping[int, Holding]) -> Posed:
    """Make a gap a problem over the parts that may be used. Raises RefusedError, in words."""
    return pose_over(gap, wishes, choose(gap, wishes, stock, shelf))


def pose_over(gap: Gap, wishes: Wishes, pieces: Pieces, *, by_part: bool = False) -> Posed:
    """Make a gap a problem over these parts. Raises RefusedError, in words.

    `by_part`: what must stay is numbered by its part, so that it is the same in several rigs.
    """
    twice = Counter(place.item.id for place in gap.kept)
    most_parts = wishes.most_joints - 1
    nodes = dict(pieces.nodes)
    places: dict[int, Place] = {}
    ways: dict[int, tuple[Way, ...]] = dict(pieces.ways)
    required: list[Required] = []
    for place in gap.kept:
        part = place.part
        assert isinstance(part, PathPart)
        assert place.length is not None
        shared = by_part and twice[place.item.id] == 1
        number = -2_000_000_000 - place.item.id if shared else required_number(place)
        # As it is turned now comes first, so that of two equal ways the train changes least.
        first = not shared and place.flipped
        ways[number] = tuple(sorted(ways_of(part), key=lambda way: way.flipped != first))
        arcs = tuple(
            Arc(nodes.setdefault(way.onto, len(nodes)), nodes.setdefault(way.shows, len(nodes)), way.threads)
            for way in ways[number]
        )
        mass = grams(nominal(part.mass_kg)) or 0
        required.append(Required(number, arcs, hundredths(place.length.nominal), mass))
        places[number] = place
    glued = glue(wishes.glued, list(pieces.pieces), required, ways, places, pieces.items)
    low = ceil((gap.distance_mm - gap.short_mm) * 100.0 - _EDGE)
    high = floor((gap.distance_mm + gap.long_mm) * 100.0 + _EDGE)
    if high < low:
        raise ContradictionError(
            said("bridge.distance", distance=amount(gap.distance_mm, "length", 3)),
            said("bridge.window", short=exact_length(gap.short_mm), long=exact_length(gap.long_mm)),
            said("bridge.no_step", step=amount(STEP_MM, "length")),
        )
    # No stack is shorter than nothing.
    low = max(low, 0)
    target = min(high, max(low, hundredths(gap.distance_mm)))
    start, end = key_of(gap.sky.camera_connection), onto_key(gap.camera.sky_connection)
    assert start is not None
    assert end is not None
    order = tuple(range(len(glued.required)))
    problem = Problem(
        nodes=len(nodes),
        start=nodes[start],
        end=nodes[end],
        target=target,
        tolerance=(target - low, high - target),
        pieces=pieces.pieces if not wishes.glued else tuple(glued.pieces),
        required=tuple(glued.required),
        orders=() if wishes.free_order or len(order) < 2 else (order,),
        most_parts=most_parts,
        greatest_mass=None if wishes.most_kg is None else floor(wishes.most_kg * 1000.0 + _EDGE),
        lead=_lead(gap, wishes),
        want=WANTED,
        threads=(thread_of(gap.sky.camera_connection), thread_of(gap.camera.sky_connection)),
    )
    return Posed(gap, wishes, problem, pieces, nodes, places, ways, glued.composites)


def _lead(gap: Gap, wishes: Wishes) -> tuple[str, ...]:
    """What the stacks are led by. All within a focuser's travel fits: there fewer joints are better."""
    anything_fits = wishes.lead == "fit" and gap.whose in ("focuser", "nobody")
    return LEADS["money" if anything_fits else wishes.lead]


def connection_words(posed: Posed) -> dict[int, str]:
    """The connection that each node stands for, as the trade writes it."""
    words: dict[str, str] = {}
    sides: list[Connection | None] = [posed.gap.sky.camera_connection, posed.gap.camera.sky_connection]
    parts = [item.part for item in posed.pieces.items.values()] + [place.part for place in posed.gap.kept]
    sides += [
        side for part in parts if isinstance(part, PathPart) for side in (part.sky_side, part.camera_side)
    ]
    for side in sides:
        for one in () if side is None else (side, opposite(side)):
            key = key_of(one)
            if key is not None and key not in words:
                # Written through its counterpart, which drops the thread's length.
                words[key] = print_connection(opposite(opposite(one)))
    return {node: words[key] for key, node in posed.nodes.items() if key in words}
