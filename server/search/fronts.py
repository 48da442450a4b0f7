"""The Pareto front of a problem: stacks of which none is beaten in every measure by another.

Of error, money and joints: one best-first enumeration by money. When a stack leaves the heap, whatever is
not yet enumerated costs at least as much; so a state is left out as soon as a stack already found has no
more joints and no greater error (epsilon-constraint method: Haimes, Lasdon, Wismer, IEEE Trans. Systems,
Man, and Cybernetics 1 (1971), 296-297). Joints and error of a state are known from its root, so this costs
one look into a small table. What a budget leaves out can only be new with fewer joints than the cheapest
stack without error; the next pass therefore allows fewer parts, until nothing is left that could be new.

With mass as the fourth measure the mass is known at the end only. Tables of the least mass, and of money
plus a rate times mass for a few rates (Lagrangean bounds of the two measures together), say how much money
a state must at least spend to come in below the lightest stack found so far with no more joints and no
greater error; a state waits until the enumeration has come to that sum. The points are found in the order
of money, so that a search that is stopped or limited by a budget has the whole front up to there. The
number of steps may grow exponentially with the number of parts that trade money for mass; a limit of steps
ends it, and the front is then not called complete.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import replace

import numpy as np

from server.search.bounds import Bounds
from server.search.deepening import settled
from server.search.index import Index, Ints
from server.search.passes import Ground, Passes, Tally
from server.search.placing import can_bottom
from server.search.problem import MEASURES, Front, Problem, Stack
from server.search.tables import Tables
from server.search.walks import Enumeration, State

RATES = (3, 12)  # Money per gram, in tenths of the median price over the median mass; more gain nothing.
MOST_FRONT_STEPS = 1_000_000  # About half a minute; the page shows the front as it grows and can stop it.
NO_MASS = 1 << 40

FrontProgress = Callable[[Front], bool]


class Found:
    """The points found so far, and how light a stack must be to be a new one."""

    def __init__(self, problem: Problem, with_mass: bool) -> None:
        self.with_mass = with_mass
        self.stacks: dict[tuple[int, ...], Stack] = {}
        self.errors = max(problem.tolerance) + 1
        self.below: list[list[int]] = [[NO_MASS] * self.errors for _ in range(problem.most_parts + 2)]

    def vector(self, stack: Stack) -> tuple[int, ...]:
        """What a stack is compared by: money, joints, error, and mass where it counts."""
        three = (stack.money, stack.joints, abs(stack.error))
        return (*three, stack.mass) if self.with_mass else three

    def add(self, stack: Stack) -> None:
        """Take in a stack that costs at least as much as every one before it."""
        mass = stack.mass if self.with_mass else -1
        if mass >= self.below[stack.joints][abs(stack.error)]:
            return
        self.stacks.setdefault(self.vector(stack), stack)
        for row in self.below[stack.joints :]:
            for error in range(abs(stack.error), self.errors):
                row[error] = min(row[error], mass)

    def points(self, measures: Sequence[str]) -> tuple[Stack, ...]:
        """The points that no other beats, in the order of the measures."""
        vectors = list(self.stacks)
        kept = [
            vector
            for vector in vectors
            if not any(
                other != vector and all(a <= b for a, b in zip(other, vector, strict=True))
                for other in vectors
            )
        ]
        return tuple(sorted((self.stacks[vector] for vector in kept), key=lambda stack: stack.key(measures)))


class Light(Enumeration):
    """The enumeration by money of those chains that can still be lighter than what was found."""

    def __init__(
        self,
        problem: Problem,
        index: Index,
        tables: Tables,
        masses: Bounds | None,
        found: Found,
        mass: Tables,
        rated: list[tuple[int, Tables]],
    ) -> None:
        super().__init__(problem, index, tables, masses)
        self.found, self.mass, self.rated = found, mass, rated
        self.expanded: dict[tuple[object, ...], list[tuple[int, int, int, int, int]]] = {}
        self.own = sum(item.mass for item in problem.required)
        self.seated = can_bottom(problem, index.pieces)
        self.kinds: dict[Hashable, int] = {}
        self.kind_of: dict[int, int] = {}

    def _children(self, state: State) -> tuple[list[int], list[int]] | None:
        """The moves that can still end within the budget and lighter than what was found, by their bound."""
        tables = self.tables
        moves = tables.moves.get(state.node)
        if moves is None:
            return None
        begin, place = state.begin, (state.left, state.node, state.mode)
        where = tables.base(*place)[begin:] + state.free
        where[moves.length[begin:] > state.free] = 0
        sums = tables.cells[where].astype(np.int64) + moves.price[begin:]
        good = np.nonzero(sums <= tables.cap - state.spent)[0]
        below = self.found.below[state.joints][abs(state.error)]
        if self.limit is not None:
            below = min(below, self.limit + 1)
        at = good + begin
        some = sums[good] + state.spent
        if len(good) and below < NO_MASS:
            least = self._least(self.mass, place, at, state.free) + state.mass
            keep = least < below
            at, some = at[keep], some[keep]
            for rate, rated in self.rated:
                if not len(at):
                    break
                total = self._least(rated, place, at, state.free)
                total += state.spent * tables.unit + rate * (state.mass - self.own)
                money = total - rate * (below - 1 - self.own)
                np.maximum(some, -(-money // tables.unit), out=some)
            keep = some <= tables.cap
            at, some = at[keep], some[keep]
        if not len(at):
            return None
        order = np.argsort(some, kind="stable")
        return at[order].tolist(), some[order].tolist()

    def raised(self, state: State) -> int:
        """The least money with which a state can still come in lighter than what has been found since."""
        below = self.found.below[state.joints][abs(state.error)]
        if below >= NO_MASS:
            return 0
        place = (state.left, state.node, state.mode)
        if state.mass + self._cell(self.mass, state, place) >= below:
            return self.tables.cap + 1
        money, heavier = 0, below - 1 - state.mass
        for rate, rated in self.rated:
            money = max(money, self._cell(rated, state, place) - rate * heavier)
        return state.spent + -(-money // self.tables.unit)

    def _cell(self, tables: Tables, state: State, place: tuple[int, int, int]) -> int:
        """The least sum of a measure from a state on."""
        moves = tables.moves.get(state.node)
        row = tables.enter[place]
        if state.begin and moves is not None:
            layer = moves.layer[state.begin - 1]
            if layer or state.begin >= moves.ways:
                row = tables.leave[place] + max(0, layer - 1)
        return int(tables.cells[row * tables.width + 1 + state.free]) * tables.unit

    def dominated(self, state: State) -> bool:
        """Whether a state that was expanded before can do all that this one can, at no more of any measure.

        Both have the same parts and length left at the same node, have passed the same nodes by the same
        ways, and have as many shims and the same kinds of loops, so that shims find their joints alike, and
        threads too where one may bottom: the ways then in the same order. The
        other one has used loops of lower columns only, so that it may still take every loop that this one
        may.
        """
        index, moves = self.index, self.tables.moves.get(state.node)
        ways, loops, last = [], [], -1
        if moves is not None and state.begin < len(moves.entry):
            last = moves.entry[state.begin]
        for entry in state.path:
            if entry >= 0 and index.start[entry] == index.end[entry]:
                loops.append(self._kind(int(index.piece[entry])))
            else:
                ways.append(entry)
        if not self.seated:
            ways.sort()
            if self.problem.most_shims < 2:
                loops.clear()
        place = (*state[:4], state.before, state.shims, tuple(ways), tuple(sorted(loops)))
        column = state.begin * 64 + (state.path.count(last) if last >= 0 else 0)
        own = (state.joints, abs(state.error), state.spent, state.mass, column)
        others = self.expanded.setdefault(place, [])
        for a, b, c, d, e in others:
            if a <= own[0] and b <= own[1] and c <= own[2] and d <= own[3] and e <= own[4]:
                return True
        others.append(own)
        return False

    def _kind(self, piece: int) -> int:
        """The same for loops that close the same joints."""
        found = self.kind_of.get(piece)
        if found is None:
            whole = self.index.pieces[piece]
            kind: tuple[Hashable, ...] = (self._fits(piece), whole.shim)
            if self.seated:
                kind = (*kind, whole.arcs, whole.shim and whole.length)
            found = self.kind_of[piece] = self.kinds.setdefault(kind, len(self.kinds))
        return found

    def _least(self, tables: Tables, place: tuple[int, int, int], at: Ints, free: int) -> Ints:
        """The least sum of another measure over a move and all behind it."""
        moves = tables.moves[place[1]]
        least: Ints = tables.cells[tables.base(*place)[at] + free].astype(np.int64) + moves.price[at]
        least *= tables.unit
        return least


class FrontPasses(Passes):
    """The passes of one front."""

    def __init__(
        self,
        ground: Ground,
        tally: Tally,
        measures: Sequence[str],
        found: Found,
        progress: FrontProgress | None,
    ) -> None:
        super().__init__(ground, tally, None)
        self.measures, self.found, self.show = measures, found, progress

    def enumeration(self, tables: Tables) -> Enumeration:
        """The enumeration of one pass."""
        ground, found = self.ground, self.found
        if not found.with_mass:
            walk = Enumeration(ground.problem, ground.index, tables, ground.masses)
            walk.beaten = lambda state: found.below[state.joints][abs(state.error)] < 0
            return walk
        index = ground.index
        mass = ground.other_tables(tables, index.mass)
        bought = tables.entries[index.bought[tables.entries]]
        price = float(np.median(index.price[bought])) if len(bought) else 1.0
        middle = float(np.median(index.mass[tables.entries])) if len(tables.entries) else 1.0
        rates = sorted({max(1, round(share / 10 * price / max(middle, 1.0))) for share in RATES})
        rated = [(rate, ground.other_tables(tables, index.price + rate * index.mass)) for rate in rates]
        walk = Light(ground.problem, index, tables, ground.masses, found, mass, rated)
        walk.beaten = lambda state: found.below[state.joints][abs(state.error)] <= state.mass
        return walk

    def one(self, budget: int | None) -> bool | None:
        """One pass; True when it went through, None when it must be run again, False when it was stopped."""
        tables = self.ground.tables(budget, self.resources)
        self.tally.passes += 1
        self.tally.cells = max(self.tally.cells, tables.size)
        walk = self.enumeration(tables)
        try:
            for _, stack in walk.run():
                if stack is not None:
                    self.found.add(stack)
                    continue
                if self.tally.steps + walk.steps > MOST_FRONT_STEPS or not self.showing():
                    return False
                if self._escalate(walk, tables):
                    return None
        finally:
            self.tally.steps += walk.steps
        return True

    def showing(self) -> bool:
        """Show the front so far; False asks to stop."""
        if self.show is None:
            return True
        return self.show(Front(self.found.points(self.measures), complete=False, work=self.tally.work()))


def front(
    problem: Problem,
    *,
    measures: Sequence[str] = ("error", "money", "joints"),
    budget: int | None = None,
    progress: FrontProgress | None = None,
    index: Index | None = None,
) -> Front:
    """The Pareto front of the stacks within the tolerance, in the order of ``measures``.

    ``measures`` are error, money and joints, and mass if wanted. ``budget`` leaves dearer stacks out of the
    front. ``progress`` is called now and then with the front so far; when it returns False that is what
    comes back, not complete. Raises ValueError for measures that are missing or unknown.
    """
    if sorted(measures) not in (sorted(MEASURES), sorted(MEASURES[:3])):
        raise ValueError(
            f"There is no front of {', '.join(measures)}; give error, money, joints, and mass if wanted."
        )
    index = index or Index(problem.pieces)
    asked = replace(problem, lead=("money", "joints", "error"))
    found, tally = Found(problem, "mass" in measures), Tally()
    ground = Ground(asked, index, *problem.tolerance)
    complete = _run(ground, tally, measures, found, budget, progress)
    return Front(found.points(measures), complete, budget, tally.work())


def _run(
    ground: Ground,
    tally: Tally,
    measures: Sequence[str],
    found: Found,
    budget: int | None,
    progress: FrontProgress | None,
) -> bool:
    """Deepen the budget until nothing that is left out could be new; whether that was reached."""
    below = -1
    resources: list[tuple[int, int]] = []
    while True:
        if ground.axis.top < 0 or ground.least_parts is None or not ground.axis.roots:
            return True
        following: int | None = next((b for b in ground.budgets() if b is None or b > below), None)
        if budget is not None and (following is None or following > budget):
            following = budget
        passes = FrontPasses(ground, tally, measures, found, progress)
        passes.resources = resources
        if not settled(passes.one, following):
            return False
        if following is None or following == budget:
            return True
        below = following
        if not found.with_mass:
            fewer = _fewer(ground, found)
            if fewer is None:
                return True
            ground = fewer


def _fewer(ground: Ground, found: Found) -> Ground | None:
    """The same search with only as many parts and as much error as a new point can have; None where none
    can be.
    """
    problem = ground.problem
    least = ground.least_parts or 0
    nearest = min(abs(error) for _, error in ground.axis.roots)
    open_joints = [
        joints
        for joints in range(least + 1, problem.most_parts + 2)
        if found.below[joints][nearest] == NO_MASS
    ]
    if not open_joints:
        return None
    parts = max(open_joints) - 1
    if parts == problem.most_parts:
        return ground
    return Ground(replace(problem, most_parts=parts), ground.index, *problem.tolerance)
