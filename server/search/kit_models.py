"""The integer models of a kit: which kits there are for a sum of money, and which stacks share most joints.

Both describe a stack exactly. In the first, only what changes the connection and the required items have
positions (a unit of flow through layers, one a position, so that a connection may be passed twice); the
rings that keep it are counted, since they commute: as many as there are copies at a connection that is
passed, and a shim at a connection for each joint there. In the second every piece has a position, and the
unit of flow runs from neighbour to neighbour: its columns are the joints.
"""

from collections import defaultdict
from dataclasses import dataclass, replace
from math import gcd, inf

from server.search.bounds import FAR
from server.search.index import Index
from server.search.kit_fixing import usable
from server.search.kit_planner import MOST_KITS, Buy, Kit, Planner, owning
from server.search.kit_prices import Split, split_prices
from server.search.mixed import Model
from server.search.passes import Ground
from server.search.problem import Line, Problem, Stack, Use

MOST_COLUMNS = 60_000  # A larger model is not begun; its bound is then the trivial one.

Terms = dict[int, float]


@dataclass(frozen=True, slots=True)
class Found:
    """The kits of the least money, whether that is proven, what no kit costs less than, and whether these
    are all kits of that money.
    """

    kits: tuple[Buy, ...]
    proven: bool
    bound: int
    all_kits: bool


