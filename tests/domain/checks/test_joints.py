"""Whether every joint mates, and what shims do in it.

Sources: threads mate at equal diameter and pitch (ISO 68-1 profile, ISO 965-1 and ASME B1.1 designations);
25.4 mm to the inch (NIST SP 811, B.8). Push-fits, three turns to be stiff, the accident of M42x0.75 with
M42x1: common practice, no source.
"""

from __future__ import annotations

import pytest

from server.domain.connections import read_connection
from server.domain.parts import Camera
from server.domain.workings.case import Case
from tests.domain.rigs import (
    adapter,
    camera,
    corrector,
    finding,
    findings,
    glass,
    holding,
    item,
    number,
    rig,
    ring,
    shim,
    tube,
    wheel,
)
from tests.told import check_joints

END = read_connection


def between(upper: str, lower: str, *parts, **given):
    """A ring that ends in `upper`, what lies between, and a camera that begins with `lower`."""
    return (
        tube(),
        ring(10.0, camera_side=END(upper)),
        *parts,
        camera(sky_side=END(lower), **given),
    )


def test_a_train_whose_joints_all_mate_says_so_once():
    found = finding("joints", tube(), corrector(), ring(37.5), camera())
    assert (found.weight, found.phrase.template) == ("sound", "All 3 joints mate.")


def test_the_two_threads_of_42_mm_that_look_alike_never_mate():
    found = finding("joints", *between("M42x0.75 female", "M42x1 male"))
    assert (found.weight, found.code) == ("stop", "joints.size")
    assert "M42x0.75 and M42x1 look alike" in found.phrase.template
    assert found.place == 3


def test_two_of_one_gender_need_a_changer():
    found = finding("joints", *between("M48x0.75 male", "M48x0.75 male"))
    assert (found.weight, found.code) == ("stop", "joints.gender")


def test_a_thread_and_a_bayonet_need_an_adapter_and_the_wanted_one_is_described():
    found = finding("joints", *between("M48x0.75 female", "bayonet K1 male"))
    assert (found.weight, found.code) == ("stop", "joints.kind")
    assert "M48x0.75 male towards the sky" in found.remedies[0].phrase.template
    assert "K1" in found.remedies[0].phrase.template


def test_an_adapter_on_the_shelf_that_joins_them_is_named_and_goes_into_that_joint():
    joiner = item(adapter(5.0, model="Joiner"))
    broken = rig(*between("M48x0.75 female", "M42x0.75 female"))
    found = check_joints(Case(broken, {2: (joiner,)}))[0]
    action = found.remedies[0].action
    assert action is not None
    assert (action.verb, action.part_id, action.at) == ("add", joiner.id, 2)


def test_a_reversible_part_that_is_the_wrong_way_round_is_told_to_be_turned():
    turned = ring(10.0, sky_side=END("M48x0.75 female"), camera_side=END("M42x0.75 male"), reversible=True)
    found = findings(
        "joints",
        tube(camera_side=END("M42x0.75 female")),
        turned,
        camera(sky_side=END("M48x0.75 male")),
    )
    assert [f.code for f in found] == ["joints.size", "joints.size"]
    assert "Turn Brask Ring round" in found[0].remedies[0].phrase.template


def test_a_push_fit_is_a_watch():
    found = finding("joints", *between("2 in barrel female", "2 in barrel male"))
    assert (found.weight, found.code) == ("watch", "joints.watch")
    assert "push-fit" in found.phrase.template


def test_several_push_fits_are_one_watch_that_names_them_all():
    loose = {"sky_side": END("2 in barrel male"), "camera_side": END("2 in barrel female")}
    found = finding(
        "joints",
        tube(camera_side=END("2 in barrel female")),
        ring(10.0, **loose),
        camera(sky_side=END("2 in barrel male")),
    )
    assert found.phrase.template == (
        "Push-fit joints: Halden Tube to Brask Ring and Brask Ring to Quill Cam. "
        "Each holds by a screw or collet and need not sit square; for imaging prefer threads."
    )


