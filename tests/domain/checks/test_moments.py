"""Arm, torque and moments of inertia in the load's finding.

Source: statics and the parallel-axis theorem, by hand; g = 9.80665 m/s^2 (standard gravity, 3rd CGPM 1901).
"""

from __future__ import annotations

from typing import Any

import pytest

from server.domain.load_plan import LoadPlan
from server.rim.wording import write_phrase
from tests.domain.rigs import finding, input_named, mount, number, tube

G = 9.80665
NO_BAR: dict[str, Any] = {"mount_type": "alt_azimuth", "saddle_height_mm": 150.0}
"""No bar, so that the load alone turns about the upright axis."""


def test_the_loads_finding_tells_arm_torque_and_inertia_and_gives_no_verdict_on_them() -> None:
    # 5 kg with its axis 100 mm above a saddle at 150 mm: 250 mm. Clamped 30 mm off: 5 x 9.80665 x 0.03.
    plan = LoadPlan(tube_above_saddle_mm=100.0, clamp_mm=170.0)
    found = finding(
        "payload",
        tube(mass_kg=5.0, balance_point_mm=200.0, tube_length_mm=400.0, outer_diameter_mm=200.0),
        gear=[mount(**NO_BAR)],
        load=plan,
    )
    assert found.weight == "sound"
    assert number(found, "arm") == pytest.approx(250.0)
    assert number(found, "torque") == pytest.approx(5.0 * G * 0.03)
    # A full cylinder across its middle: m (r^2 / 4 + l^2 / 12); about the polar axis m x 0.25^2 more.
    across = 5.0 * (0.1**2 / 4 + 0.4**2 / 12)
    assert number(found, "inertia_declination") == pytest.approx(across)
    assert number(found, "inertia_polar") == pytest.approx(across + 5.0 * 0.25**2)
    said = write_phrase(found.phrase, "metric")
    assert "Its centre lies 250 mm from the polar axis." in said
    assert "no verdict is given on them" in said
    assert "1.5 N m" in said, "a balance known to a centimetre leaves two digits"
    assert input_named(found, "torque about declination") == pytest.approx(5.0 * G * 0.03)


def test_what_is_not_known_of_them_stands_in_the_working_and_not_in_the_sentence() -> None:
    found = finding("payload", tube(mass_kg=5.0), gear=[mount()])
    assert found.weight == "sound"
    assert not found.missing
    assert "polar axis" not in found.phrase.template
    told = {one.label: one.text for one in found.inputs if one.amount is None}
    assert len(told) == 4
    arm = told["the load's centre from the polar axis"]
    assert arm.startswith("not known yet: enter the saddle of Stone Mount above the polar axis")
    assert "the tube's height above the saddle" in arm
    assert "the balance point of Halden Tube" in told["moment of inertia about declination"]
    torque = told["torque about declination as it is clamped"]
    assert torque.endswith("the middle of the saddle's clamp")


def test_they_never_change_the_verdict() -> None:
    heavy = {"balance_point_mm": 200.0, "tube_length_mm": 400.0}
    plan = LoadPlan(tube_above_saddle_mm=2000.0, clamp_mm=10_000.0)
    far = finding("payload", tube(mass_kg=5.0, **heavy), gear=[mount(**NO_BAR)], load=plan)
    plain = finding("payload", tube(mass_kg=5.0), gear=[mount(**NO_BAR)])
    assert (far.weight, far.code) == (plain.weight, plain.code)


def test_the_torque_of_a_balance_known_to_a_centimetre_is_told_with_two_digits() -> None:
    # 12.2 kg, 290.3 mm off: 34.73 N m, and a centimetre of it is 1.2 N m.
    plan = LoadPlan(clamp_mm=490.3)
    found = finding(
        "payload", tube(mass_kg=12.2, balance_point_mm=200.0), gear=[mount(30.0, **NO_BAR)], load=plan
    )
    assert number(found, "torque") == pytest.approx(34.73, abs=0.01)
    assert "turns declination with 35 N m" in write_phrase(found.phrase, "metric")
    # 34.73 / (0.45359237 x 9.80665 x 0.3048) = 25.6 lbf ft.
    assert "turns declination with 26 lbf ft" in write_phrase(found.phrase, "imperial")
