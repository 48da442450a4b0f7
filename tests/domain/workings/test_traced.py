"""The traced beam carried through whole rigs, against the counted rays of tests/references/beam.py."""

from __future__ import annotations

import pytest

from server.domain.workings.beam import openings_of
from server.domain.workings.case import Case
from tests.domain.rigs import camera, corrector, finding, findings, input_named, number, rig, ring, tube
from tests.references import beam as reference

WIDE = 200.0
#: 36 x 24.02 mm of 0.4 um: the corner 21.64 mm off the axis, as in the references.
SENSOR = {"width_px": 90000, "height_px": 60062, "pixel_um": 0.4, "clear_aperture_mm": WIDE}
DESIGNS = {None: "apochromat", reference.RC: "ritchey_chretien"}


def parts_of(case: reference.Case, **more):
    """A rig whose train is the reference's: its opening in a ring before or behind the corrector."""
    given = {"design": DESIGNS[case.mirrors], "drawtube_bore_mm": WIDE}
    if case.mirrors is not None:
        f1, _, separation = case.mirrors
        given |= {
            "primary_focal_ratio": f1 / case.aperture_mm,
            "mirror_separation_mm": separation,
            "obstruction_share": case.obstruction,
        }
    scope = tube(
        focal_length_mm=case.focal_mm, aperture_mm=case.aperture_mm, **(given | more.pop("tube", {}))
    )
    if case.corrector is None:
        return (
            scope,
            ring(case.at_mm - 17.5, clear_aperture_mm=case.opening_mm, aperture_at_mm=0.0),
            camera(**SENSOR),
        )
    factor, at = case.corrector
    lens = corrector(
        factor=factor,
        corrector_type="reducer",
        back_focus_mm=at,
        length_mm=20.0,
        clear_aperture_mm=WIDE,
        **({"principal_mm": 0.0} | more),
    )
    narrow = {"clear_aperture_mm": case.opening_mm, "aperture_at_mm": 0.0}
    if case.at_mm > at:
        return (
            scope,
            ring(case.at_mm - at - 20.0, **narrow),
            lens,
            ring(at - 17.5, clear_aperture_mm=WIDE),
            camera(**SENSOR),
        )
    between = ring(at - case.at_mm, clear_aperture_mm=WIDE)
    return (scope, lens, between, ring(case.at_mm - 17.5, **narrow), camera(**SENSOR))


IN_RIGS = [case for case in reference.CASES if case.mirrors in DESIGNS and case.obstruction != 0.30]


@pytest.mark.parametrize("case", IN_RIGS)
def test_a_whole_rig_loses_the_light_that_rays_count(case):
    found = finding("beam", *parts_of(case))
    assert found.figure is not None
    assert 1.0 - found.figure.amount.value == pytest.approx(case.light, abs=reference.LIGHT_TOLERANCE)
    assert input_named(found, "exit pupil") == pytest.approx(
        abs(case.pupil_mm), abs=reference.PUPIL_TOLERANCE_MM
    )


def test_where_the_lens_of_a_reducer_sits_decides_the_finding_says_so_and_how_much_hangs_on_it():
    # Counted by rays: 90 mm f/6 with 0.8 at 58 mm and an opening of 43 mm 40 mm before the sensor keeps 27.9
    # % with the lens at the shoulder and 52.0 % with it 45 mm before it.
    case = reference.Case(90.0, 0.0, 540.0, None, 0.0, (0.8, 58.0), 21.64, 43.0, 40.0, 0.0, 0.0)
    open_ = parts_of(case, principal_mm=None, glass_length_mm=45.0)
    found = Case(rig(*open_))
    assert found.traced is not None
    assert len(found.traced.ends) == 2
    said = finding("beam", *open_)
    assert (said.weight, said.code) == ("watch", "beam.corners")
    assert (number(said, "least"), number(said, "most")) == pytest.approx((0.48, 0.721), abs=1e-3)
    assert said.figure is not None
    assert said.figure.uncertainty == pytest.approx((0.721 - 0.48) / 2.0, abs=1e-3)


