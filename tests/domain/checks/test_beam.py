"""Light over the whole sensor, square filters, what stands before the corrector, and the guider's prism.

Sources: plane geometry of discs and similar triangles; overlap cases checked against polygons of many sides
(shapely, in tests/optics). cos^4 of 2 degrees is 0.997566. Everything is carried through whole rigs.
"""

from __future__ import annotations

from math import atan, cos, hypot

import pytest

from server.domain.workings.case import Case
from server.domain.workings.lit import light_of
from tests.domain.rigs import (
    camera,
    case,
    corrector,
    finding,
    findings,
    glass,
    guider,
    holding,
    input_named,
    number,
    rig,
    ring,
    tube,
    wheel,
)
from tests.told import run_checks

SHARE = 1e-5
WIDE = 200.0


def lens(focal=600.0, ratio=5.0, **given):
    return tube(focal_length_mm=focal, aperture_mm=focal / ratio, drawtube_bore_mm=WIDE, **given)


def cam(**given):
    """36 by 24 mm; its front 10 mm before the sensor."""
    return camera(**{"flange_mm": 10.0, "clear_aperture_mm": WIDE} | given)


def opened(clear, at=7.5, **given):
    return ring(at, clear_aperture_mm=clear, aperture_at_mm=0.0, **given)


def test_the_sides_of_the_sensor_lose_less_than_its_corners_and_are_told():
    # 17.5 mm before the sensor at f/5 the beam is 3.5 mm wide; the corner stands 21.0 mm off, the short
    # side's
    # middle 17.5, the long side's 11.65: an opening of 36 mm cuts the first two and not the third.
    found = finding("beam", lens(), opened(36.0), cam())
    assert number(found, "lost") > number(found, "end") > 0.3
    assert number(found, "side") == 0.0


def test_the_whole_map_follows_the_offset_of_each_point():
    lit = light_of(case(lens(), opened(36.0), cam()))
    assert lit is not None
    quarter = lit.quarter
    radius, beam, shrink = 18.0, 1.75, 1 - 17.5 / 600
    for row, y in enumerate(quarter.y_mm):
        for column, x in enumerate(quarter.x_mm):
            offset = hypot(x, y) * shrink
            through = quarter.through[quarter.at(column, row)]
            if offset + beam <= radius:
                assert through == pytest.approx(1.0, abs=1e-9)
            elif offset - beam >= radius:
                assert through == pytest.approx(0.0, abs=1e-9)
            else:
                assert 0.0 < through < 1.0


def test_the_natural_fall_off_is_cos_to_the_fourth_of_the_middle_ray():
    found = finding("beam", lens(), opened(WIDE), cam())
    angle = atan(hypot(18.0, 12.0) / 600.0)
    assert input_named(found, "light at the corner") == pytest.approx(cos(angle) ** 4, abs=1e-9)


def test_of_two_openings_the_one_that_takes_more_of_the_corner_is_named():
    found = finding("beam", lens(), opened(41.0, model="Narrow"), opened(43.0, at=1.0, model="Wider"), cam())
    assert "Brask Narrow, {opening} wide" in found.phrase.template


def test_a_square_filter_keeps_corners_that_a_round_one_of_its_side_takes():
    def light(fmt):
        square = glass(2.0, clear_aperture_mm=38.2, format=fmt)
        held = holding(wheel(10.0, clear_aperture_mm=WIDE, filter_at_mm=5.0), square)
        return 1 - number(finding("beam", lens(), held, cam()), "lost")

    # 15 mm before the sensor the corner's beam, 1.5 mm of radius, stands 17.55 and 11.7 mm off: 21.09 in all.
    assert light("round_36") == 0.0
    assert light("square_50") == pytest.approx(1.0)


