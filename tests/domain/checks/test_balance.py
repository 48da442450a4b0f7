"""Balance along the dovetail and about the polar axis. Source: statics, sum m r = 0, worked by hand."""

from __future__ import annotations

from typing import Any

import pytest

from server.domain.findings import Finding
from server.domain.load.bodies import work_balance
from server.domain.load_plan import LoadPlan, Spot
from server.domain.parts import Accessory, Counterweight, Part, PlateAndRings
from server.domain.rig import Rig
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import asked_of
from tests.domain.rigs import camera, glass, mm, number, rig, ring, tube
from tests.told import run_checks

TENTH_MM = 0.1

TUBE: dict[str, Any] = {
    "mass_kg": 5.0,
    "balance_point_mm": 200.0,
    "tube_length_mm": 400.0,
    "drawtube_sag_arcmin": 2.0,
}
MOUNT: dict[str, Any] = {
    "mass_kg": 12.0,
    "mount_type": "equatorial",
    "saddle_height_mm": 150.0,
    "bar_start_mm": 100.0,
    "bar_length_mm": 300.0,
    "bar_mass_kg": 1.0,
    "bar_diameter_mm": 20.0,
}


HIGH = LoadPlan(tube_above_saddle_mm=50.0)


def weight(mass_kg: float, **given: Any) -> Counterweight:
    usual: dict[str, Any] = {
        "model": "Weight",
        "mass_kg": mm(mass_kg),
        "thickness_mm": mm(40.0),
        "bore_mm": mm(20.0),
    }
    return Counterweight(**(usual | given))


def carried(*gear: Part | tuple[Part, int], plan: LoadPlan, **of_tube: Any) -> Rig:
    """5.0 kg at 200 mm; a ring of 1.0 kg from 400 to 440 mm; a camera of 2.0 kg, flange 20 mm."""
    return rig(
        tube(**(TUBE | of_tube)),
        ring(40.0, mass_kg=1.0),
        camera(mass_kg=2.0, flange_mm=20.0),
        gear=gear,
        load=plan,
    )


def judged(one: Rig) -> list[Finding]:
    return [f for f in run_checks(one) if f.code.startswith("balance.")]


def test_a_solar_filter_sits_over_the_front_of_the_tube_unless_its_owner_says_otherwise() -> None:
    # (2340 + 0.5 x 0) / 8.5 = 275.29 mm.
    solar = glass(2.0, solar=True, mass_kg=0.5)
    sheet = work_balance(Case(carried(solar, plan=LoadPlan())))
    assert sheet.centre_mm == pytest.approx(275.29, abs=TENTH_MM)
    assert sheet.bodies[-1].basis == "assumed"


def test_the_balance_point_follows_from_the_trains_own_geometry() -> None:
    # (5 x 200 + 1 x 420 + 2 x 460) / 8 = 2340 / 8 = 292.5 mm.
    sheet = work_balance(Case(carried(plan=LoadPlan(clamp_mm=280.0))))
    assert sheet.centre_mm == pytest.approx(292.5, abs=TENTH_MM)
    assert sheet.centre_basis == "worked out"
    assert [body.basis for body in sheet.bodies] == ["typed", "assumed", "assumed"]
    # 8 kg x 9.80665 x 12.5 mm = 0.9807 N m.
    assert sheet.imbalance_nm == pytest.approx(0.9807, abs=1e-4)


def test_two_of_the_same_ring_lie_one_behind_the_other() -> None:
    same = ring(40.0, mass_kg=1.0)
    plain = rig(tube(**TUBE), same, same, camera(mass_kg=2.0, flange_mm=20.0))
    first = plain.train.places[1]
    assert [body.along_mm for body in work_balance(Case(plain)).bodies] == [200.0, 420.0, 460.0, 500.0]
    assert first.part == same


def test_a_measured_balance_point_wins_and_is_enough() -> None:
    sheet = work_balance(Case(carried(plan=LoadPlan(balance_mm=310.0), balance_point_mm=None)))
    assert (sheet.centre_mm, sheet.centre_basis, sheet.missing) == (310.0, "measured", ())