def test_a_verdict_that_hangs_on_an_unknown_figure_is_not_given_and_the_figure_is_named():
    # 47 mm in place of 43 keeps more or less than the eight tenths asked for.
    case = reference.Case(90.0, 0.0, 540.0, None, 0.0, (0.8, 58.0), 21.64, 47.0, 40.0, 0.0, 0.0)
    found = finding("beam", *parts_of(case, principal_mm=None, glass_length_mm=60.0))
    assert (found.weight, found.code) == ("unknown", "beam.pupil_unknown")
    assert found.missing[0].startswith("the rear principal plane of Halden Flat")
    # Both what is possible, and no remedy that would make one buy what is not needed.
    least, most = number(found, "least"), number(found, "most")
    assert least < 0.8 < most
    assert found.figure is not None
    assert found.figure.amount.value == pytest.approx(1.0 - (least + most) / 2.0)
    assert found.figure.uncertainty == pytest.approx((most - least) / 2.0)
    assert not found.remedies


def test_corners_that_are_lit_well_enough_either_way_are_sound_with_the_range():
    # 52 mm in place of 47: at one end the whole light, at the other less, and enough.
    case = reference.Case(90.0, 0.0, 540.0, None, 0.0, (0.8, 58.0), 21.64, 52.0, 40.0, 0.0, 0.0)
    found = finding("beam", *parts_of(case, principal_mm=None, glass_length_mm=60.0))
    assert (found.weight, found.code) == ("sound", "beam.little")
    assert number(found, "least") == 0.0
    assert 0.05 < number(found, "most") < 0.2


def test_how_far_the_focus_moved_in_stands_for_the_principal_plane():
    # 15 mm before the shoulder, d = 73 mm: the focus moves in by 73 / 0.8 - 73 = 18.25 mm.
    case = reference.Case(90.0, 0.0, 540.0, None, 0.0, (0.8, 58.0), 21.64, 43.0, 40.0, 0.0, 0.0)
    found = finding("beam", *parts_of(case, principal_mm=None, in_travel_mm=18.25))
    assert found.figure is not None
    # By rays with the plane there: 38.9 %.
    assert 1.0 - found.figure.amount.value == pytest.approx(0.389, abs=1e-3)


def test_a_ritchey_chretien_of_unknown_mirrors_is_judged_where_both_ends_agree():
    wide = reference.CASES[7]
    known = finding("beam", *parts_of(wide._replace(opening_mm=60.0)))
    unknown = finding("beam", *parts_of(wide._replace(opening_mm=60.0), tube={"mirror_separation_mm": None}))
    assert (unknown.weight, known.weight) == ("sound", "sound")
    narrow = finding(
        "beam",
        *parts_of(
            wide._replace(opening_mm=48.5), tube={"primary_focal_ratio": None, "mirror_separation_mm": None}
        ),
    )
    assert narrow.code == "beam.pupil_unknown"
    assert narrow.missing[0] == "the primary's focal ratio of Halden Tube"


@pytest.mark.parametrize("separation", [0.0, 5000.0])
def test_a_separation_that_no_mirrors_of_that_length_have_is_taken_as_not_known(separation):
    wide = reference.CASES[7]._replace(opening_mm=48.5)
    figures = [
        finding(
            "beam", *parts_of(wide, tube={"primary_focal_ratio": None, "mirror_separation_mm": mm})
        ).figure
        for mm in (None, separation)
    ]
    assert figures[0] is not None
    assert figures[0] == figures[1]


def test_a_camera_lens_is_asked_for_its_exit_pupil_and_believed():
    narrow = ring(30.0, clear_aperture_mm=35.0, aperture_at_mm=0.0)
    lens = {"design": "camera_lens", "focal_length_mm": 135.0, "aperture_mm": 67.5, "drawtube_bore_mm": WIDE}
    found = finding("beam", tube(**lens), narrow, camera())
    assert found.code == "beam.pupil_unknown"
    assert found.missing[0] == "the exit pupil of Halden Tube"
    said = finding("beam", tube(**lens, exit_pupil_mm=80.0), narrow, camera())
    assert input_named(said, "exit pupil") == 80.0
    assert said.code != "beam.pupil_unknown"


def with_diagonal(minor_axis_mm):
    scope = tube(
        design="newtonian",
        focal_length_mm=820.0,
        aperture_mm=205.0,
        drawtube_bore_mm=WIDE,
        secondary_mm=minor_axis_mm,
        diagonal_to_focus_mm=232.0,
        diagonal_offset_mm=0.0,
    )
    return findings("beam", scope, ring(30.0, clear_aperture_mm=WIDE), camera(clear_aperture_mm=WIDE))


