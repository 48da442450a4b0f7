"""The Bridge's Pareto fronts against plain enumeration."""

from collections.abc import Callable

import pytest

from server.search.fronts import front
from server.search.problem import Front, Problem
from server.search.stacks import search
from tests.search.drawers import drawer, rig, small, threaded
from tests.search.oracles import every_bill, faults, priced

THREE = ("error", "money", "joints")
FOUR = (*THREE, "mass")


def expected(problem: Problem, measures: tuple[str, ...], budget: int | None) -> list[tuple[int, ...]] | None:
    """The front by definition: every vector of every bill that no other vector beats."""
    bills = every_bill(problem, 800_000)
    if bills is None:
        return None
    vectors = set()
    for bill in bills:
        money, joints, error, mass = priced(problem, bill)
        if budget is None or money <= budget:
            vectors.add((abs(error), money, joints, mass)[: len(measures)])
    return sorted(
        one
        for one in vectors
        if not any(other != one and all(a <= b for a, b in zip(other, one, strict=True)) for other in vectors)
    )


@pytest.mark.parametrize("measures", [THREE, FOUR])
@pytest.mark.parametrize("budget", [None, 6000])
@pytest.mark.parametrize("make", [small, threaded])
def test_fronts_of_random_drawers_are_those_of_plain_enumeration(
    measures: tuple[str, ...], budget: int | None, make: Callable[[int], Problem]
) -> None:
    largest = 0
    for seed in range(3000, 3090):
        problem = make(seed)
        known = expected(problem, measures, budget)
        if known is None:
            continue
        found = front(problem, measures=measures, budget=budget)
        assert [stack.key(measures) for stack in found.points] == known, seed
        assert found.complete
        assert all(faults(problem, stack) == [] for stack in found.points)
        largest = max(largest, len(known))
    assert largest >= (2 if make is threaded else 3)


def test_the_cheapest_stack_is_on_the_front_of_a_catalogue() -> None:
    pieces = drawer(1, 2000, 30)
    for seed in range(4):
        problem = rig(seed, pieces)
        best = search(problem).best
        points = front(problem).points
        assert min((stack.money, stack.joints, abs(stack.error)) for stack in points) == best[0].key(
            problem.lead
        )


def test_a_front_that_was_stopped_is_not_called_complete() -> None:
    problem = rig(1, drawer(0, 500, 30))
    shown: list[Front] = []

    def stop(so_far: Front) -> bool:
        shown.append(so_far)
        return len(so_far.points) < 5

    stopped = front(problem, measures=FOUR, progress=stop)
    assert not stopped.complete
    assert not any(so_far.complete for so_far in shown)
    assert len(stopped.points) >= 5
    # It grows: what is shown later has everything cheaper in it already.
    assert len(shown[-1].points) >= len(shown[0].points)


def test_a_front_of_unknown_measures_is_refused() -> None:
    problem = rig(1, drawer(0, 20, 5))
    with pytest.raises(ValueError, match="give error, money, joints, and mass if wanted"):
        front(problem, measures=("error", "colour"))
