"""Moving a mass moves the balance point the right way, through the whole of the load's sheet.

Source: statics: the centre of mass goes with the moved mass by its share of the whole, sum m r / sum m.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.load.bodies import work_balance
from server.domain.load_plan import LoadPlan, Spot
from server.domain.parts import Accessory
from server.domain.rig import Rig
from server.domain.workings.case import Case
from tests.domain.rigs import camera, mm, rig, ring, tube

CLOSE_MM = 1e-6

masses = st.floats(0.05, 20.0)
places = st.floats(0.0, 1500.0)
out = st.floats(-100.0, 200.0)


def _rig(tube_kg: float, ring_kg: float, camera_kg: float, box_kg: float) -> Rig:
    return rig(
        tube(mass_kg=tube_kg, balance_point_mm=300.0, tube_length_mm=700.0),
        ring(40.0, mass_kg=ring_kg),
        camera(mass_kg=camera_kg, flange_mm=20.0),
        gear=[Accessory(model="Box", mass_kg=mm(box_kg), place="tube")],
    )


def _centre(built: Rig, spot_mm: float, drawtube_mm: float = 0.0) -> float:
    spot = Spot(part_id=built.gear[0].item.id, along_mm=spot_mm)
    plan = LoadPlan(spots=(spot,), drawtube_out_mm=drawtube_mm)
    centre = work_balance(Case(Rig("Moved", built.train, built.gear, load=plan))).centre_mm
    assert centre is not None
    return centre


@given(masses, masses, masses, masses, places, places)
def test_gear_moved_along_the_tube_takes_the_balance_point_with_it_by_its_share(
    tube_kg: float, ring_kg: float, camera_kg: float, box_kg: float, one_mm: float, other_mm: float
) -> None:
    built = _rig(tube_kg, ring_kg, camera_kg, box_kg)
    moved = _centre(built, other_mm) - _centre(built, one_mm)
    share = box_kg / (tube_kg + ring_kg + camera_kg + box_kg)
    assert moved == pytest.approx(share * (other_mm - one_mm), abs=CLOSE_MM)


@given(masses, masses, masses, masses, out, out)
def test_a_drawtube_racked_out_moves_it_towards_the_camera_by_the_share_of_what_hangs_on_it(
    tube_kg: float, ring_kg: float, camera_kg: float, box_kg: float, one_mm: float, other_mm: float
) -> None:
    built = _rig(tube_kg, ring_kg, camera_kg, box_kg)
    moved = _centre(built, 100.0, other_mm) - _centre(built, 100.0, one_mm)
    share = (ring_kg + camera_kg) / (tube_kg + ring_kg + camera_kg + box_kg)
    assert moved == pytest.approx(share * (other_mm - one_mm), abs=CLOSE_MM)
    if other_mm > one_mm + 0.1:
        assert moved > 0.0


@given(masses, masses, masses, masses, masses)
def test_a_heavier_camera_moves_it_towards_the_camera_and_never_past_it(
    tube_kg: float, ring_kg: float, camera_kg: float, box_kg: float, more_kg: float
) -> None:
    before = _centre(_rig(tube_kg, ring_kg, camera_kg, box_kg), 100.0)
    after = _centre(_rig(tube_kg, ring_kg, camera_kg + more_kg, box_kg), 100.0)
    # The sensor lies 700 + 40 + 20 mm behind the tube's front.
    assert before < after < 760.0
    whole = tube_kg + ring_kg + camera_kg + box_kg
    assert after - before == pytest.approx(more_kg * (760.0 - before) / (whole + more_kg), abs=CLOSE_MM)


@given(masses, masses, masses, masses, st.floats(-0.04, 5.0))
def test_the_change_that_the_sheet_foretells_is_the_one_that_comes(
    tube_kg: float, ring_kg: float, camera_kg: float, box_kg: float, change_kg: float
) -> None:
    built = _rig(tube_kg, ring_kg, camera_kg, box_kg)
    spot = Spot(part_id=built.gear[0].item.id, along_mm=100.0)
    plan = LoadPlan(spots=(spot,), change_kg=change_kg)
    foretold = work_balance(Case(Rig("Plan", built.train, built.gear, load=plan))).with_change_mm
    after = _centre(_rig(tube_kg, ring_kg, camera_kg + change_kg, box_kg), 100.0)
    assert foretold == pytest.approx(after - _centre(built, 100.0), abs=CLOSE_MM)
