"""Focus behind a corrector, through the cold, with other filters, and by a moved primary; worked by hand.

Sources: lengths along the axis; a thin lens (Gaussian optics): a reducer of 0.8 at 55 mm has its bare focus
at 55 / 0.8 = 68.75 mm, 13.75 mm further; at 57 mm it works as 0.792727 and takes 14.9037 mm (confirmed with
two ideal lenses in a ray-trace library). Aluminium grows by 23.1 parts in a million for each K (a general
encyclopaedia's table): 800 mm over 10 K by 0.1848 mm.
"""

from __future__ import annotations

import pytest

from server.domain.rig import Rules
from server.optics.two_mirror import TwoMirrors, moved_back
from tests.domain.rigs import (
    camera,
    corrector,
    finding,
    findings,
    glass,
    holding,
    input_named,
    number,
    ring,
    tube,
    wheel,
)

ROUNDING_MM = 1e-9
TRACED_MM = 1e-3
SPHERES = {
    "design": "schmidt_cassegrain",
    "aperture_mm": 200.0,
    "focal_length_mm": 2000.0,
    "primary_focal_ratio": 2.0,
    "mirror_separation_mm": 316.67,
}
"""A tube that focuses by its primary: 400 mm, magnified five times by a secondary of 104.1625 mm."""


def open_tube(back=100.0, inwards=20.0, outwards=30.0, **given):
    usual = {"tube_length_mm": 800.0, "tube_material": "aluminium"}
    return tube(back_focus_mm=back, focuser_in_mm=inwards, focuser_out_mm=outwards, **(usual | given))


def test_a_flattener_leaves_the_focus_where_it_was():
    # 100 - (30 + 37.5 + 17.5) = 15 mm outwards.
    found = finding("reach", open_tube(), corrector(), ring(37.5), camera())
    assert number(found, "move") == pytest.approx(15.0, abs=ROUNDING_MM)
    assert number(found, "outwards") == pytest.approx(15.0, abs=ROUNDING_MM)


@pytest.mark.parametrize(("behind", "taken"), [(37.5, 13.75), (39.5, 14.9037)])
def test_a_reducer_takes_travel_inwards_by_the_thin_lens_at_its_actual_spacing(behind, taken):
    # The train behind the tube is 30 + behind + 17.5 mm.
    found = finding(
        "reach", open_tube(back=120.0), corrector(factor=0.8, principal_mm=0.0), ring(behind), camera()
    )
    assert number(found, "move") == pytest.approx(120.0 - (47.5 + behind) - taken, abs=TRACED_MM)


def test_an_extender_puts_the_focus_further_out():
    # A factor of 2 at 60 mm: the bare focus lies 30 mm behind the lens, the new one 30 mm further out.
    barlow = corrector(factor=2.0, back_focus_mm=60.0, principal_mm=0.0)
    found = finding("reach", open_tube(), barlow, ring(42.5), camera())
    assert number(found, "move") == pytest.approx(100.0 - 90.0 + 30.0, abs=TRACED_MM)


def test_a_reducer_that_takes_more_than_the_travel_is_a_stop_with_what_to_take_out_before_it():
    found = finding(
        "reach",
        open_tube(back=60.0, inwards=20.0),
        corrector(factor=0.8, principal_mm=0.0),
        ring(37.5),
        camera(),
    )
    assert (found.code, found.weight) == ("reach.inwards", "stop")
    # 60 - 85 - 13.75 = 38.75 inwards, 20 are there.
    assert number(found, "short") == pytest.approx(18.75, abs=TRACED_MM)
    assert found.remedies[0].phrase.template.startswith("Nothing stands between the tube and the corrector")


def test_a_thick_reducers_own_place_is_an_uncertainty_by_its_length():
    found = finding("reach", open_tube(back=120.0), corrector(factor=0.8), ring(37.5), camera())
    assert found.figure is not None
    # Half of 30 mm of length times (1 - 0.8) / 0.8 to either side of the middle.
    assert found.figure.uncertainty == pytest.approx(3.75)


def test_the_cold_runs_a_drawtube_out_that_has_less_left_than_the_tube_shrinks():
    # 85.1 - 85 = 0.1 mm outwards of 0.2: 0.1 left, and the tube shrinks by 0.1848 mm over 10 K.
    parts = (open_tube(back=85.1, outwards=0.2), corrector(), ring(37.5), camera())
    found = finding("reach", *parts)
    assert (found.code, found.weight) == ("reach.runs_out", "watch")
    assert number(found, "drift") == pytest.approx(0.1848, abs=1e-4)
    assert "comes to its outer end" in found.phrase.template
    # What lacks is 0.1848 - 0.1 mm, and 2 mm to spare; not the way to the middle of the travel.
    said = found.remedies[0].phrase
    assert said.template.startswith("Add at least")
    assert said.amounts["change"].value == pytest.approx(2.0848, abs=1e-4)
    mild = finding("reach", *parts, rules=Rules(night_fall_k=5.0))
    assert mild.code == "reach.tight"


