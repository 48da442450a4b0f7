"""Independent answers to the Bridge's problem: plain enumeration, OR-Tools CP-SAT, HiGHS.

None of them shares code with the search. Plain enumeration screws every sequence of pieces together one by
one. The integer model has one layer for each position in the stack (position, piece, way to put it in), so
that a connection may be passed twice.
"""

from collections import Counter
from itertools import pairwise
from typing import Any

from server.search.problem import Outcome, Piece, Problem, Stack

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
    by_node: dict[int, list[tuple[Piece, int]]] = {}
    for piece in problem.pieces:
        for start, end in {(arc.start, arc.end) for arc in piece.arcs}:
            by_node.setdefault(start, []).append((piece, end))
    bills: set[Bill] = set()
    used: Counter[int] = Counter()
    steps = 0

    def go(
        node: int, length: int, parts: int, mass: int, done: tuple[int, ...], shims: int, after_shim: bool
    ) -> bool:
        nonlocal steps
        steps += 1
        if steps > most:
            return False
        if node == problem.end and len(done) == len(problem.required) and length >= problem.target - short:
            bills.add(tuple(sorted((number, times) for number, times in used.items() if times)))
        if parts == problem.most_parts:
            return True
        for item, required in enumerate(problem.required):
            following = (*done, item)
            if not any(order[: len(following)] == following for order in orders):
                continue
            for start, end in {(arc.start, arc.end) for arc in required.arcs}:
                longer, heavier = length + required.length, mass + required.mass
                if start != node or longer > problem.target + long or heavier > limit:
                    continue
                if not go(end, longer, parts + 1, heavier, following, shims, False):
                    return False
        for piece, end in by_node.get(node, ()):
            longer, heavier = length + piece.length, mass + piece.mass
            if longer > problem.target + long or heavier > limit:
                continue
            if used[piece.number] >= piece.owned + (0 if piece.price is None else piece.for_sale):
                continue
            if piece.shim and (after_shim or shims == problem.most_shims):
                continue
            used[piece.number] += 1
            fine = go(end, longer, parts + 1, heavier, done, shims + piece.shim, piece.shim)
            used[piece.number] -= 1
            if not fine:
                return False
        return True

    limit = problem.greatest_mass if problem.greatest_mass is not None else 1 << 60
    return bills if go(problem.start, 0, 0, 0, (), 0, False) else None


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


def bill_of(stack: Stack) -> Bill:
    """The bill of a stack as the oracles write it."""
    return tuple((line.number, line.bought + line.owned) for line in stack.bill)


def keys(outcome: Outcome, problem: Problem) -> list[tuple[int, ...]]:
    """The keys of an outcome's stacks in order."""
    return [stack.key(problem.lead) for stack in outcome.best]
