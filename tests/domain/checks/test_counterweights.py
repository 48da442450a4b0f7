"""Weights about the polar axis, and what turns with them. Source: statics, sum m r = 0, worked by hand.

The load of tests/domain/checks/test_balance.py: 8 kg at 150 + 50 = 200 mm ask for 1600 kg mm; the bar gives
1 x 250; 1350 are left.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from server.domain.findings import Finding
from server.domain.load.bodies import work_balance
from server.domain.load.sheet import BalanceSheet
from server.domain.load_plan import LoadPlan, Spot
from server.domain.measure import Measure
from server.domain.parts import Accessory, Counterweight
from server.domain.rig import Rig
from server.domain.workings.case import Case
from server.mechanics import counterweights
from server.rim.phrasebook.tell import phrase_of
from server.rim.wording import write_amount, write_phrase
from tests.domain.checks.test_balance import HIGH, MOUNT, TENTH_MM, TUBE, carried, judged, weight
from tests.domain.rigs import item, mm, mount, number, rig, tube
from tests.told import check_balance


def hung(one: Rig) -> list[Finding]:
    return [f for f in judged(one) if f.title == "Counterweights"]


def test_weights_at_hand_that_balance_are_told_with_their_places() -> None:
    # 1350 / 5 = 270 mm.
    (found,) = hung(carried(mount(**MOUNT), weight(5.0), plan=HIGH))
    assert (found.code, found.weight) == ("balance.bar", "sound")
    assert number(found, "at") == pytest.approx(270.0, abs=TENTH_MM)


def test_a_height_that_is_taken_from_the_tubes_axis_though_it_is_beside_it_is_called_assumed() -> None:
    def bases(plan: LoadPlan, **of_tube: Any) -> list[str]:
        (found,) = hung(carried(mount(**MOUNT), weight(5.0), plan=plan, **of_tube))
        return [one.basis for one in found.inputs if one.label.startswith("height of")]

    assert bases(HIGH) == ["typed"] * 3
    aside = HIGH.model_copy(update={"focuser_at_mm": 80.0})
    assert bases(aside, design="newtonian", outer_diameter_mm=240.0) == ["typed", "assumed", "assumed"]


def test_where_no_weight_at_hand_balances_it_says_what_is_missing_and_what_to_do() -> None:
    # 2 kg at most at 380 mm: 760 of 1350; 590 / 400 = 1.475 kg at the end, or 590 / 2 = 295 mm of bar.
    (found,) = hung(carried(mount(**MOUNT), weight(2.0), plan=HIGH))
    assert (found.code, found.weight) == ("balance.no_weight", "stop")
    assert number(found, "short") == pytest.approx(1.475)
    assert found.remedies[1].phrase.amounts["longer"].value == pytest.approx(295.0)
    # Nobody puts on weights of which it is just said that none fits.
    assert "weights on" not in found.phrase.template
    assert "leave the tube off" in found.phrase.template


def test_a_rig_without_any_weight_is_told_mass_and_place_of_one_that_would_do() -> None:
    # 1350 kg mm: 3.375 kg at the end, at 400 mm, 13.5 next to the axis, 5.4 in the middle of the bar.
    (found,) = hung(carried(mount(**MOUNT), plan=HIGH))
    one = found.remedies[1].phrase.amounts
    written = [write_amount(one[name], "metric") for name in ("least", "most", "middle", "place")]
    assert written == ["3.38 kg", "13.50 kg", "5.40 kg", "250 mm"]
    assert "thickness not counted" in found.remedies[1].phrase.template


def test_seven_light_weights_balance_what_six_do_not() -> None:
    # 1350 kg mm with 0.8 kg each, 40 mm thick: six about 281.25 mm, from 161.25 to 401.25, and the bar ends
    # at 400; seven about 1350 / 5.6 = 241.071, the outermost 120 mm farther out.
    (found,) = hung(carried(mount(**MOUNT), (weight(0.8), 8), plan=HIGH))
    assert (found.code, found.weight) == ("balance.bar", "sound")
    assert found.figure.amount.value == pytest.approx(361.071, abs=0.01)


def test_a_gap_between_the_weights_is_told_with_the_bar_that_would_do() -> None:
    # One of 4.9 kg, 40 mm: at most 380 x 4.9 = 1862, at least 588; two at least 4.9 x (120 + 160) = 1372.
    # 1350 lies between where the bar ends at 260: one alone does at most 4.9 x 240 = 1176, and would at
    # 1350 / 4.9 = 275.51, 35.51 mm farther out.
    short = MOUNT | {"bar_length_mm": 160.0, "bar_mass_kg": 0.0, "saddle_height_mm": 118.75}
    (found,) = hung(carried(mount(**short), (weight(4.9), 2), plan=HIGH))
    assert found.code == "balance.no_weight"
    assert "too little and the next too much" in found.phrase.template
    assert found.remedies[1].phrase.amounts["longer"].value == 36.0
    # One of 40 mm alone: 1350 / 240 = 5.625 kg at the end, 1350 / 120 = 11.25 next to the axis, and in the
    # middle of the bar, at 180 mm, 7.5 kg.
    one = found.remedies[0].phrase.amounts
    assert [one[name].value for name in ("least", "most", "middle", "place")] == [5.63, 11.25, 7.5, 180.0]
    (there,) = hung(carried(mount(**short), weight(one["middle"].value), plan=HIGH))
    assert number(there, "at") == pytest.approx(180.0)


def test_a_search_that_is_given_up_is_not_known_and_never_a_missing_weight(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(counterweights, "MOST_STEPS", 0)
    (found,) = hung(carried(mount(**MOUNT), weight(5.0), plan=HIGH))
    assert (found.code, found.weight) == ("balance.bar_unknown", "unknown")
    assert "too many ways" in found.phrase.template
    assert found.missing
    monkeypatch.setattr(counterweights, "MOST_STEPS", 8)
    (one,) = hung(carried(mount(**MOUNT), weight(5.0), plan=HIGH))
    assert one.code == "balance.bar"


def test_a_weight_that_is_too_much_next_to_the_axis_is_told() -> None:
    # 20 kg at 120 mm: 2400 kg mm against 1350.
    (found,) = hung(carried(mount(**MOUNT), weight(20.0), plan=HIGH))
    assert found.code == "balance.no_weight"
    assert "too much even next to the axis" in found.phrase.template
    # 1350 / 120 = 11.25 kg would do there, and 1350 / 380 = 3.553 at the end.
    assert found.remedies[0].phrase.amounts["most"].value == pytest.approx(11.25)
    assert found.remedies[0].phrase.amounts["least"].value == 3.56
    # Without any bar 1600 are asked, less than the 2400: no shorter one helps.
    assert len(found.remedies) == 1


def test_a_shorter_or_lighter_bar_is_offered_only_where_it_helps() -> None:
    # 12 kg at 120 mm do 1440; 1600 less that leave 160 for the bar, which does 250: 1 kg on 300 mm is
    # x / 300 on x mm, x (100 + x / 2) / 300 = 160, so x = sqrt(100^2 + 2 x 300 x 160) - 100 = 225.58; or
    # 160 / 250 kg.
    (found,) = hung(carried(mount(**MOUNT), weight(12.0), plan=HIGH))
    other = found.remedies[1].phrase.amounts
    assert (other["shorter"].value, other["bar"].value) == (225.0, 0.64)
    for part in ({"bar_length_mm": 225.0, "bar_mass_kg": 0.75}, {"bar_mass_kg": 0.64}):
        (helped,) = hung(carried(mount(**(MOUNT | part)), weight(12.0), plan=HIGH))
        assert helped.code == "balance.bar"
        assert number(helped, "at") == pytest.approx(120.0, abs=0.2)


def test_the_wide_lens_of_the_garden_mount_is_offered_no_shorter_bar() -> None:
    # 1.74 kg at 184 mm; a weight of 3.5 kg, 54 mm thick, does 3.5 x (85 + 27) = 392 of 320 kg mm even without
    # a bar. With the bar of 0.9 kg at 85 + 150 mm 108.66 are left: 0.97 kg next to the axis.
    light = carried(mass_kg=1.74, plan=LoadPlan(tube_above_saddle_mm=34.0))
    garden = mount(**(MOUNT | {"bar_start_mm": 85.0, "bar_mass_kg": 0.9}))
    one = rig(tube(**(TUBE | {"mass_kg": 1.74})), gear=[garden, weight(3.5, thickness_mm=mm(54.0))])
    (found,) = hung(replace(one, load=light.load))
    assert found.remedies[0].phrase.amounts["most"].value == pytest.approx(0.97, abs=0.005)
    assert len(found.remedies) == 1
    assert "shorter" not in found.remedies[0].phrase.template


def test_a_weight_on_the_shelf_is_named_before_any_to_buy() -> None:
    def said(*owned: tuple[Counterweight, int]) -> Finding:
        one = carried(mount(**MOUNT), weight(2.0), plan=HIGH)
        case = Case(one, weights=tuple((item(part), count) for part, count in owned))
        return next(f for f in check_balance(case) if f.title == "Counterweights")

    # 1350 kg mm, of which 2 kg do 760 at most: 5 kg do the rest; 1 kg does not, 340 more; two of 1 kg do 640.
    found = said((weight(1.0, model="Small"), 1), (weight(5.0, model="Disc"), 1))
    assert found.remedies[0].phrase.template == "You own Disc: put it beside the rig."
    assert "with Disc of your shelf they would" in found.phrase.template
    assert "No counterweight at hand" not in found.phrase.template
    assert "You own" not in said((weight(1.0, model="Small"), 1)).remedies[0].phrase.template
    many = said((weight(1.0, model="Small"), 1), (weight(1.0, model="Other"), 1))
    assert many.remedies[0].phrase.template == "You own Small and Other: put them beside the rig."
    narrow = said((weight(5.0, model="Disc", bore_mm=mm(12.0)), 1))
    assert "You own" not in narrow.remedies[0].phrase.template


def test_a_bar_that_is_full_is_not_told_to_take_one_weight_more() -> None:
    # Eight of 40 mm do not fit on 300; seven of 0.5 kg reach 3.5 x 260 = 910 of 1350 kg mm.
    (found,) = hung(carried(mount(**MOUNT), (weight(0.5), 8), plan=HIGH))
    assert found.code == "balance.no_weight"
    assert "in another's place" in found.remedies[0].phrase.template
    assert number(found, "short") == pytest.approx(440.0 / 400.0)
    (room,) = hung(carried(mount(**MOUNT), (weight(0.5), 2), plan=HIGH))
    assert room.remedies[0].phrase.template.startswith("Add a weight")


def test_a_weight_whose_bore_is_narrower_than_the_bar_does_not_count_and_that_is_said() -> None:
    narrow = weight(5.0, model="Slim", bore_mm=mm(18.0))
    (alone,) = hung(carried(mount(**MOUNT), narrow, plan=HIGH))
    assert alone.code == "balance.no_weight"
    (beside,) = hung(carried(mount(**MOUNT), narrow, weight(4.0), plan=HIGH))
    assert beside.code == "balance.bar"
    assert number(beside, "at") == pytest.approx(337.5)
    for found in (alone, beside):
        said = write_phrase(found.phrase, "metric")
        assert "Slim is left out: its bore is 2.0 mm narrower than the bar" in said
    assert hung(carried(mount(**MOUNT), weight(5.0), plan=HIGH))[0].code == "balance.bar"


def test_a_weight_whose_bore_is_much_wider_than_the_bar_may_slide_off() -> None:
    (found,) = hung(carried(mount(**MOUNT), weight(5.0, bore_mm=mm(25.4)), plan=HIGH))
    assert (found.code, found.weight) == ("balance.bar_loose", "watch")
    assert "slide off" in found.phrase.template
    (near,) = hung(carried(mount(**MOUNT), weight(5.0, bore_mm=mm(21.0)), plan=HIGH))
    assert near.weight == "sound"


@pytest.mark.parametrize(
    ("of_weight", "of_mount", "asked"),
    [
        ({"bore_mm": None}, {}, ("the bore of Weight",)),
        ({}, {"bar_diameter_mm": None}, ("the bar's diameter of Stone Mount",)),
        (
            {"bore_mm": None},
            {"bar_diameter_mm": None},
            ("the bore of Weight", "the bar's diameter of Stone Mount"),
        ),
    ],
)
def test_a_fit_that_nobody_knows_is_shown_as_assumed_and_asked_for(
    of_weight: dict[str, Any], of_mount: dict[str, Any], asked: tuple[str, ...]
) -> None:
    (found,) = hung(carried(mount(**(MOUNT | of_mount)), weight(5.0, **of_weight), plan=HIGH))
    assert (found.code, found.weight) == ("balance.bar_fit_unknown", "unknown")
    assert number(found, "at") == pytest.approx(270.0, abs=TENTH_MM)
    assert found.missing == asked
    assert all(words in found.phrase.template for words in asked)
    assumed = [
        one for one in found.inputs if one.basis == "assumed" and one.label in ("bore", "bar's diameter")
    ]
    assert [one.text for one in assumed] == ["not known: taken to slide on"] * len(asked)
    (short,) = hung(carried(mount(**(MOUNT | of_mount)), weight(2.0, **of_weight), plan=HIGH))
    assert (short.weight, short.missing) == ("stop", asked)


def test_a_bore_that_nobody_knows_is_not_asked_for_where_that_weight_does_not_hang() -> None:
    spare = weight(5.5, model="Spare", bore_mm=None)
    (found,) = hung(carried(mount(**MOUNT), weight(11.0), spare, plan=HIGH))
    # The heavier one alone turns least: 1350 / 11 = 122.7 mm.
    assert (found.code, found.missing) == ("balance.bar", ())


def test_what_else_rides_on_the_bar_is_named_as_not_counted() -> None:
    box = Accessory(model="Box", mass_kg=mm(2.0), place="bar")
    (found,) = hung(carried(mount(**MOUNT), weight(5.0), box, plan=HIGH))
    assert (found.code, found.weight) == ("balance.bar_more", "watch")
    assert "Not counted: Box on the bar" in found.phrase.template
    # At 150 mm it does 300 of the 1350 kg mm: 1050 / 5 = 210 mm.
    plain = carried(mount(**MOUNT), weight(5.0), box, plan=HIGH)
    spot = Spot(part_id=plain.gear[2].item.id, along_mm=150.0)
    placed = replace(plain, load=HIGH.model_copy(update={"spots": (spot,)}))
    (counted,) = hung(placed)
    assert (counted.code, counted.weight) == ("balance.bar", "sound")
    assert number(counted, "at") == pytest.approx(210.0)
    assert any(one.label == "mass of Box" for one in counted.inputs)
    # Its 2 x 0.15^2 = 0.045 kg m^2 turn with the bar, and the weight 0.06 m nearer.
    turned, without = work_balance(Case(placed)), work_balance(Case(plain))
    assert turned.inertia_polar is not None
    assert without.inertia_polar is not None
    assert turned.inertia_polar - without.inertia_polar == pytest.approx(
        0.045 + 5.0 * (0.21**2 - 0.27**2), rel=1e-6
    )


def test_a_bar_that_outweighs_the_load_is_not_told_to_take_another_weight() -> None:
    # 8 kg at 200 mm are 1600; a bar of 7 kg at 250 mm 1750.
    (found,) = hung(carried(mount(**(MOUNT | {"bar_mass_kg": 7.0})), weight(5.0), plan=HIGH))
    assert found.code == "balance.no_weight"
    assert "bar alone outweighs" in found.phrase.template
    # 7 kg on 300 mm: x = sqrt(100^2 + 2 x 1600 x 300 / 7) - 100 = 283.69 mm, or 1600 / 250 = 6.4 kg, balance.
    (only,) = found.remedies
    assert (only.phrase.amounts["shorter"].value, only.phrase.amounts["bar"].value) == (283.0, 6.4)
    assert "by itself" in only.phrase.template


def test_the_working_names_every_mass_by_its_own_basis() -> None:
    measured = Measure(nominal=5.0, basis="measured")
    of = carried(
        mount(**MOUNT), weight(5.0), plan=HIGH.model_copy(update={"clamp_mm": 280.0}), mass_kg=measured
    )
    for found in judged(of):
        masses = {one.of: one.basis for one in found.inputs if one.label == "mass"}
        assert masses == {"Halden Tube": "measured", "Brask Ring": "typed", "Quill Cam": "typed"}
    heights = [one for one in judged(of)[1].inputs if one.label.startswith("height of")]
    assert len(heights) == 3
    assert "(its middle) balances the load" in judged(of)[1].phrase.template


def test_what_the_bar_lacks_is_asked_for() -> None:
    lacking = {name: value for name, value in MOUNT.items() if name != "bar_start_mm"}
    (found,) = hung(carried(mount(**lacking), weight(5.0), plan=HIGH))
    assert (found.weight, found.missing) == ("unknown", ("the bar's beginning of Stone Mount",))


def test_a_strain_wave_mount_without_a_weight_is_not_asked_for_one() -> None:
    assert hung(carried(mount(**(MOUNT | {"mount_type": "strain_wave"})), plan=HIGH)) == []


def test_a_rig_of_which_nobody_said_how_it_balances_is_not_hung() -> None:
    assert judged(carried(mount(**MOUNT), weight(2.0), plan=LoadPlan())) == []


def test_the_sentence_of_the_weights_shows_every_number() -> None:
    (found,) = hung(carried(mount(**MOUNT), weight(5.0), plan=HIGH))
    assert found.code == "balance.bar"
    # 150 mm of saddle and 50 mm of tube above it: the load's centre is 200 mm from the axis.
    said = write_phrase(found.phrase, "metric")
    assert "200 mm from it" in said
    assert "{" not in said


def test_the_moment_of_inertia_about_the_polar_axis_counts_bar_and_weights() -> None:
    light = MOUNT | {"bar_mass_kg": 0.0}
    loaded = work_balance(Case(carried(mount(**light), weight(5.0), plan=HIGH)))
    without = work_balance(Case(carried(mount(**(light | {"mount_type": "strain_wave"})), plan=HIGH)))
    assert loaded.bar is not None
    assert loaded.inertia_polar is not None
    assert without.inertia_polar is not None
    (one,) = loaded.bar.weights
    # 1600 / 5 = 320 mm; 5 x (0.32^2 + 0.04^2 / 12) = 0.512667 kg m^2.
    assert one.at_mm == pytest.approx(320.0)
    assert loaded.inertia_polar - without.inertia_polar == pytest.approx(0.512667, rel=1e-5)
    nothing = work_balance(Case(carried(mount(**MOUNT), plan=HIGH)))
    assert nothing.inertia_polar is None


def assumed(sheet: BalanceSheet) -> str:
    return phrase_of(sheet.inertia_assumes).template


def test_the_moment_of_inertia_about_declination_counts_the_tubes_width_and_no_heights() -> None:
    # About 292.5 mm: 5 kg 92.5 off it, 400 long, radius 100 (the aperture of 200): 5 x (8556.25 + 13333.33 +
    # 2500) = 121947.9; the ring, 1 kg 127.5 off it and 40 long: 16256.25 + 133.33; the camera, 2 kg 167.5 off
    # it and 40 long: 2 x (28056.25 + 133.33) = 56379.2 kg mm^2.
    sheet = work_balance(Case(carried(mount(**MOUNT), weight(5.0), plan=HIGH)))
    assert sheet.inertia_declination == pytest.approx(0.1947167, rel=1e-5)
    assert "as wide as its aperture, which is the least" in assumed(sheet)
    wide = work_balance(Case(carried(plan=LoadPlan(), outer_diameter_mm=240.0)))
    # 5 x (120^2 - 100^2) / 4 = 5500 kg mm^2 more.
    assert wide.inertia_declination == pytest.approx(0.1947167 + 0.0055, rel=1e-5)
    assert "by its outer diameter" in assumed(wide)
    short = work_balance(Case(carried(plan=LoadPlan(focuser_at_mm=400.0), tube_length_mm=None)))
    assert "of unknown length, which is not counted" in assumed(short)


def test_about_the_polar_axis_every_mass_counts_at_its_own_height() -> None:
    box = Accessory(model="Box", mass_kg=mm(2.0), place="tube")
    light = mount(**(MOUNT | {"mount_type": "strain_wave"}))
    plain = carried(light, box, plan=HIGH)
    spot = Spot(part_id=plain.gear[1].item.id, along_mm=292.5, above_mm=150.0)
    of = replace(plain, load=HIGH.model_copy(update={"spots": (spot,)}))
    sheet = work_balance(Case(of))
    # All but the box 150 + 50 mm above the axis, 8 x 200^2; the box 300 mm above it: 2 x 300^2 kg mm^2.
    assert sheet.inertia_declination is not None
    assert sheet.inertia_polar == pytest.approx(sheet.inertia_declination + 0.32 + 0.18, rel=1e-9)


def test_what_the_bar_lacks_reaches_the_findings_before_any_height_is_given() -> None:
    (found,) = hung(carried(mount(**MOUNT), weight(5.0), plan=LoadPlan(clamp_mm=292.0)))
    assert (found.weight, found.missing) == (
        "unknown",
        ("how far the tube's axis, and what else rides there, lies above the saddle",),
    )
    box = Accessory(model="Box", mass_kg=mm(2.0), place="tube")
    plain = carried(mount(**MOUNT), weight(5.0), box, plan=HIGH)
    spot = Spot(part_id=plain.gear[2].item.id, along_mm=292.5)
    (high,) = hung(replace(plain, load=HIGH.model_copy(update={"spots": (spot,)})))
    assert high.missing == ("how high Box sits above the saddle",)
    measured = HIGH.model_copy(update={"balance_mm": 300.0})
    (lost,) = hung(carried(mount(**MOUNT), weight(5.0), plan=measured, balance_point_mm=None))
    assert lost.missing == ("the balance point of Halden Tube",)


def test_a_mount_of_unknown_type_is_asked_for_it() -> None:
    (found,) = hung(carried(mount(**(MOUNT | {"mount_type": None})), plan=HIGH))
    assert (found.weight, found.missing) == ("unknown", ("the type of Stone Mount",))


def test_what_is_said_to_sit_beyond_the_bar_is_asked_about() -> None:
    box = Accessory(model="Box", mass_kg=mm(1.0), place="bar")
    plain = carried(mount(**MOUNT), weight(5.0), box, plan=HIGH)
    number = next(gear.item.id for gear in plain.gear if gear.item.name == "Box")
    for along_mm in (9_000.0, -300.0):
        spot = Spot(part_id=number, along_mm=along_mm)
        plan = plain.load.model_copy(update={"spots": (*plain.load.spots, spot)})
        (found,) = hung(replace(plain, load=plan))
        assert found.weight == "unknown"
        assert "where Box sits on the bar: the plan puts it beyond" in found.missing[0]


def test_an_empty_saddle_is_no_load_to_balance() -> None:
    empty = rig(gear=[mount(**MOUNT), weight(5.0)], load=HIGH)
    assert [one.weight for one in hung(empty)] == ["unknown"]
