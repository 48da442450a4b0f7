"""The Bridge's search against plain enumeration, CP-SAT and HiGHS, and against cases worked by hand."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest

from server.search import deepening, passes
from server.search.index import Index
from server.search.problem import Arc, Outcome, Piece, Problem, Required
from server.search.stacks import search
from tests.search.drawers import drawer, rig, small, threaded
from tests.search.oracles import bill_of, cp_sat, every_bill, faults, highs, keys, priced, ranked

CHUNK = 50
MOST_STEPS = 600_000  # Of plain enumeration; the few drawers beyond it are left out.


def compare(seed: int, met: Counter[str], make: Callable[[int], Problem] = small) -> None:
    """The search's answer for a small drawer is that of plain enumeration, to the last key."""
    problem = make(seed)
    bills = every_bill(problem, MOST_STEPS)
    if bills is None:
        return
    outcome = search(problem)
    expected = ranked(problem, bills)[: problem.want]
    assert keys(outcome, problem) == [key for key, _ in expected], seed
    assert outcome.proven, seed
    assert outcome.exhausted == (len(bills) < problem.want), seed
    assert (outcome.nearest is None) == bool(bills), seed
    assert len({bill_of(stack) for stack in outcome.best}) == len(outcome.best), seed
    pieces = {piece.number: piece for piece in problem.pieces}
    for stack in outcome.best:
        assert faults(problem, stack) == [], seed
        nodes = [use.end for use in stack.uses if use.start != use.end]
        met["a connection passed twice"] += len({problem.start, *nodes}) < len(nodes) + 1
        met["two shims"] += sum(use.shim for use in stack.uses) == 2
        met["a copy bought beside owned ones"] += any(line.bought and line.owned for line in stack.bill)
        met["a reversible ring"] += any(
            use.start == use.end and not use.required and len(pieces[use.number].arcs) > 1
            for use in stack.uses
        )
        met["the second required item first"] += [use.number for use in stack.uses if use.required] == [2, 1]
    met["drawers with a stack"] += bool(bills)
    met["fewer stacks than wanted"] += 0 < len(bills) < problem.want


@pytest.mark.parametrize("first", range(0, 500, CHUNK))
def test_the_twenty_best_of_500_random_drawers_are_those_of_plain_enumeration(first: int) -> None:
    met: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        compare(seed, met)
    # A comparison that meets none of the hard cases would prove little.
    assert met["drawers with a stack"] > CHUNK // 3
    assert met["a reversible ring"] > 0
    assert met["fewer stacks than wanted"] > 0


@pytest.mark.parametrize("first", range(1000, 1300, CHUNK))
def test_where_threads_may_bottom_the_twenty_best_are_those_of_plain_enumeration(first: int) -> None:
    met: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        compare(seed, met, threaded)
    assert met["drawers with a stack"] >= CHUNK // 5
    assert met["a reversible ring"] > 0


def test_the_random_drawers_meet_every_hard_case() -> None:
    met: Counter[str] = Counter()
    for seed in range(500, 650):
        compare(seed, met)
    for case in (
        "a connection passed twice",
        "two shims",
        "a copy bought beside owned ones",
        "a reversible ring",
        "the second required item first",
    ):
        assert met[case] > 0, case


