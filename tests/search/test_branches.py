"""The guider's side branch: both chains against plain enumeration and CP-SAT; quantities across branches."""

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest
from ortools.sat.python import cp_model

from server.search.branches import Branch, PairOutcome, search_pairs
from server.search.problem import Arc, Piece, Problem, Required
from tests.search.drawers import drawer
from tests.search.layers import Layers, size, smallest
from tests.search.pairs import every_pair, guided, pair_faults

SEEDS = 300  # Small drawers compared with plain enumeration.


def ring(number: int, length: int, node: int = 0, **more: Any) -> Piece:
    return Piece(number, (Arc(node, node),), length, **more)


def rig(pieces: tuple[Piece, ...], **more: Any) -> tuple[Problem, Branch]:
    """A guider of 10 mm between node 0 and node 1, a main chain of 40 mm, a side port at node 2.

    Prism to the guider's shoulder 5 mm, camera flange 15 mm; side port 20 mm from the prism, guide flange
    10 mm: the guide chain is 10 mm shorter than what stands behind the guider.
    """
    problem = Problem(3, 0, 1, 4000, (10, 10), pieces, (Required(1, (Arc(0, 1),), 1000),), **more)
    return problem, Branch(0, 2, 2, 500, 1500, 2000, 1000, (10, 10))


