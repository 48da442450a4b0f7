"""Independent answers to the Bridge's problem: plain enumeration, OR-Tools CP-SAT, HiGHS.

None of them shares code with the search. Plain enumeration screws every sequence of pieces together one by
one. The integer model has one layer for each position in the stack (position, piece, way to put it in), so
that a connection may be passed twice.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from server.search.problem import Arc, Outcome, Piece, Problem, Stack

Bill = tuple[tuple[int, int], ...]


def priced(problem: Problem, bill: Bill) -> tuple[int, int, int, int]:
    """(money, joints, error, mass) of a bill of materials, counted afresh."""
    pieces = {piece.number: piece for piece in problem.pieces}
    money = sum(max(0, times - pieces[number].owned) * (pieces[number].price or 0) for number, times in bill)
    parts = sum(times for _, times in bill) + len(problem.required)
    length = sum(times * pieces[number].length for number, times in bill)
    length += sum(item.length for item in problem.required)
    mass = sum(times * pieces[number].mass for number, times in bill) + sum(i.mass for i in problem.required)
    return money, parts + 1, length - problem.target, mass


def ranked(problem: Problem, bills: set[Bill]) -> list[tuple[tuple[int, ...], Bill]]:
    """The bills with their keys in the problem's lead, best first."""
    rows = []
    for bill in bills:
        money, joints, error, mass = priced(problem, bill)
        values = {"money": money, "joints": joints, "error": abs(error), "mass": mass}
        rows.append((tuple(values[name] for name in problem.lead), bill))
    return sorted(rows)


def every_bill(problem: Problem, most: int = 3_000_000) -> set[Bill] | None:
    """Every bill of materials of a stack, by plain enumeration; None where that takes more than ``most``
    steps.
    """
    short, long = problem.tolerance
    orders = problem.allowed_orders()
    by_node: dict[int, list[tuple[Piece, Arc]]] = {}
    for piece in problem.pieces:
        for arc in set(piece.arcs):
            by_node.setdefault(arc.start, []).append((piece, arc))
    ends = problem.threads or (None, None)
    bills: set[Bill] = set()
    used: Counter[int] = Counter()
    steps = 0

    def go(
        node: int,
        length: int,
        parts: int,
        mass: int,
        done: tuple[int, ...],
        shims: int,
        thread: int | None,
        lifted: int | None,
    ) -> bool:
        nonlocal steps
        steps += 1
        if steps > most:
            return False
        whole = node == problem.end and len(done) == len(problem.required)
        if whole and length >= problem.target - short and not bottoms(problem, thread, lifted, ends[1]):
            bills.add(tuple(sorted((number, times) for number, times in used.items() if times)))
        if parts == problem.most_parts:
            return True
        for item, required in enumerate(problem.required):
            following = (*done, item)
            if not any(order[: len(following)] == following for order in orders):
                continue
            for arc in set(required.arcs):
                longer, heavier = length + required.length, mass + required.mass
                if arc.start != node or longer > problem.target + long or heavier > limit:
                    continue
                if bottoms(problem, thread, lifted, arc.threads[0]):
                    continue
                if not go(arc.end, longer, parts + 1, heavier, following, shims, arc.threads[1], None):
                    return False
        for piece, arc in by_node.get(node, ()):
            longer, heavier = length + piece.length, mass + piece.mass
            if longer > problem.target + long or heavier > limit:
                continue
            if used[piece.number] >= piece.owned + (0 if piece.price is None else piece.for_sale):
                continue
            if piece.shim and (lifted is not None or shims == problem.most_shims):
                continue
            if not piece.shim and bottoms(problem, thread, lifted, arc.threads[0]):
                continue
            behind = (thread, piece.length) if piece.shim else (arc.threads[1], None)
            used[piece.number] += 1
            fine = go(arc.end, longer, parts + 1, heavier, done, shims + piece.shim, *behind)
            used[piece.number] -= 1
            if not fine:
                return False
        return True

    limit = problem.greatest_mass if problem.greatest_mass is not None else 1 << 60
    return bills if go(problem.start, 0, 0, 0, (), 0, ends[0], None) else None


def bottoms(problem: Problem, upper: int | None, shim: int | None, lower: int | None) -> bool:
    """Whether the male thread of a joint, less its shim, is longer than the female one is deep."""
    if problem.threads is None or upper is None or lower is None:
        return False
    male, female = max(upper, lower), -min(upper, lower)
    return male - (shim or 0) > female