@pytest.mark.parametrize(("minor_axis_mm", "full"), [(67.0, True), (66.0, False)])
def test_a_diagonal_too_small_for_any_circle_is_said_to_light_no_point_fully(minor_axis_mm, full):
    # Of 68 mm a circle of 1.84 mm, as below: a millimetre less of the mirror is 1.4 mm less of the circle.
    told = with_diagonal(minor_axis_mm)[1].phrase.template
    assert ("no point of the sensor" not in told) == full


def test_a_newtonians_diagonal_counts_in_the_corner_and_tells_its_circles():
    # The first traced case of tests/optics/test_diagonal.py: no less than 75.6 % 21.6 mm off the axis
    # without offset.
    light, diagonal = with_diagonal(68.0)
    assert light.figure is not None
    assert 1.0 - light.figure.amount.value == pytest.approx(0.76, abs=0.02)
    assert "the diagonal of Halden Tube" in light.phrase.template
    assert number(diagonal, "full") == pytest.approx(1.84, abs=0.05)
    assert number(diagonal, "most") == pytest.approx(55.7, abs=0.6)


def test_a_flattener_before_the_last_corrector_leaves_the_exit_pupil_where_it_is():
    rest = (corrector(factor=0.8, principal_mm=0.0), ring(37.5), camera())
    alone = Case(rig(tube(), *rest)).traced
    behind = Case(rig(tube(), corrector(factor=1.0), *rest)).traced
    assert alone is not None
    assert behind is not None
    assert behind.beam.per_pupil == pytest.approx(alone.beam.per_pupil)
    bent = Case(rig(tube(), corrector(factor=0.9), *rest)).traced
    assert bent is not None
    assert bent.beam.per_pupil != pytest.approx(alone.beam.per_pupil)


def test_a_reducer_before_a_flattener_throws_the_exit_pupil_behind_the_focus():
    # f/4 of 800 mm, its lens the stop. A reducer of 0.5 that works 50 mm before the focus (10 mm before its
    # shoulder) is a lens of 100 mm, 100 mm before the bare focus and 700 mm behind the stop, which it images
    # 1 / (1 / 100 - 1 / 700) = 116.667 mm behind itself: 66.667 mm behind the focus.
    reducer = corrector(corrector_type="reducer", factor=0.5, back_focus_mm=40.0, principal_mm=10.0)
    traced = Case(rig(tube(), reducer, corrector(factor=1.0), ring(37.5), camera())).traced
    assert traced is not None
    assert 1.0 / traced.beam.per_pupil == pytest.approx(-66.667, abs=1e-3)


def test_the_secondary_of_other_designs_than_a_newtonians_is_no_diagonal():
    scope = tube(
        design="ritchey_chretien",
        focal_length_mm=1600.0,
        aperture_mm=200.0,
        primary_focal_ratio=3.0,
        mirror_separation_mm=400.0,
        secondary_mm=70.0,
        drawtube_bore_mm=WIDE,
    )
    found, missing = openings_of(Case(rig(scope, ring(30.0), camera())))
    secondary = next(one for one in found if one.measure.nominal == 70.0)
    assert (secondary.what, secondary.offset_mm) == ("secondary", None)
    assert missing == ()
    # 1600 / 600 of the 200 mm that the primary's focus lies behind it: 533.33 mm before the focus, and behind
    # a reducer whose lens stands 55 mm before the sensor, before the bare one, 55 / 0.8 - 55 mm farther back.
    assert secondary.far_mm == pytest.approx(533.333, abs=1e-3)
    reducer = corrector(factor=0.8, principal_mm=0.0)
    found, _ = openings_of(Case(rig(scope, ring(30.0), reducer, ring(37.5), camera())))
    behind = next(one for one in found if one.measure.nominal == 70.0)
    assert behind.far_mm == pytest.approx(533.333 - 13.75, abs=1e-3)


def test_what_stands_behind_a_camera_lens_without_a_drawtube_is_an_opening_too():
    scope = tube(design="camera_lens", drawtube_bore_mm=None)
    found, missing = openings_of(Case(rig(scope, ring(30.0, clear_aperture_mm=35.0), camera())))
    assert [one.measure.nominal for one in found] == [35.0, 46.0]
    assert missing == ()
