"""One kit for several rigs: against plain enumeration and CP-SAT; the joints undone; what is not proven."""

import random
from collections import Counter
from dataclasses import replace
from itertools import pairwise, product
from typing import Any

import pytest
from ortools.sat.python import cp_model

from server.search.index import Index
from server.search.kit_fixing import usable
from server.search.kit_planner import KitOutcome, Planner, Rig
from server.search.kit_prices import split_prices
from server.search.kits import plan_kit
from server.search.passes import Ground
from server.search.problem import Arc, Piece, Problem, Required
from tests.search.drawers import ERROR, drawer, node
from tests.search.layers import Layers, size, smallest
from tests.search.oracles import faults

Row = tuple[tuple[int, int, bool], ...]  # A stack: (number, way, whether required) in order.


def ring(number: int, length: int, node: int = 0, **more: Any) -> Piece:
    return Piece(number, (Arc(node, node),), length, **more)


def gap(target: int, pieces: tuple[Piece, ...], **more: Any) -> Problem:
    """A gap of ``target`` between two faces that take the same connection."""
    return Problem(2, 0, 0, target, (0, 0), pieces, **more)


def rigs(seed: int, count: int, parts: int, owned: int, threads: int, most: int, longest: int) -> list[Rig]:
    """Rigs whose targets are those of random chains of one drawer, so that each has a stack; some share their
    camera.
    """
    rng = random.Random(f"kit {seed}")
    pieces = drawer(seed, parts, owned, threads, longest, ways=0.25)
    found = []
    for _ in range(count):
        start = at = node(rng.randrange(threads), rng.random() < 0.5)
        length, required = 0, []
        left = {piece.number: 0 if piece.shim else piece.copies for piece in pieces}
        for step in range(rng.randint(1, most)):
            if step == 1 and rng.random() < 0.3:
                required.append(Required(1, (Arc(at, at),), 150, 100))
                length += 150
                continue
            options = [
                (piece, arc.end)
                for piece in pieces
                for arc in piece.arcs
                if arc.start == at and left[piece.number]
            ]
            if options:
                piece, at = rng.choice(options)
                left[piece.number] -= 1
                length += piece.length
        problem = Problem(
            2 * threads,
            start,
            at,
            length + rng.randint(-5, 5),
            (ERROR, ERROR),
            pieces,
            tuple(required),
            (),
            most,
        )
        found.append(Rig(problem, back=9 if rng.random() < 0.6 else None))
    return found


def every_row(problem: Problem) -> set[Row]:
    """Every stack with every order of its pieces, by screwing piece onto piece."""
    found: set[Row] = set()
    used: Counter[int] = Counter()

    def go(at: int, length: int, row: Row, shims: int, shim: bool) -> None:
        done = sum(one[2] for one in row)
        off = length - problem.target
        closes = at == problem.end and -problem.tolerance[0] <= off <= problem.tolerance[1]
        if closes and done == len(problem.required):
            found.add(row)
        if len(row) == problem.most_parts:
            return
        for item in problem.required:
            for way, arc in enumerate(item.arcs):
                if arc.start == at and (item.number, way, True) not in row:
                    go(arc.end, length + item.length, (*row, (item.number, way, True)), shims, False)
        for piece in problem.pieces:
            if used[piece.number] >= piece.copies or (piece.shim and (shim or shims == problem.most_shims)):
                continue
            for way, arc in enumerate(piece.arcs):
                if arc.start == at and length + piece.length <= problem.target + problem.tolerance[1]:
                    used[piece.number] += 1
                    further = (*row, (piece.number, way, False))
                    go(arc.end, length + piece.length, further, shims + piece.shim, piece.shim)
                    used[piece.number] -= 1

    go(problem.start, 0, (), 0, False)
    return found


def joints_of(rig: Rig, place: int, row: Row) -> Counter[Any]:
    """The joints of a stack, counted afresh."""
    front = ("front", rig.front) if rig.front is not None else ("front of", place)
    back = ("back", rig.back) if rig.back is not None else ("back of", place)
    return Counter(pairwise([front, *row, back]))


