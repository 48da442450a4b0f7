"""Loads that are lifted: nothing of a rig is dropped or doubled, and a smaller load is never judged worse.

Source: none needed for the properties; sums worked by hand.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.domain.load.lifts import sum_trips, work_lifts
from server.domain.load.places import all_pieces
from server.domain.load.sheet import LiftLine
from server.domain.load_plan import Lift, LoadPlan
from server.domain.parts import Accessory, Counterweight, GuideScope, Part, PowerSource, Support
from server.domain.rig import Gear, Rig
from server.domain.train import Place
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import asked_of, plain
from tests.domain.rigs import camera, glass, guide_camera, guider, holding, item, mm, mount, rig, tube, wheel

HEAVIEST_KG = 60.0
masses = st.none() | st.floats(0.001, HEAVIEST_KG)


def _measured(mass_kg: float | None) -> Any:
    return None if mass_kg is None else mm(mass_kg)


@st.composite
def any_rig(draw: st.DrawFn) -> Rig:
    """A train with a filled wheel and a guider's side, and gear of every place, some of it several times,
    some of it the same part twice over.
    """
    filters = [glass(2.0, mass_kg=draw(masses)) for _ in range(draw(st.integers(0, 2)))]
    plain = rig(
        tube(mass_kg=draw(masses), mass_with_rings_kg=draw(masses)),
        guider(),
        holding(wheel(20.0, mass_kg=draw(masses)), *filters),
        camera(mass_kg=draw(masses)),
    )
    kinds = draw(st.lists(st.integers(0, 8), max_size=6))
    made: list[Part] = [
        mount(mass_kg=draw(masses), heaviest_piece_kg=draw(masses)),
        Support(model="Tripod", mass_kg=_measured(draw(masses))),
        Counterweight(model="Iron", mass_kg=_measured(draw(masses))),
        PowerSource(model="Battery", mass_kg=_measured(draw(masses))),
        GuideScope(model="Scope", mass_kg=_measured(draw(masses))),
        *(
            Accessory(model=f"Box {where}", mass_kg=_measured(draw(masses)), place=where)
            for where in ("saddle", "bar", "ground", None)
        ),
    ]
    items = [item(part) for part in made]
    gear = tuple(Gear(items[kind], draw(st.integers(1, 4))) for kind in kinds)
    branch = (Place(50, item(guide_camera())),) if draw(st.booleans()) else ()
    of = replace(plain, gear=gear, branch=branch)
    ids = [piece.part_id for piece in all_pieces(of)] + [10**9]
    lifts = st.builds(
        Lift,
        name=st.sampled_from(["first", "second"]),
        parts=st.lists(st.sampled_from(ids), min_size=1, max_size=8).map(tuple),
        people=st.integers(1, 2),
    )
    return replace(of, load=LoadPlan(lifts=draw(st.lists(lifts, max_size=4).map(tuple))))


def _movable(of: Rig) -> Counter[int]:
    """Every part of a rig, counted from the rig itself."""
    found: Counter[int] = Counter()
    for place in (*of.train, *of.branch):
        found.update([place.item.id, *(inner.id for inner in place.inside)])
    for gear in of.gear:
        found[gear.item.id] += gear.quantity
    return found


def _held(line: LiftLine) -> Counter[int]:
    found: Counter[int] = Counter()
    for piece in line.pieces:
        found[piece.part_id] += piece.quantity * line.count
    return found


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(any_rig())
def test_whatever_is_planned_every_part_is_in_some_load_and_none_in_more_than_there_are(of: Rig) -> None:
    lines = work_lifts(Case(of))
    planned: Counter[int] = Counter()
    for line in lines:
        if line.planned is not None:
            # A piece that is lifted again and again is one piece.
            planned |= _held(line)
    rest: Counter[int] = Counter()
    for line in lines:
        if line.planned is None:
            rest.update(_held(line))
    assert planned + rest == _movable(of)


HOW: dict[str, Any] = {
    "from_height_mm": 300.0,
    "to_height_mm": 1100.0,
    "reach_mm": 400.0,
    "coupling": "fair",
    "twist_deg": 20.0,
}


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.floats(0.01, HEAVIEST_KG), min_size=2, max_size=6),
    st.data(),
    st.sampled_from([None, "from_height_mm", "reach_mm", "coupling"]),
)
def test_splitting_a_load_never_raises_the_index_of_its_parts(
    weighed: list[float], data: st.DataObject, left_out: str | None
) -> None:
    of = rig(gear=[(Counterweight(model=f"Iron {n}", mass_kg=mm(kg)), 2) for n, kg in enumerate(weighed)])
    numbers = [gear.item.id for gear in of.gear for _ in range(2)]
    cut = data.draw(st.integers(1, len(numbers) - 1))
    order = data.draw(st.permutations(numbers))
    how = HOW if left_out is None else HOW | {left_out: None}
    lifts = tuple(
        Lift(name=name, parts=tuple(parts), **how)
        for name, parts in (("whole", order), ("one", order[:cut]), ("other", order[cut:]))
    )
    whole, one, other = work_lifts(Case(replace(of, load=LoadPlan(lifts=lifts))))
    assert one.mass_kg + other.mass_kg == pytest.approx(whole.mass_kg)
    for part in (one, other):
        for end, of_whole in zip(part.ends or part.at_best, whole.ends or whole.at_best, strict=True):
            assert end.limit_kg == of_whole.limit_kg
            assert end.index is not None
            assert of_whole.index is not None
            assert end.index <= of_whole.index * (1.0 + 1e-9)


def test_of_what_one_planned_lift_takes_the_rest_is_still_lifted() -> None:
    of = rig(gear=[(Counterweight(model="Iron", mass_kg=mm(5.0)), 3)])
    iron = of.gear[0].item.id
    lines = work_lifts(Case(replace(of, load=LoadPlan(lifts=(Lift(name="two", parts=(iron, iron)),)))))
    assert [(plain(line.name), line.mass_kg, line.count) for line in lines] == [
        ("two", 10.0, 1),
        ("Iron", 5.0, 1),
    ]
    whole = work_lifts(Case(of))
    assert [(line.mass_kg, line.count) for line in whole] == [(5.0, 3)]


def test_a_lift_of_more_than_the_rig_has_counts_what_there_is_and_says_so() -> None:
    of = rig(tube(mass_kg=4.0))
    number = of.train.places[0].item.id
    line = work_lifts(Case(replace(of, load=LoadPlan(lifts=(Lift(name="tube", parts=(number, number)),)))))[0]
    assert line.mass_kg == pytest.approx(4.0)
    assert asked_of(line.missing) == ("what goes together: the rig has Halden Tube only once",)


def test_each_accessory_that_does_not_ride_is_a_load_and_those_that_ride_are_not() -> None:
    def box(where: Any) -> Accessory:
        return Accessory(model=f"Box {where}", mass_kg=mm(2.0), place=where)

    of = rig(tube(), gear=[box(where) for where in ("tube", "saddle", "bar", "ground", None)])
    lines = work_lifts(Case(of))
    assert [plain(line.name) for line in lines[1:]] == ["Box bar", "Box ground", "Box None"]
    assert lines[0].mass_kg == pytest.approx(9.0)


def _carrying(tube_kg: float | None, *, camera_mm: float | None) -> Rig:
    of = rig(tube(mass_kg=tube_kg), camera())
    tube_id, camera_id = (place.item.id for place in of.train)
    lifts = (
        Lift(name="tube", parts=(tube_id,), carry_mm=40_000.0, trips=1),
        Lift(name="camera", parts=(camera_id,), carry_mm=camera_mm, trips=2),
    )
    return replace(of, load=LoadPlan(lifts=lifts))


def test_all_that_is_carried_is_summed_and_is_a_lower_bound_while_a_mass_or_a_distance_is_missing() -> None:
    # 5.0 kg over 40 m and 0.6 kg over 25 m twice: 200 + 30 = 230 kg m.
    trips = sum_trips(work_lifts(Case(_carrying(5.0, camera_mm=25_000.0))))
    assert trips is not None
    assert trips.kg_m == pytest.approx(230.0)
    assert not trips.at_least
    unsaid = sum_trips(work_lifts(Case(_carrying(5.0, camera_mm=None))))
    assert unsaid is not None
    assert unsaid.kg_m == pytest.approx(200.0)
    assert ([plain(one) for one in unsaid.unsaid], unsaid.at_least) == (["camera"], True)
    unweighed = sum_trips(work_lifts(Case(_carrying(None, camera_mm=25_000.0))))
    assert unweighed is not None
    assert unweighed.kg_m == pytest.approx(30.0)
    assert (asked_of(unweighed.missing), unweighed.at_least) == (("the mass of Halden Tube",), True)
    assert sum_trips(work_lifts(Case(rig(tube())))) is None