@pytest.mark.parametrize("outwards", [0.2, 1.5])
def test_the_least_that_a_remedy_adds_leads_to_a_focus_that_lasts(outwards):
    parts = (open_tube(back=85.1, outwards=outwards), corrector(), ring(10.0), ring(27.5), camera())
    change = finding("reach", *parts).remedies[0].phrase.amounts["change"].value
    mended = finding("reach", parts[0], ring(change + 1e-6), *parts[1:])
    assert mended.code == "reach.sound"


def test_what_little_is_left_is_told_with_what_uses_it_up_on_that_side():
    # 20 in and 30 out from 100 mm: 108.5 mm of train leave 11.5 - 10 = 1.5 of 50 mm inwards.
    inward = finding("reach", open_tube(back=100.0, inwards=20.0), ring(101.0), camera())
    assert (inward.code, number(inward, "travel")) == ("reach.tight", 50.0)
    assert "a thinner filter" in inward.phrase.template
    outward = finding("reach", open_tube(back=100.0, outwards=30.0), ring(54.0), camera())
    assert outward.code == "reach.tight"
    assert "a thicker filter" in outward.phrase.template


def test_a_thicker_filter_of_the_wheel_may_use_up_what_is_left():
    # 1.5 mm more of index 1.5 shift by 1.5 x 0.336208 mm at f/4: the thicker one asks for that much outwards.
    filters = (glass(1.5, refractive_index=1.5), glass(3.0, refractive_index=1.5, model="Thick"))
    tight = open_tube(back=85.0, outwards=0.8, tube_material="carbon_fibre")
    found = finding("reach", tight, corrector(), holding(wheel(37.5), *filters), camera())
    # Of the 0.8 left outwards the thinner filter has used 0.504 already.
    assert found.code == "reach.runs_out"
    assert number(found, "other") == pytest.approx(0.504312, abs=1e-6)


def test_an_unknown_material_asks_only_where_little_is_left():
    little = open_tube(back=85.0, outwards=9.9, tube_material=None)
    found = finding("reach", little, corrector(), ring(37.5), camera())
    assert (found.code, found.missing) == ("reach.cold_unknown", ("what the tube of Halden Tube is made of",))
    ample = open_tube(back=85.0, outwards=10.1, tube_material=None)
    assert finding("reach", ample, corrector(), ring(37.5), camera()).code == "reach.sound"


def test_two_mirrors_magnify_the_drift_by_the_square_of_the_secondary_and_one():
    # f/8 of a primary of f/3: m = 8/3; 387 mm of aluminium over 10 K: 0.08940 mm x 8.1111 = 0.7251 mm.
    mirrors = {
        "design": "ritchey_chretien",
        "aperture_mm": 200.0,
        "focal_length_mm": 1600.0,
        "primary_focal_ratio": 3.0,
        "mirror_separation_mm": 387.0,
    }
    found = finding("reach", open_tube(back=85.1, outwards=0.5, **mirrors), ring(67.5), camera())
    assert number(found, "drift") == pytest.approx(0.7251, abs=1e-3)


def test_a_primary_that_brings_the_focus_back_changes_the_focal_length():
    found = findings("reach", open_tube(inwards=60.0, outwards=60.0, **SPHERES), ring(132.5), camera())
    working = next(f for f in found if f.code.startswith("reach.primary"))
    # 150 mm of train against 100 mm: 50 mm further back; f' changes by 50 x f1 / f2, f2 = 83.33 x 5 / 4.
    assert number(working, "further") == pytest.approx(50.0, abs=1e-6)
    assert "further back than" in working.phrase.template
    short = findings("reach", open_tube(inwards=60.0, outwards=60.0, **SPHERES), ring(42.5), camera())
    nearer = next(f for f in short if f.code.startswith("reach.primary"))
    assert number(nearer, "further") == pytest.approx(40.0, abs=1e-6)
    assert "nearer the mirror than" in nearer.phrase.template
    assert number(working, "focal") == pytest.approx(2000.0 + 50.0 * 400.0 / 104.1625, abs=0.1)
    assert number(working, "focal") == pytest.approx(
        moved_back(TwoMirrors(400.0, 5.0, 316.67), 50.0).focal_mm, abs=1e-6
    )


def test_the_focal_length_of_a_moved_primary_is_what_field_and_sampling_are_worked_out_from():
    moved = open_tube(inwards=60.0, outwards=60.0, **SPHERES)
    field = findings("sampling", moved, ring(132.5), camera())[0]
    # As above: 2000 + 50 x 400 / 104.1625 = 2192.0 mm, f/10.96.
    assert number(field, "focal") == pytest.approx(2192.0, abs=0.1)
    assert number(field, "ratio") == pytest.approx(10.96, abs=0.01)
    assert input_named(field, "focal length with the primary moved") == pytest.approx(2192.0, abs=0.1)
    # Without the place of the focus nobody knows how far it moves: the stated focal length stands.
    unplaced = open_tube(back=None, **SPHERES)
    assert number(findings("sampling", unplaced, ring(132.5), camera())[0], "focal") == 2000.0


