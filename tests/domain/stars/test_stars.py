"""The stars of a rig: what its parts say of them, and what they say. Expected sizes are worked by hand.

Sources stand beside the ground's own tests (tests/optics/test_third_order.py, test_star_image.py): coma of a
paraboloid, curvature of a doublet, and the two-mirror tubes of Schroeder, Astronomical Optics (from memory).
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from pydantic import ValidationError

from server.domain.parts.optical import SpotRow
from server.domain.rig import Rules
from server.domain.stars.cause import causes_at
from server.domain.stars.field import corner_spot_um, standing_of, work_stars
from server.domain.stars.telescope import telescope_of
from server.domain.stars.upkeep import UPKEEP, upkeep_of
from server.domain.stars.wishes import StarWishes
from server.domain.workings.case import Case
from server.domain.workings.drift import drift_over, magnified_behind
from server.flow.draw_stars import draw_stars
from server.optics.seeing import expected_fwhm_arcsec
from server.rim.phrasebook.tell import asked_of, plain, tell
from tests.domain.rigs import camera, corrector, focuser, glass, holding, number, rig, ring, tube, wheel

SENSOR = {"width_px": 6200, "height_px": 4140, "pixel_um": 3.8}
CORNER_MM = 14.164
"""Half the diagonal of 23.56 x 15.732 mm."""


def newtonian(**given):
    usual = {
        "design": "newtonian",
        "aperture_mm": 200.0,
        "focal_length_mm": 800.0,
        "obstruction_mm": 70.0,
        "spider_vanes": 4,
        "spider_thickness_mm": 1.0,
    }
    return tube(**(usual | given))


def doublet(**given):
    return tube(**({"design": "achromat", "aperture_mm": 80.0, "focal_length_mm": 400.0} | given))


def of(*parts, **wishes):
    """The stars of a train."""
    view = draw_stars(rig(*parts), StarWishes(**wishes))
    assert view.field is not None, (view.lacking, view.trouble)
    return view


def named(view, title):
    return next(f for f in map(tell, view.findings) if f.title == title)


def test_a_bare_newtonians_corner_is_a_comet_that_points_outwards_and_is_as_long_as_third_order_says():
    field = of(newtonian(), ring(10.0), camera(**SENSOR)).field
    # Tangential coma 3 h / (16 N^2) = 3 x 14.164 / 256 mm = 166 um.
    corner = field.stars[2]
    assert 6.0 * 4.0 * math.hypot(corner.wave.coma_x_um, corner.wave.coma_y_um) == pytest.approx(
        166.0, rel=0.005
    )
    x, y = corner.alone_numbers.centroid_um
    assert x > 10.0
    assert y > 0.0
    assert corner.seen_numbers.shape.direction_deg == pytest.approx(
        math.degrees(math.atan2(15.732, 23.56)), abs=4.0
    )
    # The centre is as sharp as the aperture allows.
    assert field.centre.alone_numbers.strehl == pytest.approx(1.0, abs=0.005)
    # All four corners alike, each turned towards its own.
    for star in field.corners:
        assert star.seen_numbers.fwhm_um == pytest.approx(corner.seen_numbers.fwhm_um, rel=3e-3)


def test_a_coma_corrector_at_its_distance_makes_the_field_even_and_says_what_it_assumes():
    view = of(newtonian(), corrector(corrector_type="coma_corrector"), ring(37.5), camera(**SENSOR))
    assert view.field.growth_px == pytest.approx(0.0, abs=0.05)
    # That it is even rests on a perfect corrector: never "sound" before its maker's spots are there.
    found = named(view, "Corners")
    assert (found.code, found.weight) == ("stars.even_unknown", "unknown")
    assert found.missing == ("the maker's spot sizes of Halden Flat",)
    assert "if the correction is perfect" in found.phrase.template
    assert any("wholly away" in one for one in map(plain, view.telescope.assumed))
    spots = (SpotRow(height_mm=0.0, spot_um=3.0), SpotRow(height_mm=20.0, spot_um=4.0))
    told = corrector(corrector_type="coma_corrector", spot_sizes=spots)
    by_spots = named(of(newtonian(), told, ring(37.5), camera(**SENSOR)), "Corners")
    assert (by_spots.weight, by_spots.missing) == ("sound", ())


def test_a_corrector_off_its_distance_gives_a_part_of_the_coma_back():
    parts = (newtonian(), corrector(corrector_type="coma_corrector"), ring(39.5), camera(**SENSOR))
    view = of(*parts)
    # 2 mm of 55: 3 x 2 / 55 = 10.9 % of the coma, drawn the other way.
    bare = telescope_of(Case(rig(newtonian(), ring(10.0), camera(**SENSOR))))
    assert bare is not None
    assert view.field.terms.coma_um_per_mm == pytest.approx(-bare.terms.coma_um_per_mm * 6.0 / 55.0, rel=1e-6)
    assert of(*parts, spacing_mm=0.0).field.terms.coma_um_per_mm == 0.0
    assert of(*parts, spacing_mm=-4.0).field.worst.seen_numbers.d80_um > view.field.worst.seen_numbers.d80_um


LONG = {"factor": 2.0, "corrector_type": "extender", "back_focus_mm": 60.0, "model": "Long"}


def test_a_tubes_own_spots_grow_with_the_extender_behind_it():
    spots = (SpotRow(height_mm=0.0, spot_um=3.0), SpotRow(height_mm=10.0, spot_um=9.0))
    view = of(newtonian(spot_sizes=spots), corrector(**LONG), ring(42.5), camera(**SENSOR))
    # At 10 mm, which were 5 before it: RMS diameter 6, doubled; the radius is half.
    assert view.telescope.blur_um(10.0) == pytest.approx(6.0)
    assert view.telescope.blur_um(21.0) is None


def test_the_distance_of_an_extender_is_not_taken_for_that_of_the_corrector_before_it():
    parts = (newtonian(), corrector(corrector_type="coma_corrector"), corrector(**LONG), ring(20.0))
    telescope = of(*parts, camera(**SENSOR)).telescope
    assert telescope.error_mm is None
    assert telescope.spaced(None).coma_um_per_mm == 0.0
    assert any("stands at its own distance" in one for one in map(plain, telescope.assumed))


def test_a_filter_of_unknown_band_is_said_to_be_left_out():
    parts = (newtonian(), holding(wheel(20.0), glass(2.0)), camera(**SENSOR))
    assert any("enter the band of Sell Glass" in one for one in map(plain, of(*parts).telescope.assumed))


def test_a_flattener_takes_no_coma_away():
    telescope = telescope_of(Case(rig(newtonian(), corrector(), ring(37.5), camera(**SENSOR))))
    assert telescope is not None
    assert telescope.terms.coma_um_per_mm < 0.0
    assert telescope.terms.curve_um_per_mm2 == pytest.approx(0.0)


def test_a_bare_doublets_corner_is_blurred_by_the_sagitta_of_its_field():
    view = of(doublet(), ring(10.0), camera(**SENSOR))
    # 14.164^2 / (2 x 0.36843 x 400) = 0.6807 mm behind the focus at f/5: 0.6807 / 5 = 136 um across, and
    # more by astigmatism along one way.
    corner = view.field.worst
    assert 8.0 * 25.0 * corner.wave.defocus_um / 1000.0 == pytest.approx(0.6807, rel=1e-3)
    assert corner.alone_numbers.d80_um > 0.8 * 136.0
    found = named(view, "Corners")
    assert found.weight in ("watch", "stop")
    assert any("flattener" in r.phrase.template for r in found.remedies)


def test_the_compromise_focus_makes_the_corner_smaller_and_the_centre_larger():
    parts = (doublet(), ring(10.0), camera(**SENSOR))
    axis, middle = of(*parts).field, of(*parts, focus_at="compromise").field
    assert middle.worst.alone_numbers.d80_um < axis.worst.alone_numbers.d80_um
    assert middle.centre.alone_numbers.d80_um > axis.centre.alone_numbers.d80_um


def test_a_cassegrain_without_coma_grows_by_its_curved_field():
    mirrors = {
        "design": "ritchey_chretien",
        "aperture_mm": 200.0,
        "focal_length_mm": 1600.0,
        "obstruction_mm": 90.0,
        "primary_focal_ratio": 3.0,
        # 600 (1 - 1.3 / (8/3 + 1)): the published example.
        "mirror_separation_mm": 387.2727,
    }
    view = of(tube(**mirrors), ring(10.0), camera(**SENSOR))
    assert view.field.terms.coma_um_per_mm == pytest.approx(0.0, abs=1e-9)
    assert 1000.0 / (16.0 * view.field.terms.curve_um_per_mm2 * 64.0) == pytest.approx(228.8, rel=2e-3)
    assert view.telescope.missing == ()


def test_a_classical_cassegrain_has_the_coma_of_a_paraboloid_of_its_own_ratio():
    mirrors = {
        "design": "classical_cassegrain",
        "aperture_mm": 200.0,
        "focal_length_mm": 1600.0,
        "obstruction_mm": 70.0,
        "primary_focal_ratio": 3.0,
        "mirror_separation_mm": 387.2727,
    }
    view = of(tube(**mirrors), ring(10.0), camera(**SENSOR))
    corner = view.field.worst.wave
    # Schroeder's example: field radius 253.57 mm; tangential coma 3 h / (16 N^2) = 42.49 / 1024 mm.
    assert 1000.0 / (16.0 * view.field.terms.curve_um_per_mm2 * 64.0) == pytest.approx(253.57, rel=1e-3)
    assert 48.0 * math.hypot(corner.coma_x_um, corner.coma_y_um) == pytest.approx(41.5, rel=2e-3)
    # A quarter of the f/4 Newtonian's on the same sensor: mild, and the corner shows it less.
    bare = of(newtonian(), ring(10.0), camera(**SENSOR))
    assert view.field.growth_px < bare.field.growth_px / 2.0


def test_two_mirrors_without_their_primarys_ratio_are_not_guessed_at():
    view = of(tube(design="ritchey_chretien", obstruction_mm=60.0), ring(10.0), camera(**SENSOR))
    assert any("primary's focal ratio" in one for one in asked_of(view.telescope.missing))
    assert named(view, "Corners").weight == "unknown"
    # And without their separation what is assumed is said.
    given = {"design": "ritchey_chretien", "obstruction_mm": 60.0, "primary_focal_ratio": 2.0}
    told = map(plain, of(tube(**given), ring(10.0), camera(**SENSOR)).telescope.assumed)
    assert any("separation" in one for one in told)


def test_a_makers_spots_win_and_nothing_is_drawn_of_a_shape_that_they_do_not_tell():
    spots = (SpotRow(height_mm=0.0, spot_um=3.0), SpotRow(height_mm=10.0, spot_um=9.0))
    view = of(newtonian(spot_sizes=spots), ring(10.0), camera(**SENSOR))
    assert view.field.terms.coma_um_per_mm == 0.0
    # Half way between the rows at 5 mm: RMS diameter 6, radius 3 um.
    assert view.telescope.blur_um(5.0) == pytest.approx(3.0)
    assert view.telescope.blur_um(12.0) is None
    assert view.field.worst.beyond_spots
    assert not view.field.centre.beyond_spots
    assert view.field.worst.seen_numbers.shape.eccentricity < 0.1


def test_the_band_is_the_filters_in_the_beam():
    parts = (
        newtonian(),
        holding(wheel(20.0), glass(2.0, band_centre_nm=656.0, band_width_nm=6.0)),
        camera(**SENSOR),
    )
    view = of(*parts)
    assert view.telescope.band_nm == (653.0, 659.0)
    assert of(newtonian(), ring(10.0), camera(**SENSOR)).telescope.band_nm == (400.0, 700.0)


def test_a_stop_of_the_train_dims_the_corner_and_not_the_centre():
    narrow = ring(40.0, clear_aperture_mm=30.0, aperture_at_mm=0.0)
    field = of(newtonian(), narrow, camera(**SENSOR)).field
    assert field.centre.light == pytest.approx(1.0)
    assert field.worst.light < 0.9


def test_tilt_makes_one_side_worse_than_the_other_and_seeing_all_of_them_wider():
    parts = (newtonian(), corrector(corrector_type="coma_corrector"), ring(37.5), camera(**SENSOR))
    tilted = of(*parts, tilt_arcmin=20.0, tilt_deg=0.0).field
    # 11.78 mm x 20 arcmin = 0.0685 mm behind the focus on the right, as much before it on the left.
    assert 8.0 * 16.0 * tilted.stars[5].wave.defocus_um / 1000.0 == pytest.approx(0.0685, rel=1e-3)
    assert tilted.stars[3].wave.defocus_um == pytest.approx(-tilted.stars[5].wave.defocus_um)
    calm, rough = of(*parts, seeing_arcsec=1.0).field, of(*parts, seeing_arcsec=4.0).field
    assert rough.centre.seen_numbers.fwhm_um > 2.0 * calm.centre.seen_numbers.fwhm_um


def test_collimation_moves_a_newtonians_good_point_off_the_middle():
    field = of(newtonian(), ring(10.0), camera(**SENSOR), collimation_mm=4.0).field
    assert field.centre.wave.coma_x_um > 0.0
    left, right = field.stars[3].seen_numbers.d80_um, field.stars[5].seen_numbers.d80_um
    assert left > right


def test_the_causes_of_a_star_are_told_largest_first():
    case = Case(rig(newtonian(), ring(10.0), camera(**SENSOR)))
    telescope = telescope_of(case)
    assert telescope is not None
    standing, _ = standing_of(telescope, telescope.terms, StarWishes(tilt_arcmin=1.0))
    causes = causes_at(telescope.terms, standing, 11.78, 7.866, telescope)
    assert causes[0].name == "coma"
    assert [c.rms_um for c in causes] == sorted((c.rms_um for c in causes), reverse=True)
    # RMS of coma with an obstruction of 0.35, and of all together: no smaller.
    assert corner_spot_um(telescope, telescope.terms, standing) >= causes[0].rms_um


def test_the_focus_sentence_counts_the_motors_steps_and_the_nights_drift():
    # The sources of the formulas stand in tests/optics/test_focus_zone.py; the numbers here are by hand.
    steel = newtonian(tube_material="steel", tube_length_mm=750.0, focuser_step_um=4.0)
    found = named(of(steel, ring(10.0), camera(**SENSOR)), "Focus")
    # 2 x 550 nm x 16 = 17.6 um to either side, 35.2 um in all: 8.8 steps of 4 um.
    assert number(found, "wave") == pytest.approx(0.0176, abs=1e-6)
    assert number(found, "steps") == pytest.approx(8.8, abs=0.01)
    # 750 mm of steel, 10.8 in a million for each K: 8.1 um for each degree; 81 um in the night, every 8 h x
    # 17.6 / 81.
    assert number(found, "drift") == pytest.approx(0.0081, abs=1e-5)
    assert number(found, "minutes") == pytest.approx(8 * 60 * 17.6 / 81.0, rel=1e-3)
    assert number(found, "fall") == 10.0
    assert (found.weight, found.missing) == ("sound", ())
    # The air's zone is shown beside: 4 x 0.6634 of the star's width (g = 0.1, e = 0.35), which the bench's
    # own integral gives.
    star = expected_fwhm_arcsec(3.0, 200.0, 550.0, 3.8 / (800.0 / 206.264806), 0.35, 0.7)
    width_mm = star * 800.0 / 206264.806
    by_hand = 4.0 * width_mm * math.sqrt(0.21 / (0.454 * (1.0 + 0.35**2)))
    assert number(found, "air") == pytest.approx(by_hand, rel=1e-6)
    assert number(found, "zone") == number(found, "wave") < number(found, "air")


def test_behind_a_reducer_steps_and_minutes_go_with_the_square_of_its_factor():
    steel = newtonian(tube_material="steel", tube_length_mm=750.0, focuser_step_um=4.0)
    found = named(of(steel, corrector(factor=0.8), ring(37.5), camera(**SENSOR)), "Focus")
    # f/3.2: 2 x 550 nm x 10.24 = 11.264 um to either side; one step 0.64 x 4 um; the drift 0.64 x 8.1 um.
    assert number(found, "zone") == pytest.approx(0.011264, abs=1e-6)
    assert number(found, "steps") == pytest.approx(2.0 * 11.264 / 2.56, rel=1e-4)
    assert number(found, "minutes") == pytest.approx(8 * 60 * 11.264 / (0.64 * 81.0), rel=1e-3)


def test_in_calm_air_a_slow_tubes_zone_is_that_of_the_air_and_is_said_so():
    slow = doublet(focal_length_mm=1200.0)
    found = named(of(slow, ring(10.0), camera(**SENSOR), seeing_arcsec=0.5, guiding_arcsec=0.0), "Focus")
    # f/15: 247.5 um by the wave.
    assert number(found, "wave") == pytest.approx(0.2475, abs=1e-6)
    assert number(found, "zone") == number(found, "air") < number(found, "wave")
    assert "this air's star" in found.phrase.template


def test_what_the_focus_lacks_is_asked_for_and_never_called_sound():
    length = {"tube_length_mm": 750.0}
    no_obstruction = newtonian(tube_material="steel", obstruction_mm=None, **length)
    found = named(of(no_obstruction, ring(10.0), camera(**SENSOR)), "Focus")
    assert found.weight == "unknown"
    assert found.missing == ("the central obstruction of Halden Tube (taken as none)",)
    short = named(of(newtonian(tube_material="steel"), ring(10.0), camera(**SENSOR)), "Focus")
    assert short.weight == "unknown"
    assert short.missing == ("the tube length of Halden Tube (its focal length is taken)",)
    steel = newtonian(tube_material="steel", **length)
    unspaced = named(of(steel, corrector(factor=0.8), ring(None), camera(**SENSOR)), "Focus")
    assert unspaced.weight == "unknown"
    assert unspaced.missing == ("the optical length of Brask Ring",)
    # A flattener of factor 1 changes no scale: only the field hangs on its spacing.
    view = of(steel, corrector(), ring(None), camera(**SENSOR))
    assert named(view, "Focus").missing == ()
    assert "the optical length of Brask Ring" in named(view, "Corners").missing


def test_a_material_that_no_table_has_is_told_once_and_asked_for_no_more():
    view = of(newtonian(tube_material="other"), ring(10.0), camera(**SENSOR))
    found = named(view, "Focus")
    assert (found.code, found.weight, found.missing) == ("stars.focus_unjudged", "watch", ())
    assert found.phrase.template.count("cannot be judged") == 1
    # Where the rules say that the night does not cool there is nothing to judge.
    still = draw_stars(
        rig(newtonian(tube_material="other"), ring(10.0), camera(**SENSOR), rules=Rules(night_fall_k=0.0)),
        StarWishes(),
    )
    assert named(still, "Focus").weight == "sound"


def test_a_focus_that_drifts_away_within_minutes_is_told_with_a_remedy():
    fast = newtonian(
        aperture_mm=300.0, focal_length_mm=840.0, tube_material="aluminium", tube_length_mm=800.0
    )
    found = named(of(fast, ring(10.0), camera(**SENSOR)), "Focus")
    # f/2.8: 8.624 um; 800 mm of aluminium move by 18.48 um for each K: 0.467 K, at 1.25 K an hour 22.4 min.
    assert (found.code, found.weight) == ("stars.focus_short", "watch")
    assert number(found, "minutes") == pytest.approx(60.0 * 8.624 / 18.48 / 1.25, rel=1e-3)
    assert found.remedies


def test_the_collimation_that_a_peak_bears_counts_the_obstruction():
    found = named(of(newtonian(), ring(10.0), camera(**SENSOR)), "Collimation")
    # W131 = 1 / (32 N^3) mm for each mm (Schroeder, Astronomical Optics, from memory): 0.48828 um at f/4. RMS
    # for 0.8: sqrt(-ln 0.8) / (2 pi) x 550 nm = 41.35 nm; over a ring of 0.35 the share of W131 is
    # sqrt((1 - e2)^2 (1 + 4 e2 + e4) / (72 (1 + e2))), e2 = 0.1225.
    e2 = 0.35**2
    share = math.sqrt((1 - e2) ** 2 * (1 + 4 * e2 + e2 * e2) / (72 * (1 + e2)))
    allowed = math.sqrt(-math.log(0.8)) / (2.0 * math.pi) * 0.55 / share / 0.48828
    assert number(found, "allowed") == pytest.approx(allowed, rel=1e-3)
    # The axis moves by 800 mm x the tilt.
    assert number(found, "tilt") == pytest.approx(math.degrees(allowed / 800.0) * 60.0, rel=1e-3)
    # A comet of 3 h / (16 N^2): 11.72 um for each mm.
    assert number(found, "tail") == pytest.approx(3000.0 / 256.0 / 3.8, rel=1e-3)
    assert found.weight == "watch"
    assert found.remedies
    # Drawn so far out, the centre's peak is what was said.
    green = holding(wheel(20.0), glass(2.0, band_centre_nm=550.0, band_width_nm=10.0))
    drawn = of(newtonian(), green, camera(**SENSOR), collimation_mm=allowed)
    assert drawn.field.centre.alone_numbers.strehl == pytest.approx(0.8, abs=0.02)


def test_collimation_is_asked_for_what_it_lacks_and_a_wish_beyond_it_is_told():
    slow = {"focal_length_mm": 1200.0}
    assert named(of(newtonian(**slow), ring(10.0), camera(**SENSOR)), "Collimation").weight == "sound"
    out = named(of(newtonian(**slow), ring(10.0), camera(**SENSOR), collimation_mm=10.0), "Collimation")
    assert out.code == "stars.collimation_out"
    assert out.remedies
    mirrors = tube(design="ritchey_chretien", obstruction_mm=60.0)
    unknown = named(of(mirrors, ring(10.0), camera(**SENSOR)), "Collimation")
    assert unknown.missing == ("the primary's focal ratio of Halden Tube",)


def test_a_corrector_of_no_known_kind_is_asked_about():
    view = of(newtonian(), corrector(corrector_type=None), ring(37.5), camera(**SENSOR))
    assert any("what kind of corrector Halden Flat is" in one for one in asked_of(view.telescope.missing))


def test_a_night_that_cools_moves_the_focus_from_under_the_sensor():
    steel = newtonian(tube_material="steel", tube_length_mm=750.0)
    parts = (steel, corrector(corrector_type="coma_corrector"), ring(37.5), camera(**SENSOR))
    warm, cold = of(*parts), of(*parts, cooled_k=10.0)
    # 750 mm x 10.8 in a million x 10 K = 0.081 mm, which the focus moves out: the sensor stands that far
    # before it.
    assert warm.field.centre.wave.defocus_um == 0.0
    assert 8.0 * 16.0 * cold.field.centre.wave.defocus_um / 1000.0 == pytest.approx(-0.081, rel=1e-3)
    unknown = of(newtonian(tube_material=None), ring(10.0), camera(**SENSOR), cooled_k=10.0)
    assert unknown.field.centre.wave.defocus_um == 0.0
    # And what to enter is said where the focus is told.
    assert named(unknown, "Focus").missing == ("what the tube of Halden Tube is made of",)


def test_behind_a_reducer_the_drift_is_its_factors_square_of_the_bare_tubes():
    steel = newtonian(tube_material="steel", tube_length_mm=750.0)
    bare = of(steel, ring(10.0), camera(**SENSOR))
    reduced = of(steel, corrector(factor=0.8, principal_mm=0.0), ring(37.5), camera(**SENSOR))
    assert bare.telescope.drift_mm_per_k == pytest.approx(0.0081)
    # 0.8^2 x 750 mm x 10.8 in a million; tests/optics/test_thin_lens.py holds the square against Gauss's
    # formula.
    assert reduced.telescope.drift_mm_per_k == pytest.approx(0.64 * 0.0081)
    # 5 mm too far behind it the factor is 1 - 0.2 x 60 / 55.
    far = of(steel, corrector(factor=0.8, principal_mm=0.0), ring(42.5), camera(**SENSOR))
    assert far.telescope.drift_mm_per_k == pytest.approx((1.0 - 0.2 * 60.0 / 55.0) ** 2 * 0.0081)
    # What the drawtube follows, and the bench's Focus shows, stays the bare tube's.
    drift = drift_over(Case(rig(steel, corrector(factor=0.8), ring(37.5), camera(**SENSOR))), 1.0)
    assert drift is not None
    assert drift.mm == pytest.approx(0.0081)


def test_only_the_correctors_behind_a_place_count_for_what_it_moves():
    before, behind = focuser(model="Before"), focuser(model="Behind", length_mm=20.0)
    case = Case(rig(newtonian(), before, corrector(factor=0.8), behind, ring(17.5), camera(**SENSOR)))
    places = {place.part.model: place for place in case.train}
    assert magnified_behind(case, places["Before"]) == pytest.approx(0.64)
    assert magnified_behind(case, places["Behind"]) == 1.0


@pytest.mark.parametrize(("factor", "square"), [(0.04, None), (0.05, 0.0025), (20.0, 400.0), (21.0, None)])
def test_a_factor_that_no_corrector_has_is_not_counted(factor, square):
    case = Case(rig(newtonian(), corrector(factor=factor, principal_mm=0.0), ring(37.5), camera(**SENSOR)))
    assert magnified_behind(case, case.train.places[0]) == (square and pytest.approx(square))


def test_the_spikes_share_is_told_and_a_missing_thickness_is_asked_for():
    found = named(of(newtonian(), ring(10.0), camera(**SENSOR)), "Spikes")
    assert number(found, "share") == pytest.approx(0.00952, abs=1e-5)
    asked = named(of(newtonian(spider_thickness_mm=None), ring(10.0), camera(**SENSOR)), "Spikes")
    assert asked.weight == "unknown"
    assert asked.missing == ("the vane thickness of Halden Tube",)


def test_a_rig_that_says_too_little_is_told_what_to_enter():
    assert "an optical tube in the train" in asked_of(draw_stars(rig(camera(**SENSOR)), StarWishes()).lacking)
    no_camera = draw_stars(rig(newtonian()), StarWishes())
    assert asked_of(no_camera.lacking) == ("a camera at the end of the train",)
    no_pixels = draw_stars(rig(newtonian(), camera(pixel_um=None)), StarWishes())
    assert any("pixel size" in one for one in asked_of(no_pixels.lacking))


def test_vanes_wider_than_the_pupil_are_a_sentence_and_no_picture():
    view = draw_stars(
        rig(newtonian(spider_thickness_mm=19.0, aperture_mm=40.0, obstruction_mm=20.0), camera(**SENSOR)),
        StarWishes(),
    )
    assert view.field is None
    assert view.trouble is not None
    assert "vanes' thickness is 19 mm" in plain(view.trouble)
    with pytest.raises(ValidationError, match="smaller than the aperture"):
        newtonian(obstruction_mm=200.0)


def test_the_same_question_is_answered_from_memory():
    case = Case(rig(newtonian(), ring(10.0), camera(**SENSOR)))
    telescope = telescope_of(case)
    assert telescope is not None
    assert work_stars(case, telescope, StarWishes()) is work_stars(case, replace(telescope), StarWishes())


def test_every_design_has_its_upkeep_and_the_sun_in_it():
    designs = {
        *("achromat", "apochromat", "newtonian", "schmidt_cassegrain", "maksutov", "ritchey_chretien"),
        *("classical_cassegrain", "dall_kirkham", "astrograph", "camera_lens"),
    }
    assert set(UPKEEP) == designs
    for upkeep in UPKEEP.values():
        assert any("Sun" in caution for caution in map(plain, upkeep.cautions))
    assert upkeep_of(None) is None


def test_all_in_holds_air_optics_guiding_and_pixel_as_the_benchs_own_integral_does():
    # The direct integral of server/optics/seeing.py, held against galsim in tests/optics/test_seeing.py, and
    # the pictures' transforms share no code.
    fine = of(newtonian(), ring(10.0), camera(**SENSOR)).field
    um_per_arcsec = 800.0 / 206.264806
    expected = expected_fwhm_arcsec(3.0, 200.0, 550.0, 3.8 / um_per_arcsec, 0.35, 0.7) * um_per_arcsec
    assert fine.centre.seen_numbers.fwhm_um == pytest.approx(expected, rel=0.01)
    # A wide lens of 135 mm: 5.8 arcsec in a pixel. No picture can show a star narrower than its pixel.
    lens = tube(design="camera_lens", aperture_mm=48.0, focal_length_mm=135.0, obstruction_share=0.0)
    wide = of(lens, ring(10.0), camera(**SENSOR)).field
    assert wide.centre.seen_numbers.fwhm_um > 3.8
    um_per_arcsec = 135.0 / 206.264806
    expected = expected_fwhm_arcsec(3.0, 48.0, 550.0, 3.8 / um_per_arcsec, 0.0, 0.7) * um_per_arcsec
    # Along a row there, of the circle of equal area here: a square's is 2 / sqrt(pi) = 1.128 times its side.
    assert expected * 0.99 < wide.centre.seen_numbers.fwhm_um < expected * 1.13


def test_a_comet_lies_wholly_in_its_picture():
    field = of(newtonian(aperture_mm=250.0), ring(10.0), camera(**SENSOR)).field
    for star in field.corners:
        # The comet's end by third order, 6 N W, and the air beyond it.
        length = 6.0 * 3.2 * math.hypot(star.wave.coma_x_um, star.wave.coma_y_um)
        assert length > 250.0
        assert star.seen.places_um[-1] > length
        values = star.seen.values
        edge = max(values[0].max(), values[-1].max(), values[:, 0].max(), values[:, -1].max())
        assert edge < 0.01 * values.max()
        assert star.alone_numbers.total > 0.97
