"""The Scout's answers, each held against its definition: on tables of made-up parts, some figures missing.

Source: none needed: what beats, fails or is alike is asked anew of every combination, one against all others.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from server.domain.errors import RefusedError
from server.domain.scout.candidates import MOST_COMBINATIONS, Choice
from server.domain.scout.needs import HOURS_STEP, LIMITS, STEPS, MeasureName, Needs
from server.domain.scout.usual import COLLIMATED_IN_THE_FIELD, WITH_SPIDER, WITHOUT_SPIDER
from server.flow.scout import (
    MOST_MISSES,
    Answer,
    NeedLine,
    contradiction_of,
    gains_of,
    misses_of,
    others_of,
    scout,
    why_not,
)
from tests.domain.rigs import camera, mm, mount, tube
from tests.domain.scout.made import FULL_SENSOR, GARDEN, SMALL, TARGETS, choice, drawn, euros
from tests.search.scout.plainly import beats

OPEN = Needs(payload_share=None, fill_least=None, fill_most=None)
SEEDS = (2, 4, 5, 8)
ASKED = (
    OPEN,
    Needs(budget=4500.0, lift_kg=12.0),
    Needs(budget=3500.0, payload_share=0.6, hours=8.0, collimate=False, front=("cost", "hours")),
    Needs(lift_kg=9.0, corner_light=0.7, spikes=False, front=("cost", "hours", "load", "lift")),
    Needs(budget=6000.0, corner_light=0.5, fill_least=None, fill_most=2.0, like=(), front=("star", "load")),
)


@cache
def answer(seed: int, asked: int) -> Answer:
    return scout(some_parts(seed), ASKED[asked], TARGETS, GARDEN)


def some_parts(seed: int, lacking: float = 0.04) -> Choice:
    return drawn(seed, tubes=10, correctors=3, cameras=3, mounts=4, lacking=lacking)


@pytest.fixture(params=[(seed, asked) for seed in SEEDS for asked in range(len(ASKED))])
def found(request: pytest.FixtureRequest) -> Answer:
    return answer(*request.param)


def again(found: Answer, **changed) -> Answer:
    needs = Needs.model_validate({**found.needs.model_dump(), **changed})
    return scout(found.table.choice, needs, found.targets, found.site)


def figure(found: Answer, line: NeedLine, number: int) -> float:
    """What a combination has for a need, by the tube's own words where it is a flag."""
    if line.measure in ("collimate", "spikes"):
        part = next(one.part for one in found.table.choice.tubes if one.id == tube_of(found, number))
        if line.measure == "collimate":
            return math.nan if part.design is None else float(part.design in COLLIMATED_IN_THE_FIELD)
        if part.spider_vanes is not None:
            return float(part.spider_vanes > 0)
        if part.design in WITHOUT_SPIDER:
            return 0.0
        return 1.0 if part.design in WITH_SPIDER else math.nan
    value = float(found.table.measures["value"][line.measure][number])
    # What is known of a sum may be too much already.
    least = float(found.table.measures["low"][line.measure][number])
    return least if math.isnan(value) and line.at_most and least > line.limit else value


def tube_of(found: Answer, number: int) -> int:
    return found.table.candidate(number).tube


def fails(found: Answer, line: NeedLine, number: int) -> bool:
    value = figure(found, line, number)
    return value > line.limit if line.at_most else value < line.limit


def failed(found: Answer, number: int) -> list[str]:
    return [line.name for line in found.musts if fails(found, line, number)]


def figures(found: Answer, number: int) -> np.ndarray:
    """Of the front's measures."""
    return np.array([found.table.measures["value"][name][number] for name in found.needs.front])


def in_steps(found: Answer, number: int) -> np.ndarray:
    """The same as a person counts; hours by a tenth of themselves."""

    def counted(name: MeasureName, value: float) -> float:
        return math.log(value) / math.log(1.0 + HOURS_STEP) if name == "hours" else value / STEPS[name]

    values = zip(found.needs.front, figures(found, number).tolist(), strict=True)
    return np.array([np.rint(counted(name, value)) for name, value in values])


