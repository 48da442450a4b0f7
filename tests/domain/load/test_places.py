"""Sums by place, and what goes in which case. Source: sums worked by hand."""

from __future__ import annotations

import pytest

from server.domain.load.lifts import work_lifts
from server.domain.load.places import pack, sum_places
from server.domain.load_plan import CaseUse, Lift, LoadPlan
from server.domain.parts import Accessory, Counterweight, Support
from server.domain.rig import Rig
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import asked_of, plain
from tests.domain.rigs import camera, mm, mount, rig, tube

ROUNDING_KG = 1e-9


def _rig() -> Rig:
    """5.0 + 0.6 ride, 2 x 4.0 hang on the bar, the mount weighs 12.0; the tripod's mass is not known."""
    return rig(
        tube(),
        camera(),
        gear=[
            mount(mass_kg=12.0),
            (Counterweight(model="Weight", mass_kg=mm(4.0)), 2),
            Support(model="Tripod"),
            Accessory(model="Box", mass_kg=mm(0.4)),
        ],
    )


def _with(plain: Rig, plan: LoadPlan) -> Rig:
    return Rig(plain.name, plain.train, plain.gear, plain.rules, plain.branch, plan)


def test_every_place_has_its_sum_and_what_is_missing_from_it() -> None:
    sums = {place.place: place for place in sum_places(Case(_rig()))}
    assert list(sums) == ["saddle", "bar", "stand", "ground", "unplaced"]
    assert sums["saddle"].known_kg == pytest.approx(5.6, abs=ROUNDING_KG)
    assert sums["bar"].known_kg == pytest.approx(8.0, abs=ROUNDING_KG)
    assert sums["stand"].known_kg == pytest.approx(25.6, abs=ROUNDING_KG)
    assert asked_of(sums["ground"].missing) == ("the mass of Tripod",)
    assert [piece.name for piece in sums["unplaced"].pieces] == ["Box"]


def test_a_rig_of_nothing_carries_nothing() -> None:
    assert sum_places(Case(rig())) == ()
    assert pack(rig()) == ()


def test_every_part_is_packed_once_and_what_has_no_case_travels_loose() -> None:
    plain = _rig()
    tube_id, camera_id = (place.item.id for place in plain.train)
    weights = plain.gear[1].item.id
    cases = (
        CaseUse(part_id=weights, case="Iron"),
        CaseUse(part_id=tube_id, case="Grey"),
        CaseUse(part_id=camera_id, case="Grey"),
    )
    packed = pack(_with(plain, LoadPlan(cases=cases)))
    assert [case.name for case in packed] == ["Iron", "Grey", ""]
    assert [case.known_kg for case in packed] == pytest.approx([8.0, 5.6, 12.4], abs=ROUNDING_KG)
    assert asked_of(packed[2].missing) == ("the mass of Tripod",)
    assert sum(len(case.pieces) for case in packed) == 6


def test_a_lift_weighs_as_many_of_a_part_as_it_names_and_tells_its_carry() -> None:
    # Two weights of 4 kg over 25 m, in 3 trips: 8 x 25 x 3 = 600 kg m.
    bare = _rig()
    weights = bare.gear[1].item.id
    lift = Lift(name="Iron", parts=(weights, weights), carry_mm=25_000.0, trips=3)
    lines = work_lifts(Case(_with(bare, LoadPlan(lifts=(lift,)))))
    assert (plain(lines[0].name), lines[0].planned) == ("Iron", 0)
    assert lines[0].mass_kg == pytest.approx(8.0, abs=ROUNDING_KG)
    assert lines[0].carry_kg_m == pytest.approx(600.0, abs=1e-6)
    assert [plain(line.name) for line in lines[1:]] == [
        "the tube with all that rides on it",
        "Stone Mount",
        "Tripod",
        "Box",
    ]


def test_a_lift_of_a_part_that_left_the_rig_says_so() -> None:
    lift = Lift(name="Gone", parts=(987_654,))
    line = work_lifts(Case(_with(_rig(), LoadPlan(lifts=(lift,)))))[0]
    assert asked_of(line.missing) == ("what goes together: a part of it has left the rig",)
    assert line.mass_kg == 0.0
