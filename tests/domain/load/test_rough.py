"""Balance while nobody has measured it. Source: statics, sum m r = 0, worked by hand at both ends."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.domain.load.bodies import work_balance
from server.domain.load.rough import RoughBalance, work_rough
from server.domain.load_plan import LoadPlan, Spot
from server.domain.parts import Accessory, Mount
from server.domain.rig import Rig
from server.domain.train import Place
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import asked_of
from tests.domain.checks.test_balance import MOUNT, carried, judged, weight
from tests.domain.rigs import camera, item, mm, rig, ring

TENTH_MM = 0.1
BOX = Accessory(model="Box", mass_kg=mm(2.0), place="tube")


def rough_of(rig: Rig) -> RoughBalance:
    return work_rough(Case(rig))


def mount() -> Mount:
    return Mount(model="Mount", **{name: mm(v) if isinstance(v, float) else v for name, v in MOUNT.items()})


def test_gear_of_which_nobody_said_where_it_sits_may_sit_anywhere_along_the_tube() -> None:
    # 5 kg at 200, 1 kg in 400 to 440, 2 kg in 440 to 480; 2 kg more at 0, 200 and 400 mm: 2340 / 10 = 234,
    # 274 and 314; the train in its own length 60 / 10 = 6 mm either way.
    rough = rough_of(carried(BOX, plan=LoadPlan()))
    assert rough.centre == pytest.approx((228.0, 274.0, 320.0), abs=TENTH_MM)
    assert asked_of([one.enter for one in rough.assumed]) == ("where Box sits on the tube",)
    # 2 kg over 400 mm of 10 kg.
    assert rough.assumed[0].moves_mm == pytest.approx(80.0)
    box = next(body for body in rough.sheet.bodies if body.name == "Box")
    assert (box.basis, box.between_mm) == ("assumed", (0.0, 400.0))


def test_a_bare_tube_is_taken_to_balance_in_the_middle_half_of_its_length() -> None:
    # (5 x 100 + 420 + 920) / 8 = 230, (5 x 300 + 1340) / 8 = 355; 60 / 8 = 7.5 mm either way.
    rough = rough_of(carried(plan=LoadPlan(), balance_point_mm=None))
    assert rough.centre == pytest.approx((222.5, 292.5, 362.5), abs=TENTH_MM)


def test_a_newtonians_focuser_is_taken_to_sit_in_the_front_of_its_tube() -> None:
    # (1000 + 3 x 0) / 8 = 125; (1000 + 3 x 160) / 8 = 185: a train at the side balances at the focuser.
    rough = rough_of(carried(plan=LoadPlan(), design="newtonian"))
    assert rough.centre is not None
    assert (rough.centre[0], rough.centre[2]) == pytest.approx((125.0, 185.0), abs=TENTH_MM)


def test_a_ring_that_stands_in_the_train_twice_is_measured_once_and_moves_what_is_behind_each() -> None:
    twice = Place(0, item(ring(None, mass_kg=1.0)))
    bare = carried(plan=LoadPlan())
    assert bare.train.tube is not None
    rough = rough_of(rig(bare.train.tube, twice, twice, camera(mass_kg=2.0, flange_mm=20.0)))
    (long,) = (one for one in rough.assumed if one.figure == "length")
    # Over 100 mm at most: 1 + 1 + 2 kg behind the first, 1 + 2 kg behind the second, of 5 + 4 kg.
    assert long.moves_mm == pytest.approx((4 + 3) * 100.0 / 9.0)


def test_what_is_measured_later_lies_within_what_was_said_before() -> None:
    plain = carried(BOX, plan=LoadPlan(), balance_point_mm=None)
    low, _, high = rough_of(plain).centre or (0.0, 0.0, 0.0)
    box = plain.gear[0].item.id
    for tube_mm in (100.0, 170.0, 300.0):
        for at_mm in (0.0, 90.0, 400.0):
            known = carried(BOX, plan=LoadPlan(), balance_point_mm=tube_mm)
            spot = Spot(part_id=known.gear[0].item.id, along_mm=at_mm)
            worked = work_balance(Case(replace(known, load=LoadPlan(spots=(spot,))))).worked_mm
            assert worked is not None
            assert low <= worked <= high
    assert box


def test_a_rough_answer_is_no_verdict() -> None:
    """Clamped in the very middle of what is assumed, the balance is not known: it is never sound."""
    rig = carried(BOX, plan=LoadPlan(clamp_mm=274.0))
    assert rough_of(rig).centre is not None
    assert {one.weight for one in judged(rig)} == {"unknown"}


def test_without_the_tubes_mass_or_length_it_is_asked_for_those_two_alone() -> None:
    rough = rough_of(carried(BOX, plan=LoadPlan(), mass_kg=None, tube_length_mm=None))
    assert asked_of(rough.missing) == ("the mass of Halden Tube", "the tube length of Halden Tube")
    assert (rough.centre, rough.sheet.bodies) == (None, ())


def test_a_mass_that_nobody_gave_is_left_out_and_said() -> None:
    box = Accessory(model="Box", place="tube")
    rough = rough_of(carried(box, mount(), plan=LoadPlan()))
    assert rough.centre == pytest.approx((285.0, 292.5, 300.0), abs=TENTH_MM)
    assert asked_of(rough.left_out) == ("the mass of Box",)
    assert rough.bars == (), "what is heavier than known is not said to be balanced"


def test_the_pull_about_the_polar_axis_is_a_range_with_the_weights_for_both_ends() -> None:
    # The saddle 150 mm over the axis; the tube's axis half its aperture over it, and 100 mm more at most.
    rig = carried(mount(), weight(8.0), plan=LoadPlan())
    rough = rough_of(rig)
    half = rig.train.tube.part.aperture_mm.nominal / 2.0
    assert rough.arm == pytest.approx((150.0 + half, 190.0 + half, 250.0 + half))
    # 8 kg x g x arm.
    assert rough.torque_nm == pytest.approx((8 * 9.80665e-3 * (150 + half), 8 * 9.80665e-3 * (250 + half)))
    # The bar: 1 kg at 250 mm; 8 kg of weight: (8 x arm - 250) / 8.
    at = [bar.weights[0].at_mm for bar in rough.bars if bar.weights]
    assert at == pytest.approx([(8 * (150 + half) - 250) / 8, (8 * (250 + half) - 250) / 8])


def test_a_height_that_is_known_is_not_assumed() -> None:
    rough = rough_of(carried(mount(), weight(8.0), plan=LoadPlan(tube_above_saddle_mm=50.0)))
    assert (rough.heights, rough.arm) == ((), (200.0, 200.0, 200.0))
