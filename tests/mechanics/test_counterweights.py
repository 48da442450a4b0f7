"""The search for weights on a bar against plain enumeration: every choice in every order, each by itself.

Source: sum m r = 0 about the axis (statics); nothing of the search is used here but its figures.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations, permutations
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.mechanics import counterweights
from server.mechanics.bar_orders import Group, Steps, best_order
from server.mechanics.counterweights import (
    BarBalance,
    BarWeights,
    balance_on_bar,
    rod_length_mm,
    single_weight_kg,
)

NANOMETRE_MM = 1e-6


def each(weights: Sequence[BarWeights]) -> list[BarWeights]:
    return [weight for weight in weights for _ in range(weight.quantity)]


def orders(weights: Sequence[BarWeights]) -> Iterator[tuple[BarWeights, ...]]:
    alone = each(weights)
    for number in range(1, len(alone) + 1):
        for chosen in combinations(alone, number):
            yield from permutations(chosen)


def pushed_in(order: Sequence[BarWeights], start_mm: float) -> list[float]:
    middles, at_mm = [], start_mm
    for weight in order:
        middles.append(at_mm + weight.thickness_mm / 2)
        at_mm += weight.thickness_mm
    return middles


def enumerated(
    moment: float, weights: Sequence[BarWeights], start_mm: float, end_mm: float
) -> tuple[tuple[int, float] | None, float, float]:
    """The least number of weights with the least moment of inertia, the largest moment, the shortest end."""
    best, most, least_end_mm = None, 0.0, math.inf
    for order in orders(weights):
        whole = math.fsum(one.mass_kg for one in order)
        thick = math.fsum(one.thickness_mm for one in order)
        middles = pushed_in(order, start_mm)
        slide = moment / whole - math.fsum(w.mass_kg * r for w, r in zip(order, middles, strict=True)) / whole
        free = end_mm - start_mm - thick
        if slide >= -1e-9:
            least_end_mm = min(least_end_mm, start_mm + thick + max(slide, 0.0))
        if free < -1e-9:
            continue
        outer = math.fsum(w.mass_kg * (r + free) for w, r in zip(order, middles, strict=True))
        most = max(most, outer)
        if -1e-9 <= slide <= free + 1e-9:
            inertia = math.fsum(w.mass_kg * (r + slide) ** 2 for w, r in zip(order, middles, strict=True))
            best = min(best or (99, 0.0), (len(order), inertia))
    return best, most, least_end_mm


def inertia_of(found: BarBalance, weights: Sequence[BarWeights]) -> float:
    return math.fsum(weights[place.kind].mass_kg * place.at_mm**2 for place in found.places)


def demand_the_best(moment: float, weights: Sequence[BarWeights], start_mm: float, end_mm: float) -> None:
    found = balance_on_bar(moment, weights, start_mm, end_mm)
    best, most, least_end_mm = enumerated(moment, weights, start_mm, end_mm)
    assert found.complete
    if best is not None:
        assert len(found.places) == best[0]
        assert inertia_of(found, weights) == pytest.approx(best[1], rel=1e-9)
        told = math.fsum(weights[place.kind].mass_kg * place.at_mm for place in found.places)
        assert told == pytest.approx(moment, rel=1e-9)
        assert (found.short_kg_mm, found.over_kg_mm, found.longer_mm) == (0.0, 0.0, None)
        return
    assert found.places == ()
    assert found.short_kg_mm == pytest.approx(max(moment - most, 0.0), abs=1e-6)
    if least_end_mm > counterweights.FARTHEST_MM:
        assert found.longer_mm is None
    else:
        assert found.longer_mm == pytest.approx(least_end_mm - end_mm, abs=NANOMETRE_MM)


round_sorts = st.builds(
    BarWeights, st.sampled_from([0.5, 1.0, 2.0, 5.0]), st.sampled_from([20.0, 30.0, 40.0]), st.just(1)
)
any_sorts = st.builds(BarWeights, st.floats(0.2, 10.0), st.floats(5.0, 90.0), st.just(1))
drawers = st.lists(round_sorts, max_size=5) | st.lists(any_sorts, max_size=5)


@settings(max_examples=300, deadline=None)
@given(st.floats(20.0, 4000.0) | st.integers(20, 4000).map(float), drawers, st.floats(60.0, 250.0))
def test_no_choice_and_no_order_of_weights_does_better_than_the_answer(
    moment: float, weights: list[BarWeights], room_mm: float
) -> None:
    demand_the_best(moment, weights, 50.0, 50.0 + room_mm)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(any_sorts, min_size=3, max_size=5) | st.lists(round_sorts, min_size=3, max_size=5),
    st.floats(0.0, 30.0),
    st.floats(0.0, 1.0),
    st.randoms(use_true_random=False),
)
def test_on_a_bar_with_little_room_the_order_of_the_weights_is_the_best_that_does(
    weights: list[BarWeights], free_mm: float, slid: float, shuffled: Random
) -> None:
    # All of them in some order, slid some way: that balances, and fewer or another order may do better.
    order = shuffled.sample(weights, len(weights))
    middles = pushed_in(order, 30.0)
    moment = math.fsum(w.mass_kg * (r + slid * free_mm) for w, r in zip(order, middles, strict=True))
    end_mm = 30.0 + math.fsum(one.thickness_mm for one in weights) + free_mm
    demand_the_best(moment, weights, 30.0, end_mm + 1e-9)


@settings(max_examples=100, deadline=None)
@given(st.floats(100.0, 1500.0), st.integers(1, 3), st.integers(1, 3), st.floats(40.0, 200.0))
def test_alike_weights_are_searched_as_thoroughly_as_if_they_were_not(
    moment: float, light: int, heavy: int, room_mm: float
) -> None:
    weights = [BarWeights(1.0, 20.0, light), BarWeights(2.5, 35.0, heavy)]
    demand_the_best(moment, weights, 80.0, 80.0 + room_mm)


@pytest.mark.parametrize("outermost", [False, True])
@pytest.mark.parametrize("seed", range(60))
def test_of_all_orders_within_a_window_the_best_is_found(seed: int, outermost: bool) -> None:
    # Six weights, two of them alike in every other draw: enough of them that ways cross.
    drawn = Random(seed)
    twice = seed % 2
    weights = [BarWeights(drawn.uniform(0.2, 10.0), drawn.uniform(5.0, 90.0)) for _ in range(6 - twice)]
    ceiling_at, width = drawn.uniform(-0.05, 1.05), drawn.uniform(0.0, 0.2)
    alone = [*weights, *weights[:twice]]
    groups = tuple(
        Group(one.mass_kg, one.thickness_mm, (index,) * (1 + (index < twice)))
        for index, one in enumerate(weights)
    )
    order = sorted(range(len(groups)), key=lambda i: groups[i].thickness_mm / groups[i].mass_kg)
    dense = [groups[i] for i in order]
    moments = []
    for one in permutations(alone):
        middles = pushed_in(one, 40.0)
        moment = math.fsum(w.mass_kg * r for w, r in zip(one, middles, strict=True))
        square = math.fsum(w.mass_kg * r * r for w, r in zip(one, middles, strict=True))
        moments.append((moment, square))
    low, high = min(moments)[0], max(moments)[0]
    ceiling = low + (high - low) * ceiling_at + 1e-6
    floor = ceiling - (high - low) * width - 2e-6
    whole_kg = math.fsum(one.mass_kg for one in alone)
    costs = [
        -moment if outermost else square - moment**2 / whole_kg
        for moment, square in moments
        if floor <= moment <= ceiling
    ]
    chosen = [group.quantity for group in dense]
    found = best_order(dense, chosen, 40.0, floor, ceiling, Steps(10**6), outermost=outermost)
    if not costs:
        assert found is None
        return
    assert found is not None
    assert floor <= found.moment <= ceiling
    cost = -found.moment if outermost else found.square - found.moment**2 / whole_kg
    assert cost == pytest.approx(min(costs), rel=1e-9, abs=1e-6)
    middles = pushed_in([weights[order[index]] for index in found.order], 40.0)
    told = math.fsum(dense[i].mass_kg * r for i, r in zip(found.order, middles, strict=True))
    assert told == pytest.approx(found.moment, rel=1e-12)


def test_six_of_eight_weights_of_a_kilogram_balance_what_five_cannot() -> None:
    # Five of 20 mm at the end of a bar that ends at 400: 5 x 350 = 1750 kg mm. Six reach 6 x 340 = 2040; at
    # 1900 their middle lies at 1900 / 6 = 316.667, the innermost 50 mm nearer. By hand.
    found = balance_on_bar(1900.0, [BarWeights(1.0, 20.0, 8)], 100.0, 400.0)
    assert [place.at_mm for place in found.places] == pytest.approx(
        [316.6667 + 20 * step for step in (-2.5, -1.5, -0.5, 0.5, 1.5, 2.5)], abs=1e-3
    )


@pytest.mark.parametrize("number", range(1, 21))
def test_alike_weights_lie_about_the_moment_over_their_mass(number: int) -> None:
    # Closed form: n weights of m kg, each t thick, have their middle at M / (n m). At the end of a bar that
    # ends at E, n - 1 of them reach (n - 1) m (E - (n - 1) t / 2), which is less by half a weight's share.
    mass, thick, start, end = 1.3, 9.0, 120.0, 320.0
    fewer, as_many = (n * mass * (end - n * thick / 2) for n in (number - 1, number))
    moment = (fewer + as_many) / 2
    found = balance_on_bar(moment, [BarWeights(mass, thick, 20)], start, end)
    assert len(found.places) == number
    assert found.complete
    middle = math.fsum(place.at_mm for place in found.places) / number
    assert middle == pytest.approx(moment / (number * mass), rel=1e-12)


def test_the_least_longer_bar_may_carry_other_weights_than_the_ones_that_reach_furthest_now() -> None:
    # 5 kg, 40 mm, does 5 x 80 = 400 at the end of a bar from 50 to 100. A weight of 4 kg and 60 mm does not
    # fit on it. 900 kg mm by hand: the first alone needs 180 + 20 = 200; the other one alone 225 + 30; both,
    # the first outside: (900 + 5 x 20 + 4 x 70) / 9 = 142.2, but they are 100 thick and begin at 50. The
    # other outside, pushed inwards: 5 x 70 + 4 x 120 = 830, slid by 70 / 9 = 7.778: 157.778 mm.
    weights = [BarWeights(5.0, 40.0), BarWeights(4.0, 60.0)]
    found = balance_on_bar(900.0, weights, 50.0, 100.0)
    assert found.places == ()
    assert found.longer_mm is not None
    assert found.longer_mm == pytest.approx(157.7778 - 100.0, abs=1e-3)
    longer = balance_on_bar(900.0, weights, 50.0, 100.0 + found.longer_mm + NANOMETRE_MM)
    assert len(longer.places) == 2
    assert not balance_on_bar(900.0, weights, 50.0, 100.0 + found.longer_mm - 0.01).places


def test_weights_between_too_little_and_too_much_are_told_neither_way() -> None:
    # One of 2 kg does from 2 x 110 to 2 x 140; both together at least 2 x 110 + 2 x 130 = 480.
    found = balance_on_bar(400.0, [BarWeights(2.0, 20.0, 2)], 100.0, 150.0)
    assert found.places == ()
    assert (found.short_kg_mm, found.over_kg_mm) == (0.0, 0.0)
    # One of them alone would do at 200 mm.
    assert found.longer_mm == pytest.approx(60.0)


DRAWERS = {
    "twenty alike": [BarWeights(1.0, 15.0, 20)],
    "two sorts": [BarWeights(1.0, 15.0, 12), BarWeights(2.0, 22.0, 8)],
    "five sorts": [BarWeights(m, t, 4) for m, t in ((0.5, 9), (1.0, 14), (2.0, 23), (3.5, 31), (5.0, 38))],
    "six sorts": [
        BarWeights(m, t, q)
        for m, t, q in ((0.45, 8.5, 4), (0.9, 13, 4), (1.36, 17, 3), (2.3, 24, 3), (3.5, 31, 3), (5.1, 38, 3))
    ],
}


@pytest.mark.parametrize("name", DRAWERS)
@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9, 1.1])
def test_a_drawer_of_twenty_weights_is_searched_to_the_end(name: str, share: float) -> None:
    drawer = DRAWERS[name]
    moment = share * sum(one.mass_kg * one.quantity for one in drawer) * 250.0
    found = balance_on_bar(moment, drawer, 90.0, 500.0)
    assert found.complete
    told = math.fsum(drawer[place.kind].mass_kg * place.at_mm for place in found.places)
    assert told == pytest.approx(moment, rel=1e-9)


UNLIKE = [BarWeights(1.0 + 0.137 * n, 10.0 + 0.71 * n) for n in range(12)]


def test_a_search_that_is_given_up_says_so_and_still_answers_what_balances(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    moment = 0.9 * sum(one.mass_kg for one in UNLIKE) * 200.0
    whole = balance_on_bar(moment, UNLIKE, 90.0, 400.0)
    assert whole.complete
    for most in (0, 20, 200):
        monkeypatch.setattr(counterweights, "MOST_STEPS", most)
        found = balance_on_bar(moment, UNLIKE, 90.0, 400.0)
        assert not found.complete
        assert bool(found.places) == (most > 0)
        if found.places:
            told = math.fsum(UNLIKE[place.kind].mass_kg * place.at_mm for place in found.places)
            assert told == pytest.approx(moment, rel=1e-9)
            assert len(found.places) >= len(whole.places)


def test_what_is_shown_to_be_short_stays_so_where_the_longer_bar_was_not_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(counterweights, "MOST_STEPS", 30)
    # All twelve, 166.9 mm of them, reach less than their 21.042 kg at the bar's end: 8417 kg mm.
    found = balance_on_bar(1e5, UNLIKE, 90.0, 400.0)
    assert (found.places, found.complete) == ((), False)
    assert found.short_kg_mm > 1e5 - 8417.0
    monkeypatch.setattr(counterweights, "MOST_STEPS", 0)
    assert balance_on_bar(1e5, UNLIKE, 90.0, 400.0) == BarBalance(complete=False)


def test_one_weight_alone_balances_between_the_bars_end_and_its_beginning() -> None:
    # 1350 kg mm, 40 mm thick, a bar from 100 to 260 mm: 1350 / 240 and 1350 / 120.
    assert single_weight_kg(1350.0, 40.0, 100.0, 260.0) == (5.625, 11.25)
    assert single_weight_kg(1350.0, 170.0, 100.0, 260.0) is None
    with pytest.raises(ValueError, match=r"\."):
        single_weight_kg(1350.0, -1.0, 100.0, 260.0)


@given(st.floats(1.0, 1e5), st.floats(1.0, 100.0), st.floats(0.0, 300.0), st.floats(101.0, 900.0))
def test_a_single_weight_of_either_limit_does_balance(moment, thick, start, room):
    found = single_weight_kg(moment, thick, start, start + room)
    assert found is not None
    for mass in found:
        if mass <= 1000.0:
            one = balance_on_bar(moment, [BarWeights(mass, thick)], start, start + room)
            assert one.places
            assert one.places[0].at_mm * mass == pytest.approx(moment)


def test_a_shorter_bar_of_the_same_rod_has_the_moment_that_is_asked() -> None:
    # 1 kg on 300 mm from 100 mm: 250 kg mm at its whole length; x (100 + x / 2) / 300 = 160 at 225.576 mm.
    assert rod_length_mm(250.0, 1.0, 300.0, 100.0) == pytest.approx(300.0)
    assert rod_length_mm(160.0, 1.0, 300.0, 100.0) == pytest.approx(225.576, abs=0.001)
    assert rod_length_mm(0.0, 1.0, 300.0, 100.0) == 0.0
    assert rod_length_mm(10.0, 0.0, 300.0, 100.0) is None
    with pytest.raises(ValueError, match=r"\."):
        rod_length_mm(-1.0, 1.0, 300.0, 100.0)