def faults(problem: Problem, stack: Stack) -> list[str]:
    """What is wrong with a stack, screwed together afresh from its uses; empty where nothing is."""
    found = []
    pieces = {piece.number: piece for piece in problem.pieces}
    items = {item.number: at for at, item in enumerate(problem.required)}
    node, length, done = problem.start, 0, []
    used: Counter[int] = Counter()
    for use in stack.uses:
        whole: Any = problem.required[items[use.number]] if use.required else pieces[use.number]
        arc = whole.arcs[use.arc]
        if (arc.start, arc.end) != (use.start, use.end) or use.start != node or whole.length != use.length:
            found.append(f"{use} does not go onto {node}")
        node = use.end
        length += whole.length
        if use.required:
            done.append(items[use.number])
        else:
            used[use.number] += 1
    if node != problem.end or length != stack.length:
        found.append(f"ends at {node}, {length} long")
    if tuple(done) not in problem.allowed_orders():
        found.append(f"required items in the order {done}")
    found += _open_joints(problem, stack)
    if any(first.shim and second.shim for first, second in pairwise(stack.uses)):
        found.append("two shims in one joint")
    if sum(use.shim for use in stack.uses) > problem.most_shims or len(stack.uses) > problem.most_parts:
        found.append("too many shims or parts")
    for number, times in used.items():
        if times > pieces[number].copies:
            found.append(f"{times} copies of {number}")
    bill = tuple(sorted(used.items()))
    if bill != tuple((line.number, line.bought + line.owned) for line in stack.bill):
        found.append("the bill is not what is used")
    if priced(problem, bill) != (stack.money, stack.joints, stack.error, stack.mass):
        found.append(f"counted {priced(problem, bill)}, said {stack}")
    return found


def _open_joints(problem: Problem, stack: Stack) -> list[str]:
    """The joints of a stack whose thread bottoms."""
    wholes: dict[int, Any] = {whole.number: whole for whole in problem.pieces}
    wholes |= {whole.number: whole for whole in problem.required}
    above, end = problem.threads or (None, None)
    found, shim = [], 0
    for use in stack.uses:
        if use.shim:
            shim = use.length
            continue
        upper, lower = wholes[use.number].arcs[use.arc].threads
        if bottoms(problem, above, shim, upper):
            found.append(f"a thread bottoms above {use}")
        above, shim = lower, 0
    return [*found, *(["a thread bottoms at the end"] if bottoms(problem, above, shim, end) else [])]


def bill_of(stack: Stack) -> Bill:
    """The bill of a stack as the oracles write it."""
    return tuple((line.number, line.bought + line.owned) for line in stack.bill)


def keys(outcome: Outcome, problem: Problem) -> list[tuple[int, ...]]:
    """The keys of an outcome's stacks in order."""
    return [stack.key(problem.lead) for stack in outcome.best]


@dataclass(frozen=True)
class Option:
    """A way to fill a position: a piece or a required item, by one arc."""

    start: int
    end: int
    length: int
    mass: int
    piece: int | None
    item: int | None
    shim: bool


def options(problem: Problem) -> list[Option]:
    """Every way to fill a position of the layered models."""
    found = []
    for at, piece in enumerate(problem.pieces):
        if piece.copies:
            for start, end in sorted({(arc.start, arc.end) for arc in piece.arcs}):
                found.append(Option(start, end, piece.length, piece.mass, at, None, piece.shim))
    for at, item in enumerate(problem.required):
        for start, end in sorted({(arc.start, arc.end) for arc in item.arcs}):
            found.append(Option(start, end, item.length, item.mass, None, at, False))
    return found


def _weights(problem: Problem) -> dict[str, int]:
    """Weights that make one sum of the lead's three measures."""
    sizes = {
        "money": sum(piece.buyable * (piece.price or 0) for piece in problem.pieces) + 1,
        "joints": problem.most_parts + 2,
        "error": max(problem.tolerance) + 1,
    }
    weights, weight = {}, 1
    for name in reversed(problem.lead[:3]):
        weights[name] = weight
        weight *= sizes[name]
    return weights


def _split(problem: Problem, value: int) -> tuple[int, ...]:
    """The key of the lead's three measures out of their weighted sum."""
    key = []
    weights = _weights(problem)
    for name in problem.lead[:3]:
        part, value = divmod(value, weights[name])
        key.append(part)
    return tuple(key)