def every(found: Answer) -> range:
    return range(found.table.count)


def passing(found: Answer) -> set[int]:
    return set(found.passing.tolist())


def front(found: Answer) -> list[int]:
    return [int(one) for one in found.front]


# -- Needs


def test_what_passes_fails_no_must_and_all_else_fails_one(found):
    assert passing(found) == {number for number in every(found) if not failed(found, number)}
    assert found.judged.failed_count.tolist() == [len(failed(found, number)) for number in every(found)]


def test_a_figure_that_is_not_known_passes_and_is_flagged(found):
    for number in every(found):
        lacks = any(math.isnan(figure(found, line, number)) for line in found.musts)
        assert bool(found.judged.unknown[number]) == lacks


def test_a_wish_leaves_nothing_out_and_is_counted(found):
    wishes = [line for line in found.lines if not line.must]
    met = [
        sum(not fails(found, line, n) and not math.isnan(figure(found, line, n)) for line in wishes)
        for n in every(found)
    ]
    assert found.likes.tolist() == met


def test_relaxing_a_need_never_loses_a_combination(found):
    for line in found.musts:
        if line.measure in ("collimate", "spikes"):
            wider = again(found, **{line.name: None})
        else:
            wider = again(found, **{line.name: line.limit * (1.5 if line.at_most else 0.5)})
        assert passing(found) <= passing(wider)
        assert passing(wider) <= passing(again(found, **{line.name: None}))


def test_what_a_need_costs_is_what_asking_again_with_that_limit_brings(found):
    told = {line.name: gains for line, gains in gains_of(found)}
    before = {tube_of(found, number) for number in passing(found)}
    for line in found.musts:
        alone = [n for n in every(found) if failed(found, n) == [line.name]]
        assert bool(alone) == (line.name in told)
        for gain in told.get(line.name, ()):
            flag = line.measure in ("collimate", "spikes")
            asked = again(found, **{line.name: None if flag else gain.limit})
            new = passing(asked) - passing(found)
            assert len(new) == gain.combinations > 0
            assert set(gain.tubes) == {tube_of(found, number) for number in new} - before
        if line.name in told:
            assert set(told[line.name][-1].tubes) == {tube_of(found, number) for number in alone} - before


# -- The front


def test_nothing_on_the_front_is_beaten_as_a_person_counts_nor_exactly(found):
    for number in front(found):
        assert not np.isnan(figures(found, number)).any()
        for other in passing(found):
            assert not beats(in_steps(found, other), in_steps(found, number))
            assert not beats(figures(found, other), figures(found, number))


def test_nothing_is_dropped_unseen(found):
    # Each passing one is on the front, alike to one of it, beaten by one of it, or of unknown measure.
    on_front = {number: in_steps(found, number) for number in front(found)}
    unmeasured = set(found.unmeasured.tolist())
    for number in passing(found):
        if np.isnan(figures(found, number)).any():
            assert number in unmeasured
            continue
        assert number not in unmeasured
        mine = in_steps(found, number)
        if number in found.alike:
            assert np.array_equal(mine, on_front[found.alike[number]])
        elif number not in on_front:
            assert any(beats(one, mine) for one in on_front.values())
    assert set(found.alike) <= passing(found) - set(on_front)
    assert unmeasured <= passing(found)


def test_the_front_is_in_the_order_of_its_first_measure(found):
    first = [figures(found, number)[0] for number in front(found)]
    assert first == sorted(first)


def test_a_beaten_combination_more_changes_nothing(found):
    # A tube as one on the front, but dearer and heavier than any: whatever it makes is beaten.
    if not front(found):
        return
    these = found.table.choice
    like = next(one for one in these.tubes if one.id == tube_of(found, front(found)[0]))
    worse = {"price": euros(9000.0), "mass_kg": mm(60.0), "mass_with_rings_kg": None}
    beaten = replace(like, id=10_000_000, part=like.part.model_copy(update=worse))
    more = scout(replace(these, tubes=(*these.tubes, beaten)), found.needs, found.targets, found.site)

    def named(of: Answer) -> list[str]:
        return [of.table.candidate(number).key for number in front(of)]

    assert more.table.count > found.table.count
    assert named(more) == named(found)