def test_a_filter_wide_enough_is_told_how_near_it_would_have_to_stand():
    # At f/5 44 mm do near the camera's front (0.73 of 1 mm), and not 69 mm before the sensor (2.9 of 6.9 mm).
    held = holding(
        wheel(60.0, clear_aperture_mm=WIDE, filter_at_mm=1.0), glass(2.0, clear_aperture_mm=44.0, model="Far")
    )
    found = finding("beam", lens(), held, cam())
    nearer = [r.phrase for r in found.remedies if "nearer the sensor" in r.phrase.template]
    assert nearer
    at = nearer[0].amounts["at"].value
    held = holding(
        wheel(60.0, clear_aperture_mm=WIDE, filter_at_mm=70.0 - at), glass(2.0, clear_aperture_mm=44.0)
    )
    assert number(finding("beam", lens(), held, cam()), "lost") <= 0.2 + 1e-3
    # It need not come nearer than that: half a millimetre farther off loses more.
    assert nearer[0].amounts["by"].value == pytest.approx(69.0 - at)
    held = holding(
        wheel(60.0, clear_aperture_mm=WIDE, filter_at_mm=69.5 - at), glass(2.0, clear_aperture_mm=44.0)
    )
    assert number(finding("beam", lens(), held, cam()), "lost") > 0.2


@pytest.mark.parametrize(("factor", "clear"), [(0.8, 45.5), (1.0, 44.0)])
def test_a_filter_before_a_corrector_is_not_told_to_come_nearer_and_one_behind_it_is(factor, clear):
    # Far out 44 mm are too few at f/5, and do near the camera's front, as above. Behind a reducer the
    # corner's beam comes in from farther off the axis: 22.1 mm at the front, which 45.5 mm pass.
    far = holding(
        wheel(20.0, clear_aperture_mm=WIDE, filter_at_mm=1.0),
        glass(2.0, clear_aperture_mm=clear, model="Far"),
    )
    glasses = corrector(factor=factor, principal_mm=0.0, length_mm=10.0, clear_aperture_mm=WIDE)
    told = []
    for between in ((far, glasses, opened(WIDE, at=50.0)), (glasses, far, opened(WIDE, at=50.0))):
        found = finding("beam", lens(ratio=5.0 / factor), *between, cam())
        assert number(found, "lost") > 0.2
        told.append(any("nearer the sensor" in r.phrase.template for r in found.remedies))
    assert told == [False, True]


def test_the_smallest_opening_is_told_at_each_place():
    found = finding("beam", lens(), opened(42.0), cam())
    smallest = [i.amount.value for i in found.inputs if i.label.endswith("there, alone") and i.amount]
    assert len(smallest) == 3
    enough = finding("beam", lens(), opened(smallest[1]), cam())
    # Found to 0.01 mm above what is needed: no more than the 20 % is lost, and next to no less.
    assert 0.2 - 0.003 < number(enough, "lost") <= 0.2 + 1e-9


def test_the_smallest_opening_is_told_with_all_the_others_in_the_light():
    # Two openings cut the corner from the same side. Put in with what is told,
    # the corner loses just the fifth that the rule allows.
    near = opened(44.0, at=1.0, model="Near")
    found = finding("beam", lens(), opened(42.0), near, cam())
    # The drawtube is so wide that no diameter of it mends what the ring takes: only ring and Near are told.
    told = [i.amount.value for i in found.inputs if i.label.endswith("as they are") and i.amount]
    assert number(finding("beam", lens(), opened(told[0]), near, cam()), "lost") == pytest.approx(
        0.2, abs=2e-3
    )


@pytest.mark.parametrize(
    ("ring_mm", "camera_mm", "words"),
    [
        # 10 mm before the sensor the middle of the corner's beam lies 21.27 mm off the axis: 42.54 mm pass
        # half. 17.5 mm before it, where it is 1.75 mm to either side of 21.0 mm, 42.4 mm pass more than that.
        (42.4, 42.54, "It is Quill Cam that limits"),
        (41.0, 42.54, "Wider parts in place of Brask Ring leave the corner {kept} of its light; the rest"),
        (41.0, 80.0, ""),
    ],
)
def test_where_no_single_opening_mends_it_only_rings_that_win_much_are_told_to_be_wider(
    ring_mm, camera_mm, words
):
    found = finding("beam", lens(), opened(ring_mm), cam(clear_aperture_mm=camera_mm))
    several = [r.phrase for r in found.remedies if "In place of" not in r.phrase.template]
    assert [p.template.startswith(words) for p in several] == ([True] if words else [])
    if "{kept}" in words:
        assert several[0].amounts["kept"].value == pytest.approx(0.5, abs=0.03)