def best_by_hand(chosen: list[Rig]) -> tuple[int, int]:
    """(money, joints undone) of the best kit by trying every combination of stacks."""
    pieces = {piece.number: piece for piece in chosen[0].problem.pieces}
    lists = []
    for at, rig in enumerate(chosen):
        rows = []
        for row in every_row(rig.problem):
            counts = Counter(number for number, _, required in row if not required)
            buy = Counter({n: t - pieces[n].owned for n, t in counts.items() if t > pieces[n].owned})
            rows.append((buy, joints_of(rig, at, row)))
        lists.append(rows)
    if len(lists) > 2 and len(lists[0]) * len(lists[1]) * len(lists[2]) > 60_000:
        pytest.skip("too many combinations to try")
    best: tuple[int, int] | None = None
    for combination in product(*lists):
        kit: Counter[int] = Counter()
        for buy, _ in combination:
            kit |= buy
        money = sum(times * (pieces[number].price or 0) for number, times in kit.items())
        if best is not None and money > best[0]:
            continue
        undone = sum(
            (one - other).total() for _, one in combination for _, other in combination if one is not other
        )
        if best is None or (money, undone) < best:
            best = (money, undone)
    assert best is not None
    return best


def kit_faults(chosen: list[Rig], outcome: KitOutcome) -> list[str]:
    """What is wrong with a kit, with each stack screwed together afresh."""
    kit = outcome.kit
    assert kit is not None
    buy = dict(kit.buy)
    pieces = {piece.number: piece for rig in chosen for piece in rig.problem.pieces}
    found = [f"{copies} of {n} are not for sale" for n, copies in buy.items() if copies > pieces[n].buyable]
    if kit.money != sum(copies * (pieces[n].price or 0) for n, copies in buy.items()):
        found.append("the money is not what the kit costs")
    rows: list[Counter[Any]] = []
    for at, (rig, stack) in enumerate(zip(chosen, kit.stacks, strict=True)):
        have = tuple(
            replace(piece, owned=piece.owned + buy.get(piece.number, 0), for_sale=0)
            for piece in rig.problem.pieces
        )
        found += faults(replace(rig.problem, pieces=have), stack)
        if not -rig.problem.tolerance[0] <= stack.error <= rig.problem.tolerance[1]:
            found.append(f"rig {at} is off by {stack.error}")
        rows.append(joints_of(rig, at, tuple((use.number, use.arc, use.required) for use in stack.uses)))
    table = tuple(tuple((one - other).total() for other in rows) for one in rows)
    if table != kit.undone or sum(map(sum, table)) != kit.joints_undone:
        found.append(f"undone {table}, said {kit.undone}")
    return found


@pytest.mark.parametrize("seed", range(40))
def test_the_kit_is_that_of_plain_enumeration(seed: int) -> None:
    chosen = rigs(seed, 2 + seed % 2, 8, seed % 4, 2, 4, 8)
    expected = best_by_hand(chosen)
    outcome = plan_kit(chosen)
    assert kit_faults(chosen, outcome) == []
    assert (outcome.kit.money, outcome.kit.joints_undone) == expected
    assert outcome.money_proven
    assert outcome.joints_proven
    assert (outcome.money_bound, outcome.joints_bound) == expected


@pytest.mark.parametrize("seed", range(100, 108))
def test_the_money_is_that_of_an_integer_model(seed: int) -> None:
    chosen = rigs(seed, 3, 22, 5, 3, 6, 20)
    outcome = plan_kit(chosen, seconds=5)
    model = cp_model.CpModel()
    layers = [Layers(model, rig.problem) for rig in chosen]
    for rig, one in zip(chosen, layers, strict=True):
        size(model, one.length - rig.problem.target, rig.problem.tolerance)
    money: Any = 0
    for piece in chosen[0].problem.pieces:
        bought = model.new_int_var(0, piece.buyable, "")
        for one in layers:
            model.add(bought >= one.used[piece.number] - piece.owned)
        money = money + (piece.price or 0) * bought
    assert (outcome.kit.money,) == smallest(model, money, (money,))
    assert outcome.money_proven
    assert kit_faults(chosen, outcome) == []


@pytest.mark.parametrize("seed", range(200, 212))
def test_another_part_never_makes_the_kit_dearer(seed: int) -> None:
    chosen = rigs(seed, 2, 14, 4, 2, 5, 12)
    more = tuple(replace(piece, number=piece.number + 500) for piece in drawer(seed + 1, 3, 1, 2, 12, 0.25))
    richer = [replace(rig, problem=replace(rig.problem, pieces=rig.problem.pieces + more)) for rig in chosen]
    before, after = plan_kit(chosen, seconds=2), plan_kit(richer, seconds=2)
    assert (after.kit.money, after.money_proven) <= (before.kit.money, True)