@pytest.mark.parametrize(
    ("upper", "lower", "missing"),
    [
        ("M48x0.75", "M48x0.75 male", "male or female at the camera side of Brask Ring"),
        ("M48x0.75 female", "2 in barrel", None),
        ("2 in barrel female", "2 in barrel", "male or female at the sky side of Quill Cam"),
        ("M57 female", "M57x1 male", "the pitch of the thread at the camera side of Brask Ring"),
        ("bolts Q6", "bolts Q6 on 62 mm", "the bolt circle at the camera side of Brask Ring"),
    ],
)
def test_what_a_joint_lacks_is_named_and_a_known_fault_is_a_stop_all_the_same(upper, lower, missing):
    found = finding("joints", *between(upper, lower))
    if missing is None:
        assert found.weight == "stop"
    else:
        assert (found.weight, found.missing) == ("unknown", (missing,))


def test_a_connection_that_was_never_entered_is_asked_for():
    nothing = Camera(maker="Quill", model="Cam")
    found = finding("joints", tube(), nothing)
    assert (found.weight, found.missing) == ("unknown", ("the connection at the sky side of Quill Cam",))


def test_an_unmounted_filter_in_the_run_holds_nothing_and_is_never_sound():
    found = finding("joints", tube(), glass(2.0), camera())
    assert found.weight == "unknown"
    assert len(found.missing) == 2


def test_a_train_without_ends_says_what_to_add():
    found = finding("joints", ring(10.0))
    assert (
        found.phrase.template
        == "The train has no optical tube and no camera yet: add an optical tube and a camera."
    )
    assert not findings("joints")


# -- Shims


def test_a_shim_lies_in_its_joint_and_does_not_part_the_neighbours():
    assert finding("joints", tube(), shim(0.5), ring(10.0), camera()).phrase.template == "All 2 joints mate."


@pytest.mark.parametrize(("inner", "outer"), [(42.0, 47.0), (50.0, None), (47.9, 60.0), (48.0, 48.0)])
def test_a_shim_must_pass_the_thread_and_lie_on_the_shoulder(inner, outer):
    found = findings("joints", tube(), shim(0.5, fits_from_mm=inner, fits_to_mm=outer), ring(10.0), camera())
    fits = inner >= 48.0 and (outer is None or outer > 48.0)
    assert ("joints.shim" in [f.code for f in found]) is not fits


def test_a_shim_for_an_inch_thread_is_measured_in_millimetres():
    # 2 in = 50.8 mm.
    parts = (
        tube(camera_side=END('2"-24 female')),
        shim(0.5),
        ring(10.0, sky_side=END('2"-24 male')),
        camera(),
    )
    found = finding("joints", *parts)
    assert found.code == "joints.shim"
    assert '2"-24' in found.phrase.template


def test_a_shim_of_unknown_bore_is_never_sound():
    found = finding("joints", tube(), shim(0.5, fits_from_mm=None), ring(10.0), camera())
    assert (found.weight, found.missing) == ("unknown", ("the inner diameter of Brask Shim",))


def test_shims_take_their_thickness_from_the_thread_that_engages():
    # (3.0 - 2 x 0.5) / 0.75 = 2.67 turns; without the second shim 3.33.
    threaded = ring(10.0, sky_side=END("M48x0.75 male, 3 mm long"))
    two = finding("joints", tube(), shim(0.5), shim(0.5), threaded, camera())
    assert (two.weight, two.code) == ("watch", "joints.shim_thread")
    assert number(two, "turns") == pytest.approx(8 / 3)
    assert finding("joints", tube(), shim(0.5), threaded, camera()).code == "joints.mate"


def test_shims_as_thick_as_the_thread_is_long_leave_nothing_to_hold():
    threaded = ring(10.0, sky_side=END("M48x0.75 male, 3 mm long"))
    found = finding("joints", tube(), shim(2.5), threaded, camera())
    assert found.weight == "stop"


# -- The Sun


def test_a_filter_made_for_the_sun_behind_the_objective_is_a_stop_with_its_caution():
    found = findings("sun", tube(), holding(wheel(20.0), glass(2.0, model="Solar", solar=True)), camera())
    sun = next(f for f in found if f.code == "sun.behind")
    assert sun.weight == "stop"
    for word in ("certified full-aperture solar filter", "Cap or take off the finder", "unattended"):
        assert word in sun.phrase.template
