"""Backward tables: the least sum from every state to an exact end.

``least[parts left, node, mode][length left]`` is the least price (or mass) of a chain that uses exactly
these parts and ends at the end node, in a final mode, with nothing of the length left. It is a dynamic
programme over layers of parts; bought loops may repeat in it (they are paid each time), owned loops are
taken in order, each copy once a visit (a 0/1 knapsack). Both are relaxations of the quantities, so that
every entry is a lower bound.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from server.search.bounds import FAR, Bounds, Modes
from server.search.index import Bools, Index, Ints
from server.search.problem import Problem

Cells = npt.NDArray[np.integer]


MOST_CELLS = 60_000_000  # 120 MB where a cell is 16 bits, 240 MB where it is 32.


class TooLargeError(Exception):
    """The tables would not fit the memory that a search may take."""


@dataclass(frozen=True, slots=True)
class Gap:
    """The length axis: what the pieces must add up to once the required items have taken their share.

    ``free`` may be negative. ``top`` is the longest free length that counts. All divided by ``step``, the
    greatest common divisor of the pieces' lengths; ``roots`` are the free lengths that are asked for, with
    the error of each.
    """

    top: int
    roots: tuple[tuple[int, int], ...]
    step: int


def gap(problem: Problem, index: Index, short: int, long: int) -> Gap:
    """The length axis for stacks from ``short`` below the target to ``long`` above it."""
    free = problem.target - sum(item.length for item in problem.required)
    step = int(np.gcd.reduce(index.length)) if len(index.length) else 1
    step = step or 1
    low, high = max(0, free - short), free + long
    first = -(-low // step) * step
    roots = tuple((at // step, at - free) for at in range(first, high + 1, step))
    return Gap(top=max(high // step, 0) if high >= 0 else -1, roots=roots, step=step)


@dataclass(slots=True)
class Moves:
    """What can be done at one node with the live entries: bought loops, owned copies in order, ways out.

    All in one row of columns in that order; ``ways`` is where the ways out begin. ``item`` is the required
    item or -1, ``entry`` the index's entry or -1, ``layer`` the owned layer of a copy (1 is the innermost)
    or 0.
    """

    ways: int
    entry: list[int]
    item: list[int]
    to: list[int]
    layer: list[int]
    twin: list[bool]
    group: list[int]
    length: Ints
    price: Ints


class Tables:
    """The backward tables of one pass, with the moves of each node."""

    def __init__(
        self,
        problem: Problem,
        index: Index,
        modes: Modes,
        limits: Bounds,
        axis: Gap,
        live: Bools,
        measure: Ints,
        budget: int,
        ceiling: int,
    ) -> None:
        """``live`` marks the entries; ``measure`` is what is summed; ``budget`` is the greatest sum that
        counts, and ``ceiling`` an upper limit of any sum, where the budget has none.
        """
        self.problem, self.index, self.modes, self.axis = problem, index, modes, axis
        self.parts = problem.most_parts
        self.budget = min(budget, ceiling)
        self.measure = measure
        alive = self.entries = np.nonzero(live)[0]
        self.unit = int(np.gcd.reduce(measure[alive])) if len(alive) else 1
        self.unit = self.unit or 1
        self.cap = self.budget // self.unit
        small = self.cap < 32_000
        self.infinite = 32_768 if small else 1 << 29
        if self.cap >= self.infinite:
            # Rounding sums down keeps them lower bounds.
            self.unit *= -(-self.cap // (self.infinite - 1))
            self.cap = self.budget // self.unit
        self.kind: type[np.uint16] | type[np.int32] = np.uint16 if small else np.int32
        self._bases: dict[tuple[int, int, int], Ints] = {}
        self._moves(alive)
        self._rows(limits)
        self._fill(limits)

    def _moves(self, alive: Ints) -> None:
        """Sort the live entries by node into loops and ways out."""
        problem, index, step = self.problem, self.index, self.axis.step
        self.moves: dict[int, Moves] = {}
        self.blocks: dict[int, dict[tuple[int, int], list[tuple[int, int]]]] = {}
        self.jumps: dict[int, list[tuple[int, int]]] = {}
        for item, required in enumerate(problem.required):
            for begin, to in dict.fromkeys((arc.start, arc.end) for arc in required.arcs):
                self.jumps.setdefault(begin, []).append((item, to))
        loop = index.start[alive] == index.end[alive]
        rank = np.where(loop, np.where(index.bought[alive], 0, 1), 2)
        columns = (
            alive,
            index.mass[alive],
            index.price[alive],
            index.length[alive],
            rank,
            index.start[alive],
        )
        order = alive[np.lexsort(columns)]
        starts, ends = index.start[order].tolist(), index.end[order].tolist()
        pieces, bought = index.piece[order].tolist(), index.bought[order].tolist()
        lengths, groups = (index.length[order] // step).tolist(), self.modes.classes[order].tolist()
        prices = (self.measure[order] // self.unit).tolist()
        self.layers: dict[int, list[tuple[int, int]]] = {}  # Owned copies, innermost first: class and length.
        raw: dict[int, list[tuple[int, int, int, int, int, int, int, bool]]] = {}
        ways: dict[int, int] = {}
        blocks: dict[int, dict[tuple[int, int], dict[int, int]]] = {}
        for at, entry in enumerate(order.tolist()):
            node = starts[at]
            rows = raw.setdefault(node, [])
            length, price, group = lengths[at], prices[at], groups[at]
            if starts[at] == ends[at] and not bought[at]:
                for copy in range(min(index.pieces[pieces[at]].owned, self.parts)):
                    rows.append((entry, -1, node, length, price, group, 1, copy > 0))
                ways[node] = len(rows)
                continue
            rows.append((entry, -1, ends[at], length, price, group, 0, False))
            if starts[at] == ends[at]:
                ways[node] = len(rows)
            block = blocks.setdefault(node, {}).setdefault((ends[at], groups[at]), {})
            block[length] = min(price, block.get(length, FAR))
        for node, jumps in self.jumps.items():
            for item, end in jumps:
                raw.setdefault(node, []).append((-1, item, end, 0, 0, 0, 0, False))
        for node, rows in raw.items():
            owned = [at for at, row in enumerate(rows) if row[6]]
            layer = [0] * len(rows)
            self.layers[node] = [(rows[at][5], rows[at][3]) for at in reversed(owned)]
            for number, at in enumerate(reversed(owned), start=1):
                layer[at] = number
            self.moves[node] = Moves(
                ways=ways.get(node, 0),
                entry=[row[0] for row in rows],
                item=[row[1] for row in rows],
                to=[row[2] for row in rows],
                layer=layer,
                twin=[row[7] for row in rows],
                group=[row[5] for row in rows],
                length=np.array([row[3] for row in rows], dtype=np.int64),
                price=np.array([row[4] for row in rows], dtype=np.int64),
            )
        self.blocks = {
            node: {
                key: sorted((price, length) for length, price in block.items())
                for key, block in found.items()
            }
            for node, found in blocks.items()
        }

    def _rows(self, limits: Bounds) -> None:
        """Give every state that a chain within the budget can pass a row of cells."""
        problem, modes = self.problem, self.modes
        shape = (self.parts + 1, problem.nodes, modes.count + 1)
        self.leave: Ints = np.zeros(shape, dtype=np.int64)  # Row 0 stays infinite: the dead state.
        self.enter: Ints = np.zeros(shape, dtype=np.int64)
        least = limits.ahead[::-1] + limits.behind  # ahead with the parts used, behind with the parts left
        rows = 1
        self.alive: list[tuple[int, int, int]] = []
        nodes = sorted(set(self.moves) | {problem.end})
        for left in range(self.parts + 1):
            for node in nodes:
                moves = self.moves.get(node)
                layers = max(moves.layer, default=0) if moves else 0
                paid = 1 if self._loops(node) else 0
                for mode in range(modes.count):
                    if least[left, node, modes.state(mode)] > self.budget:
                        continue
                    self.alive.append((left, node, mode))
                    self.leave[left, node, mode] = rows
                    rows += layers + paid
                    self.enter[left, node, mode] = rows
                    rows += 1
        self.width = (
            self.axis.top + 2
        )  # The first cell of a row is what a negative length falls into: infinite.
        self.size = rows * self.width
        if self.size > MOST_CELLS:
            raise TooLargeError(f"{self.size} cells, at most {MOST_CELLS}")

    def base(self, left: int, node: int, mode: int) -> Ints:
        """For each move of a node, the index of its bound's cell, less the length left before the move."""
        found = self._bases.get((left, node, mode))
        if found is None:
            modes, moves = self.modes, self.moves[node]
            rows = []
            for at, to in enumerate(moves.to):
                if moves.item[at] >= 0:
                    after = modes.item_after[mode].get(moves.item[at], modes.dead)
                    rows.append((self.leave if to == node else self.enter)[left - 1, to, after])
                    continue
                after = modes.after[moves.group[at]][mode]
                if moves.layer[at]:
                    row = self.leave[left - 1, node, after]
                    rows.append(row + moves.layer[at] - 1 if row else 0)
                else:
                    rows.append(self.enter[left - 1, to, after])
            found = np.array(rows, dtype=np.int64) * self.width + 1 - moves.length
            self._bases[left, node, mode] = found
        return found

    def _loops(self, node: int) -> bool:
        """Whether something can be bought that keeps this node."""
        return any(end == node for end, _ in self.blocks.get(node, {}))

    # One function of many arms: it runs for every state, and its inner two for every row of every state.
    def _fill(self, limits: Bounds) -> None:  # noqa: C901
        """Fill the rows, fewest parts left first; ``span`` keeps where the finite cells of a row begin and
        end.
        """
        problem, modes, width = self.problem, self.modes, self.width
        self.cells: Cells = np.full(self.size, self.infinite, dtype=self.kind)
        empty = (1, -1)
        span: dict[int, tuple[int, int]] = {0: empty}
        spare = np.empty(width, dtype=self.kind)
        add, minimum, cells, top, unit = np.add, np.minimum, self.cells, self.axis.top, self.unit
        final = set(modes.final)
        floor_at_root = min((at for at, _ in self.axis.roots), default=0)
        enter, leave = self.enter.tolist(), self.leave.tolist()
        used = (limits.ahead // unit).tolist()
        rest = (limits.behind // unit).tolist()

        def draw(into: int, out: int, price: int, length: int, floor: int) -> None:
            """Take row ``out`` into row ``into``, longer by ``length`` and dearer by ``price``."""
            low, high = span[out]
            first, last = max(low + length, floor), min(high + length, top)
            if first > last:
                return
            source, target = out * width + 1 - length, into * width + 1
            aim = cells[target + first : target + last + 1]
            have = cells[source + first : source + last + 1]
            if price:
                part = spare[: last - first + 1]
                add(have, price, out=part)
                minimum(aim, part, out=aim)
            else:
                minimum(aim, have, out=aim)
            known = span[into]
            span[into] = (first, last) if known is empty else (min(known[0], first), max(known[1], last))

        def block(into: int, out: int, room: int, priced: list[tuple[int, int]], floor: int) -> None:
            """Take a row in by every arc between two nodes, cheapest first, within the budget."""
            if span[out] is empty:
                return
            for price, length in priced:
                if price > room:
                    break
                draw(into, out, price, length, floor)

        for left, node, mode in self.alive:
            floor = floor_at_root if left == self.parts else 0
            first, last = leave[left][node][mode], enter[left][node][mode]
            for row in range(first, last + 1):
                span[row] = empty
            if left == 0:
                if node == problem.end and mode in final and top >= 0:
                    for row in range(first, last + 1):
                        cells[row * width + 1] = 0
                        span[row] = (0, 0)
                continue
            room = self.cap - used[self.parts - left][node][modes.state(mode)]
            loops: list[tuple[int, int, list[tuple[int, int]]]] = []
            for (end, group), priced in self.blocks.get(node, {}).items():
                after = modes.after[group][mode]
                out = enter[left - 1][end][after]
                if out:
                    most = room - rest[left - 1][end][modes.state(after)]
                    if end == node:
                        loops.append((out, most, priced))
                    else:
                        block(first, out, most, priced, floor)
            for item, end in self.jumps.get(node, ()):
                to = modes.item_after[mode].get(item)
                if to is not None:
                    # Behind an item that keeps the node no loops are taken: they all fit in front of it.
                    draw(first, (leave if end == node else enter)[left - 1][end][to], 0, 0, floor)
            row = first
            for group, length in self.layers.get(node, ()):
                cells[(row + 1) * width : (row + 2) * width] = cells[row * width : (row + 1) * width]
                span[row + 1] = span[row]
                after = modes.after[group][mode]
                inner = leave[left - 1][node][after]
                if inner:
                    draw(row + 1, inner + row - first, 0, length, floor)
                row += 1
            if row < last:
                cells[last * width : (last + 1) * width] = cells[row * width : (row + 1) * width]
                span[last] = span[row]
                for out, most, priced in loops:
                    block(last, out, most, priced, floor)
