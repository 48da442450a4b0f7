"""Best-first enumeration of stacks, guided by the tables, and what makes a chain a real stack."""

from collections import Counter
from collections.abc import Callable, Iterator
from heapq import heappop, heappush
from typing import Any, NamedTuple

import numpy as np

from server.search.bounds import Bounds
from server.search.index import Index
from server.search.placing import placed
from server.search.problem import Line, Piece, Problem, Required, Stack, Use
from server.search.tables import Tables

SHIMS = -1  # The resource of all shims together; other resources are positions of pieces.
MASS = -2


class State(NamedTuple):
    """A partial chain: what is left to do, and what has been used to come here."""

    left: int
    node: int
    mode: int
    free: int
    spent: int
    begin: int
    before: int
    path: tuple[int, ...]
    mass: int
    shims: int
    joints: int
    error: int


class Enumeration:
    """All stacks of a problem that the tables hold, best first.

    The search is A* (Hart, Nilsson, Raphael, IEEE Trans. Systems Science and Cybernetics 4 (1968), 100-107)
    with partial expansion: a state's children are sorted by bound, and each is put on the heap when the one
    before it leaves. Loops are used in one canonical order (bought ones by column, then owned copies from
    the outermost layer in), and only at the first node passed at which they fit, since loops of a node
    commute. A path is a sequence of entries; a required item is -1 - (item times the number of nodes + the
    node behind it).
    """

    def __init__(self, problem: Problem, index: Index, tables: Tables, masses: Bounds | None) -> None:
        self.problem, self.index, self.tables = problem, index, tables
        self.steps = 0
        self.refused: Counter[int] = Counter()
        self.places = [problem.lead.index(name) for name in ("money", "joints", "error")]
        self.limit = problem.greatest_mass
        self.mass_behind = masses.behind if masses is not None and self.limit is not None else None
        self.mass_tables: Tables | None = None
        self.beaten: Callable[[State], bool] | None = None  # Leaves out states that cannot matter any more.
        self.fitting: dict[int, int] = {}

    def key(self, money: int, joints: int, error: int) -> tuple[int, int, int]:
        """What is ranked by, in the problem's lead."""
        values = [0, 0, 0]
        a, b, c = self.places
        values[a], values[b], values[c] = money, joints, error
        return (values[0], values[1], values[2])

    # One function of many arms: it is the loop that every partial chain of every search goes through.
    def run(self) -> Iterator[tuple[tuple[int, int, int], Stack | None]]:  # noqa: C901
        """Yield (key, stack) best first, each bill of materials once; now and then (key, None), so that
        whoever listens can look at the time. Every stack that has not been yielded yet has no smaller
        key.
        """
        tables, index = self.tables, self.index
        cells, width, cap = tables.cells, tables.width, tables.cap
        own_mass = sum(item.mass for item in self.problem.required)
        roots = self._roots()
        if not roots:
            return
        heap: list[tuple[Any, ...]] = [(roots[0][0], -1, 0, None, None, 0, None)]
        number = 0
        seen: set[tuple[int, ...]] = set()
        while heap:
            key, _, _, state, order, at, sums = heappop(heap)
            self.steps += 1
            if not self.steps & 127:
                yield key, None
            if state is None:
                if at + 1 < len(roots):
                    number += 1
                    heappush(heap, (roots[at + 1][0], -1, number, None, None, at + 1, None))
                _, left, free, error = roots[at]
                state = State(left, self.problem.start, 0, free, 0, 0, 0, (), own_mass, 0, left + 1, error)
            if self.beaten is not None and self.beaten(state):
                continue
            if order is None:
                if state.left:
                    if state.path:
                        raised = self.raised(state)
                        if raised > cap:
                            continue
                        later = self.key(raised, state.joints, abs(state.error))
                        if later > key:
                            number += 1
                            heappush(heap, (later, state.left, number, state, None, 0, None))
                            continue
                        if self.dominated(state):
                            continue
                    grown = self._children(state)
                    if grown is not None:
                        number += 1
                        order, sums = grown
                        heappush(
                            heap,
                            (
                                self.key(sums[0], state.joints, abs(state.error)),
                                state.left - 1,
                                number,
                                state,
                                order,
                                0,
                                sums,
                            ),
                        )
                    continue
                bill = tuple(sorted(int(index.piece[entry]) for entry in state.path if entry >= 0))
                if bill not in seen:
                    stack = self._stack(state)
                    if stack is not None:
                        seen.add(bill)
                        yield key, stack
                continue
            if at + 1 < len(order):
                number += 1
                heappush(
                    heap,
                    (
                        self.key(sums[at + 1], state.joints, abs(state.error)),
                        state.left - 1,
                        number,
                        state,
                        order,
                        at + 1,
                        sums,
                    ),
                )
            child = self._take(state, order[at])
            if child is not None:
                number += 1
                if child.node != state.node and child.before >> child.node & 1:
                    # The node was passed before: no loops again, which the row without them knows.
                    row = int(tables.leave[child.left, child.node, child.mode])
                    least = child.spent + int(cells[row * width + 1 + child.free])
                    if least > cap:
                        continue
                    key = max(key, self.key(least, child.joints, abs(child.error)))
                heappush(heap, (key, child.left, number, child, None, 0, None))

    def _roots(self) -> list[tuple[tuple[int, int, int], int, int, int]]:
        """The numbers of parts and lengths that a stack can have, best bound first: key, parts, free
        length, error.
        """
        tables = self.tables
        found = []
        for left in range(self.problem.most_parts + 1):
            row = int(tables.enter[left, self.problem.start, 0])
            if not row:
                continue
            begin = row * tables.width + 1
            least = tables.cells[begin : begin + tables.axis.top + 1].tolist()
            for free, error in tables.axis.roots:
                if least[free] <= tables.cap:
                    found.append((self.key(least[free], left + 1, abs(error)), left, free, error))
        found.sort()
        return found

    def _children(self, state: State) -> tuple[list[int], list[int]] | None:
        """The moves that can still end within the budget, by their bound."""
        tables = self.tables
        moves = tables.moves.get(state.node)
        if moves is None:
            return None
        begin = state.begin
        where = tables.base(state.left, state.node, state.mode)[begin:] + state.free
        where[moves.length[begin:] > state.free] = 0
        sums = tables.cells[where].astype(np.int64)
        sums += moves.price[begin:]
        room = tables.cap - state.spent
        good = np.nonzero(sums <= room)[0]
        if not len(good):
            return None
        some = sums[good]
        order = np.argsort(some, kind="stable")
        return (good[order] + begin).tolist(), (some[order] + state.spent).tolist()

    def _fits(self, piece: int) -> int:
        """The nodes at which a piece is a loop, as a bit set."""
        found = self.fitting.get(piece)
        if found is None:
            found = 0
            for arc in self.index.pieces[piece].arcs:
                if arc.start == arc.end:
                    found |= 1 << arc.start
            self.fitting[piece] = found
        return found

    def raised(self, state: State) -> int:  # noqa: ARG002  (What it may read is for those that override it.)
        """A bound of a state's money that has come to be known since it was put on the heap."""
        return 0

    def dominated(self, state: State) -> bool:  # noqa: ARG002  (What it may read is for those that override it.)
        """Whether a state can be left out for another one; never here, where every stack is wanted."""
        return False

    def _take(self, state: State, at: int) -> State | None:
        """The state behind a move, or None where quantities, shims, mass or the canonical order forbid it."""
        index, tables = self.index, self.tables
        moves = tables.moves[state.node]
        entry, to, item = moves.entry[at], moves.to[at], moves.item[at]
        left, node = state.left - 1, state.node
        if item >= 0:
            mode = tables.modes.item_after[state.mode][item]
            passed = state.before | 1 << node
            begin = self._ways(to) if passed >> to & 1 else 0
            return state._replace(
                left=left,
                node=to,
                mode=mode,
                begin=begin,
                before=passed,
                path=(*state.path, -1 - (item * self.problem.nodes + to)),
            )
        piece = int(index.piece[entry])
        bought, shims = bool(index.bought[entry]), state.shims
        whole = index.pieces[piece]
        loop = to == node
        if loop and self._fits(piece) & state.before & ~(1 << node):
            return None  # It fits at a node that was passed before, and is counted there.
        if moves.twin[at] and state.begin != at:
            return None  # The first of two equal copies is used first.
        before = [
            one
            for one in state.path
            if one >= 0 and index.piece[one] == piece and index.bought[one] == bought
        ]
        if len(before) >= (whole.buyable if bought else whole.owned):
            self.refused[piece] += 1
            return None
        if whole.shim:
            shims += 1
            if shims > self.problem.most_shims:
                self.refused[SHIMS] += 1
                return None
        mass = state.mass + whole.mass
        mode = tables.modes.after[moves.group[at]][state.mode]
        free = state.free - int(moves.length[at])
        if self.limit is not None and self.mass_behind is not None:
            least = int(self.mass_behind[left, to, tables.modes.state(mode)])
            if mass + least > self.limit:
                self.refused[MASS] += 1
                return None
            if self.mass_tables is not None:
                other = self.mass_tables
                row = int(other.enter[left, to, mode])
                if mass + int(other.cells[row * other.width + 1 + free]) * other.unit > self.limit:
                    self.refused[MASS] += 1
                    return None
        if loop:
            begin = at if bought else at + 1
            passed = state.before
        else:
            passed = state.before | 1 << node
            begin = self._ways(to) if passed >> to & 1 else 0
        spent, path = state.spent + int(moves.price[at]), (*state.path, entry)
        return State(
            left, to, mode, free, spent, begin, passed, path, mass, shims, state.joints, state.error
        )  # fmt: skip

    def _ways(self, node: int) -> int:
        """Where the ways out begin among the moves of a node."""
        moves = self.tables.moves.get(node)
        return moves.ways if moves is not None else 0

    def _stack(self, state: State) -> Stack | None:
        """The stack of a complete chain, or None where it is none: an owned copy left unused while one was
        bought, or joints that do not all close.
        """
        problem, index = self.problem, self.index
        counts: Counter[int] = Counter()
        bought: Counter[int] = Counter()
        for entry in state.path:
            if entry >= 0:
                counts[int(index.piece[entry])] += 1
                bought[int(index.piece[entry])] += int(index.bought[entry])
        lines = []
        money = 0
        for piece in sorted(counts):
            whole = index.pieces[piece]
            paid = max(0, counts[piece] - whole.owned)
            if paid != bought[piece]:
                return None
            lines.append(Line(whole.number, paid, counts[piece] - paid))
            money += paid * (whole.price or 0)
        if self.limit is not None and state.mass > self.limit:
            self.refused[MASS] += 1
            return None
        uses = self._place(state.path)
        if uses is None:
            return None
        length = problem.target + state.error
        return Stack(uses, length, state.error, money, state.joints, state.mass, tuple(lines))

    def _place(self, path: tuple[int, ...]) -> tuple[Use, ...] | None:
        """The pieces in an order in which all joints close, or None where there is none."""
        index, problem = self.index, self.problem
        walk: list[tuple[Piece | Required, int, int]] = []
        rings: list[int] = []
        shims: list[int] = []
        node = problem.start
        for entry in path:
            if entry < 0:
                item, end = divmod(-1 - entry, problem.nodes)
                walk.append((problem.required[item], node, end))
                node = end
                continue
            piece, end = int(index.piece[entry]), int(index.end[entry])
            if index.start[entry] == end:
                (shims if index.shim[entry] else rings).append(piece)
                continue
            walk.append((index.pieces[piece], node, end))
            node = end
        return placed(problem, walk, [index.pieces[piece] for piece in (*shims, *sorted(rings))])
