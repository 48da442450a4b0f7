"""The segments of a pair (before the guider, behind it, the guide chain): bounds, tables, lists of chains.

What they are for is told in ``branches``.
"""

import copy
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from server.search.bounds import FAR, Bounds, Modes, Orders, bounds
from server.search.deepening import budgets_of
from server.search.index import Index, Ints
from server.search.pairs import NOTHING, Branch, Code
from server.search.problem import Problem, Stack, Threads
from server.search.tables import Gap, Tables
from server.search.walks import Enumeration

BEFORE, BEHIND, GUIDE = 0, 1, 2

Made = dict[tuple[object, tuple[int, ...], int], tuple[Index, Tables, Ints]]


@dataclass(slots=True)
class Segment:
    """One of the three chains: its own problem, and the bounds of money that ignore lengths."""

    problem: Problem
    orders: Orders
    money: Bounds
    own: int  # The length of its required items.
    least: int
    fewest: int  # The fewest parts of a chain of any length.
    critical: Ints  # For each entry, the least money of a chain of this segment with it.


def segment(problem: Problem, index: Index) -> Segment:
    """A segment made ready."""
    orders = Orders(problem)
    nothing = [0] * len(problem.required)
    money = bounds(problem, index, orders, index.price, nothing)
    critical = money.through(problem.most_parts)[index.start, index.end] + index.price
    least = int(money.behind[problem.most_parts, problem.start, 0])
    own = sum(item.length for item in problem.required)
    parts = range(problem.most_parts + 1)
    fewest = next((k for k in parts if money.behind[k, problem.start, 0] < FAR), 0)
    return Segment(problem, orders, money, own, least, fewest, critical)


class Walk(Enumeration):
    """The enumeration of chains of one exact length and so many parts."""

    def __init__(self, problem: Problem, index: Index, tables: Tables, free: int, parts: range) -> None:
        exact = copy.copy(tables)
        exact.axis = Gap(tables.axis.top, ((free, 0),), tables.axis.step)
        super().__init__(problem, index, exact, None)
        self.parts = parts

    def _roots(self) -> list[tuple[tuple[int, int, int], int, int, int]]:
        """As in every enumeration, less the numbers of parts that are not asked for."""
        return [root for root in super()._roots() if root[1] in self.parts]


class Chains:
    """The chains of a segment with one exact length, best first, found when they are asked for."""

    def __init__(
        self, problem: Problem, index: Index, tables: Tables, free: int, parts: range, code: Code
    ) -> None:
        self.walk = Walk(problem, index, tables, free, parts)
        self.source: Iterator[tuple[tuple[int, int, int], Stack | None]] = self.walk.run()
        self.unit, self.code, self.order = tables.unit, code, problem.lead[:3]
        self.found: list[tuple[int, Stack]] = []
        self.bound = 0  # No chain that is not in the list has a smaller code.
        self.done = False

    def advance(self) -> None:
        """Look for the next chain for a while."""
        got = next(self.source, None)
        if got is None:
            self.done = True
            return
        values = dict(zip(self.order, got[0], strict=True))
        self.bound = max(self.bound, self.code(values["money"] * self.unit, values["joints"], 0))
        if got[1] is not None:
            self.found.append((self.bound, got[1]))


@dataclass(slots=True)
class Sharing:
    """One way to share out the split pieces: for each segment its index and tables, and the lists so far.

    ``offset`` etc. in steps of the length axis: ``main`` are the sums of the free lengths before and behind
    that are asked for, with their errors; ``guide`` the free guide length less the free length behind.
    """

    split: int
    segments: tuple[Segment, Segment, Segment]
    indexes: list[Index]
    tables: list[Tables]
    codes: list[Ints]  # For each segment [parts][length]: exactly so many parts behind, at most elsewhere.
    main: list[tuple[int, int]]
    guide: list[tuple[int, int]]
    chains: dict[tuple[int, int, range], Chains] = field(default_factory=dict)
    roots: list[tuple[int, int]] = field(default_factory=list)  # Parts and free length behind the guider.
    keys: list[int] = field(default_factory=list)