def cp_sat(
    problem: Problem, without: Sequence[Bill] = (), seconds: float = 60.0
) -> tuple[tuple[int, ...] | None, bool]:
    """The least key (of the lead's first three measures) of all stacks whose bill is not among ``without``,
    or None where there is none, and whether CP-SAT proved it. An exact model in layers, one worker,
    nothing tuned.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    ways = options(problem)
    parts = problem.most_parts
    fill = [[model.new_bool_var("") for _ in ways] for _ in range(parts)]
    at = [[model.new_bool_var("") for _ in range(problem.nodes)] for _ in range(parts + 1)]
    free = [model.new_bool_var("") for _ in range(parts)]
    for place in range(parts):
        model.add_exactly_one([*fill[place], free[place]])
        if place:
            model.add_implication(free[place - 1], free[place])
        for way, chosen in zip(ways, fill[place], strict=True):
            model.add_implication(chosen, at[place][way.start])
            model.add_implication(chosen, at[place + 1][way.end])
        for node in range(problem.nodes):
            model.add_bool_or([free[place].negated(), at[place][node].negated(), at[place + 1][node]])
        if place:
            shims = [f for p in (place - 1, place) for way, f in zip(ways, fill[p], strict=True) if way.shim]
            model.add(sum(shims) <= 1)
    for layer in at:
        model.add_exactly_one(layer)
    model.add(at[0][problem.start] == 1)
    model.add(at[parts][problem.end] == 1)
    model.add(
        sum(f for row in fill for way, f in zip(ways, row, strict=True) if way.shim) <= problem.most_shims
    )
    if problem.greatest_mass is not None:
        mass = sum(way.mass * f for row in fill for way, f in zip(ways, row, strict=True))
        model.add(mass <= problem.greatest_mass)
    # The required items: once each, in one of the orders.
    if problem.required:
        picks = [model.new_bool_var("") for _ in problem.allowed_orders()]
        model.add_exactly_one(picks)
        places = []
        for item in range(len(problem.required)):
            used = [sum(f for way, f in zip(ways, row, strict=True) if way.item == item) for row in fill]
            model.add(sum(used) == 1)
            places.append(sum(place * one for place, one in enumerate(used)))
        for pick, order in zip(picks, problem.allowed_orders(), strict=True):
            for first, second in pairwise(order):
                model.add(places[first] + 1 <= places[second]).only_enforce_if(pick)
    money: Any = 0
    counts: dict[int, Any] = {}
    for index, piece in enumerate(problem.pieces):
        drawn = [f for row in fill for way, f in zip(ways, row, strict=True) if way.piece == index]
        if not drawn:
            continue
        count = model.new_int_var(0, piece.copies, "")
        model.add(count == sum(drawn))
        counts[piece.number] = count
        if piece.buyable and piece.price:
            paid = model.new_int_var(0, piece.buyable, "")
            model.add(paid >= count - piece.owned)
            money += piece.price * paid
    for bill in without:
        given = dict(bill)
        differs = []
        for number, count in counts.items():
            for literal, relation in (
                (model.new_bool_var(""), count <= given.get(number, 0) - 1),
                (model.new_bool_var(""), count >= given.get(number, 0) + 1),
            ):
                model.add(relation).only_enforce_if(literal)
                differs.append(literal)
        model.add_bool_or(differs)
    error = model.new_int_var(-problem.tolerance[0], problem.tolerance[1], "")
    length = sum(way.length * f for row in fill for way, f in zip(ways, row, strict=True))
    model.add(length - problem.target == error)
    size = model.new_int_var(0, max(problem.tolerance), "")
    model.add_abs_equality(size, error)
    joints = parts + 1 - sum(free)
    weights = _weights(problem)
    model.minimize(weights["money"] * money + weights["joints"] * joints + weights["error"] * size)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None, True
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, False
    return _split(problem, round(solver.objective_value)), status == cp_model.OPTIMAL


def highs(problem: Problem, seconds: float = 60.0) -> tuple[tuple[int, ...] | None, bool]:
    """The least key of all stacks by HiGHS (scipy.optimize.milp), the same layers as a mixed-integer
    programme.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    ways, parts, nodes = options(problem), problem.most_parts, problem.nodes
    orders = problem.allowed_orders()
    count = len(ways)
    fills, frees = 0, parts * count
    picks = frees + parts
    paids = picks + len(orders)
    error = paids + len(problem.pieces)
    size = error + 1
    total = size + 1
    rows: list[dict[int, float]] = []
    lows: list[float] = []
    highs_: list[float] = []

    def row(terms: dict[int, float], low: float, high: float) -> None:
        rows.append(terms)
        lows.append(low)
        highs_.append(high)

    def fill(place: int, way: int) -> int:
        return fills + place * count + way

    for place in range(parts):
        row({**{fill(place, way): 1 for way in range(count)}, frees + place: 1}, 1, 1)
        if place:
            row({frees + place: 1, frees + place - 1: -1}, 0, np.inf)
    # Flow: what shows a node at one place is taken there at the next, or is the end with nothing behind it.
    for place in range(parts + 1):
        for node in range(nodes):
            terms: dict[int, float] = {}
            if place:
                for way, option in enumerate(ways):
                    if option.end == node:
                        terms[fill(place - 1, way)] = terms.get(fill(place - 1, way), 0) + 1
            if place < parts:
                for way, option in enumerate(ways):
                    if option.start == node:
                        terms[fill(place, way)] = terms.get(fill(place, way), 0) - 1
            inflow = -1.0 if place == 0 and node == problem.start else 0.0
            if node == problem.end:
                # The stack ends before the first free place.
                if place < parts:
                    terms[frees + place] = terms.get(frees + place, 0) - 1
                if place:
                    terms[frees + place - 1] = terms.get(frees + place - 1, 0) + 1
                if place == parts:
                    inflow = 1.0
            row(terms, inflow, inflow)
    for place in range(1, parts):
        row({fill(p, way): 1 for p in (place - 1, place) for way, o in enumerate(ways) if o.shim}, 0, 1)
    every = [(place, way, option) for place in range(parts) for way, option in enumerate(ways)]
    row({fill(place, way): 1 for place, way, o in every if o.shim}, 0, problem.most_shims)
    if problem.greatest_mass is not None:
        row({fill(place, way): o.mass for place, way, o in every}, 0, problem.greatest_mass)
    for item in range(len(problem.required)):
        row({fill(place, way): 1 for place, way, o in every if o.item == item}, 1, 1)
    row({picks + at: 1 for at in range(len(orders))}, 1, 1)
    for at, order in enumerate(orders):
        for first, second in pairwise(order):
            terms = {picks + at: -float(parts)}
            for place, way, option in every:
                if option.item == second:
                    terms[fill(place, way)] = place
                elif option.item == first:
                    terms[fill(place, way)] = -place
            row(terms, 1 - parts, np.inf)
    for index, piece in enumerate(problem.pieces):
        terms = {fill(place, way): 1 for place, way, o in every if o.piece == index}
        row({**terms, paids + index: -1}, -np.inf, piece.owned)
    lengths: dict[int, float] = {fill(place, way): o.length for place, way, o in every}
    row({**lengths, error: -1}, problem.target, problem.target)
    row({size: 1, error: -1}, 0, np.inf)
    row({size: 1, error: 1}, 0, np.inf)
    weights = _weights(problem)
    cost = np.zeros(total)
    upper = np.ones(total)
    lower = np.zeros(total)
    for index, piece in enumerate(problem.pieces):
        cost[paids + index] = weights["money"] * (piece.price or 0)
        upper[paids + index] = piece.buyable
    for place in range(parts):
        cost[frees + place] = -weights["joints"]
    cost[size] = weights["error"]
    lower[error], upper[error] = -problem.tolerance[0], problem.tolerance[1]
    upper[size] = max(problem.tolerance)
    indices = [(at, column) for at, terms in enumerate(rows) for column in terms]
    data = [value for terms in rows for value in terms.values()]
    matrix = csr_array(
        (data, ([at for at, _ in indices], [column for _, column in indices])), shape=(len(rows), total)
    )
    answer = milp(
        cost,
        constraints=LinearConstraint(matrix, lows, highs_),
        bounds=Bounds(lower, upper),
        integrality=np.ones(total),
        options={"mip_rel_gap": 0.0, "time_limit": seconds},
    )
    if answer.x is None:
        return None, answer.status == 2
    value = round(answer.fun) + weights["joints"] * (parts + 1)
    return _split(problem, value), answer.status == 0