@pytest.mark.parametrize("seed", range(300, 320))
def test_what_is_left_out_of_the_integer_model_is_in_no_stack_of_that_money(seed: int) -> None:
    problem = rigs(seed, 1, 9, 3, 2, 4, 8)[0].problem
    index = Index(problem.pieces)
    pieces = {piece.number: piece for piece in problem.pieces}
    costs = []
    for row in every_row(problem):
        counts = Counter(number for number, _, required in row if not required)
        money = sum(max(0, t - pieces[n].owned) * (pieces[n].price or 0) for n, t in counts.items())
        costs.append((money, set(counts)))
    for most in sorted({money for money, _ in costs})[:4]:
        kept = usable(Ground(problem, index, *problem.tolerance), most)
        numbers = {index.pieces[int(index.piece[entry])].number for entry in kept}
        assert set().union(*(used for money, used in costs if money <= most)) <= numbers


@pytest.mark.parametrize("seed", range(30, 40))
def test_split_prices_give_a_bound_that_no_kit_comes_below(seed: int) -> None:
    chosen = rigs(seed, 2, 8, 2, 2, 4, 8)
    planner = Planner(chosen, 20, None)
    buy = planner.greedy([stack for stack in planner.alone() if stack is not None])
    split = split_prices(planner, buy, 10)
    money, _ = best_by_hand(chosen)
    assert split.bound <= money <= planner.money(split.buy) <= planner.money(buy)
    for number, piece in planner.pieces.items():
        shares = [p.price or 0 for problem in split.problems for p in problem.pieces if p.number == number]
        assert sum(shares) <= (piece.price or 0)


def test_one_ring_serves_two_rigs_where_each_by_itself_would_buy_another() -> None:
    # By itself the first rig buys the 10 mm ring (300), the second the 20 mm one (300); together two rings
    # of 10 mm cost 500, which is cheaper than 600.
    pieces = (
        ring(1, 1000, for_sale=2, price=250),
        ring(2, 2000, for_sale=1, price=300),
    )
    outcome = plan_kit([Rig(gap(1000, pieces)), Rig(gap(2000, pieces))])
    assert outcome.kit.buy == ((1, 2),)
    assert (outcome.kit.money, outcome.money_bound, outcome.money_proven) == (500, 500, True)


def test_of_two_ways_that_cost_the_same_the_one_that_keeps_a_joint_is_taken() -> None:
    # 30 mm as 10 + 20 or as 15 + 15; 10 + 20 stays together when 5 mm are added in front.
    pieces = (
        ring(1, 1000, owned=1),
        ring(2, 2000, owned=1),
        ring(3, 1500, owned=2),
        ring(4, 500, owned=1),
    )
    chosen = [Rig(gap(3000, pieces), back=7), Rig(gap(3500, pieces), back=7)]
    kit = plan_kit(chosen).kit
    # Kept: the two rings' joint and the camera's. Undone: the first rig's front; two joints of the second.
    assert kit.undone == ((0, 1), (2, 0))
    assert kit.joints_undone == 3


def test_a_rig_without_a_stack_is_named() -> None:
    pieces = (ring(1, 1000, owned=1),)
    outcome = plan_kit([Rig(gap(1000, pieces)), Rig(gap(5000, pieces))])
    assert (outcome.kit, outcome.impossible) == (None, (1,))


def test_a_piece_must_be_the_same_in_every_rig() -> None:
    one, other = (ring(1, 1000, owned=1),), (ring(1, 1100, owned=1),)
    with pytest.raises(ValueError, match="Piece 1 differs between two rigs"):
        plan_kit([Rig(gap(1000, one)), Rig(gap(1100, other))])


def test_no_rig_is_refused() -> None:
    with pytest.raises(ValueError, match="give at least one"):
        plan_kit([])


def test_what_is_not_closed_in_time_is_not_called_proven() -> None:
    chosen = rigs(100, 3, 22, 5, 3, 6, 20)
    outcome = plan_kit(chosen, seconds=0)
    assert kit_faults(chosen, outcome) == []
    assert outcome.money_bound <= outcome.kit.money
    assert outcome.joints_bound <= outcome.kit.joints_undone
    assert outcome.joints_proven == (outcome.joints_bound == outcome.kit.joints_undone)


def test_planning_can_be_stopped_and_keeps_its_first_answer() -> None:
    chosen = rigs(104, 3, 22, 5, 3, 6, 20)
    outcome = plan_kit(chosen, progress=lambda _: False)
    assert kit_faults(chosen, outcome) == []
    assert not outcome.joints_proven