class Joint:
    """Everything that the passes of one search share."""

    def __init__(self, problem: Problem, branch: Branch, index: Index) -> None:
        self.problem, self.branch, self.index = problem, branch, index
        self.code = Code(problem, branch)
        self.positions = {piece.number: at for at, piece in enumerate(index.pieces)}
        self.resources: tuple[list[tuple[int, int]], ...] = ([], [], [])  # Made exact inside a segment.
        self.split_pieces: list[int] = []
        self.guider = problem.required[branch.guider]
        arcs = set(self.guider.arcs)
        if len(arcs) != 1:
            raise ValueError(
                f"The guider {self.guider.number} has {len(arcs)} ways to be put in; give the one in which "
                "its prism faces the sky."
            )
        arc = next(iter(arcs))
        self.enter, self.leave = arc.start, arc.end
        first, last = (None, None) if problem.threads is None else problem.threads
        step = int(np.gcd.reduce(index.length)) if len(index.length) else 1
        self.step = step or 1
        guide = Problem(
            problem.nodes, branch.start, branch.end, 0, (0, 0), problem.pieces, branch.required,
            (), branch.most_parts, branch.most_shims, None, problem.lead[:3], threads=branch.threads,
        )  # fmt: skip
        side = segment(guide, index)
        self.splits: list[tuple[Segment, Segment, Segment]] = []
        for before, behind in self._splits():
            parts = problem.most_parts - 1
            front = self._part(before, problem.start, self.enter, parts, (first, arc.threads[0]))
            rear = self._part(behind, self.leave, problem.end, parts, (arc.threads[1], last))
            three = (segment(front, index), segment(rear, index), side)
            if all(one.least < FAR for one in three):
                self.splits.append(three)
        self.least_joints = min((sum(one.fewest + 1 for one in three) for three in self.splits), default=0)

    def _splits(self) -> list[tuple[list[tuple[int, ...]], list[tuple[int, ...]]]]:
        """The orders of the required items before the guider and behind it that may go together."""
        behind: dict[tuple[int, ...], set[tuple[int, ...]]] = {}
        for order in self.problem.allowed_orders():
            at = order.index(self.branch.guider)
            behind.setdefault(order[:at], set()).add(order[at + 1 :])
        grouped: dict[frozenset[tuple[int, ...]], list[tuple[int, ...]]] = {}
        for prefix, suffixes in behind.items():
            grouped.setdefault(frozenset(suffixes), []).append(prefix)
        return [(sorted(prefixes), sorted(suffixes)) for suffixes, prefixes in grouped.items()]

    def _part(
        self, orders: list[tuple[int, ...]], start: int, end: int, parts: int, threads: Threads
    ) -> Problem:
        """The problem of one side of the guider."""
        items = sorted(orders[0])
        places = {item: at for at, item in enumerate(items)}
        return Problem(
            self.problem.nodes, start, end, 0, (0, 0), self.problem.pieces,
            tuple(self.problem.required[item] for item in items),
            tuple(tuple(places[item] for item in order) for order in orders),
            max(parts, 0), self.problem.most_shims, None, self.problem.lead[:3],
            threads=None if self.problem.threads is None else threads,
        )  # fmt: skip

    def budgets(self) -> list[int | None]:
        """The budgets to try, each letting in more entries; None at the end lets everything in."""
        least = [sum(one.least for one in three) for three in self.splits]
        parts = [
            one.critical + total - one.least
            for three, total in zip(self.splits, least, strict=True)
            for one in three
        ]
        values = np.concatenate(parts) if parts else np.zeros(0, dtype=np.int64)
        return budgets_of(values[values < FAR])

    def sharing(
        self, split: int, budget: int | None, taken: Sequence[tuple[int, int]], made: Made
    ) -> Sharing | None:
        """The tables of one, or None where its lengths cannot meet. ``taken`` are pairs (position of a split
        piece, the segment that has its owned copy); ``made`` keeps tables that several sharings use.
        """
        problem, branch, step = self.problem, self.branch, self.step
        three = self.splits[split]
        before, behind, side = three
        wide = problem.target + problem.tolerance[1] - self.guider.length - before.own - behind.own
        guide_wide = branch.offset + behind.own + max(wide, 0) + branch.tolerance[1] - side.own
        if wide < 0 or guide_wide < 0:
            return None
        tops = (wide // step, wide // step, guide_wide // step)
        total = sum(one.least for one in three)
        indexes, tables, codes = [], [], []
        for place, one in enumerate(three):
            without = tuple(piece for piece, owner in taken if owner != place)
            name = (place if place == GUIDE else (split, place), without, tops[place])
            if name not in made:
                made[name] = self._table(one, place, budget, total - one.least, without, tops[place])
            got = made[name]
            indexes.append(got[0])
            tables.append(got[1])
            codes.append(got[2])
        # The main equation in steps: free before + free behind = asked + error.
        asked = problem.target - self.guider.length - before.own - behind.own
        low, high = asked - problem.tolerance[0], asked + problem.tolerance[1]
        main = [(at // step, at - asked) for at in range(-(-low // step) * step, high + 1, step)]
        # The guide's: free guide - free behind = difference + error.
        asked = branch.offset + behind.own - side.own
        low, high = asked - branch.tolerance[0], asked + branch.tolerance[1]
        guide = [(at // step, at - asked) for at in range(-(-low // step) * step, high + 1, step)]
        sharing = Sharing(split, three, indexes, tables, codes, main, guide)
        self._roots(sharing)
        return sharing

    def _table(
        self, one: Segment, place: int, budget: int | None, others: int, without: tuple[int, ...], top: int
    ) -> tuple[Index, Tables, Ints]:
        """The index without some owned copies, the tables, and the least code for each length."""
        index, problem = self.index, one.problem
        live = one.critical < FAR
        if budget is not None:
            live &= one.critical <= budget - others
        if without:
            pieces = list(index.pieces)
            for at in without:
                whole = pieces[at]
                if whole.owned:
                    live &= (index.piece != at) | index.bought
                    pieces[at] = replace(whole, owned=0)
                else:
                    live &= index.piece != at
            index = copy.copy(index)
            index.pieces = tuple(pieces)
        ceiling = problem.most_parts * int(index.price[live].max(initial=0))
        most = ceiling if budget is None else max(budget - others, 0)
        modes = Modes(one.orders, self.resources[place], index)
        axis = Gap(top, ((0, 0),), self.step)
        tables = Tables(problem, index, modes, one.money, axis, live, index.price, most, ceiling)
        codes = np.full((problem.most_parts + 1, top + 1), NOTHING, dtype=np.int64)
        money, joints = self.code.weight["money"], self.code.weight["joints"]
        for left in range(problem.most_parts + 1):
            row = int(tables.enter[left, problem.start, 0])
            if not row:
                continue
            begin = row * tables.width + 1
            least = tables.cells[begin : begin + top + 1].astype(np.int64)
            sums = least * (tables.unit * money) + (left + 1) * joints
            codes[left] = np.where(least <= tables.cap, sums, NOTHING)
        if place != BEHIND:
            codes = np.minimum.accumulate(codes, axis=0)
        return index, tables, codes

    def _roots(self, sharing: Sharing) -> None:
        """For each number of parts and free length behind the guider the least code of a pair, sorted."""
        before, behind, side = sharing.codes
        error = self.code.weight["error"]
        parts, count = behind.shape
        at = np.arange(count)
        front = np.full((parts, count), NOTHING, dtype=np.int64)
        for total, off in sharing.main:
            other = total - at
            good = (other >= 0) & (other < count)
            # With n parts behind the guider at most parts - 1 - n can stand before it.
            sums = before[::-1, other[good]] + abs(off) * error
            front[:, good] = np.minimum(front[:, good], sums)
        rear = np.full(count, NOTHING, dtype=np.int64)
        for difference, off in sharing.guide:
            other = at + difference
            good = (other >= 0) & (other < side.shape[1])
            rear[good] = np.minimum(rear[good], side[-1, other[good]] + abs(off) * error)
        found = np.nonzero((behind < NOTHING) & (front < NOTHING) & (rear[None, :] < NOTHING))
        sums = behind[found] + front[found] + rear[found[1]]
        order = np.argsort(sums, kind="stable")
        sharing.roots = list(zip(found[0][order].tolist(), found[1][order].tolist(), strict=True))
        sharing.keys = sums[order].tolist()