def test_a_tube_of_unknown_balance_point_is_asked_for_it_and_nothing_is_guessed() -> None:
    found = judged(carried(plan=LoadPlan(clamp_mm=280.0), balance_point_mm=None))
    assert [(f.weight, f.missing) for f in found] == [("unknown", ("the balance point of Halden Tube",))]


def test_gear_on_the_tube_counts_at_its_spot_and_is_asked_for_without_one() -> None:
    box = Accessory(model="Box", mass_kg=mm(2.0), place="tube")
    plain = carried(box, plan=LoadPlan(clamp_mm=280.0))
    assert asked_of(work_balance(Case(plain)).missing) == ("where Box sits on the tube",)
    spot = Spot(part_id=plain.gear[0].item.id, along_mm=100.0)
    placed = Rig("Box", plain.train, plain.gear, load=LoadPlan(spots=(spot,)))
    # (2340 + 2 x 100) / 10 = 254 mm.
    assert work_balance(Case(placed)).centre_mm == pytest.approx(254.0, abs=TENTH_MM)


def test_the_train_of_a_newtonian_balances_at_its_focuser_and_that_is_asked_for() -> None:
    asked = work_balance(Case(carried(plan=LoadPlan(), design="newtonian")))
    assert asked_of(asked.missing) == ("where the focuser sits at the side of Halden Tube",)
    # (5 x 200 + 3 x 80) / 8 = 155 mm.
    sheet = work_balance(Case(carried(plan=LoadPlan(focuser_at_mm=80.0), design="newtonian")))
    assert sheet.centre_mm == pytest.approx(155.0, abs=TENTH_MM)


def test_racking_out_and_a_heavier_camera_move_the_balance_point_back() -> None:
    # 3 of 8 kg hang on the drawtube: 0.375 mm a mm. A kilogram more at 460 mm: (460 - 292.5) / 9 = 18.61 mm.
    sheet = work_balance(Case(carried(plan=LoadPlan(change_kg=1.0))))
    assert sheet.per_racked_mm == pytest.approx(0.375)
    assert sheet.with_change_mm == pytest.approx(18.61, abs=0.01)
    racked = work_balance(Case(carried(plan=LoadPlan(drawtube_out_mm=10.0))))
    assert racked.centre_mm == pytest.approx(292.5 + 3.75, abs=TENTH_MM)


def test_the_drawtube_sags_by_its_measured_softness() -> None:
    # 1 kg at 20 mm and 2 kg at 60 mm behind it: 9.80665 x (0.02 + 0.12) = 1.3729 N m, at 2 arcmin each.
    assert work_balance(Case(carried(plan=LoadPlan()))).sag_arcmin == pytest.approx(2.7459, abs=1e-3)


def test_a_drawtube_that_is_racked_out_sags_more_for_its_longer_arm() -> None:
    # 3 kg hang 10 mm further out: 9.80665 x 0.03 = 0.2942 N m more, at 2 arcmin each.
    racked = work_balance(Case(carried(plan=LoadPlan(drawtube_out_mm=10.0))))
    assert racked.sag_arcmin == pytest.approx(2.7459 + 0.5884, abs=1e-3)


def test_the_sag_needs_no_length_of_the_tube_and_a_focuser_at_its_side_sags_alike() -> None:
    for plan, length in ((LoadPlan(), None), (LoadPlan(focuser_at_mm=100.0), 400.0)):
        long = None if length is None else mm(length)
        sheet = work_balance(Case(carried(plan=plan, tube_length_mm=long)))
        assert sheet.sag_arcmin == pytest.approx(2.7459, abs=1e-3)


def test_a_tube_that_is_clamped_off_its_balance_is_told_which_way_to_slide() -> None:
    (found,) = judged(carried(plan=LoadPlan(clamp_mm=280.0)))
    assert (found.code, found.weight) == ("balance.along_off", "watch")
    assert number(found, "off") == pytest.approx(12.5)
    assert "forwards" in found.remedies[0].phrase.template
    (near,) = judged(carried(plan=LoadPlan(clamp_mm=290.0)))
    assert near.weight == "sound"