def test_two_rings_that_both_take_too_much_must_both_be_wider():
    found = finding("beam", lens(), opened(36.0), opened(36.0, at=1.0, model="Near"), cam())
    told = "No single one mends it: Brask Ring and Brask Near must all be wider."
    assert [r.phrase.template for r in found.remedies] == [told]


def test_where_the_others_alone_take_too_much_no_smallest_opening_is_told():
    found = finding("beam", lens(), opened(42.0), opened(25.0, at=1.0, model="Narrow"), cam())
    texts = [i.text for i in found.inputs if i.label.endswith("as they are")]
    assert "none: the others alone take more" in texts


def test_a_part_of_no_known_bore_is_asked_for_and_the_rest_is_still_worked_out():
    found = finding("beam", lens(), opened(42.0), ring(10.0, clear_aperture_mm=None, model="Bare"), cam())
    assert "the clear aperture of Brask Bare" in found.missing
    assert number(found, "lost") > 0.1


def test_a_prism_before_the_corrector_is_worked_out_where_it_stands():
    # Through a flattener the beams run on as they came: the prism asks for as much room as the same one at
    # the same distance behind it.
    before = (lens(), guider(clear_aperture_mm=WIDE), corrector(clear_aperture_mm=WIDE), opened(42.0), cam())
    behind = (lens(), corrector(clear_aperture_mm=WIDE), guider(clear_aperture_mm=WIDE), opened(42.0), cam())
    needs = []
    for parts in (before, behind):
        prism = next(f for f in findings("beam", *parts) if f.title == "Prism")
        assert input_named(prism, "its sky-side face") == pytest.approx(
            input_named(prism, "its camera-side face") + 8.0
        )
        needs.append(number(prism, "long"))
    # Half of the 24 mm side times 1 - x / 600, and a border of x / 10: 30 mm further out it grows by the
    # difference.
    assert needs[0] - needs[1] == pytest.approx(30.0 / 10.0 - 12.0 * 30.0 / 600.0, abs=1e-6)


def test_a_ring_before_a_flattener_is_judged_where_its_bore_is_known():
    # The corner's beam stands 21.63 x (1 - 100 / 800) = 18.9 mm off the axis there: 20 mm of bore are dark.
    # And at f/4 the centre's beam, 25 mm wide, is stopped down by it.
    before = ring(15.0, clear_aperture_mm=20.0, aperture_at_mm=0.0, model="Before")
    found = finding(
        "beam",
        tube(),
        before,
        corrector(clear_aperture_mm=WIDE),
        ring(37.5, clear_aperture_mm=WIDE),
        camera(),
    )
    assert (found.weight, found.code) == ("stop", "beam.centre")
    assert "Brask Before" in found.phrase.template


def test_before_a_reducer_the_cone_is_that_of_the_bare_tube():
    # A reducer of 0.5 at 50 mm: bare focus 100 mm behind it. A ring of 10 mm bore at its front, 30 mm
    # further,
    # stands in a cone of 130 / 8 = 16.25 mm (f/8 bare, f/4 behind): (10 / 16.25)^2 of the centre passes.
    parts = (
        tube(focal_length_mm=800.0, aperture_mm=100.0, drawtube_bore_mm=WIDE),
        ring(5.0, clear_aperture_mm=10.0, aperture_at_mm=5.0),
        corrector(factor=0.5, back_focus_mm=50.0, principal_mm=0.0, clear_aperture_mm=WIDE),
        ring(32.5, clear_aperture_mm=WIDE),
        camera(width_px=10, height_px=10, clear_aperture_mm=WIDE),
    )
    found = finding("beam", *parts)
    assert 1 - number(found, "centre") == pytest.approx((10 / 16.25) ** 2, abs=SHARE)


def test_an_opening_of_zero_is_asked_for_afresh_and_the_rest_is_still_worked_out():
    found = finding("beam", lens(), opened(0.0, model="Shut"), opened(36.0, at=1.0), cam())
    assert found.missing == ("the clear aperture of Brask Shut afresh (0 lets no light through)",)
    assert number(found, "lost") > 0.3


