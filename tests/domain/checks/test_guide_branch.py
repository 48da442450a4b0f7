"""The off-axis guider's side branch: both paths worked by hand, joints, and what is missing.

The rig: a corrector, a guider of 16 mm whose prism sits 8 mm behind its sky side and 26 mm from its side
port, a wheel of 20 mm, a camera of 17.5 mm; a guide camera of 12.5 mm. Prism to main sensor: 8 + 20 + 17.5 is
45.5 mm; prism to guide sensor without a ring: 26 + 12.5 = 38.5 mm. So 7 mm belong before the guide camera.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from server.domain.connections import read_connection
from server.domain.findings import Finding
from server.domain.parts import GuideCamera, GuideScope, OffAxisGuider
from server.domain.rig import Rig
from server.domain.train import Place
from tests.domain.rigs import (
    M42F,
    M42M,
    M48F,
    M48M,
    camera,
    corrector,
    glass,
    holding,
    item,
    mm,
    number,
    rig,
    ring,
    tube,
    wheel,
)
from tests.told import run_checks

INCH_F, INCH_M = read_connection('1"-32 female'), read_connection('1"-32 male')


def guider(**given: Any) -> OffAxisGuider:
    usual: dict[str, Any] = {
        "length_mm": mm(16.0),
        "prism_at_mm": mm(8.0),
        "side_port": M42F,
        "side_path_mm": mm(26.0),
        "sky_side": M48M,
        "camera_side": M48F,
        "mass_kg": mm(0.3),
    }
    return OffAxisGuider(maker="Quill", model="Prism", **(usual | given))


def guide_camera(**given: Any) -> GuideCamera:
    usual: dict[str, Any] = {
        "sky_side": INCH_F,
        "flange_mm": mm(12.5),
        "flange_quoted": "optical",
        "mass_kg": mm(0.1),
    }
    return GuideCamera(maker="Quill", model="Guide", **(usual | given))


def to_inch(length_mm: float | None, **given: Any):
    sides = {"sky_side": M42M, "camera_side": INCH_M}
    return ring(length_mm, **(sides | given))


def guided(*branch: Any, parts: Any = None, camera_part: Any = None, gear: tuple[Any, ...] = ()) -> Rig:
    """The rig of the module's docstring with these parts before the guide camera."""
    train = parts or (tube(), corrector(), guider(), wheel(20.0), camera())
    made = rig(*train, gear=(camera_part or guide_camera(), *gear))
    places = tuple(Place(100 + at, item(part)) for at, part in enumerate(branch))
    return replace(made, branch=places)


def judged(of: Rig) -> Finding:
    (found,) = [one for one in run_checks(of) if one.code.startswith("guide_branch.")]
    return found


def silent(of: Rig) -> bool:
    return not any(one.code.startswith("guide_branch.") for one in run_checks(of))


def test_a_guide_camera_at_the_main_cameras_path_is_sound():
    found = judged(guided(to_inch(7.0)))
    assert (found.code, found.weight) == ("guide_branch.sound", "sound")
    assert number(found, "main") == pytest.approx(45.5)
    assert number(found, "guide") == pytest.approx(45.5)


@pytest.mark.parametrize(
    ("length", "code", "weight", "off"),
    [
        (7.5, "guide_branch.sound", "sound", 0.5),
        (7.6, "guide_branch.long_little", "watch", 0.6),
        (6.0, "guide_branch.short_little", "watch", 1.0),
        (9.1, "guide_branch.long", "stop", 2.1),
        (3.0, "guide_branch.short", "stop", 4.0),
    ],
)
def test_the_further_off_the_graver(length: float, code: str, weight: str, off: float):
    found = judged(guided(to_inch(length)))
    assert (found.code, found.weight) == (code, weight)
    assert number(found, "off") == pytest.approx(off)


def test_the_remedy_says_how_much_to_put_in_or_to_take_out():
    short, long = judged(guided(to_inch(3.0))), judged(guided(to_inch(12.0)))
    assert short.remedies[0].phrase.template.startswith("Put {off} more")
    assert short.remedies[0].phrase.amounts["off"].value == pytest.approx(4.0)
    assert long.remedies[0].phrase.template.startswith("Take {off} out")


