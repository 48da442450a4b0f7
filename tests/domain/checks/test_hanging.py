"""What hangs behind a focuser, rotator or tilt adjuster against its rating.

Source: sums worked by hand.
"""

from __future__ import annotations

import pytest

from server.domain.parts import GuideCamera, GuideScope, OffAxisGuider, Rotator
from server.rim.wording import write_figure, write_phrase
from tests.domain.rigs import (
    M48F,
    M48M,
    camera,
    corrector,
    finding,
    findings,
    glass,
    holding,
    mm,
    number,
    ring,
    tube,
    wheel,
)

ROUNDING_KG = 1e-9


def rotator(capacity_kg):
    return Rotator(
        model="Rot",
        sky_side=M48M,
        camera_side=M48F,
        length_mm=mm(15.0),
        mass_kg=mm(0.7),
        capacity_kg=mm(capacity_kg),
    )


def guider():
    return OffAxisGuider(model="Guider", sky_side=M48M, camera_side=M48F, length_mm=mm(16.0), mass_kg=mm(0.3))


def test_the_focuser_carries_everything_behind_the_tube_with_the_filters_in_the_wheel():
    # 0.4 + (0.5 + 2 x 0.01) + 0.6 = 1.52 kg
    found = finding(
        "hanging",
        tube(focuser_capacity_kg=3.0),
        corrector(),
        holding(wheel(20.0), glass(2.0), glass(2.0)),
        camera(),
    )
    assert (found.weight, found.code) == ("sound", "hanging.sound")
    assert number(found, "load") == pytest.approx(1.52, abs=ROUNDING_KG)
    assert write_phrase(found.phrase, "metric") == (
        "The focuser of Halden Tube carries 1.5 kg of the 3.0 kg it is rated for."
    )


@pytest.mark.parametrize(("rating", "weight"), [(1.0, "sound"), (0.99, "stop")])
def test_the_very_rating_is_allowed_and_more_is_a_stop_with_its_remedy(rating, weight):
    # 0.4 + 0.6 = 1.0 kg
    found = finding("hanging", tube(focuser_capacity_kg=rating), corrector(), camera())
    assert found.weight == weight
    said = [write_phrase(remedy.phrase, "metric") for remedy in found.remedies]
    remedy = "Take at least 0.01 kg off the focuser of Halden Tube, or use a focuser that is rated for more."
    assert said == ([] if weight == "sound" else [remedy])


def test_a_mass_that_is_not_known_is_named_and_the_rest_is_a_least():
    found = finding("hanging", tube(focuser_capacity_kg=3.0), corrector(mass_kg=None), camera())
    assert (found.weight, found.missing) == ("unknown", ("the mass of Halden Flat",))
    assert found.figure is not None
    assert write_figure(found.figure, "metric") == "at least 0.6 kg"


def test_too_much_already_is_a_stop_whatever_the_rest_weighs():
    found = finding("hanging", tube(focuser_capacity_kg=0.5), corrector(mass_kg=None), camera())
    assert found.weight == "stop"
    assert number(found, "over") == pytest.approx(0.1, abs=ROUNDING_KG)
    # 0.6 of 0.5 kg: 0.1 kg is 0.22 lb, which 0.2 lb would not take off.
    assert "0.1 kg off" in write_phrase(found.remedies[0].phrase, "metric")
    assert "0.3 lb off" in write_phrase(found.remedies[0].phrase, "imperial")


def test_with_no_mass_known_no_load_is_shown():
    found = finding("hanging", tube(focuser_capacity_kg=2.0), camera(mass_kg=None))
    assert found.figure is None
    assert write_phrase(found.phrase, "metric") == (
        "The focuser of Halden Tube may carry 2.0 kg. Not counted, not known yet: "
        "enter the mass of Quill Cam."
    )


def test_a_rotator_carries_only_what_is_behind_it():
    # Behind it: 0.05 + 0.6 = 0.65 kg; the corrector and the rotator itself hang before it.
    found = finding("hanging", tube(), corrector(), rotator(2.0), ring(10.0), camera())
    assert number(found, "load") == pytest.approx(0.65, abs=ROUNDING_KG)


def test_the_guide_camera_hangs_on_an_off_axis_guider_unless_a_guide_scope_has_it():
    guide = GuideCamera(model="Guide", mass_kg=mm(0.2))
    scope = GuideScope(model="Scope", mass_kg=mm(1.0))
    train = (tube(focuser_capacity_kg=3.0), guider(), camera())
    # 0.3 + 0.6 = 0.9 kg, and 0.2 kg of guide camera.
    assert number(finding("hanging", *train, gear=[guide]), "load") == pytest.approx(1.1, abs=ROUNDING_KG)
    beside = finding("hanging", *train, gear=[guide, scope])
    assert number(beside, "load") == pytest.approx(0.9, abs=ROUNDING_KG)


def test_without_a_rating_or_with_nothing_behind_it_is_silent():
    assert findings("hanging", tube(), corrector(), camera()) == []
    assert findings("hanging", tube(focuser_capacity_kg=3.0)) == []
