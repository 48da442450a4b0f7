"""What is fed straight, through a converter, or from the port of another device; sums worked by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from server.domain.load.power import work_power
from server.domain.load_plan import Cable, Feed
from server.domain.parts import Accessory
from server.domain.rig import Rig
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import asked_of, sentence_of
from tests.domain.checks.test_power import battery, heater, powered
from tests.domain.rigs import guide_camera, mm, mount
from tests.told import check_power


def test_the_peaks_of_all_devices_are_told_together() -> None:
    # Camera 2 A at full cooling, heaters 2 A each, at 12 V; from 24 V half of it; a converter of 80 % a
    # quarter more.
    plain = powered(battery(), (heater(), 2), night_hours=8.0)
    assert work_power(plain).peak_a == pytest.approx(6.0)
    assert "6.0 A together, at 12 V" in check_power(Case(plain))[0].phrase.template
    high = powered(battery(voltage_v=mm(24.0)), (heater(), 2), night_hours=8.0, supply_share=0.8)
    assert work_power(high).peak_a == pytest.approx(3.75)
    slewing = powered(battery(), mount(voltage_v=12.0, current_a=0.5), night_hours=8.0)
    assert "at least 2.5 A together" in check_power(Case(slewing))[0].phrase.template


def test_a_device_that_no_battery_feeds_straight_asks_for_its_converter() -> None:
    # 24 V against 12 V: nobody said how camera and heater get their voltage.
    one = powered(battery(voltage_v=mm(24.0)), heater(), night_hours=2.0)
    found = check_power(Case(one))[0]
    assert (found.weight, found.code) == ("unknown", "power.part_unknown")
    assert "the efficiency of the converter to 12 V" in found.missing[-1]
    told = replace(one, load=one.load.model_copy(update={"supply_share": 0.9}))
    assert check_power(Case(told))[0].weight == "sound"


def _with_guide_camera(*gear: Any, feeds: tuple[Feed, ...] = (), **plan: Any) -> Rig:
    """A 12 V camera at 2 A, and a guide camera that takes 0.15 A at 5 V, 0.75 W."""
    plain = powered(battery(), guide_camera(current_idle_a=0.15, voltage_v=5.0), *gear, **plan)
    return replace(plain, load=plain.load.model_copy(update={"feeds": feeds}))


def test_a_converter_for_a_small_guide_camera_costs_the_other_devices_nothing() -> None:
    # 2 A x 12 V + 0.15 A x 5 V / 0.85 = 24.88 W over 10 hours.
    sheet = work_power(_with_guide_camera(night_hours=10.0, supply_share=0.85))
    assert sheet.need_wh == pytest.approx(248.8, abs=0.05)
    assert [one.converted for one in sheet.consumers] == [False, True]


def test_a_device_on_the_computers_own_port_wants_no_converter_and_is_drawn_through_its_lead() -> None:
    # The computer takes 1 A at 12 V, and 0.75 W / 12 V = 0.0625 A more for the guide camera.
    computer = Accessory(model="Computer", place="ground", current_a=mm(1.0), voltage_v=mm(12.0))
    plain = _with_guide_camera(computer, night_hours=10.0)
    asked = "for Quill Watch, the efficiency of the converter to 5 V, or how else it is fed"
    assert asked_of(work_power(plain).missing) == (asked,)
    ids = {gear.item.name: gear.item.id for gear in plain.gear}
    host, guest = ids["Computer"], ids["Quill Watch"]
    plan = plain.load.model_copy(
        update={
            "feeds": (Feed(part_id=guest, by="port", port_of=host),),
            "cables": (Cable(part_id=host, length_mm=1000.0, gauge_awg=16),),
        }
    )
    of = replace(plain, load=plan)
    sheet = work_power(of)
    assert sheet.missing == ()
    assert sheet.need_wh == pytest.approx((24.0 + 12.0 + 0.75) * 10.0)
    assert [sentence_of(one.fed, "metric") for one in sheet.consumers if one.fed] == [
        "by the port of Computer"
    ]
    assert sheet.leads[0].peak_a == pytest.approx(1.0625)


def test_a_twelve_volt_device_that_is_said_to_hang_on_the_converter_bears_its_loss() -> None:
    plain = powered(battery(), heater(2.0, None), night_hours=10.0, supply_share=0.8)
    through = (Feed(part_id=plain.gear[1].item.id, by="converter"),)
    told = replace(plain, load=plain.load.model_copy(update={"feeds": through}))
    # The camera takes 24 W straight, the heater 24 W, with the converter 30 W.
    assert work_power(plain).need_wh == pytest.approx(480.0)
    assert work_power(told).need_wh == pytest.approx(540.0)


def test_a_battery_is_empty_the_sooner_for_what_the_converter_loses() -> None:
    # 20 Ah x 12 V x 0.8 = 192 Wh: at 48 W 4.0 hours, at 24 + 30 W 3.6 hours.
    plain = powered(battery(capacity_ah=mm(20.0)), heater(2.0, None), night_hours=10.0, supply_share=0.8)
    through = (Feed(part_id=plain.gear[1].item.id, by="converter"),)
    told = replace(plain, load=plain.load.model_copy(update={"feeds": through}))
    for of, hours, more in ((plain, "4.0", "288"), (told, "3.6", "348")):
        found = check_power(Case(of))[0]
        assert f"It is empty after {hours} hours" in found.phrase.template
        assert f"{more} usable Wh more" in found.remedies[0].phrase.template