def test_a_filter_behind_the_prism_brings_the_guide_camera_nearer():
    # 3 mm of N-BK7 at f/4: 1.03083 mm (references/glass.py).
    parts = (tube(), corrector(), guider(), holding(wheel(20.0), glass(3.0)), camera())
    assert number(judged(guided(to_inch(6.0), parts=parts)), "main") == pytest.approx(44.46917, abs=1e-4)


def test_a_filter_before_the_prism_moves_both_alike():
    parts = (tube(), corrector(), holding(wheel(20.0), glass(3.0)), guider(), ring(20.0), camera())
    assert number(judged(guided(to_inch(7.0), parts=parts)), "main") == pytest.approx(45.5)


def test_a_guider_that_is_turned_round_has_its_prism_elsewhere():
    # Prism 5 mm behind the sky side of 16: 11 mm are behind it, and 5 mm when it is turned round.
    part = guider(prism_at_mm=mm(5.0), reversible=True)
    for flipped, main in ((False, 48.5), (True, 42.5)):
        parts = (tube(), corrector(), Place(0, item(part), flipped), wheel(20.0), camera())
        assert number(judged(guided(to_inch(7.0), parts=parts)), "main") == pytest.approx(main)


def test_an_empty_branch_that_does_not_mate_is_not_known_yet_and_leads_to_the_bridge():
    found = judged(guided())
    assert (found.code, found.weight) == ("guide_branch.open", "unknown")
    assert "do not mate" in found.phrase.template


def test_a_joint_of_the_branch_that_does_not_mate_is_a_stop():
    found = judged(guided(to_inch(7.0, camera_side=M42M)))
    assert (found.code, found.weight) == ("guide_branch.joint", "stop")
    assert "Brask Ring and Quill Guide" in found.phrase.template


@pytest.mark.parametrize(
    ("parts", "guide", "branch", "words"),
    [
        ({"prism_at_mm": None}, {}, 7.0, "where the prism of Quill Prism sits"),
        ({"side_path_mm": None}, {}, 7.0, "the path from prism to side port of Quill Prism"),
        ({}, {"flange_mm": None}, 7.0, "the flange distance of Quill Guide"),
        ({}, {}, None, "the optical length of Brask Ring"),
    ],
)
def test_what_is_missing_is_named(
    parts: dict[str, Any], guide: dict[str, Any], branch: float | None, words: str
):
    train = (tube(), corrector(), guider(**parts), wheel(20.0), camera())
    found = judged(guided(to_inch(branch), parts=train, camera_part=guide_camera(**guide)))
    assert found.weight == "unknown"
    assert found.missing == (words,)


def test_it_is_silent_without_a_guider_or_where_a_guide_scope_guides():
    assert silent(rig(tube(), corrector(), camera(), gear=(guide_camera(),)))
    assert silent(rig(tube(), corrector(), guider(), camera()))
    scope = GuideScope(maker="Quill", model="Scope")
    assert silent(guided(gear=(scope,)))
    assert not silent(guided(to_inch(7.0), gear=(scope,)))


def test_a_prism_before_the_corrector_cannot_be_compared():
    found = judged(guided(to_inch(7.0), parts=(tube(), guider(), corrector(), camera())))
    assert (found.code, found.weight) == ("guide_branch.before", "watch")


def test_the_branch_weighs_on_the_mount():
    def load(of: Rig) -> float:
        return number(next(one for one in run_checks(of) if one.code.startswith("payload.")), "load")

    assert load(guided(to_inch(7.0, mass_kg=mm(0.25)))) == pytest.approx(load(guided()) + 0.25)


def test_a_guide_camera_in_a_holder_is_drawn_out_into_focus_within_its_barrel():
    # 45.5 - 26 - 12.5 = 7 mm; of a barrel of 20 mm 10 stay held, of one of 15 mm 5 can be drawn out.
    holder = read_connection("1.25 in barrel female")
    for long, code in ((20.0, "guide_branch.short_slides"), (15.0, "guide_branch.short")):
        nose = read_connection("1.25 in barrel male").model_copy(update={"thread_mm": long})
        parts = (tube(), corrector(), guider(side_port=holder), wheel(20.0), camera())
        found = judged(guided(parts=parts, camera_part=guide_camera(sky_side=nose)))
        assert found.code == code
        assert number(found, "off") == pytest.approx(7.0)
