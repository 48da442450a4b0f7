"""What every combination carries for guiding and filters: its room, load, cost and power are the bench's.

Source: worked by hand: a corrector asks for 55 mm and the camera has 17.5, so 37.5 mm are left for the rest.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from server.domain.load.power import work_power
from server.domain.parts import STANDING_IN, CataloguedPart, GuideScope, Part
from server.domain.scout.candidates import Choice
from server.domain.scout.measures import Pass, work_pass
from server.domain.scout.needs import MeasureName
from server.domain.workings.case import Case
from server.domain.workings.loads import loads_of
from server.mechanics.payload import total_mass
from tests.domain.rigs import camera, corrector, guider, item, mm, mount, tube, wheel
from tests.domain.scout.made import FULL_SENSOR, GARDEN, SMALL, choice, euros

CURRENTS: dict[str, Any] = {"current_idle_a": 0.5, "current_cooling_a": 1.5, "voltage_v": 12.0}


def these(*beside: Part, lacking: tuple[str, ...] = (), **of_tube: Any) -> Choice:
    """Two combinations: without a corrector, and with it."""
    some = choice(
        [tube(price=euros(1000.0), **of_tube)],
        [camera(price=euros(500.0), **CURRENTS, **FULL_SENSOR)],
        [corrector(price=euros(200.0))],
        [mount(price=euros(900.0), current_a=0.5, voltage_v=12.0)],
    )
    return replace(some, beside=tuple(map(item, beside)), lacking=lacking)


def passed(some: Choice) -> Pass:
    return work_pass(some, (SMALL,), GARDEN, "EUR")


def value(found: Pass, name: MeasureName, number: int = 1) -> float:
    return float(found.measures["value"][name][number])


@pytest.mark.parametrize(
    ("beside", "room"),
    [((), 37.5), ((guider(),), 21.5), ((guider(), wheel(20.0)), 1.5), ((guider(), wheel(22.5)), -1.0)],
)
def test_what_goes_in_takes_its_thickness_of_the_correctors_back_focus(beside, room):
    assert value(passed(these(*beside)), "room") == pytest.approx(room, abs=1e-9)


def test_a_thickness_that_nobody_has_said_leaves_the_room_unknown():
    assert math.isnan(value(passed(these(wheel(None))), "room"))


def test_of_a_part_that_nobody_has_entered_the_usual_thickness_is_taken_with_its_range():
    found = passed(these(lacking=("off_axis_guider",)))
    rooms = [float(found.measures[end]["room"][1]) for end in ("low", "value", "high")]
    assert rooms == sorted(rooms)
    assert rooms[0] < rooms[1] < rooms[2] < 37.5
    bare = passed(these())
    for name in ("load", "cost", "power"):
        assert value(found, name) == value(bare, name)


@pytest.mark.parametrize(("travel", "room"), [(30.0, 30.0 + 100.0 - 17.5 - 16.0), (None, 66.5)])
def test_without_a_corrector_the_room_is_what_the_focuser_can_still_move_in(travel, room):
    given: dict[str, Any] = {"back_focus_mm": 100.0, "focuser_in_mm": travel}
    assert value(passed(these(guider(), **given)), "room", 0) == pytest.approx(room, abs=1e-9)


def test_a_train_too_long_without_the_focusers_travel_known_is_not_told_to_fail():
    given: dict[str, Any] = {"back_focus_mm": 20.0, "focuser_in_mm": None}
    assert math.isnan(value(passed(these(guider(), **given)), "room", 0))


def test_load_cost_and_power_are_those_of_the_rig_that_carries_it():
    scope = GuideScope(maker="Brask", model="Little", mass_kg=mm(0.55), price=euros(135.0))
    turning = wheel(20.0, price=euros(300.0), current_a=0.3)
    some = these(turning, scope)
    found, bare = passed(some), passed(these())
    for number in (0, 1):
        rig = some.of(found.candidate(number))
        assert rig is not None
        load = total_mass((one.item.name, one.mass_kg) for one in loads_of(Case(rig))).known_kg
        assert value(found, "load", number) == load
        assert value(found, "power", number) == work_power(rig).mean_w
        assert value(found, "power", number) == pytest.approx(value(bare, "power", number) + 3.6)
        assert value(found, "cost", number) == value(bare, "cost", number) + 435.0


def test_it_stands_between_corrector_and_camera_and_a_guide_scope_beside():
    scope = GuideScope(maker="Brask", model="Little")
    some = these(guider(), wheel(10.0), scope)
    one = passed(some).candidate(1)
    rig = some.of(one)
    assert rig is not None
    first, second, third = (part.id for part in some.beside)
    assert [place.item.id for place in rig.train] == [
        one.tube,
        one.corrector,
        first,
        second,
        STANDING_IN,
        one.camera,
    ]
    assert [gear.item.id for gear in rig.gear] == [one.mount, third]


def test_what_the_choice_does_not_hold_makes_no_rig():
    some = these(guider())
    one = passed(some).candidate(1)
    stranger: CataloguedPart = item(wheel(20.0))
    assert some.of(replace(one, beside=(stranger.id,))) is None


def test_the_power_is_not_known_while_a_cameras_current_is_not():
    some = choice([tube()], [camera()], mounts=[mount(current_a=0.5)])
    assert math.isnan(value(passed(some), "power", 0))