class Purchases:
    """The shared columns: one for each copy that can be bought, the first copy before the second."""

    def __init__(self, model: Model, planner: Planner, unit: int) -> None:
        self.model, self.planner, self.unit = model, planner, unit
        self.columns: dict[int, list[int]] = {}

    def of(self, number: int, most: int) -> list[int]:
        """The columns of a piece, up to ``most`` copies."""
        piece = self.planner.pieces[number]
        known = self.columns.setdefault(number, [])
        while len(known) < min(piece.buyable, most):
            known.append(self.model.column(cost=(piece.price or 0) // self.unit))
            if len(known) > 1:
                self.model.at_most(0, {known[-1]: 1, known[-2]: -1})
        return known

    def buy(self, values: tuple[int, ...]) -> Buy:
        """What a solution buys."""
        counts = {number: sum(values[one] for one in columns) for number, columns in self.columns.items()}
        return {number: copies for number, copies in counts.items() if copies}

    def terms(self) -> Terms:
        """The money, in units."""
        return {one: float(self.model.costs[one]) for columns in self.columns.values() for one in columns}


def add_rig(model: Model, ground: Ground, most: int, shared: Purchases, least: int, alone: int) -> None:
    """The columns and rows of one rig, its problem at its shares of the prices.

    ``least`` is its cheapest stack at these, ``most`` the greatest sum at these that counts; ``alone`` is
    what it costs by itself at whole prices.
    """
    chain = Chain(model, ground, most)
    whole_price: Terms = {}
    share: Terms = {}
    for piece, terms in chain.uses.items():
        whole = ground.index.pieces[piece]
        columns = shared.of(whole.number, ground.problem.most_parts)
        model.at_most(whole.owned, [*terms.items(), *((one, -1) for one in columns)])
        whole_price |= {one: float(model.costs[one]) for one in columns}
        share |= {one: float(whole.price or 0) for one in columns}
    # What the kit holds for this rig costs no less than the rig's own cheapest stack.
    if alone:
        model.row(-(-alone // shared.unit), inf, whole_price)
    if least:
        model.row(least, inf, share)


class Chain:
    """The columns of one rig in the model of kits: a unit of flow through layers, and counted loops."""

    def __init__(self, model: Model, ground: Ground, most: int) -> None:
        self.model, self.ground, self.most = model, ground, most
        self.uses: dict[int, Terms] = defaultdict(dict)
        self.everything: list[tuple[int, int, int]] = []  # Column, length, mass.
        self.arrivals: dict[int, Terms] = defaultdict(dict)
        self.flow: dict[tuple[int, int, int], Terms] = defaultdict(dict)
        index = ground.index
        self.arcs: dict[tuple[int, int, int], int] = {}
        for entry in usable(ground, most).tolist():
            name = (int(index.piece[entry]), int(index.start[entry]), int(index.end[entry]))
            self.arcs[name] = min(self.arcs.get(name, FAR), int(index.price[entry]))
        self._moves()
        self._balances()
        self._loops()
        self._limits()

    def _moves(self) -> None:
        """A column for each arc and required item in each layer and state."""
        problem, orders, pieces = self.ground.problem, self.ground.orders, self.ground.index.pieces
        for layer in range(problem.most_parts):
            for state, following in enumerate(orders.step):
                for (piece, start, end), price in self.arcs.items():
                    column = self._move(layer, start, end, state, state, price) if start != end else None
                    if column is not None:
                        self.uses[piece][column] = 1
                        self.everything.append((column, pieces[piece].length, pieces[piece].mass))
                for item, after in following.items():
                    required = problem.required[item]
                    for start, end in dict.fromkeys((arc.start, arc.end) for arc in required.arcs):
                        column = self._move(layer, start, end, state, after, 0)
                        if column is not None:
                            self.everything.append((column, required.length, required.mass))

    def _move(self, layer: int, start: int, end: int, state: int, after: int, price: int) -> int | None:
        """The column of a move, None where no stack for the money passes it."""
        money, left = self.ground.money, self.ground.problem.most_parts - layer - 1
        if money.ahead[layer, start, state] + price + money.behind[left, end, after] > self.most:
            return None
        column = self.model.column()
        self.flow[layer, start, state][column] = -1
        self.flow[layer + 1, end, after][column] = 1
        self.arrivals[end][column] = 1
        return column

    def _balances(self) -> None:
        """What comes to a place leaves it, unless the stack ends there."""
        problem, model = self.ground.problem, self.model
        begin = (0, problem.start, 0)
        self.flow[begin].update({})
        for place, terms in self.flow.items():
            here = 1 if place == begin else 0
            # The chain may end only where the end is shown with everything required behind it.
            ends = place[1] == problem.end and place[2] == self.ground.orders.final
            model.row(-here, inf if ends else -here, terms)
        for place in self.flow:
            if place[0]:
                leaving = {one: 1.0 for one, sign in self.flow[place].items() if sign < 0}
                model.at_most(1, leaving)

    def _loops(self) -> None:
        """Rings and shims are counted at each connection that is passed, a shim for each joint there."""
        problem, model, arrivals = self.ground.problem, self.model, self.arrivals
        rings: dict[int, Terms] = defaultdict(dict)
        shims: list[tuple[int, int]] = []
        for piece, start, end in self.arcs:
            whole = self.ground.index.pieces[piece]
            if start != end or not (start in arrivals or start == problem.start):
                continue
            most_here = min(whole.copies, problem.most_shims if whole.shim else problem.most_parts)
            column = model.column(most_here)
            self.uses[piece][column] = 1
            self.everything.append((column, whole.length, whole.mass))
            if whole.shim:
                shims.append((column, start))
                continue
            rings[start][column] = 1
            if start != problem.start:
                model.at_most(0, [(column, 1), *((one, -most_here) for one in arrivals[start])])
        model.at_most(problem.most_shims, [(column, 1) for column, _ in shims])
        for node in {node for _, node in shims}:
            terms = {column: 1.0 for column, at in shims if at == node}
            terms |= dict.fromkeys(arrivals[node], -1.0) | dict.fromkeys(rings[node], -1.0)
            model.at_most(1 if node == problem.start else 0, terms)

    def _limits(self) -> None:
        """Length, number of parts, mass."""
        problem, model = self.ground.problem, self.model
        short, long = problem.tolerance
        lengths = {column: float(length) for column, length, _ in self.everything}
        model.row(problem.target - short, problem.target + long, lengths)
        model.at_most(problem.most_parts, {column: 1.0 for column, _, _ in self.everything})
        if problem.greatest_mass is not None:
            masses = {column: float(mass) for column, _, mass in self.everything}
            model.at_most(problem.greatest_mass, masses)


def kits_of(planner: Planner, alone: list[int], buy: Buy) -> Found:
    """The cheapest kits; ``buy`` is one that works, ``alone`` what each rig costs by itself."""
    floor, money = max(alone), planner.money(buy)
    if not money:
        return Found((buy,), proven=True, bound=0, all_kits=True)
    unit = gcd(*((piece.price or 0) for piece in planner.pieces.values() if piece.buyable)) or 1
    split = split_prices(planner, buy, unit)
    kits, money = [split.buy], planner.money(split.buy)
    floor = max(floor, -(-split.bound // unit) * unit)
    if money > floor:
        model, shared = _kit_model(planner, split, alone, money - unit, unit)
        if model is None or shared is None:
            return Found(tuple(kits), proven=False, bound=floor, all_kits=False)
        model.row(floor // unit, money // unit - 1, shared.terms())
        solved = model.solve(planner.left())
        if solved.values is not None:
            kits = [shared.buy(solved.values)]
            money = planner.money(kits[0])
        if not solved.closed:
            bound = max(floor, min(money, solved.least * unit))
            return Found(tuple(kits), proven=False, bound=bound, all_kits=False)
    model, shared = _kit_model(planner, split, alone, money, unit)
    if model is None or shared is None:
        return Found(tuple(kits), proven=True, bound=money, all_kits=False)
    model.row(money // unit, money // unit, shared.terms())
    while len(kits) < MOST_KITS:
        # Another kit of this money does not hold this one.
        last = [shared.of(number, copies)[copies - 1] for number, copies in sorted(kits[-1].items())]
        model.at_most(len(last) - 1, dict.fromkeys(last, 1.0))
        solved = model.solve(planner.left())
        if solved.values is None:
            return Found(tuple(kits), proven=True, bound=money, all_kits=solved.closed)
        kits.append(shared.buy(solved.values))
    return Found(tuple(kits), proven=True, bound=money, all_kits=False)


def _kit_model(
    planner: Planner, split: Split, alone: list[int], most: int, unit: int
) -> tuple[Model | None, Purchases | None]:
    """The model of all rigs with purchases shared; None where it would be too large.

    In a kit of at most this money every rig's stack costs, at its shares, no more than what the others'
    least leave of it.
    """
    model = Model()
    shared = Purchases(model, planner, unit)
    for problem, least, by_itself in zip(split.problems, split.parts, alone, strict=True):
        ground = Ground(problem, Index(problem.pieces), *problem.tolerance)
        add_rig(model, ground, most - (split.bound - least), shared, least, by_itself)
        if len(model.costs) > MOST_COLUMNS:
            return None, None
    return model, shared


@dataclass(slots=True)
class Step:
    """A piece or required item in a position: who it is, where it leads, and what it adds."""

    name: tuple[int, ...]
    start: int
    end: int
    item: int
    use: Use
    mass: int


class Sequence:
    """The columns of one rig in the model of joints: a unit of flow from neighbour to neighbour."""

    def __init__(
        self, model: Model, problem: Problem, ends: tuple[tuple[int, ...], ...], weight: int
    ) -> None:
        self.problem, self.model, self.weight = problem, model, weight
        self.ground = Ground(problem, Index(problem.pieces), *problem.tolerance)
        self.steps = self._steps()
        self.joints: dict[tuple[tuple[int, ...], tuple[int, ...]], list[int]] = defaultdict(list)
        self.edges: dict[int, tuple[int, int, int]] = {}  # Column: layer, step before, step behind.
        self.front, self.back = (0, *ends[0]), (3, *ends[1])
        self._flow()
        self._limits()

    def _steps(self) -> list[Step]:
        """Everything that can be in a position."""
        problem, index = self.problem, self.ground.index
        found = []
        for entry in self.ground.possible.nonzero()[0].tolist():
            piece = index.pieces[int(index.piece[entry])]
            way, start, end = int(index.arc[entry]), int(index.start[entry]), int(index.end[entry])
            use = Use(piece.number, way, start, end, piece.length, shim=piece.shim)
            found.append(Step((1, piece.number, way), start, end, -1, use, piece.mass))
        for item, required in enumerate(problem.required):
            seen = set()
            for at, arc in enumerate(required.arcs):
                if (arc.start, arc.end) not in seen:
                    seen.add((arc.start, arc.end))
                    use = Use(required.number, at, arc.start, arc.end, required.length, required=True)
                    name = (2, required.number, at)
                    found.append(Step(name, arc.start, arc.end, item, use, required.mass))
        return found

    def _flow(self) -> None:
        """One column for each pair of neighbours in each position and state of the required items."""
        problem, ground, model = self.problem, self.ground, self.model
        parts, final = problem.most_parts, ground.orders.final
        behind = ground.money.behind
        by_node: dict[int, list[int]] = defaultdict(list)
        for at, step in enumerate(self.steps):
            by_node[step.start].append(at)
        here: dict[tuple[int, int], Terms] = {(-1, 0): {}}
        ending: Terms = {}
        for layer in range(parts + 1):
            after: dict[tuple[int, int], Terms] = defaultdict(dict)
            for (at, state), arriving in here.items():
                node = self.steps[at].end if at >= 0 else problem.start
                name = self.steps[at].name if at >= 0 else self.front
                leaving: Terms = {}
                if node == problem.end and state == final:
                    column = self._edge(layer, at, -1, name, self.back)
                    leaving[column] = ending[column] = 1
                for to in by_node[node] if layer < parts else ():
                    step = self.steps[to]
                    if step.use.shim and at >= 0 and self.steps[at].use.shim:
                        continue
                    if step.item >= 0 and step.item not in ground.orders.step[state]:
                        continue
                    then = ground.orders.step[state][step.item] if step.item >= 0 else state
                    if behind[parts - layer - 1, step.end, then] >= FAR:
                        continue
                    column = self._edge(layer, at, to, name, step.name)
                    leaving[column] = after[to, then][column] = 1
                if layer:
                    model.row(0, 0, arriving | dict.fromkeys(leaving, -1.0))
                else:
                    model.row(1, 1, leaving)
            here = dict(after)
        model.row(1, 1, ending)

    def _edge(self, layer: int, at: int, to: int, one: tuple[int, ...], other: tuple[int, ...]) -> int:
        """A column for a joint in a position."""
        column = self.model.column(cost=self.weight)
        self.edges[column] = (layer, at, to)
        self.joints[one, other].append(column)
        return column

    def _limits(self) -> None:
        """Length, copies, shims, mass."""
        problem, model, index = self.problem, self.model, self.ground.index
        into: dict[int, list[int]] = defaultdict(list)
        for column, (_, _, to) in self.edges.items():
            if to >= 0:
                into[to].append(column)
        copies = {piece.number: piece.owned for piece in index.pieces}
        uses: dict[int, Terms] = defaultdict(dict)
        lengths: Terms = {}
        masses: Terms = {}
        shims: Terms = {}
        for to, columns in into.items():
            step = self.steps[to]
            for column in columns:
                lengths[column], masses[column] = step.use.length, step.mass
                if step.item < 0:
                    uses[step.use.number][column] = 1
                if step.use.shim:
                    shims[column] = 1
        model.row(problem.target - problem.tolerance[0], problem.target + problem.tolerance[1], lengths)
        if problem.greatest_mass is not None:
            model.at_most(problem.greatest_mass, masses)
        model.at_most(problem.most_shims, shims)
        for number, terms in uses.items():
            model.at_most(copies[number], terms)

    def stack(self, values: tuple[int, ...]) -> Stack:
        """The stack of a solution."""
        chosen = sorted(edge for column, edge in self.edges.items() if values[column])
        steps = [self.steps[to] for _, _, to in chosen if to >= 0]
        length = sum(step.use.length for step in steps)
        counts: dict[int, int] = defaultdict(int)
        for step in steps:
            if step.item < 0:
                counts[step.use.number] += 1
        bill = tuple(Line(number, 0, copies) for number, copies in sorted(counts.items()))
        mass = sum(step.mass for step in steps)
        uses = tuple(step.use for step in steps)
        return Stack(uses, length, length - self.problem.target, 0, len(uses) + 1, mass, bill)


def fewest_undone(planner: Planner, buy: Buy, best: Kit) -> tuple[Kit | None, bool, int]:
    """The stacks of a kit with fewer joints undone than ``best``, or None; whether that is proven; and what
    no stacks of this kit come below.
    """
    count = len(planner.rigs)
    if count == 1:
        return None, True, 0
    model = Model()
    half = 2 if count % 2 else 1
    rows: list[Sequence] = []
    for at, rig in enumerate(planner.rigs):
        pieces = owning(rig.problem.pieces, buy, only=True)
        ends = tuple((-2, at) if number is None else (-1, number) for number in (rig.front, rig.back))
        # A joint is undone in the change to each other rig that does not have it. With an odd number of rigs
        # the sum is even, and half of it is counted.
        rows.append(Sequence(model, replace(rig.problem, pieces=pieces), ends, (count - 1) // half))
        if len(model.costs) > MOST_COLUMNS:
            return None, False, 0
    for a, one in enumerate(rows):
        for other in rows[a + 1 :]:
            for joint in sorted(set(one.joints) & set(other.joints)):
                kept = model.column(one.problem.most_parts + 1, cost=-2 // half, whole=False)
                for row in (one, other):
                    model.at_most(0, [(kept, 1), *((column, -1) for column in row.joints[joint])])
    costs = {column: float(cost) for column, cost in enumerate(model.costs) if cost}
    model.at_most((best.joints_undone - 1) // half, costs)
    solved = model.solve(planner.left())
    bound = best.joints_undone if solved.bound == inf else half * solved.least
    if solved.values is None:
        return None, solved.closed, bound
    kit = planner.kit(buy, [row.stack(solved.values) for row in rows])
    return kit, solved.closed, min(bound, kit.joints_undone)
