"""What the Bridge's search is measured against: general solvers on an exact model in layers.

One layer for each position in the stack, one 0/1 variable for each way to fill it with a piece or a required
item, the connections from layer to layer as clauses (CP-SAT) or as a flow (HiGHS), so that a connection may
be passed twice. Where copies are counted they are 0/1 variables too ("at least j copies are used"), which
makes a bill of materials that was found easy to forbid. Of two formulations that were tried for CP-SAT, this
one and the connections as a flow, it was the quicker one for the single best at 5,000 parts.

The time of a rival is the processor time of its solver alone: what it takes to write the model down in Python
is not counted.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from server.search.index import Index
from server.search.mixed import Model
from server.search.passes import Ground
from server.search.problem import Problem
from tests.search.oracles import Bill, Option, options, priced

Key = tuple[int, ...]


@dataclass(frozen=True)
class Answer:
    """What a rival says: its keys in order, best first; whether it proved them; its processor time in s."""

    keys: tuple[Key, ...]
    proven: bool
    seconds: float


def weights(problem: Problem) -> tuple[int, int, int]:
    """Weights that make one whole number of money, joints and error, in this order."""
    error = max(problem.tolerance) + 1
    return (problem.most_parts + 2) * error, error, 1


def everything(problem: Problem) -> list[list[Option]]:
    """All ways to fill each position: nothing is known beforehand."""
    return [options(problem)] * problem.most_parts


def fixed(problem: Problem, budget: int) -> list[list[Option]]:
    """The ways to fill each position that can lie on a chain of no more than ``budget``: the bounds without
    lengths of the search itself, position by position (reduced-cost fixing).
    """
    money = Ground(problem, Index(problem.pieces), *problem.tolerance).money
    found = []
    for place in range(problem.most_parts):
        behind = money.behind[problem.most_parts - 1 - place]
        through = (money.ahead[place][:, None, :] + behind[None, :, :]).min(axis=2)
        kept = []
        for way in options(problem):
            price = 0
            if way.piece is not None and not problem.pieces[way.piece].owned:
                price = problem.pieces[way.piece].price or 0
            if way.item is not None or through[way.start, way.end] + price <= budget:
                kept.append(way)
        found.append(kept)
    return found


class CpSat:
    """The model for OR-Tools CP-SAT, one worker, nothing tuned. With ``many`` bills can be forbidden."""

    def __init__(
        self,
        problem: Problem,
        ways: Sequence[Sequence[Option]],
        budget: int | None = None,
        *,
        many: bool = False,
    ) -> None:
        from ortools.sat.python import cp_model

        self.problem = problem
        self.model = model = cp_model.CpModel()
        parts = problem.most_parts
        add = cp_model.LinearExpr.sum
        fill = [[model.new_bool_var("") for _ in row] for row in ways]
        free = [model.new_bool_var("") for _ in range(parts)]
        for place in range(parts):
            model.add_exactly_one([*fill[place], free[place]])
            if place:
                model.add_implication(free[place - 1], free[place])
        at: list[list[Any]] = [
            [model.new_bool_var("") for _ in range(problem.nodes)] for _ in range(parts + 1)
        ]
        model.add(at[0][problem.start] == 1)
        model.add(at[parts][problem.end] == 1)
        for place, layer in enumerate(at):
            model.add_exactly_one(layer)
            into: list[list[Any]] = [[one.negated()] for one in layer]
            out: list[list[Any]] = [[one.negated()] for one in layer]
            if place:
                for way, one in zip(ways[place - 1], fill[place - 1], strict=True):
                    into[way.end].append(one)
                # Where the stack has ended, its end stays.
                into[problem.end].append(free[place - 1])
            if place < parts:
                for way, one in zip(ways[place], fill[place], strict=True):
                    out[way.start].append(one)
                out[problem.end].append(free[place])
            for literals in [*(into if place else ()), *(out if place < parts else ())]:
                model.add_exactly_one(literals)
        every = [pair for row, given in zip(fill, ways, strict=True) for pair in zip(given, row, strict=True)]
        shims = [[f for way, f in zip(ways[p], fill[p], strict=True) if way.shim] for p in range(parts)]
        for here, following in pairwise(shims):
            model.add(add([*here, *following]) <= 1)
        model.add(add([f for row in shims for f in row]) <= problem.most_shims)
        if problem.required:
            self._required(model, ways, fill)
        by_piece: dict[int, list[Any]] = {}
        for way, one in every:
            if way.piece is not None:
                by_piece.setdefault(way.piece, []).append(one)
        self.counts: dict[int, list[Any]] = {}
        costs, prices = [], []
        for at_piece, drawn in by_piece.items():
            piece = problem.pieces[at_piece]
            most = min(piece.copies, parts)
            if many or piece.owned:
                steps = [model.new_bool_var("") for _ in range(most)]
                model.add(add(drawn) == add(steps))
                for less, more in pairwise(steps):
                    model.add_implication(more, less)
                self.counts[piece.number] = steps
                paid = steps[piece.owned :]
            else:
                self.counts[piece.number] = paid = drawn
                if most == 1:
                    model.add_at_most_one(drawn)
                elif len(drawn) > most:
                    model.add(add(drawn) <= most)
            costs += paid
            prices += [piece.price or 0] * len(paid)
        money = cp_model.LinearExpr.weighted_sum(costs, prices) if costs else 0
        if budget is not None:
            model.add(money <= budget)
        length = cp_model.LinearExpr.weighted_sum([one for _, one in every], [way.length for way, _ in every])
        error = model.new_int_var(-problem.tolerance[0], problem.tolerance[1], "")
        model.add(length - problem.target == error)
        size = model.new_int_var(0, max(problem.tolerance), "")
        model.add_abs_equality(size, error)
        by_money, by_joints, by_error = weights(problem)
        joints = parts + 1 - add(free)
        self.total = by_money * money + by_joints * joints + by_error * size
        model.minimize(self.total)

    def _required(self, model: Any, ways: Sequence[Sequence[Option]], fill: list[list[Any]]) -> None:
        """Each required item once, in one of the allowed orders."""
        orders = self.problem.allowed_orders()
        picks = [model.new_bool_var("") for _ in orders]
        model.add_exactly_one(picks)
        places = []
        for item in range(len(self.problem.required)):
            used = [
                (place, f)
                for place, row in enumerate(fill)
                for way, f in zip(ways[place], row, strict=True)
                if way.item == item
            ]
            model.add_exactly_one([f for _, f in used])
            places.append(sum(place * f for place, f in used))
        for pick, order in zip(picks, orders, strict=True):
            for first, second in pairwise(order):
                model.add(places[first] + 1 <= places[second]).only_enforce_if(pick)

    def best(self, want: int, seconds: float) -> Answer:
        """The ``want`` best stacks with different bills, each forbidden for the next, within ``seconds``.

        More than one needs a model that was made for ``many``.
        """
        from ortools.sat.python import cp_model

        keys: list[Key] = []
        took = 0.0
        ends = time.monotonic() + seconds
        while len(keys) < want:
            solver = cp_model.CpSolver()
            solver.parameters.num_workers = 1
            solver.parameters.max_time_in_seconds = max(0.1, ends - time.monotonic())
            begun = time.process_time()
            status = solver.solve(self.model)
            took += time.process_time() - begun
            if status == cp_model.INFEASIBLE:
                break
            if status != cp_model.OPTIMAL:
                return Answer(tuple(keys), False, took)
            bill: Bill = tuple(
                (number, used)
                for number, steps in sorted(self.counts.items())
                if (used := sum(solver.boolean_value(step) for step in steps))
            )
            money, joints, error, _ = priced(self.problem, bill)
            keys.append((money, joints, abs(error)))
            if len(keys) == want:
                break
            given = dict(bill)
            differs = []
            for number, steps in self.counts.items():
                used = given.get(number, 0)
                if used:
                    differs.append(steps[used - 1].negated())
                if used < len(steps):
                    differs.append(steps[used])
            self.model.add_bool_or(differs)
            # What comes next is no better; said, so that the solver need not find it out again.
            self.model.add(self.total >= round(solver.objective_value))
        return Answer(tuple(keys), True, took)


def highs(problem: Problem, ways: Sequence[Sequence[Option]], seconds: float) -> Answer:
    """The best stack by HiGHS, one thread, the same layers as a mixed-integer programme."""
    model = Model()
    parts = problem.most_parts
    by_money, by_joints, by_error = weights(problem)
    fill = [[model.column() for _ in row] for row in ways]
    # Minimised are the joints: a free position saves one, here counted as the positions that are filled.
    free = [model.column() for _ in range(parts)]
    for place in range(parts):
        model.row(1, 1, [(column, 1.0) for column in (*fill[place], free[place])])
        for column in fill[place]:
            model.costs[column] += by_joints
    for place in range(parts + 1):
        rows: list[list[tuple[int, float]]] = [[] for _ in range(problem.nodes)]
        given = [0] * problem.nodes
        if place:
            for way, column in zip(ways[place - 1], fill[place - 1], strict=True):
                rows[way.end].append((column, 1.0))
            rows[problem.end].append((free[place - 1], 1.0))
        else:
            given[problem.start] -= 1
        if place < parts:
            for way, column in zip(ways[place], fill[place], strict=True):
                rows[way.start].append((column, -1.0))
            rows[problem.end].append((free[place], -1.0))
        else:
            given[problem.end] += 1
        for row, right in zip(rows, given, strict=True):
            if row or right:
                model.row(right, right, row)
    every = [pair for row, some in zip(fill, ways, strict=True) for pair in zip(some, row, strict=True)]
    shims = [[f for way, f in zip(ways[p], fill[p], strict=True) if way.shim] for p in range(parts)]
    for one, other in pairwise(shims):
        model.at_most(1, [(column, 1.0) for column in (*one, *other)])
    model.at_most(problem.most_shims, [(column, 1.0) for row in shims for column in row])
    orders = problem.allowed_orders()
    picks = [model.column() for _ in orders]
    model.row(1, 1, [(column, 1.0) for column in picks])
    places: list[list[tuple[int, float]]] = []
    for item in range(len(problem.required)):
        chosen = [
            (place, column)
            for place, row in enumerate(fill)
            for way, column in zip(ways[place], row, strict=True)
            if way.item == item
        ]
        model.row(1, 1, [(column, 1.0) for _, column in chosen])
        places.append([(column, float(place)) for place, column in chosen])
    for pick, order in zip(picks, orders, strict=True):
        for first, second in pairwise(order):
            terms = [*places[second], *((column, -place) for column, place in places[first])]
            model.row(1 - parts, np.inf, [*terms, (pick, -float(parts))])
    by_piece: dict[int, list[int]] = {}
    for way, column in every:
        if way.piece is not None:
            by_piece.setdefault(way.piece, []).append(column)
    counts: dict[int, list[int]] = {}
    for at, drawn in by_piece.items():
        piece = problem.pieces[at]
        steps = [
            model.column(1, 0 if copy < piece.owned else by_money * (piece.price or 0))
            for copy in range(min(piece.copies, parts))
        ]
        model.row(0, 0, [*((column, 1.0) for column in drawn), *((step, -1.0) for step in steps)])
        counts[piece.number] = steps
    over = model.column(problem.tolerance[1], by_error)
    under = model.column(problem.tolerance[0], by_error)
    lengths = [(column, float(way.length)) for way, column in every]
    model.row(problem.target, problem.target, [*lengths, (over, -1.0), (under, 1.0)])
    begun = time.process_time()
    solved = model.solve(seconds)
    took = time.process_time() - begun
    if solved.values is None or not solved.closed:
        return Answer((), solved.closed, took)
    values = solved.values
    bill: Bill = tuple(
        (number, used) for number, steps in sorted(counts.items()) if (used := sum(values[s] for s in steps))
    )
    money, joints, error, _ = priced(problem, bill)
    return Answer(((money, joints, abs(error)),), True, took)
