"""The night's energy and the leads, by hand (the ground's sources: tests/mechanics/test_power.py;
the night's: tests/domain/load/test_night.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from server.domain.findings import Finding
from server.domain.load.power import work_power
from server.domain.load_plan import Cable, FedBy, Feed, LoadPlan
from server.domain.measure import Measure
from server.domain.parts import Accessory, Part, PowerSource, Rotator
from server.domain.rig import Rig
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import plain
from tests.domain.rigs import camera, focuser, guide_camera, mm, mount, places, rig, ring, tube, wheel
from tests.told import check_power


def battery(**given: Any) -> PowerSource:
    usual: dict[str, Any] = {
        "model": "Battery",
        "chemistry": "lifepo4",
        "voltage_v": mm(12.0),
        "capacity_ah": mm(50.0),
    }
    return PowerSource(**(usual | given))


def heater(current_a: float = 2.0, duty: float | None = 0.5) -> Accessory:
    return Accessory(
        model="Heater",
        place="tube",
        current_a=mm(current_a),
        duty_share=None if duty is None else mm(duty),
        voltage_v=mm(12.0),
        voltage_least_v=mm(11.0),
    )


def powered(*gear: Any, before: Sequence[Part] = (), **plan: Any) -> Rig:
    """A rig with a cooled camera, and what stands `before` it."""
    cooled = camera(current_idle_a=0.5, current_cooling_a=2.0, cooling_k=30.0, voltage_v=12.0)
    return replace(rig(tube(), *before, cooled, gear=list(gear)), load=LoadPlan(**plan))


def test_a_battery_that_lasts_is_sound_and_says_what_is_left():
    of = powered(battery(), heater(), night_hours=8.0, cooling_k=15.0)
    sheet = work_power(of)
    # Camera half way: 0.5 + 1.5 / 2 = 1.25 A; heater 1.0 A: 2.25 A x 12 V x 8 h = 216 Wh of 50 x 12 x 0.8 =
    # 480.
    assert sheet.need_wh == pytest.approx(216.0)
    assert sheet.usable_wh == pytest.approx(480.0)
    found = check_power(Case(of))[0]
    assert (found.code, found.weight) == ("power.sound", "sound")
    assert "leaves 55 %" in found.phrase.template


def test_one_that_runs_out_is_a_stop_that_says_when_and_what_to_bring():
    of = powered(battery(capacity_ah=mm(20.0)), heater(), night_hours=8.0, cooling_k=15.0)
    found = check_power(Case(of))[0]
    # 192 Wh at 27 W: 7.1 hours; 24 Wh too little.
    assert (found.code, found.weight) == ("power.runs_out", "stop")
    assert "7.1 hours" in found.phrase.template
    assert "24 usable Wh more" in found.remedies[0].phrase.template
    assert "licensed electrician" in found.phrase.template


def test_the_cold_and_full_cooling_take_their_part():
    cold = work_power(powered(battery(), night_hours=8.0, low_c=0.0))
    assert cold.usable_wh == pytest.approx(480.0 * 0.85)
    # Nobody said how far it is cooled: full cooling, 2 A x 12 V x 8 h.
    assert cold.need_wh == pytest.approx(192.0)
    assert "full cooling" in plain(cold.consumers[0].assumed[0])


def test_the_night_comes_from_the_site_and_the_date():
    of = powered(battery(), latitude_deg=51.48, night=date(2026, 12, 21))
    assert work_power(of).hours == pytest.approx(16.17, abs=0.05)


def test_what_is_not_known_is_asked_for_and_never_sound():
    of = powered(battery(capacity_ah=None), night_hours=8.0)
    found = check_power(Case(of))[0]
    assert found.weight == "unknown"
    assert found.missing == ("the capacity of Battery",)
    nothing_said = powered(battery())
    assert check_power(Case(nothing_said)) == ()


def test_a_thin_lead_starves_its_device_and_the_gauge_that_would_do_is_named():
    part = heater(8.0, None)
    plain = powered(battery(), part)
    number = plain.gear[1].item.id
    thin = replace(plain, load=LoadPlan(cables=(Cable(part_id=number, length_mm=3000.0, gauge_awg=18),)))
    found = check_power(Case(thin))[0]
    # 1.005 V at 8 A over 3 m: 10.99 V arrive, 11 are needed. At the end of the discharge the battery gives
    # 12 x 3.0 / 3.2 = 11.25 V, of which 0.25 may be lost: 12 AWG loses 0.250, 10 AWG 0.157.
    assert (found.code, found.weight) == ("power.lead_starves", "stop")
    assert "10.99 V arrive" in found.phrase.template
    assert "10.24 V at the end" in found.phrase.template
    assert "10 AWG" in found.remedies[0].phrase.template
    # 18 AWG is 0.823 mm²: 9.7 A/mm², and a fuse of 10 A would be above its 4.9 A.
    assert "9.7 A/mm²" in found.phrase.template
    assert "No usual fuse" in found.phrase.template
    good = replace(plain, load=LoadPlan(cables=(Cable(part_id=number, length_mm=1000.0, area_mm2=2.5),)))
    assert check_power(Case(good))[0].code == "power.lead_sound"


def test_all_batteries_at_hand_count() -> None:
    # Two of 50 Ah and one of 25: 125 Ah x 12 V x 0.8 = 1200 Wh.
    sheet = work_power(powered((battery(), 2), battery(model="Small", capacity_ah=mm(25.0)), night_hours=8.0))
    assert sheet.usable_wh == pytest.approx(1200.0)
    assert [plain(one) for one in sheet.source] == ["2 x Battery", "Small"]


def test_a_battery_whose_cold_nobody_gave_says_that_it_was_taken_warm() -> None:
    inputs = check_power(Case(powered(battery(), night_hours=8.0)))[0].inputs
    (given,) = [one for one in inputs if one.label == "energy of Battery"]
    assert (given.basis, "20 °C, as nobody gave" in given.text) == ("assumed", True)


def test_lead_gives_less_when_it_is_drawn_fast() -> None:
    # 10 A from 100 Ah: 100 x 12 x 0.5 = 600 Wh, less Peukert's 0.8409.
    of = powered(
        battery(chemistry="lead_acid", capacity_ah=mm(100.0)), heater(8.0, None), night_hours=2.0, low_c=20.0
    )
    assert work_power(of).usable_wh == pytest.approx(600.0 * 0.8409, rel=1e-3)


def test_a_day_without_a_night_is_asked_about_and_not_sound() -> None:
    found = check_power(Case(powered(battery(), latitude_deg=70.0, night=date(2026, 6, 21))))[0]
    assert found.weight == "unknown"
    assert "does not set" in found.missing[0]


def test_what_to_buy_is_said_as_the_charge_on_the_label() -> None:
    of = powered(battery(capacity_ah=mm(20.0)), heater(), night_hours=8.0, cooling_k=15.0)
    # 24 Wh too little, of which a battery of 12 V gives four fifths: 2.5 Ah.
    assert "3 Ah more" in check_power(Case(of))[0].remedies[0].phrase.template


def test_a_guide_cameras_lead_is_held_to_what_that_camera_bears() -> None:
    branch_camera = guide_camera(current_idle_a=4.0, voltage_v=12.0, voltage_least_v=11.5)
    plain = replace(powered(battery()), branch=places([branch_camera]))
    number = plain.branch[0].item.id
    thin = replace(plain, load=LoadPlan(cables=(Cable(part_id=number, length_mm=3000.0, gauge_awg=18),)))
    # 0.503 V at 4 A: less than a twentieth of 12 V, and still 11.497 V of the 11.5 it needs.
    assert check_power(Case(thin))[0].code == "power.lead_starves"


@pytest.mark.parametrize(
    "part", [focuser(), Rotator(model="Turner"), wheel(20.0, positions=7)], ids=lambda part: part.kind
)
def test_what_is_driven_and_of_unknown_current_is_named_as_not_counted(part: Part) -> None:
    of = powered(battery(), night_hours=8.0, before=[part])
    found = check_power(Case(of))[0]
    name = of.train.places[1].item.name
    assert (found.code, found.weight) == ("power.part_unknown", "unknown")
    assert found.missing == (f"the current of {name} (0 where nothing drives it)",)
    assert "Not counted, not known yet: enter the current of" in found.phrase.template
    assert "takes at least" in found.phrase.template
    still = part.model_copy(update={"current_a": mm(0.0)})
    assert check_power(Case(powered(battery(), night_hours=8.0, before=[still])))[0].weight == "sound"


def test_what_is_not_driven_is_not_asked_for_a_current() -> None:
    finder = Accessory(model="Finder", place="tube")
    of = powered(battery(), finder, night_hours=8.0, before=[wheel(20.0, positions=1), ring(10.0)])
    found = check_power(Case(of))[0]
    assert (found.weight, found.missing) == ("sound", ())
    taken = [one for one in found.inputs if one.text == "no current given: taken to draw none"]
    assert [(one.label, one.basis) for one in taken] == [("Finder", "assumed")]


def test_an_accessory_of_which_some_figure_of_its_power_is_given_is_asked_for_its_current() -> None:
    dark = Accessory(model="Box", place="tube", duty_share=mm(0.5))
    found = check_power(Case(powered(battery(), dark, night_hours=8.0)))[0]
    assert (found.weight, found.missing) == ("unknown", ("the current of Box",))


def test_what_is_not_counted_never_hides_that_the_battery_runs_out() -> None:
    of = powered(battery(capacity_ah=mm(5.0)), night_hours=8.0, before=[focuser()])
    found = check_power(Case(of))[0]
    assert (found.code, found.weight) == ("power.runs_out", "stop")
    # 48 Wh at 24 W.
    assert "empty after at most 2.0 hours" in found.phrase.template


def test_a_night_that_is_planned_without_a_source_asks_for_one_and_says_what_it_has_to_give() -> None:
    found = check_power(Case(powered(heater(), night_hours=8.0)))[0]
    # 2 A and 1 A at 12 V for 8 h.
    assert (found.code, found.weight) == ("power.no_source", "unknown")
    assert found.missing == ("a battery or a supply, beside the train",)
    assert "takes 288 Wh over 8.0 hours" in found.phrase.template
    assert check_power(Case(replace(rig(tube()), load=LoadPlan(night_hours=8.0)))) == ()


def test_a_lead_of_unknown_current_or_wire_is_asked_for_and_not_passed_over() -> None:
    plain = powered(battery(), Accessory(model="Box", place="tube"), heater())
    box, warm = (gear.item.id for gear in plain.gear[1:])
    cables = (
        Cable(part_id=box, length_mm=1000.0, gauge_awg=18),
        Cable(part_id=warm, length_mm=1000.0),
        Cable(part_id=987_654, length_mm=1000.0, gauge_awg=18),
    )
    (found,) = check_power(Case(replace(plain, load=LoadPlan(cables=cables))))
    assert (found.code, found.weight) == ("power.lead_unknown", "unknown")
    assert found.missing == (
        "the current of Box",
        "the gauge or cross-section of the lead of Heater",
        "whose lead it is: a planned lead's device has left the rig",
    )


def _led(length_mm: float, gauge: int = 18, peak_a: float = 3.0, **of: Any) -> Finding:
    part = heater(peak_a, None).model_copy(update={"voltage_least_v": mm(10.0)} | of)
    plain = powered(battery(), part)
    cable = Cable(part_id=plain.gear[1].item.id, length_mm=length_mm, gauge_awg=gauge)
    return check_power(Case(replace(plain, load=LoadPlan(cables=(cable,)))))[0]


def test_a_lead_says_how_long_its_wire_may_be_and_what_it_turns_into_heat() -> None:
    # 1.00549 V at 3 A over 8 m; 0.6 V may be lost of 12: 8 m x 0.6 / 1.00549 = 4.7738 m; 3.02 W at the peak.
    found = _led(8000.0)
    assert found.code == "power.lead_thin"
    assert found.remedies[0].phrase.amounts["longest"].value == 4700.0
    told = {one.label: one for one in found.inputs}
    assert told["lost as heat at the peak"].text == "3.02 W"
    assert told["temperature of the copper"].basis == "assumed"
    longest = told["longest of this wire, one way"].amount
    assert longest is not None
    assert longest.value == pytest.approx(4773.8, abs=0.5)
    assert _led(longest.value - 0.001).code == "power.lead_sound"
    assert _led(longest.value + 0.001).code == "power.lead_thin"


@pytest.mark.parametrize("gauge", [22, 24, 30])
def test_a_wire_that_overheats_is_no_sound_lead_however_short(gauge: int) -> None:
    # 3 A over 0.1 m: 0.3255, 0.2047 and 0.0509 mm², so 9.2, 14.7 and 58.9 A/mm².
    found = _led(100.0, gauge)
    assert (found.code, found.weight) == ("power.lead_hot", "watch")
    assert "may overheat" in found.phrase.template
    assert "maker or a licensed electrician" in found.phrase.template
    assert "about 5 A" not in found.phrase.template
    # 18 AWG is the first whose 4.94 A lie above a usual fuse of 3.75 A and more.
    assert "18 AWG" in found.remedies[0].phrase.template
    good = _led(100.0, 18)
    assert good.weight == "sound"
    assert "loses little" in good.phrase.template
    assert "thinnest wire after it" in good.phrase.template
    assert "about 4 A" in good.phrase.template


def test_a_wire_that_bears_the_peak_and_no_fuse_above_it_is_a_watch() -> None:
    # 20 AWG bears 3.11 A by the rule: 3.05 A, and no fuse of the series between the two.
    found = _led(100.0, 20, 3.05)
    assert (found.code, found.weight) == ("power.lead_unguarded", "watch")
    assert "No usual fuse" in found.phrase.template


def test_a_lead_between_two_fuses_of_the_series_is_guarded_by_the_smaller_that_carries_its_peak() -> None:
    # 18 AWG bears 4.94 A by the rule. 3.3 A with a quarter to spare ask for 5 A, and 4 A carry them.
    found = _led(100.0, 18, 3.3)
    assert (found.code, found.weight) == ("power.lead_sound", "sound")
    assert "about 4 A, which carries the peak with less than the usual quarter" in found.phrase.template
    assert "to spare" not in _led(100.0, 18, 3.0).phrase.template


@pytest.mark.parametrize(
    ("length_mm", "gauge", "peak_a", "arrives"),
    [(10_000.0, 24, 2.5, "7.79 V"), (1_000.0, 30, 2.5, "10.31 V")],
)
def test_a_device_that_hardly_runs_is_a_stop_though_nobody_gave_its_lowest_voltage(
    length_mm: float, gauge: int, peak_a: float, arrives: str
) -> None:
    # 24 AWG: 84.2 ohm a km; 20 m of it at 2.5 A lose 4.21 V. 30 AWG: 338.6 ohm a km, 2 m lose 1.69 V.
    found = _led(length_mm, gauge, peak_a, voltage_least_v=None)
    assert (found.code, found.weight) == ("power.lead_hardly_runs", "stop")
    assert f"{arrives} arrive" in found.phrase.template
    assert "hardly run" in found.phrase.template
    assert found.missing == ("the lowest voltage of Heater",)
    (least,) = [one for one in found.inputs if one.label.startswith("the lowest voltage")]
    assert least.basis == "assumed"
    assert _led(length_mm, gauge, peak_a, voltage_least_v=mm(5.0)).weight == "watch"


def test_a_battery_that_empties_starves_a_device_that_runs_at_dusk() -> None:
    # Lead-acid of 12.0 V: 1.9 V a cell at half of its charge, 11.4 V; the device needs 11.5.
    part = heater(1.0, None).model_copy(update={"voltage_least_v": mm(11.5)})

    def led(source: PowerSource, by: FedBy | None = None, **plan: Any) -> Finding:
        plain = powered(source, part)
        number = plain.gear[1].item.id
        feeds = () if by is None else (Feed(part_id=number, by=by),)
        cable = Cable(part_id=number, length_mm=1000.0, gauge_awg=14)
        return check_power(Case(replace(plain, load=LoadPlan(cables=(cable,), feeds=feeds, **plan))))[0]

    found = led(battery(chemistry="lead_acid"))
    assert (found.code, found.weight) == ("power.lead_starves", "stop")
    assert "11.98 V arrive, and 11.38 V at the end" in found.phrase.template
    (begins,) = [one for one in found.inputs if one.label == "voltage where the lead begins"]
    assert begins.basis == "assumed"
    assert "11.4 V (Battery under load, 50 % of it drawn" in begins.text
    assert "holds its voltage" in found.remedies[0].phrase.template
    # One of 12.8 V gives 12.0 at the end; a converter holds what it is set to; one of 24 V needs one.
    assert led(battery(voltage_v=mm(12.8))).weight == "sound"
    assert led(battery(chemistry="lead_acid"), "converter", supply_share=0.9).weight == "sound"
    assert led(battery(chemistry="lead_acid"), "converter").code == "power.lead_end_unknown"
    assert led(battery(chemistry="lead_acid"), supply_share=0.9).code == "power.lead_starves"
    straight = led(battery(chemistry="lead_acid", voltage_v=mm(24.0)))
    assert (straight.weight, straight.code) == ("unknown", "power.lead_end_unknown")
    assert "the efficiency of the converter to 12 V" in straight.missing[0]
    assert led(battery(chemistry="lead_acid", voltage_v=mm(24.0)), supply_share=0.9).weight == "sound"


def test_a_device_of_unknown_lowest_voltage_is_watched_at_the_end_of_the_discharge() -> None:
    # 11.1 V of lithium-ion fall to 9.9 V, less than 10.8.
    part = heater(1.0, None).model_copy(update={"voltage_least_v": None})
    plain = powered(battery(chemistry="lithium_ion", voltage_v=mm(11.1)), part)
    cable = Cable(part_id=plain.gear[1].item.id, length_mm=1000.0, gauge_awg=14)
    found = check_power(Case(replace(plain, load=LoadPlan(cables=(cable,)))))[0]
    assert (found.code, found.weight) == ("power.lead_at_end", "watch")
    assert found.missing == ("the lowest voltage of Heater",)


def test_a_device_that_needs_more_than_its_source_has_is_helped_by_no_lead() -> None:
    found = _led(100.0, voltage_least_v=mm(12.0))
    assert found.code == "power.lead_starves"
    assert "higher voltage" in found.remedies[0].phrase.template


def test_a_cooled_camera_of_unknown_cooling_counts_at_idle_and_is_never_sound() -> None:
    cooled = camera(current_idle_a=0.5, cooling_k=30.0, voltage_v=12.0)
    of = replace(rig(tube(), cooled, gear=[battery()]), load=LoadPlan(night_hours=8.0))
    found = check_power(Case(of))[0]
    name = of.train.places[1].item.name
    assert (found.weight, found.missing) == ("unknown", (f"the current at full cooling of {name}",))
    # 0.5 A x 12 V x 8 h.
    assert "at least 48 Wh" in found.phrase.template
    warm = replace(rig(tube(), camera(current_idle_a=0.5, voltage_v=12.0), gear=[battery()]), load=of.load)
    assert check_power(Case(warm))[0].weight == "sound"


def test_a_mounts_lead_is_judged_by_its_slewing_and_asked_for_it() -> None:
    def led(**of: Any) -> Finding:
        plain = powered(battery(), mount(voltage_v=12.0, **of))
        cable = Cable(part_id=plain.gear[1].item.id, length_mm=3000.0, gauge_awg=18)
        return check_power(Case(replace(plain, load=LoadPlan(cables=(cable,)))))[0]

    asked = led(current_a=0.5)
    assert (asked.code, asked.missing) == (
        "power.lead_unknown",
        ("the current while slewing of Stone Mount",),
    )
    # 8 A are 9.7 A/mm² and lose 1.005 V, 0.5 A a sixteenth of both.
    assert led(current_a=0.5, current_peak_a=8.0).code == "power.lead_hot"
    assert led(current_a=0.5, current_peak_a=0.5).code == "power.lead_sound"


def test_what_a_mains_supply_feeds_is_not_taken_to_run_at_the_mains_voltage() -> None:
    part = heater(8.0, None).model_copy(update={"voltage_v": None, "voltage_least_v": None})
    plain = powered(battery(chemistry="mains", voltage_v=mm(230.0), capacity_ah=None), part)
    cable = Cable(part_id=plain.gear[1].item.id, length_mm=5000.0, gauge_awg=14)
    found = check_power(Case(replace(plain, load=LoadPlan(cables=(cable,)))))[0]
    # 0.663 V of 12, and not of 230.
    assert found.code == "power.lead_thin"
    assert "runs at 12 V" in found.inputs[0].text


def test_a_mains_supply_beside_a_battery_does_not_silence_the_battery() -> None:
    supply = battery(model="Supply", chemistry="mains", voltage_v=mm(230.0), capacity_ah=None)
    of = powered(supply, battery(capacity_ah=mm(20.0)), heater(), night_hours=8.0, cooling_k=15.0)
    found = check_power(Case(of))[0]
    # As alone: 216 Wh of 192.
    assert (found.code, found.weight) == ("power.runs_out", "stop")
    assert "Battery gives 192 Wh" in found.phrase.template
    assert "Supply is a mains supply and not counted" in found.phrase.template
    assert "residual-current" in found.phrase.template


def test_mains_alone_is_said_not_to_be_limited_by_a_battery_with_its_caution() -> None:
    supply = battery(model="Supply", chemistry="mains", voltage_v=mm(230.0), capacity_ah=None)
    found = check_power(Case(powered(supply, heater(), night_hours=8.0)))[0]
    assert (found.code, found.weight) == ("power.mains", "sound")
    assert "not limited by a battery" in found.phrase.template
    assert "takes 288 Wh" in found.phrase.template
    assert "residual-current" in found.phrase.template
    # Camera 2 A and heater 2 A.
    assert "4.0 A together, at 12 V" in found.phrase.template


def test_the_working_shows_the_cold_share_and_the_battery_by_its_own_basis() -> None:
    # 50 x 12.8 x 0.9 = 576 Wh; at -5 °C a quarter of the way from 0.85 to 0.6: 0.7875, 453.6 Wh.
    label = Measure(nominal=50.0, basis="maker")
    own = battery(voltage_v=mm(12.8), usable_share=mm(0.9), capacity_ah=label)
    found = check_power(Case(powered(own, night_hours=8.0, low_c=-5.0)))[0]
    told = {one.label: one for one in found.inputs}
    assert told["energy of Battery"].text == (
        "1 x 50 Ah x 12.8 V, 90 % of it used, 78.8 % of that left in the cold: 454 Wh; at -5 °C"
    )
    assert (told["capacity"].basis, told["capacity"].text) == ("maker", "50 Ah")
    assert told["nominal voltage"].basis == "typed"


def test_currents_and_lowest_voltages_keep_where_they_are_from() -> None:
    quoted = {name: Measure(nominal=value, basis="maker") for name, value in (("current_a", 1.0),)}
    part = heater().model_copy(
        update=quoted | {"duty_share": None, "voltage_least_v": Measure(nominal=10.0, basis="measured")}
    )
    plain = powered(battery(), part, Accessory(model="Box", place="tube"))
    warm, box = (gear.item.id for gear in plain.gear[1:])
    cables = (
        Cable(part_id=warm, length_mm=1000.0, gauge_awg=14),
        Cable(part_id=box, length_mm=500.0, area_mm2=1.5),
    )
    of = replace(plain, load=LoadPlan(cables=cables, night_hours=8.0))
    energy, led, left = check_power(Case(of))
    bases = {one.label: one.basis for one in energy.inputs}
    assert bases["peak of Heater"] == "maker"
    # Nobody said for how much of the night it draws it.
    assert bases["mean of Heater"] == "assumed"
    told_share = powered(battery(), heater(), night_hours=8.0)
    inputs = check_power(Case(told_share))[0].inputs
    assert {one.label: one.basis for one in inputs}["mean of Heater"] == "worked out"
    told = {one.label: one.basis for one in led.inputs}
    assert (told["peak of Heater"], told["the lowest voltage that it bears"]) == ("maker", "measured")
    assert [(one.label, one.basis, one.text) for one in left.inputs] == [
        ("length, one way", "typed", ""),
        ("wire", "typed", "1.5 mm²"),
    ]


def test_each_of_several_pieces_has_its_own_lead_unless_it_is_said_that_they_share_one() -> None:
    plain = powered(battery(), (heater(1.0, None).model_copy(update={"voltage_least_v": mm(10.0)}), 3))
    number = plain.gear[1].item.id

    def led(shared: bool) -> tuple[float, Finding]:
        cable = Cable(part_id=number, length_mm=4000.0, gauge_awg=18, shared=shared)
        of = replace(plain, load=LoadPlan(cables=(cable,)))
        return work_power(of).leads[0].drop_v, check_power(Case(of))[0]

    # 1 A over 4 m of 18 AWG: 2 x 0.0838 V; three of them three times as much.
    (alone, one), (together, all_three) = led(False), led(True)
    assert alone == pytest.approx(0.16758, rel=1e-4)
    assert together == pytest.approx(3 * alone)
    assert "for one of 3 pieces" in one.phrase.template
    assert "for all of 3 pieces" in all_three.phrase.template


def test_a_lead_that_loses_all_is_said_to_let_nothing_arrive() -> None:
    # 8 A over 10 m of 24 AWG would lose 13.5 V of 12.
    found = _led(10_000.0, 24, 8.0)
    assert (found.code, found.weight) == ("power.lead_starves", "stop")
    assert "nothing arrives" in found.phrase.template
    assert "-" not in found.phrase.template.partition(". ")[0]


@pytest.mark.parametrize(
    ("lacking", "asked"),
    [("chemistry", "the chemistry of Battery"), ("voltage_v", "the nominal voltage of Battery")],
)
def test_a_lead_of_a_battery_of_unknown_kind_is_never_sound(lacking: str, asked: str) -> None:
    plain = powered(battery(**{lacking: None}), heater(1.0, None))
    cable = Cable(part_id=plain.gear[1].item.id, length_mm=500.0, gauge_awg=14)
    found = check_power(Case(replace(plain, load=LoadPlan(cables=(cable,)))))[0]
    assert (found.code, found.weight, found.missing) == ("power.lead_end_unknown", "unknown", (asked,))


def test_a_camera_asked_to_cool_further_than_it_can_is_told_so() -> None:
    rig_ = powered(battery(), night_hours=8.0, cooling_k=60.0)
    (camera_row,) = (one for one in work_power(rig_).consumers if "Cam" in one.name)
    assert plain(camera_row.assumed[0]).startswith("it is asked to cool 60 K below the air and can do 30 K")
    assert camera_row.mean_a == camera_row.peak_a


def test_a_cold_that_no_table_reaches_is_asked_about() -> None:
    found = check_power(Case(powered(battery(), night_hours=1.0, low_c=-50.0)))[0]
    assert found.weight == "unknown"
    assert "at -50 °C, from its maker" in found.missing[-1]


def test_a_night_that_was_typed_is_not_said_to_be_worked_out() -> None:
    def basis(**plan: Any) -> str:
        (night,) = (
            one for one in check_power(Case(powered(battery(), **plan)))[0].inputs if one.label == "the night"
        )
        return night.basis

    assert basis(night_hours=8.0) == "typed"
    assert basis(latitude_deg=48.0, night=date(2026, 11, 26)) == "worked out"
