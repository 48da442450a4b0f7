"""Bounds that ignore lengths and quantities, and the automaton of required items and resources.

All are min-plus products on a matrix of nodes (Bellman, R., On a routing problem, Quarterly of Applied
Mathematics 16 (1958), 87-90: shortest paths by the number of arcs).
"""

from dataclasses import dataclass

import numpy as np

from server.search.index import Index, Ints
from server.search.problem import Problem

FAR = 1 << 40  # Stands for infinity; two of them and a price still fit 64 bits.


class Orders:
    """The automaton that follows the allowed orders of the required items: one state a set of possible
    rests.
    """

    def __init__(self, problem: Problem) -> None:
        first = frozenset(problem.allowed_orders())
        self.states: list[frozenset[tuple[int, ...]]] = [first]
        found = {first: 0}
        self.step: list[
            dict[int, int]
        ] = []  # For each state: which item may come next, and the state after it.
        for state in self.states:
            after: dict[int, int] = {}
            for item in sorted({rest[0] for rest in state if rest}):
                following = frozenset(rest[1:] for rest in state if rest and rest[0] == item)
                if following not in found:
                    found[following] = len(self.states)
                    self.states.append(following)
                after[item] = found[following]
            self.step.append(after)
        self.final = found[frozenset([()])]
        self.count = len(self.states)


@dataclass(frozen=True, slots=True)
class Bounds:
    """Least sums of one measure (price, mass or length) along a chain, whatever its length and quantities.

    ``ahead[k, node, state]``: from the start to the node with at most k parts; ``behind[k, node, state]``:
    from there to the end with at most k parts; loops are left out, since they never make a sum smaller.
    """

    ahead: Ints
    behind: Ints

    def through(self, parts: int) -> Ints:
        """For each pair of nodes, the least sum of a chain with an arc between them, that arc's own not
        included.
        """
        nodes = self.ahead.shape[1]
        least = np.full((nodes, nodes), 2 * FAR, dtype=np.int64)
        for left in range(1, parts + 1):
            for state in range(self.ahead.shape[2]):
                here = self.ahead[parts - left, :, state][:, None] + self.behind[left - 1, :, state][None, :]
                np.minimum(least, here, out=least)
        return least


def bounds(problem: Problem, index: Index, orders: Orders, measure: Ints, required: list[int]) -> Bounds:
    """Least sums of ``measure`` (a column of the index) to and from every node; ``required`` the items' own
    sums.
    """
    nodes, parts = problem.nodes, problem.most_parts
    cheapest = np.full((nodes, nodes), FAR, dtype=np.int64)
    np.minimum.at(cheapest, (index.start, index.end), measure)
    np.fill_diagonal(cheapest, FAR)
    jumps = [
        (state, after, arc.start, arc.end, required[item])
        for state, following in enumerate(orders.step)
        for item, after in following.items()
        for arc in problem.required[item].arcs
    ]
    ahead = np.full((parts + 1, nodes, orders.count), FAR, dtype=np.int64)
    behind = ahead.copy()
    ahead[0, problem.start, 0] = 0
    behind[0, problem.end, orders.final] = 0
    for k in range(1, parts + 1):
        last = ahead[k - 1]
        ahead[k] = np.minimum(last, (last[:, None, :] + cheapest[:, :, None]).min(axis=0))
        rest = behind[k - 1]
        behind[k] = np.minimum(rest, (cheapest[:, :, None] + rest[None, :, :]).min(axis=1))
        for state, after, start, end, own in jumps:
            ahead[k, end, after] = min(ahead[k, end, after], last[start, state] + own)
            behind[k, start, state] = min(behind[k, start, state], rest[end, after] + own)
    np.minimum(ahead, FAR, out=ahead)
    np.minimum(behind, FAR, out=behind)
    return Bounds(ahead, behind)


class Modes:
    """Order states times the counters of the resources that are made exact.

    A resource is (kind, piece, capacity): the copies of one piece, or the shims together. Every entry
    belongs to a class, the set of resources that it draws on; ``after[class][mode]`` is the mode behind it,
    ``dead`` where the resource is used up.
    """

    def __init__(self, orders: Orders, resources: list[tuple[int, int]], index: Index) -> None:
        # A resource is (position of the piece or -1 for the shims, capacity).
        sizes = [capacity + 1 for _, capacity in resources]
        self.digits = int(np.prod(sizes)) if sizes else 1
        self.count = orders.count * self.digits
        self.dead = self.count
        self.classes: Ints = np.zeros(len(index.piece), dtype=np.int64)
        for bit, (piece, _) in enumerate(resources):
            drawn = index.shim if piece < 0 else index.piece == piece
            self.classes += drawn.astype(np.int64) << bit
        used = sorted(set(np.unique(self.classes).tolist()) | {0})
        self.after: dict[int, list[int]] = {}
        for mask in used:
            row = []
            for mode in range(self.count):
                state, rest = divmod(mode, self.digits)
                weight, total, possible = 1, 0, True
                for bit, size in enumerate(sizes):
                    digit = rest // weight % size
                    if mask >> bit & 1:
                        digit += 1
                        possible = possible and digit < size
                    total += min(digit, size - 1) * weight
                    weight *= size
                row.append(state * self.digits + total if possible else self.dead)
            self.after[mask] = row
        self.item_after: list[dict[int, int]] = [
            {
                item: to * self.digits + mode % self.digits
                for item, to in orders.step[mode // self.digits].items()
            }
            for mode in range(self.count)
        ]
        self.final = [orders.final * self.digits + digit for digit in range(self.digits)]

    def state(self, mode: int) -> int:
        """The order state of a mode."""
        return mode // self.digits
