"""Which parts can lie on a chain of one rig within a sum of money: reduced-cost fixing by exact lengths.

For every way to use a copy, the least money of a chain with it whose length is within the tolerance: the
backward table from what it shows, and the backward table of the rig turned round from what it is screwed
onto, meet at every length. Quantities and the order of the required items on either side are relaxed, so
it is a lower bound; what exceeds the sum of money in hand is left out of the integer model without loss.

Complexity: two tables, and O(P * R) for each entry (P parts, R lengths).
"""

from dataclasses import replace

import numpy as np

from server.search.bounds import FAR, Orders
from server.search.index import Index, Ints
from server.search.passes import Ground
from server.search.problem import Arc, Piece, Problem, Required
from server.search.tables import Tables, TooLargeError


def turned(problem: Problem) -> Problem:
    """The rig seen from the camera: every way turned round, so that its stacks are read backwards."""

    def back(whole: Piece | Required) -> tuple[Arc, ...]:
        return tuple(Arc(arc.end, arc.start) for arc in whole.arcs)

    return replace(
        problem,
        start=problem.end,
        end=problem.start,
        pieces=tuple(replace(piece, arcs=back(piece)) for piece in problem.pieces),
        required=tuple(replace(item, arcs=back(item)) for item in problem.required),
        orders=tuple(order[::-1] for order in problem.orders),
    )


def _left(orders: Orders, state: int) -> frozenset[int]:
    """The required items that are still to come in a state."""
    return frozenset(next(iter(orders.states[state])))


def _least(tables: Tables, node: int, mode: int, parts: int) -> Ints:
    """[parts][length]: the least money of a chain from a node to the end, FAR where there is none."""
    top = tables.axis.top
    found = np.full((parts, top + 1), FAR, dtype=np.int64)
    for left in range(parts):
        row = int(tables.enter[left, node, mode])
        if row:
            cells = tables.cells[row * tables.width + 1 : row * tables.width + top + 2].astype(np.int64)
            found[left] = np.where(cells <= tables.cap, cells * tables.unit, FAR)
    return found


def usable(ground: Ground, most: int) -> Ints:
    """The entries of the index that can lie on a chain of at most this much money."""
    problem, index = ground.problem, ground.index
    live = ground.possible & (ground.critical <= most)
    other = turned(problem)
    mirror = Index(other.pieces)
    # Both indexes hold the same entries in the same order.
    around = Ground(other, mirror, *problem.tolerance)
    try:
        behind, before = ground.tables(most, []), around.tables(most, [])
    except TooLargeError:
        return np.nonzero(live)[0]
    parts, step = problem.most_parts, ground.axis.step
    everything = frozenset(range(len(problem.required)))
    states = {_left(around.orders, state): state for state in range(around.orders.count)}
    pairs = [
        (state, states[everything - _left(ground.orders, state)])
        for state in range(ground.orders.count)
        if everything - _left(ground.orders, state) in states
    ]
    if len({_left(ground.orders, state) for state, _ in pairs}) < ground.orders.count:
        return np.nonzero(live)[0]  # Several states with the same items left: not told apart here.
    entries = np.nonzero(live)[0]
    top, roots = ground.axis.top, [at for at, _ in ground.axis.roots]
    least = np.full(len(index.price), FAR, dtype=np.int64)
    for state, mirrored in pairs:
        ahead: dict[int, Ints] = {}
        rest: dict[int, Ints] = {}
        for entry in entries.tolist():
            start, end = int(index.start[entry]), int(index.end[entry])
            if start not in ahead:
                ahead[start] = _windows(_least(before, start, mirrored, parts), roots)
            if end not in rest:
                rest[end] = _least(behind, end, state, parts)
            length = int(index.length[entry]) // step
            if length > top:
                continue
            # With n parts behind it at most parts - 1 - n stand before it.
            sums = ahead[start][::-1, length:] + rest[end][:, : top + 1 - length]
            least[entry] = min(int(least[entry]), int(sums.min()) + int(index.price[entry]))
    return np.nonzero(live & (least <= most))[0]


def _windows(least: Ints, roots: list[int]) -> Ints:
    """[parts][length that the rest takes]: the least money with at most so many parts of what is left."""
    found = np.full_like(least, FAR)
    for root in roots:
        # The rest takes x, so root - x is left for this side.
        found[:, : root + 1] = np.minimum(found[:, : root + 1], least[:, root::-1])
    return np.minimum.accumulate(found, axis=0)