@pytest.mark.parametrize("block", range(10))
def test_the_best_pairs_are_those_of_plain_enumeration(block: int) -> None:
    feasible = 0
    for seed in range(block * SEEDS // 10, (block + 1) * SEEDS // 10):
        problem, branch = guided(seed, 6 + seed % 7, seed % 7, 2 + seed % 2)
        if seed % 5 == 0:
            problem = replace(problem, greatest_mass=560)
        expected = sorted(every_pair(problem, branch).values())
        outcome = search_pairs(problem, branch)
        assert [pair.key(problem.lead) for pair in outcome.best] == expected[: problem.want], seed
        assert outcome.proven, seed
        assert outcome.exhausted == (len(expected) < problem.want), seed
        assert [fault for pair in outcome.best for fault in pair_faults(problem, branch, pair)] == [], seed
        feasible += bool(expected)
    assert feasible >= 8


def cp_sat_best(problem: Problem, branch: Branch) -> tuple[int, ...] | None:
    """(money, joints, error) of the best pair by OR-Tools CP-SAT: one layer a position on both branches."""
    model = cp_model.CpModel()
    main = Layers(model, problem, branch.guider)
    guide = Layers(
        model,
        replace(
            problem, start=branch.start, end=branch.end, required=(), orders=(), most_parts=branch.most_parts,
            most_shims=branch.most_shims,
        ),
    )  # fmt: skip
    asked = branch.rest + branch.main_flange - branch.port - branch.guide_flange
    errors = [
        size(model, main.length - problem.target, problem.tolerance),
        size(model, guide.length - asked - main.behind, branch.tolerance),
    ]
    money: list[Any] = []
    for piece in problem.pieces:
        bought = model.new_int_var(0, piece.buyable, "")
        model.add(bought >= main.used[piece.number] + guide.used[piece.number] - piece.owned)
        money.append((piece.price or 0) * bought)
    values = (sum(money), main.parts + guide.parts + 2, sum(errors))
    by_name = dict(zip(("money", "joints", "error"), values, strict=True))
    total: Any = 0
    for name in problem.lead:
        total = total * (10**6 if name == "money" else 100) + by_name[name]
    return smallest(model, total, values)


@pytest.mark.parametrize("seed", range(400, 412))
def test_the_best_pair_is_that_of_an_integer_model(seed: int) -> None:
    problem, branch = guided(seed, 18, 8, 3)
    outcome = search_pairs(problem, branch)
    best = (outcome.best[0].money, outcome.best[0].joints, outcome.best[0].error) if outcome.best else None
    assert best == cp_sat_best(problem, branch)


@pytest.mark.parametrize("seed", range(500, 540))
def test_another_part_never_makes_the_best_pair_worse(seed: int) -> None:
    problem, branch = guided(seed, 14, 6, 3)
    more = tuple(replace(piece, number=piece.number + 500) for piece in drawer(seed + 1, 3, 1, 3, 12, 0.3))
    before = [pair.key(problem.lead) for pair in search_pairs(problem, branch).best]
    after = [
        pair.key(problem.lead)
        for pair in search_pairs(replace(problem, pieces=problem.pieces + more), branch).best
    ]
    assert len(after) >= len(before)
    assert all(new <= old for new, old in zip(after, before, strict=False))


def test_a_ring_that_one_owns_once_serves_one_branch_only() -> None:
    # 30 mm to fill: behind the guider 20 mm, in the guide chain 10 mm, before it 10 mm.
    both = Piece(10, (Arc(0, 0), Arc(2, 2)), 1000, owned=1, for_sale=1, price=500)
    problem, branch = rig((both, ring(11, 2000, 1, owned=1)))
    best = search_pairs(problem, branch).best[0]
    assert (best.money, best.main.money, best.guide.money) == (500, 0, 500)
    assert [(line.number, line.bought, line.owned) for line in best.bill] == [(10, 1, 1), (11, 0, 1)]


def test_a_ring_whose_thread_bottoms_on_either_side_of_the_guider_or_in_the_guide_chain_is_in_no_pair() -> (
    None
):
    def rings(threads: tuple[int, int]) -> list[Piece]:
        """One of 10 mm before the guider, one of 20 mm behind it, one of 10 mm in the guide chain."""
        lengths = ((0, 1000), (1, 2000), (2, 1000))
        return [Piece(10 + at, (Arc(at, at, threads),), long, owned=1) for at, long in lengths]

    long, short = rings((-500, 800)), rings((-500, 400))
    problem, branch = rig(tuple(short), threads=(400, -500))
    guider = replace(problem.required[0], arcs=(Arc(0, 1, (-500, 400)),))
    problem, branch = replace(problem, required=(guider,)), replace(branch, threads=(400, -500))
    assert len(search_pairs(problem, branch).best) == 1
    for at in range(3):
        pieces = (*short[:at], long[at], *short[at + 1 :])
        assert search_pairs(replace(problem, pieces=pieces), branch).best == (), at


def test_without_a_second_copy_there_is_no_pair_and_the_main_stack_is_named() -> None:
    both = Piece(10, (Arc(0, 0), Arc(2, 2)), 1000, owned=1)
    problem, branch = rig((both, ring(11, 2000, 1, owned=1)))
    outcome = search_pairs(problem, branch)
    assert (outcome.best, outcome.proven, outcome.exhausted) == ((), True, True)
    # By itself the guide chain exists; only the copy is missing.
    assert outcome.nearest.stack.length == 4000
    assert (outcome.nearest.asked, outcome.nearest.guide) == (1000, None)


def test_a_ring_before_the_guider_and_one_behind_it_ask_for_different_guide_chains() -> None:
    pieces = (
        Piece(10, (Arc(0, 0), Arc(1, 1)), 1000, owned=1),
        Piece(11, (Arc(0, 0), Arc(1, 1)), 2000, owned=1),
        ring(12, 1500, 2, for_sale=1, price=100),
        ring(13, 1000, 2, for_sale=1, price=200),
    )
    problem, branch = rig(pieces)
    # With 20 mm behind the guider the guide chain needs 10 mm; with 10 mm nothing; with 30 mm 20 mm.
    best = search_pairs(problem, branch).best
    assert [pair.money for pair in best] == [0, 200]
    assert [use.number for use in best[0].main.uses] == [11, 1, 10]
    assert [use.number for use in best[1].main.uses] == [10, 1, 11]
    assert best[0].guide.uses == ()
    assert best[0].guide.joints == 1


def test_a_guide_chain_that_would_need_a_negative_length_is_no_pair() -> None:
    problem, branch = rig((ring(10, 3000, 0, owned=1), ring(11, 100, 2, owned=1)))
    outcome = search_pairs(problem, branch)
    assert outcome.best == ()
    assert outcome.nearest.asked == -1000


def test_a_main_chain_that_nothing_fills_is_told_before_the_guide_chain() -> None:
    problem, branch = rig((ring(10, 700, 0, owned=1),))
    outcome = search_pairs(problem, branch)
    assert outcome.nearest.main.why == "length"


def test_a_guider_with_two_ways_is_refused() -> None:
    problem, branch = rig(())
    two = replace(problem, required=(Required(1, (Arc(0, 1), Arc(1, 0)), 1000),))
    with pytest.raises(ValueError, match="in which its prism faces the sky"):
        search_pairs(two, branch)


def test_the_order_of_the_pieces_changes_nothing() -> None:
    for seed in range(20):
        problem, branch = guided(seed, 12, 6, 2)
        turned = replace(problem, pieces=problem.pieces[::-1])
        assert search_pairs(problem, branch).best == search_pairs(turned, branch).best


def test_a_search_can_be_stopped_and_keeps_what_it_has_found() -> None:
    seen: list[PairOutcome] = []

    def stop(outcome: PairOutcome) -> bool:
        seen.append(outcome)
        return len(outcome.best) < 3

    problem, branch = guided(3, 60, 30, 2, longest=20, most=7, want=200)
    outcome = search_pairs(problem, branch, progress=stop)
    assert len(seen[-1].best) >= 3
    assert outcome.best
    assert not outcome.proven
    assert Counter(pair.bill for pair in outcome.best).most_common(1)[0][1] == 1