def test_a_measured_balance_point_far_from_the_worked_one_is_doubted_with_both() -> None:
    # 292.5 mm by the places of the parts.
    (far,) = judged(carried(plan=LoadPlan(balance_mm=100.0, clamp_mm=100.0)))
    assert (far.code, far.weight) == ("balance.doubt", "watch")
    assert (number(far, "centre"), number(far, "worked"), number(far, "apart")) == (100.0, 292.5, 192.5)
    assert "Measure the balance point again" in far.remedies[0].phrase.template
    assert [one.basis for one in far.inputs if one.label.startswith("the same")] == ["worked out"]
    (near,) = judged(carried(plan=LoadPlan(balance_mm=312.0, clamp_mm=312.0)))
    assert (near.code, near.weight) == ("balance.along", "sound")
    (unclamped,) = judged(carried(plan=LoadPlan(balance_mm=100.0)))
    assert (unclamped.code, unclamped.weight) == ("balance.doubt", "watch")
    (alone,) = judged(carried(plan=LoadPlan(balance_mm=100.0, clamp_mm=100.0), balance_point_mm=None))
    assert alone.weight == "sound"


def test_where_nobody_says_where_the_saddle_clamps_it_is_said_where_it_has_to() -> None:
    (found,) = judged(carried(plan=HIGH))
    assert (found.code, found.weight) == ("balance.clamp_at", "unknown")
    assert number(found, "centre") == pytest.approx(292.5)
    assert "over the middle of the saddle" in found.phrase.template
    assert found.missing == ("where the saddle clamps: its middle from the front of the tube",)


@pytest.mark.parametrize(
    ("plate_mm", "code", "words"),
    [
        (80.0, "balance.plate_short", "the saddle cannot follow"),
        (150.0, "balance.plate_short", "more than half of the plate"),
        (200.0, "balance.along_off", ""),
    ],
)
def test_a_slide_beyond_the_plate_is_no_slide(plate_mm: float, code: str, words: str) -> None:
    # Clamped at 200 mm, balanced at 292.5: 92.5 mm to slide.
    plate = PlateAndRings(model="Plate", plate_length_mm=mm(plate_mm), mass_kg=mm(0.0))
    (found,) = judged(carried(plate, plan=LoadPlan(clamp_mm=200.0)))
    assert (found.code, found.weight) == (code, "watch")
    assert words in found.phrase.template
    assert ("rings" in found.remedies[0].phrase.template) == (code == "balance.plate_short")


def test_a_camera_at_the_side_of_a_newtonian_is_told_as_the_third_direction() -> None:
    plan = LoadPlan(focuser_at_mm=80.0, clamp_mm=155.0)
    wide = {"design": "newtonian", "outer_diameter_mm": 240.0}
    of = carried(plan=plan, **wide)
    # A ring of 1 kg, 120 + 20 mm off the axis, a camera of 2 kg 120 + 40 + 20: 500 / 8 = 62.5 mm, and 500 kg
    # mm are 4.9033 N m.
    sheet = work_balance(Case(of))
    assert [body.aside_mm for body in sheet.bodies] == [0.0, 140.0, 180.0]
    assert sheet.aside_mm == pytest.approx(62.5)
    assert sheet.aside_nm == pytest.approx(4.9033, abs=1e-4)
    along, across = judged(of)
    assert along.code == "balance.along"
    assert (across.code, across.weight) == ("balance.across_off", "watch")
    assert "Turn the tube in its rings" in across.remedies[0].phrase.template
    assert "assumed" in across.phrase.template
    off = {i.label: i.amount.value for i in across.inputs if "from the tube's axis" in i.label and i.amount}
    assert off == {"Brask Ring from the tube's axis": 140.0, "Quill Cam from the tube's axis": 180.0}
    half = next(one for one in across.inputs if one.label.startswith("half width"))
    assert half.amount is not None
    assert (half.amount.value, half.basis) == (120.0, "typed")
    bare = judged(carried(plan=plan, design="newtonian"))[1]
    # The aperture of 200 mm is the least that the tube is wide.
    assert number(bare, "aside") == pytest.approx((120.0 + 2.0 * 160.0) / 8.0)
    assert next(one for one in bare.inputs if one.label.startswith("half width")).basis == "assumed"
    asked = judged(carried(plan=plan, design="newtonian", aperture_mm=None))[1]
    assert (asked.weight, asked.missing) == ("unknown", ("the outer diameter of Halden Tube",))
    assert len(judged(carried(plan=LoadPlan(clamp_mm=155.0)))) == 1
