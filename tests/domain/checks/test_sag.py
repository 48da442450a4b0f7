"""The drawtube's sag as a tilt of the sensor.

Source: statics with g = 9.80665 m/s^2 and trigonometry, by hand; depth of focus 2 lambda N^2 to either side,
Born & Wolf, Principles of Optics, sec. 8.8 (from memory).
"""

from __future__ import annotations

from math import hypot, pi, tan
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.domain.findings import Finding
from server.domain.load_plan import LoadPlan
from server.rim.wording import write_phrase
from tests.domain.rigs import camera, finding, findings, input_named, number, ring, shown, tube

G = 9.80665
DEPTH_MM = 2 * 550e-6 * 4.0**2
"""At f/4 and 550 nm: 17.6 um."""


def of(softness: float | None, plan: LoadPlan | None = None, **of_camera: Any) -> list[Finding]:
    """A ring of 1 kg, 40 mm long, and a camera of 2 kg with its sensor 60 mm behind the drawtube's end."""
    hung = {"mass_kg": 2.0, "flange_mm": 20.0} | of_camera
    soft = {} if softness is None else {"drawtube_sag_arcmin": softness}
    return findings("sag", tube(**soft), ring(40.0, mass_kg=1.0), camera(**hung), load=plan or LoadPlan())


def corner_mm(softness: float, arm_mm: float = 0.0) -> float:
    moment = G * (1.0 * (20.0 + arm_mm) + 2.0 * (60.0 + arm_mm)) / 1000.0
    return hypot(36.0, 24.0) / 2 * tan(softness * moment / 60.0 * pi / 180.0)


@pytest.mark.parametrize(
    ("softness", "code", "weight"), [(1.0, "sag.sound", "sound"), (3.0, "sag.beyond", "watch")]
)
def test_the_corner_is_held_to_the_depth_of_focus(softness: float, code: str, weight: str) -> None:
    (found,) = of(softness)
    assert (found.code, found.weight) == (code, weight)
    assert number(found, "corner") == pytest.approx(corner_mm(softness), rel=1e-9)
    assert number(found, "depth") == pytest.approx(DEPTH_MM)
    assert (corner_mm(softness) > DEPTH_MM) == (weight == "watch")
    assert bool(found.remedies) == (weight == "watch")
    assert input_named(found, "sag, arcminutes per N m") == softness
    # 9.80665 x (1 x 0.02 + 2 x 0.06) = 1.3729 N m.
    assert shown(found, "sag, arcminutes") == {1.0: "1.37", 3.0: "4.12"}[softness]
    assert "Born & Wolf" in found.source


def test_racking_out_lengthens_the_arm_and_turns_the_verdict() -> None:
    # 1.3729 N m become 4.3149 at 100 mm further out.
    (near,), (far,) = of(2.0), of(2.0, LoadPlan(drawtube_out_mm=100.0))
    assert (near.weight, far.weight) == ("sound", "watch")
    assert number(far, "corner") == pytest.approx(corner_mm(2.0, 100.0), rel=1e-9)


def test_it_is_silent_where_no_softness_is_known_and_asks_once_one_is() -> None:
    assert of(None) == []
    (found,) = of(2.0, mass_kg=None)
    assert (found.weight, found.missing) == ("unknown", ("the mass of Quill Cam",))
    (sensor,) = of(2.0, pixel_um=None)
    assert sensor.missing == ("pixels and pixel size of Quill Cam",)
    length = finding("sag", tube(drawtube_sag_arcmin=2.0), ring(None), camera())
    assert "the lengths of the train before Brask Ring" not in length.missing
    assert "the lengths of the train before Quill Cam" in length.missing
    assert write_phrase(length.phrase, "metric").startswith("What the drawtube's sag does is not known yet")


@given(softness=st.floats(0.0, 50.0), more=st.floats(0.0, 5.0))
def test_more_on_the_drawtube_never_makes_the_corners_better(softness: float, more: float) -> None:
    (less,), (heavier,) = of(softness), of(softness, mass_kg=2.0 + more)
    assert number(heavier, "corner") >= number(less, "corner") - 1e-12


def test_racking_in_takes_nothing_off_the_sag() -> None:
    (as_is,), (racked_in,) = of(3.0), of(3.0, LoadPlan(drawtube_out_mm=-60.0))
    assert number(racked_in, "corner") == pytest.approx(number(as_is, "corner"))