# -- Why not


def test_why_not_is_true_of_every_combination(found):
    for number in every(found):
        why = why_not(found, number)
        assert [line.name for line, _ in why.failed] == failed(found, number)
        for line, value in why.failed:
            assert value == figure(found, line, number)
        if why.failed:
            assert (why.beaten_by, why.alike) == (None, None)
        elif number in front(found) or number in found.unmeasured:
            assert (why.beaten_by, why.alike, why.better, why.same) == (None, None, (), ())
        elif why.alike is not None:
            assert why.alike in front(found)
            assert np.array_equal(in_steps(found, why.alike), in_steps(found, number))
        else:
            assert_beaten(found, number)


def test_each_reason_is_met_in_these_tables():
    asked = [answer(seed, at) for seed in SEEDS for at in range(len(ASKED))]
    assert sum(bool(front(one)) for one in asked) > 0.8 * len(asked)
    whys = [why_not(one, number) for one in asked for number in every(one)]
    assert any(why.failed for why in whys)
    assert any(why.alike is not None for why in whys)
    assert any(why.beaten_by is not None for why in whys)
    assert any(why.beaten_by is not None and why.same for why in whys)


def assert_beaten(found: Answer, number: int) -> None:
    why = why_not(found, number)
    other = why.beaten_by
    assert other is not None
    assert other in passing(found)
    exactly = beats(figures(found, other), figures(found, number))
    told = figures if exactly else in_steps
    assert beats(told(found, other), told(found, number))
    pairs = list(zip(found.needs.front, told(found, other), told(found, number), strict=True))
    assert why.better == tuple(name for name, theirs, mine in pairs if theirs < mine)
    assert why.same == tuple(name for name, theirs, mine in pairs if theirs == mine)
    assert why.better


def test_of_each_tube_that_is_not_on_the_front_the_one_that_fails_least_is_told(found):
    told = {tube_of(found, number): number for number in others_of(found)}
    on_front = {tube_of(found, number) for number in front(found)}
    assert set(told) == {tube_of(found, number) for number in every(found)} - on_front
    for one, number in told.items():
        fewest = min(len(failed(found, n)) for n in every(found) if tube_of(found, n) == one)
        assert len(failed(found, number)) == fewest


# -- Needs that nothing meets


HARD = (
    {"budget": 0.0, "lift_kg": 1.0},
    {"hours": 0.05, "lift_kg": 4.0},
    {"budget": 500.0, "corner_light": 0.99, "corner_arcsec": 0.5, "hours": 1.0},
    {"collimate": False, "spikes": False, "budget": 300.0, "hours": 0.2, "lift_kg": 2.0},
)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("hard", HARD)
def test_needs_that_contradict_are_named_and_no_fewer_do(seed, hard):
    asked = scout(some_parts(seed, lacking=0.0), Needs(**hard), TARGETS, GARDEN)
    named = contradiction_of(asked)
    if passing(asked):
        assert named == ()
        return
    assert named

    def together(lines: Sequence[NeedLine]) -> bool:
        return any(not any(fails(asked, line, n) for line in lines) for n in every(asked))

    assert not together(named)
    if len(named) < len(asked.musts):
        # Any of them given up, the others can be met.
        assert all(together([one for one in named if one != left_out]) for left_out in named)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_nearest_misses_fail_fewest_needs(seed):
    asked = scout(some_parts(seed), Needs(budget=0.0, lift_kg=1.0, hours=0.05), TARGETS, GARDEN)
    misses = [int(one) for one in misses_of(asked)]
    counts = [len(failed(asked, number)) for number in misses]
    others = [len(failed(asked, n)) for n in every(asked) if n not in misses and failed(asked, n)]
    assert len(misses) == MOST_MISSES
    assert counts == sorted(counts)
    assert 0 < counts[-1] <= min(others)