@pytest.mark.parametrize("patience", [1, 30])
def test_budgets_deepened_in_small_steps_and_resources_made_exact_early_change_nothing(
    patience: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(deepening, "FIRST_LIVE", 3)
    monkeypatch.setattr(deepening, "LIVE_GROWTH", 1.4)
    monkeypatch.setattr(passes, "PATIENCE", patience)
    met: Counter[str] = Counter()
    for seed in range(700, 780):
        compare(seed, met)
    assert met["drawers with a stack"] > 20


@pytest.mark.parametrize("first", range(0, 60, 20))
def test_cp_sat_finds_the_same_best_stack_and_nothing_better_beside_the_twenty(first: int) -> None:
    for seed in range(first, first + 20):
        problem = small(seed)
        outcome = search(problem)
        best, proven = cp_sat(problem)
        assert proven
        assert best == (outcome.best[0].key(problem.lead[:3]) if outcome.best else None), seed
        if outcome.best:
            following, proven = cp_sat(problem, [bill_of(stack) for stack in outcome.best])
            assert proven
            if following is None:
                assert outcome.exhausted or len(outcome.best) == problem.want, seed
            else:
                assert not outcome.exhausted, seed
                assert following >= outcome.best[-1].key(problem.lead[:3]), seed


def test_highs_finds_the_same_best_stack() -> None:
    for seed in range(900, 930):
        problem = small(seed)
        outcome = search(problem)
        best, proven = highs(problem)
        assert proven
        assert best == (outcome.best[0].key(problem.lead[:3]) if outcome.best else None), seed


def test_the_best_stack_from_a_catalogue_of_300_is_that_of_cp_sat() -> None:
    pieces = drawer(3, 300, 20, threads=8)
    for seed in range(2):
        problem = rig(seed, pieces, threads=8, parts=6)
        outcome = search(problem)
        best, proven = cp_sat(problem, seconds=100)
        assert proven
        assert best == (outcome.best[0].key(problem.lead) if outcome.best else None)
        assert all(faults(problem, stack) == [] for stack in outcome.best)


def test_another_part_on_the_shelf_never_makes_the_best_answer_worse() -> None:
    for seed in range(40):
        problem = small(seed)
        everything = search(problem)
        fewer = search(replace(problem, pieces=problem.pieces[: len(problem.pieces) * 2 // 3]))
        for ours, theirs in zip(keys(everything, problem), keys(fewer, problem), strict=False):
            assert ours <= theirs, seed
        assert len(everything.best) >= len(fewer.best)


def test_the_order_in_which_pieces_are_given_changes_nothing() -> None:
    problem = rig(4, drawer(4, 400, 30))
    outcome = search(problem)
    assert outcome.best
    assert search(replace(problem, pieces=problem.pieces[::-1])) == outcome


def test_an_index_is_used_again_for_other_rigs_and_without_some_pieces() -> None:
    pieces = drawer(5, 400, 30)
    index = Index(pieces)
    for seed in range(4):
        problem = rig(seed, pieces)
        outcome = search(problem, index=index)
        assert outcome == search(problem)
        if outcome.best:
            taken = {line.number for line in outcome.best[0].bill}
            rest = replace(problem, pieces=tuple(piece for piece in pieces if piece.number not in taken))
            assert search(rest, index=index.without(taken)) == search(rest)


# Cases worked by hand. Nodes: 0 and 1 are one thread, outer and inner; 2 another.


def ring(number: int, length: int, node: int = 0, **more: object) -> Piece:
    return Piece(number, (Arc(node, node),), length, **{"owned": 1, **more})  # type: ignore[arg-type]


def gap(target: int, *pieces: Piece, start: int = 0, end: int = 0, **more: object) -> Problem:
    return Problem(3, start, end, target, (5, 5), pieces, **more)  # type: ignore[arg-type]


def test_a_ring_that_one_owns_once_is_used_once() -> None:
    outcome = search(gap(2000, ring(1, 1000), ring(2, 990, price=1500, for_sale=1, owned=0)))
    assert [stack.bill[0].number for stack in outcome.best] == []
    assert outcome.exhausted
    outcome = search(gap(1990, ring(1, 1000), ring(2, 990, price=1500, for_sale=1, owned=0)))
    assert [(stack.money, stack.error) for stack in outcome.best] == [(1500, 0)]


def test_a_reversible_ring_that_fits_on_both_sides_of_a_changer_is_used_once() -> None:
    both = Piece(1, (Arc(0, 0), Arc(1, 1)), 1000, owned=1)
    changer = Piece(2, (Arc(0, 1),), 500, owned=1)
    assert search(gap(2500, both, changer, end=1)).best == ()
    (stack,) = search(gap(1500, both, changer, end=1)).best
    assert stack.joints == 3


def test_owned_copies_are_used_before_one_is_bought() -> None:
    (stack,) = search(gap(3000, ring(1, 1000, owned=2, for_sale=5, price=700))).best
    assert stack.money == 700
    assert [(line.bought, line.owned) for line in stack.bill] == [(1, 2)]


def test_a_stack_may_pass_a_connection_twice() -> None:
    there, back = Piece(1, (Arc(0, 2),), 700, owned=1), Piece(2, (Arc(2, 0),), 800, owned=1)
    (stack,) = search(gap(1500, there, back)).best
    assert [use.number for use in stack.uses] == [1, 2]


def test_two_shims_never_share_a_joint() -> None:
    def shim(number: int, length: int) -> Piece:
        return Piece(number, (Arc(0, 0),), length, owned=1, shim=True)

    assert search(gap(80, shim(1, 30), shim(2, 50))).best == ()
    (stack,) = search(gap(1080, shim(1, 30), shim(2, 50), ring(3, 1000))).best
    assert [use.shim for use in stack.uses] == [True, False, True]


# A male thread of 8 mm bottoms in 5 mm, one of 4 mm seats there.
LONG, SHORT = 800, 400
DEEP = -500


def threads(problem: Problem, sky: int | None = SHORT, camera: int | None = DEEP) -> Problem:
    return replace(problem, threads=(sky, camera))


def male(number: int, length: int, thread: int, **more: object) -> Piece:
    return Piece(number, (Arc(0, 0, (DEEP, thread)),), length, **{"owned": 1, **more})  # type: ignore[arg-type]


def test_a_ring_whose_thread_bottoms_is_no_stack_and_a_dearer_one_that_seats_is() -> None:
    long, short = male(1, 1000, LONG), male(2, 1000, SHORT, owned=0, for_sale=1, price=900)
    assert bought(search(threads(gap(1000, long, short)))) == [900]
    # Where a depth is not known, and where threads are not asked after, nothing changes.
    assert bought(search(threads(gap(1000, long, short), camera=None))) == [0, 900]
    assert bought(search(gap(1000, long, short))) == [0, 900]


def bought(outcome: Outcome) -> list[int]:
    return [stack.money for stack in outcome.best]


def test_rings_stand_in_the_order_in_which_their_threads_seat() -> None:
    long, short = male(1, 1000, LONG), male(2, 500, SHORT)
    (stack,) = search(threads(gap(1500, long, short), camera=-LONG)).best
    assert [use.number for use in stack.uses] == [2, 1]


def test_a_shim_lifts_a_thread_out_of_a_hole_that_is_too_shallow() -> None:
    shim = Piece(9, (Arc(0, 0),), 50, owned=1, shim=True)
    (stack,) = search(threads(gap(1050, male(1, 1000, 550), shim))).best
    assert [use.number for use in stack.uses] == [1, 9]
    assert search(threads(gap(1050, male(1, 1000, 551), shim))).best == ()


def test_where_every_stack_bottoms_that_is_no_nearest_miss() -> None:
    nearest = search(threads(gap(1000, male(1, 1000, LONG), male(2, 700, SHORT)))).nearest
    assert nearest is not None
    assert nearest.stack is not None
    assert [use.number for use in nearest.stack.uses] == [2]


def test_a_camera_that_mates_at_no_distance_needs_no_part() -> None:
    outcome = search(gap(0))
    assert [(stack.uses, stack.joints, stack.money) for stack in outcome.best] == [((), 1, 0)]


def test_required_items_longer_than_the_gap_are_a_nearest_miss_that_is_too_long() -> None:
    wheel = Required(9, (Arc(0, 0),), 2000)
    outcome = search(gap(1965, required=(wheel,)))
    assert outcome.exhausted
    assert outcome.nearest is not None
    assert outcome.nearest.why == "length"
    assert outcome.nearest.stack is not None
    assert outcome.nearest.stack.error == 35  # 20.00 mm in a gap of 19.65 mm is 0.35 mm long.
    assert outcome.nearest.closings == ()


def test_the_nearest_miss_names_the_single_length_that_closes_the_gap() -> None:
    outcome = search(gap(3000, ring(1, 1000), ring(2, 1500)))
    assert outcome.nearest is not None
    assert outcome.nearest.why == "length"
    assert outcome.nearest.stack is not None
    assert outcome.nearest.stack.error == -500
    closing = outcome.nearest.closings[0]
    assert (closing.length, closing.nodes) == (500, (0,))
    mended = search(gap(3000, ring(1, 1000), ring(2, 1500), ring(3, closing.length)))
    assert mended.best[0].error == 0


def test_a_connection_that_nothing_leads_to_is_named_unreachable() -> None:
    outcome = search(gap(1000, ring(1, 1000), Piece(2, (Arc(0, 1),), 100, owned=1), end=2))
    assert outcome.nearest is not None
    assert outcome.nearest.why == "unreachable"
    assert (outcome.nearest.forward, outcome.nearest.backward) == ((0, 1), (2,))
    assert outcome.nearest.parts_needed is None


def test_a_chain_that_needs_more_parts_than_allowed_says_how_many() -> None:
    there, on = Piece(1, (Arc(0, 1),), 500, owned=1), Piece(2, (Arc(1, 2),), 500, owned=1)
    outcome = search(gap(1000, there, on, end=2, most_parts=1))
    assert outcome.nearest is not None
    assert (outcome.nearest.why, outcome.nearest.parts_needed) == ("unreachable", 2)


def test_a_stack_that_is_too_heavy_is_shown_as_the_reason() -> None:
    outcome = search(gap(1000, ring(1, 1000, mass=120), greatest_mass=100))
    assert outcome.nearest is not None
    assert outcome.nearest.why == "mass"
    assert outcome.nearest.stack is not None
    assert outcome.nearest.stack.mass == 120


def test_nearest_misses_of_random_drawers_are_those_of_plain_enumeration() -> None:
    met: Counter[str] = Counter()
    for seed in range(2000, 2120):
        pieces = drawer(seed, 4 + seed % 9, seed % 5, threads=2, longest=12, ways=0.3)
        problem = replace(rig(seed, pieces, threads=2, target=3000 + seed % 700, parts=4), tolerance=(2, 1))
        nearest = search(problem).nearest
        if nearest is None:
            continue
        met[nearest.why] += 1
        bills = every_bill(replace(problem, tolerance=(problem.target, 40_000)))
        assert bills is not None
        if nearest.stack is None:
            assert not bills, seed
            continue
        counted = [priced(problem, bill) for bill in bills]
        assert (abs(nearest.stack.error), nearest.stack.money) == min((abs(c[2]), c[0]) for c in counted), (
            seed
        )
    assert met["length"] > 10
    assert met["unreachable"] > 10


def test_a_search_that_is_stopped_keeps_what_it_found_and_claims_nothing() -> None:
    problem = replace(rig(2, drawer(0, 500, 30)), want=400)
    shown: list[Outcome] = []

    def stop(outcome: Outcome) -> bool:
        shown.append(outcome)
        return len(outcome.best) < 3

    outcome = search(problem, progress=stop)
    assert not outcome.proven
    assert not outcome.exhausted
    assert len(outcome.best) >= 3
    assert outcome.best == shown[-1].best


def test_two_pieces_with_one_number_are_refused() -> None:
    with pytest.raises(ValueError, match="Two pieces have the number 1; add their copies up"):
        search(gap(1000, ring(1, 400), ring(1, 600)))


def test_a_lead_that_leaves_a_measure_out_is_refused() -> None:
    with pytest.raises(ValueError, match="give money, joints and error in any order"):
        gap(1000, lead=("money", "mass"))


def test_an_order_that_leaves_a_required_item_out_is_refused() -> None:
    items = (Required(8, (Arc(0, 0),), 10), Required(9, (Arc(0, 0),), 10))
    with pytest.raises(ValueError, match="must name each of the required items once"):
        gap(1000, required=items, orders=((0,),))