@pytest.mark.parametrize(("further", "told"), [(-1.2, True), (-0.9, False), (0.9, False), (1.2, True)])
def test_a_primary_that_hardly_moves_is_not_told_of(further, told):
    # As above 3.84 mm of focal length for a millimetre: 0.9 mm are 3.5 mm of 2000, 0.17 %, and 1.2 mm 0.23 %.
    field = findings("sampling", open_tube(**SPHERES), ring(82.5 + further), camera())[0]
    assert ("primary is moved" in field.phrase.template) == told
    assert any("primary moved" in one.label for one in field.inputs) == told


@pytest.mark.parametrize(
    ("unknown", "word"),
    [
        ({"back": None}, "how far behind Halden Tube its focal plane lies"),
        ({"mirror_separation_mm": None}, "the mirror separation of Halden Tube"),
        ({"primary_focal_ratio": None}, "the primary's focal ratio of Halden Tube"),
    ],
)
def test_where_the_primarys_move_is_not_known_the_stated_focal_length_stands_and_says_so(unknown, word):
    field = findings("sampling", open_tube(**SPHERES | unknown), ring(132.5), camera())[0]
    assert number(field, "focal") == 2000.0
    assert f"is not counted: enter {word})" in field.phrase.template
    said = next(one for one in field.inputs if "the primary moved" in one.label)
    assert (said.basis, said.amount.value) == ("assumed", 2000.0)


def test_a_tube_whose_mirrors_stand_still_is_asked_for_nothing():
    field = findings("sampling", open_tube(), ring(132.5), camera())[0]
    assert "primary" not in field.phrase.template
    assert not [one for one in field.inputs if "primary" in one.label]


def test_field_and_focus_tell_one_focal_length_behind_a_reducer_and_with_a_filter_of_unknown_glass():
    # The lens at its shoulder: 55 mm behind a reducer of 0.8 the bare focus would lie 68.75 mm behind it
    # (see above): 30 + 68.75 against 88.75 are 10 mm further back, so 2000 + 10 x 400 / 104.1625 = 2038.4
    # mm, and 0.8 of it behind the reducer.
    for filters in ((), (glass(None),)):
        parts = (
            open_tube(back=88.75, inwards=60.0, outwards=60.0, **SPHERES),
            corrector(factor=0.8, principal_mm=0.0),
            holding(wheel(37.5), *filters),
            camera(),
        )
        primary = next(f for f in findings("reach", *parts) if f.code.startswith("reach.primary"))
        assert number(primary, "focal") == pytest.approx(2038.4, abs=0.1)
        field = findings("sampling", *parts)[0]
        assert number(field, "focal") == pytest.approx(0.8 * 2038.4, abs=0.1)


def test_a_corrector_gets_the_focal_ratio_that_the_moved_primary_gives():
    # As above 2192.0 mm over 200 mm: f/10.96 in place of f/10.
    parts = (open_tube(back=102.5, inwards=60.0, outwards=60.0, **SPHERES), ring(67.5))
    meant = corrector(back_focus_mm=55.0, slowest_ratio=10.5)
    found = finding("suits", *parts, meant, ring(37.5), camera())
    assert found.code == "suits.slow"
    assert number(found, "ratio") == pytest.approx(10.96, abs=0.01)


def test_two_correctors_are_not_guessed_at():
    found = finding("reach", open_tube(), corrector(factor=0.8), corrector(factor=2.0), ring(37.5), camera())
    assert found.weight == "unknown"
    assert "together" in found.missing[0]


def test_a_reducer_of_no_known_factor_is_asked_for():
    found = finding("reach", open_tube(), corrector(factor=None), ring(37.5), camera())
    assert (found.weight, found.missing) == ("unknown", ("the factor of Halden Flat",))


def test_a_material_that_no_table_has_is_asked_for_no_more_and_is_not_called_sound():
    little = open_tube(back=85.0, outwards=5.0, tube_material="other")
    found = finding("reach", little, corrector(), ring(37.5), camera())
    assert (found.code, found.weight, found.missing) == ("reach.cold_unjudged", "unknown", ())
    assert "cannot be judged for a tube of its material" in found.phrase.template
    ample = open_tube(back=85.0, outwards=25.0, tube_material="other")
    assert finding("reach", ample, corrector(), ring(37.5), camera()).code == "reach.sound"


def test_where_the_spacing_is_off_as_well_it_is_put_right_first():
    # 70 - (30 + 37.5 + 17.5) = 15 mm inwards of 20. With 45 mm it is 22.5, and 62.5 stand where 55 are asked.
    right = finding("reach", open_tube(back=70.0), corrector(), ring(37.5), camera())
    off = finding("reach", open_tube(back=70.0), corrector(), ring(45.0), camera())
    assert "spacing" not in right.phrase.template
    assert off.weight == "stop"
    assert "Put the spacing right first: that moves the sensor." in off.phrase.template