def test_with_no_must_nothing_contradicts_and_nothing_is_missed():
    asked = answer(1, 0)
    assert asked.musts == ()
    assert len(asked.passing) == asked.table.count
    assert (contradiction_of(asked), gains_of(asked), len(misses_of(asked))) == ((), (), 0)


# -- What it is asked


def test_more_combinations_than_are_looked_at_ask_to_narrow_before_anything_is_worked_out():
    (one,) = choice([tube()], []).tubes
    (eye,) = choice([], [camera()]).cameras
    count = math.isqrt(MOST_COMBINATIONS) + 1
    many = replace(choice([], []), tubes=(one,) * count, cameras=(eye,) * count)
    with pytest.raises(RefusedError, match=f"{count * count:,} combinations are more than 5,000,000"):
        scout(many, OPEN, TARGETS, GARDEN)


@pytest.mark.parametrize("none", [choice([], []), choice([tube()], []), choice([], [camera()])])
@pytest.mark.parametrize("needs", [OPEN, Needs(budget=100.0, collimate=False)])
def test_of_an_empty_shelf_nothing_is_found_and_nothing_fails(none, needs):
    asked = scout(none, needs, TARGETS, GARDEN)
    assert asked.table.count == 0
    assert (front(asked), passing(asked), others_of(asked), gains_of(asked)) == ([], set(), (), ())
    assert (contradiction_of(asked), len(misses_of(asked))) == ((), 0)


def test_a_price_in_another_currency_passes_any_budget_as_not_known_and_is_not_on_a_front_over_cost():
    these = choice(
        [tube(model="Near", price=euros(5000.0)), tube(model="Far", price=euros(50.0, "USD"))],
        [camera(model="Ours", **FULL_SENSOR)],
        mounts=[mount(20.0, price=euros(900.0))],
        owned=("Ours",),
    )
    asked = scout(these, Needs(budget=1000.0, front=("cost",)), (SMALL,), GARDEN)
    (far,) = passing(asked)
    assert asked.table.candidate(far).tube == these.tubes[1].id
    assert bool(asked.judged.unknown[far])
    assert (front(asked), asked.unmeasured.tolist()) == ([], [far])
    dollars = scout(these, Needs(budget=1000.0, currency="USD", front=("cost",)), (SMALL,), GARDEN)
    assert all(math.isnan(one) for one in dollars.table.measures["value"]["cost"])


def test_what_is_owned_costs_nothing_and_what_is_all_owned_meets_a_budget_of_nothing():
    these = choice(
        [tube(model="Ours", price=euros(5000.0)), tube(model="Other", price=euros(1.0))],
        [camera(model="Eye", price=euros(900.0, "USD"), **FULL_SENSOR)],
        mounts=[mount(20.0, model="Stand")],
        owned=("Ours", "Eye", "Stand"),
    )
    asked = scout(these, Needs(budget=0.0), (SMALL,), GARDEN)
    (number,) = passing(asked)
    assert asked.table.candidate(number).tube == these.tubes[0].id
    assert asked.table.measures["value"]["cost"][number] == 0.0


def test_a_sum_that_is_the_budget_itself_meets_it():
    # 1000.10 + 0.20 is 1000.3000000000001 in floats.
    these = choice([tube(price=euros(1000.1))], [camera(price=euros(0.2))])
    assert len(scout(these, Needs(budget=1000.3), (SMALL,), GARDEN).passing) == 1
    assert len(scout(these, Needs(budget=1000.29), (SMALL,), GARDEN).passing) == 0


def test_every_limit_that_is_said_is_a_line_and_what_one_would_like_is_no_must():
    said = {name: 0.5 for name, _, _ in LIMITS}
    needs = Needs.model_validate(said | {"like": ("hours", "fill_most")})
    asked = scout(some_parts(2), needs, TARGETS, GARDEN)
    assert [line.name for line in asked.lines] == [name for name, _, _ in LIMITS]
    assert [line.name for line in asked.lines if not line.must] == ["hours", "fill_most"]