@pytest.mark.parametrize(
    ("figure", "word"),
    [
        ("aperture_mm", "the aperture of Halden Tube afresh (0 lets no light through)"),
        ("focal_length_mm", "the focal length of Halden Tube afresh (0 is none)"),
    ],
)
def test_a_tube_with_a_figure_of_zero_is_asked_for_afresh_and_the_rest_is_still_worked_out(figure, word):
    parts = (tube(**{figure: 0.0}), corrector(), ring(37.5, clear_aperture_mm=WIDE), camera())
    told = {f.code: f for f in run_checks(rig(*parts))}
    assert told["beam.unknown"].missing == (word,)
    assert word in told["beam.unknown"].phrase.template
    assert told["spacing.sound"].weight == "sound"
    assert told["coverage.sound"].weight == "sound"
    assert not [code for code in told if code.endswith(".outside")]


# -- The prism


def guided(behind=20.0, **given):
    return (lens(), guider(clear_aperture_mm=WIDE, **given), ring(behind, clear_aperture_mm=WIDE), cam())


def prism(*parts):
    return next(f for f in findings("beam", *parts) if f.title == "Prism")


def test_a_prism_may_come_as_near_as_the_footprint_of_all_beams():
    # Its sky-side face 8 + 4 + 20 + 10 = 42 mm before the sensor: 12 x (1 - 42 / 600) + 42 / 10 = 15.36 mm at
    # the long side, 18 x 0.93 + 4.2 = 20.94 mm at the short one. The other face, 34 mm, asks for less.
    found = prism(*guided())
    assert (found.code, found.weight) == ("beam.prism_set", "sound")
    assert number(found, "long") == pytest.approx(15.36, abs=1e-6)
    assert number(found, "short") == pytest.approx(20.94, abs=1e-6)


def test_a_prism_that_cannot_be_drawn_out_far_enough_shades_the_sensor():
    parts = guided(reach_from_mm=5.0, reach_to_mm=12.0)
    found = prism(*parts)
    assert (found.code, found.weight) == ("beam.prism", "watch")
    assert number(found, "by") == pytest.approx(3.36, abs=1e-6)
    lit = light_of(Case(rig(*parts)))
    assert lit is not None
    # Only the long side's middle is shaded: the corner is 18 mm from where the prism of 8 mm stands.
    shaded = lit.quarter.through[lit.quarter.points["side"]]
    assert shaded < 0.9
    assert number(found, "lost") == pytest.approx(1 - shaded)
    assert lit.quarter.through[lit.quarter.points["corner"]] == pytest.approx(1.0)
    assert lit.quarter.through[lit.quarter.points["centre"]] == pytest.approx(1.0)


@pytest.mark.parametrize(("ring_mm", "told"), [(42.0, True), (44.0, False)])
def test_what_the_prism_takes_of_the_corner_is_no_openings_to_mend(ring_mm, told):
    # Of the corner's beam, 1.75 mm to either side of 21.0 mm, 44 mm pass more than four fifths, 42 mm half.
    # The prism, 40 mm wide and 6 mm off the axis, takes all of it.
    side = guider(clear_aperture_mm=WIDE, prism_mm=40.0, length_mm=80.0, prism_at_mm=40.0, reach_to_mm=6.0)
    light = next(f for f in findings("beam", lens(), side, opened(ring_mm), cam()) if f.title != "Prism")
    assert number(light, "lost") > 0.99
    assert [r.phrase.template.startswith("In place of Brask Ring") for r in light.remedies] == [True] * told


def test_a_prism_that_never_comes_into_the_light_is_said_to_shade_nothing():
    assert prism(*guided(reach_from_mm=16.0)).code == "beam.prism_clear"


def test_a_prism_of_unknown_place_is_asked_for():
    found = prism(*guided(prism_at_mm=None))
    assert (found.weight, found.missing) == ("unknown", ("where the prism of Brask Side sits",))


def test_of_many_openings_that_are_not_known_three_are_named_and_the_rest_counted():
    rings = [ring(5.0, clear_aperture_mm=None, model=f"Ring {number}") for number in range(7)]
    found = finding("beam", lens(), *rings, cam())
    assert len(found.missing) == 7
    assert "and 4 more" in found.phrase.template
