"""A kind that nobody has made yet, put in by the steps of DEVELOPERS.md alone, is judged like any other.

Sums are worked by hand. The shift of its glass at f/4: 3 mm x (1 - cos u / sqrt(n^2 - sin^2 u)) with
tan u = 1/8 and n of N-BK7 is 1.0308 mm.
"""

from __future__ import annotations

from typing import Any, ClassVar, Literal, cast

import pytest

from server.domain.fields import (
    capacity,
    choice,
    current,
    glass_index,
    glass_thickness,
    length_step,
    longest,
    mass,
    measure,
    supply_voltage,
)
from server.domain.load.places import sum_places
from server.domain.load.power import work_power
from server.domain.load_plan import LoadPlan
from server.domain.measure import Measure
from server.domain.parts import KINDS, BasePart, Part, PathPart
from server.domain.parts.capabilities import Rides
from server.domain.workings.case import Case
from server.rim.phrasebook.tell import asked_of
from tests.domain.rigs import (
    M48F,
    M48M,
    camera,
    case,
    corrector,
    finding,
    mm,
    mount,
    number,
    rig,
    ring,
    tube,
)


class Derotator(PathPart):
    """Turns the field behind a sealing window."""

    kind: Literal["derotator"] = "derotator"
    kind_words: ClassVar[str] = "field derotator"

    mass_kg: Measure | None = mass(10.0)
    longest_mm: Measure | None = longest()
    click_mm: Measure | None = length_step()
    window_mm: Measure | None = glass_thickness()
    window_index: Measure | None = glass_index()
    bearing_kg: Measure | None = capacity("Its bearing takes")
    motor_a: Measure | None = current()
    motor_v: Measure | None = supply_voltage()


class DewBox(BasePart):
    """Rides with the tube, whatever it is: the heavier reading where its class says nothing."""

    kind: Literal["dew_box"] = "dew_box"
    kind_words: ClassVar[str] = "dew box"

    drain_a: Measure | None = current()


class Sledge(BasePart):
    """Stands under everything."""

    kind: Literal["sledge"] = "sledge"
    kind_words: ClassVar[str] = "sledge"
    rides: ClassVar[Rides] = "ground"

    bears_kg: Measure | None = measure("Bears", "mass", 500.0, role="bears")
    surface: Literal["grass"] | None = choice("Surface", (("grass", "grass"),))


@pytest.fixture(autouse=True)
def _three_more_kinds(monkeypatch: pytest.MonkeyPatch) -> None:
    for made in (Derotator, DewBox, Sledge):
        monkeypatch.setitem(KINDS, made.model_fields["kind"].default, made)


def derotator(**given: Any) -> Part:
    usual = {"sky_side": M48M, "camera_side": M48F, "length_mm": mm(20.0), "mass_kg": mm(0.4)}
    return cast("Part", Derotator(model="Turner", **(usual | given)))


def dew_box(**given: Any) -> Part:
    return cast("Part", DewBox(model="Box", **given))


def sledge(**given: Any) -> Part:
    return cast("Part", Sledge(model="Sled", mass_kg=mm(9.0), **given))


# Rated: the camera of 0.6 kg hangs on it.


@pytest.mark.parametrize(("bearing", "code"), [(0.6, "hanging.sound"), (0.5, "hanging.over")])
def test_a_rating_is_held_against_what_hangs_behind(bearing: float, code: str):
    found = finding("hanging", tube(), corrector(), derotator(bearing_kg=mm(bearing)), camera())
    assert found.code == code
    assert number(found, "load") == pytest.approx(0.6)


def test_a_rating_of_what_stands_on_the_ground_is_held_against_all_that_stands_on_it():
    # 4.0 + 0.4 + 0.6 + 12.0 = 17.0 kg.
    parts = [tube(mass_kg=4.0), derotator(), camera()]
    gear = [mount(mass_kg=12.0), sledge(bears_kg=mm(16.0))]
    found = finding("stand", *parts, gear=gear)
    assert found.weight == "stop"
    assert number(found, "load") == pytest.approx(17.0)


# Drawing: 1.5 A and 0.5 A at 12 V for 8 hours.


def test_a_current_counts_in_the_nights_energy():
    of = rig(
        tube(),
        derotator(motor_a=mm(1.5), motor_v=mm(12.0)),
        camera(current_idle_a=0.0),
        gear=[(dew_box(drain_a=mm(0.25)), 2)],
        load=LoadPlan(night_hours=8.0, supply_share=1.0),
    )
    sheet = work_power(of)
    assert sheet.need_wh == pytest.approx((1.5 + 0.5) * 12.0 * 8.0)
    assert asked_of(sheet.uncounted) == ()


def test_a_current_that_is_not_known_is_asked_for_at_its_own_field():
    sheet = work_power(rig(tube(), derotator(), camera(current_idle_a=0.0), gear=[dew_box()]))
    tail = " (0 where nothing drives it)"
    assert asked_of(sheet.uncounted) == (f"the current of Turner{tail}", f"the current of Box{tail}")
    assert [getattr(one, "field", "") for one in sheet.uncounted] == ["motor_a", "drain_a"]


# Weighing and riding.


def test_a_mass_beside_the_train_rides_on_the_saddle_unless_its_class_says_where():
    # 4.0 + 0.4 + 0.6 + 2 x 0.5 = 6.0 kg; the sledge stands on the ground.
    gear: list[Part | tuple[Part, int]] = [mount(20.0), (dew_box(mass_kg=mm(0.5)), 2), sledge()]
    parts = [tube(mass_kg=4.0), derotator(), camera()]
    found = finding("payload", *parts, gear=gear)
    assert number(found, "load") == pytest.approx(6.0)
    sums = {one.place: one for one in sum_places(Case(rig(*parts, gear=gear)))}
    assert [piece.name for piece in sums["ground"].pieces] == ["Sled"]


# In the beam.


def test_its_glass_lengthens_what_the_corrector_asks_for():
    part = derotator(length_mm=mm(28.5), window_mm=mm(3.0))
    spacing = case(tube(), corrector(), ring(10.0), part, camera()).spacing
    assert spacing is not None
    assert spacing.asked_mm == pytest.approx(55.0 + 1.0308, abs=1e-4)
    denser = derotator(length_mm=mm(28.5), window_mm=mm(3.0), window_index=mm(1.7))
    spacing = case(tube(), corrector(), ring(10.0), denser, camera()).spacing
    assert spacing is not None
    assert spacing.asked_mm is not None
    assert spacing.asked_mm > 55.0 + 1.2


def test_glass_of_unknown_thickness_is_asked_for():
    found = finding("spacing", tube(), corrector(), ring(10.0), derotator(length_mm=mm(27.5)), camera())
    assert found.weight == "unknown"
    assert found.missing == ("the glass thickness of Turner",)


def test_it_is_set_to_the_length_that_is_asked_by_its_own_steps():
    # 55 + 1.0308 - 10 - 17.5 = 28.5308 mm; in steps of 0.4 mm from 20 mm that is 28.4.
    for click, wanted in ((None, 28.53), (mm(0.4), 28.4)):
        part = derotator(longest_mm=mm(30.0), click_mm=click, window_mm=mm(3.0))
        found = finding("spacing", tube(), corrector(), ring(10.0), part, camera())
        action = found.remedies[0].action
        assert action is not None
        assert action.verb == "set_length"
        assert action.length_mm == pytest.approx(wanted)
