"""A lower bound of a kit by splitting prices between the rigs, and the prices that give it.

A copy that is bought once serves every rig. Let each rig pay a share of its price, the shares adding up
to no more than the price; then the sum of what the rigs pay, each for its own cheapest stack at these
shares, is no more than any kit costs. The shares are improved by cutting planes: a small linear programme
finds the best shares for the stacks seen so far, the exact search answers with the cheapest stacks at
shares half-way between these and the best known ones, and these join the programme.

Then the stacks seen of each rig are combined to the cheapest kit that they allow: an upper bound.

Source: Lagrangian decomposition (Guignard, M., Kim, S., Mathematical Programming 39 (1987), 215-228),
cutting planes of Kelley, J. E., J. SIAM 8 (1960), 703-712, smoothed after Wentges, P., Int. Trans.
Operational Research 4 (1997), 151-162. Shares are whole hundredths that never exceed the price together,
so that the bound is exact whatever the steps.
"""

from dataclasses import dataclass, replace

from server.search.kit_planner import Buy, Planner, bought
from server.search.mixed import Model
from server.search.problem import Problem
from server.search.stacks import search

STEPS = 40  # Cutting planes' rounds at most.
ENOUGH = 300  # The rounds end when the bound can rise by no more than this part of it.
STACKS = 20  # Stacks of each rig that a round adds.

Shares = list[dict[int, int]]


@dataclass(frozen=True, slots=True)
class Split:
    """The best bound, each rig's part of it, the rigs' problems at these shares, and the best kit seen."""

    bound: int
    parts: tuple[int, ...]
    problems: tuple[Problem, ...]
    buy: Buy


def at_shares(problem: Problem, shares: dict[int, int]) -> Problem:
    """A rig's problem with its shares for prices."""
    pieces = tuple(
        piece if piece.price is None else replace(piece, price=shares[piece.number])
        for piece in problem.pieces
    )
    return replace(problem, pieces=pieces, lead=("money", "joints", "error"), want=STACKS)


def split_prices(planner: Planner, buy: Buy, unit: int) -> Split:
    """The bound of a kit by shares; ``buy`` is a kit that works, all prices are multiples of ``unit``."""
    count = len(planner.rigs)
    members = [{piece.number for piece in rig.problem.pieces} for rig in planner.rigs]
    holders = {number: [at for at in range(count) if number in members[at]] for number in planner.pieces}
    centre: Shares = [{} for _ in range(count)]
    for number, piece in planner.pieces.items():
        for at in holders[number]:
            centre[at][number] = (piece.price or 0) // len(holders[number])
    shares = centre
    seen: list[set[tuple[tuple[int, int], ...]]] = [set() for _ in range(count)]
    best: Split | None = None
    for _ in range(STEPS):
        problems = tuple(at_shares(rig.problem, one) for rig, one in zip(planner.rigs, shares, strict=True))
        found = [search(problem).best for problem in problems]
        for at, stacks in enumerate(found):
            seen[at] |= {tuple(sorted(bought(stack).items())) for stack in stacks}
        parts = tuple(stacks[0].money for stacks in found)
        if best is None or sum(parts) > best.bound:
            best, centre = Split(sum(parts), parts, problems, buy), shares
        union: Buy = {}
        for stacks in found:
            for number, copies in bought(stacks[0]).items():
                union[number] = max(copies, union.get(number, 0))
        if planner.money(union) < planner.money(buy):
            buy = planner.pruned(union)
        if planner.money(buy) - best.bound < unit or planner.left() < 1:
            break
        wanted, most = _master(planner, seen, holders)
        if most - best.bound < max(unit, most // ENOUGH):
            break
        shares = _half_way(planner, centre, wanted, holders)
    assert best is not None
    if planner.money(buy) - best.bound >= unit:
        buy = _combined(planner, seen, buy, unit)
    return replace(best, buy=buy)


def _combined(planner: Planner, seen: list[set[tuple[tuple[int, int], ...]]], buy: Buy, unit: int) -> Buy:
    """The cheapest kit for one of the stacks seen of each rig, where it is cheaper than ``buy``."""
    model = Model()
    copies: dict[tuple[int, int], int] = {}
    for stacks in seen:
        chosen = {model.column(): bill for bill in sorted(stacks)}
        model.row(1, 1, dict.fromkeys(chosen, 1.0))
        needs: dict[tuple[int, int], list[int]] = {}
        for column, bill in chosen.items():
            for number, times in bill:
                for copy in range(times):
                    needs.setdefault((number, copy), []).append(column)
        for name, columns in needs.items():
            if name not in copies:
                copies[name] = model.column(cost=(planner.pieces[name[0]].price or 0) // unit)
            model.at_most(0, [*((column, 1) for column in columns), (copies[name], -1)])
    model.at_most(planner.money(buy) // unit - 1, {one: float(model.costs[one]) for one in copies.values()})
    solved = model.solve(planner.left())
    if solved.values is None:
        return buy
    found: Buy = {}
    for (number, _), column in copies.items():
        if solved.values[column]:
            found[number] = found.get(number, 0) + 1
    return planner.pruned(found)


def _master(
    planner: Planner, seen: list[set[tuple[tuple[int, int], ...]]], holders: dict[int, list[int]]
) -> tuple[dict[tuple[int, int], int], int]:
    """The best shares for the stacks seen, by (rig, number), and the bound that they would give."""
    model = Model()
    columns: dict[tuple[int, int], int] = {}
    numbers = sorted({number for stacks in seen for bill in stacks for number, _ in bill})
    for number in numbers:
        price = planner.pieces[number].price or 0
        for at in holders[number]:
            columns[at, number] = model.column(price, whole=False)
        model.at_most(price, {columns[at, number]: 1.0 for at in holders[number]})
    dearest = sum(planner.pieces[number].price or 0 for number in numbers) * 10 + 1
    pays = [model.column(dearest, cost=-1, whole=False) for _ in seen]
    for at, stacks in enumerate(seen):
        for bill in sorted(stacks):
            model.at_most(0, [(pays[at], 1), *((columns[at, number], -copies) for number, copies in bill)])
    solved = model.solve(planner.left())
    if solved.values is None:
        return {}, 0
    values = solved.values
    return {name: values[column] for name, column in columns.items()}, sum(values[column] for column in pays)


def _half_way(
    planner: Planner, centre: Shares, wanted: dict[tuple[int, int], int], holders: dict[int, list[int]]
) -> Shares:
    """Shares between the best known ones and those wanted; together never more than the price."""
    shares: Shares = [dict(one) for one in centre]
    for number in {number for _, number in wanted}:
        room = planner.pieces[number].price or 0
        for at in holders[number]:
            shares[at][number] = min(room, (centre[at][number] + wanted[at, number]) // 2)
            room -= shares[at][number]
    return shares
