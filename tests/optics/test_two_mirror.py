import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.thermal import focus_drift_mm
from server.optics.two_mirror import (
    TwoMirrors,
    added_spherical_mm,
    good_range_mm,
    moved_back,
    separation_for_back_mm,
)
from tests.optics.mirror_trace import focus_and_focal_length
from tests.references import focus_reach as reference

F1, M, BACK = reference.RITCHEY_CHRETIEN
APERTURE_MM = 200.0
#: Third order against an exact trace at a primary of f/3, with the design's own rest of higher order taken
# off.
THIRD_ORDER_TOLERANCE = 0.03


def design():
    return TwoMirrors(F1, M, separation_for_back_mm(F1, M, BACK))


def further(change_of_separation):
    """How much further behind the fixed secondary the focus lies."""
    at_rest, moved = (
        focus_and_focal_length(1.0, separation, RADII, CONICS)[0] + separation
        for separation in (reference.SEPARATION_MM, reference.SEPARATION_MM + change_of_separation)
    )
    return moved - at_rest


RADII = (2.0 * F1, reference.SECONDARY_RADIUS_MM)
CONICS = (reference.PRIMARY_CONIC, reference.SECONDARY_CONIC)


def test_the_tube_has_the_tabulated_separation_and_secondary():
    tube = design()
    assert tube.separation_mm == pytest.approx(reference.SEPARATION_MM, abs=reference.MIRROR_TOLERANCE_MM)
    radius = 2.0 * tube.secondary_focal_mm
    assert radius == pytest.approx(reference.SECONDARY_RADIUS_MM, abs=reference.MIRROR_TOLERANCE_MM)
    assert (tube.focal_mm, tube.back_mm) == pytest.approx((1600.0, 180.0))


@pytest.mark.parametrize(("change", "near_axis", "edge", "focal"), reference.TRACED_MIRRORS)
def test_the_own_trace_agrees_with_the_published_tracer(change, near_axis, edge, focal):
    separation = reference.SEPARATION_MM + change
    axis, length = focus_and_focal_length(1.0, separation, RADII, CONICS)
    assert axis == pytest.approx(near_axis, abs=reference.TRACED_FOCUS_TOLERANCE_MM)
    assert length == pytest.approx(focal, abs=reference.TRACED_FOCAL_TOLERANCE_MM)
    rim, _ = focus_and_focal_length(APERTURE_MM / 2.0, separation, RADII, CONICS)
    assert rim == pytest.approx(edge, abs=reference.TRACED_FOCUS_TOLERANCE_MM)


@pytest.mark.parametrize(("change", "near_axis", "edge", "focal"), reference.TRACED_MIRRORS)
def test_moving_the_primary_changes_the_focal_length_as_traced(change, near_axis, edge, focal):
    tube = design()
    moved = moved_back(tube, further(change))
    assert moved.focal_mm == pytest.approx(focal, abs=reference.TRACED_FOCAL_TOLERANCE_MM)
    assert moved.back_mm == pytest.approx(near_axis, abs=reference.TRACED_FOCUS_TOLERANCE_MM)
    assert moved.separation_mm - tube.separation_mm == pytest.approx(change, abs=1e-4)


@pytest.mark.parametrize("change", [-5.0, -2.0, 2.0, 10.0])
def test_moving_the_primary_adds_the_spherical_aberration_that_is_traced(change):
    def longitudinal(separation):
        edge, _ = focus_and_focal_length(APERTURE_MM / 2.0, separation, RADII, CONICS)
        axis, focal = focus_and_focal_length(0.01, separation, RADII, CONICS)
        return axis - edge, focal / APERTURE_MM

    rest, _ = longitudinal(reference.SEPARATION_MM)
    moved, n = longitudinal(reference.SEPARATION_MM + change)
    # Longitudinal aberration of the edge = 16 N^2 W040 (Welford, Aberrations of Optical Systems, from
    # memory).
    traced = (moved - rest) / (16.0 * n * n)
    found = added_spherical_mm(design(), APERTURE_MM, reference.SECONDARY_CONIC, further(change))
    assert found == pytest.approx(traced, rel=THIRD_ORDER_TOLERANCE)


def test_the_focus_moves_by_the_traced_factor_for_each_mm_of_separation():
    assert focus_drift_mm(1.0, M) == pytest.approx(-reference.FOCUS_FACTOR, abs=1e-4)
    step = 0.01
    nearer, further_off = (
        focus_and_focal_length(0.01, reference.SEPARATION_MM + s, RADII, CONICS)[0] for s in (-step, step)
    )
    assert (nearer - further_off) / (2.0 * step) == pytest.approx(reference.FOCUS_FACTOR, abs=1e-3)


def test_the_good_range_ends_where_the_aberration_is_one_wave():
    tube = design()
    nearest, furthest = good_range_mm(tube, APERTURE_MM, reference.SECONDARY_CONIC, 550.0)
    assert nearest < 0.0 < furthest
    for end in (nearest, furthest):
        wave = added_spherical_mm(tube, APERTURE_MM, reference.SECONDARY_CONIC, end)
        assert abs(wave) == pytest.approx(550e-6, rel=1e-4)


def test_a_slow_tube_of_small_aperture_is_good_as_far_as_is_looked():
    tube = TwoMirrors(600.0, 8.0 / 3.0, 387.0)
    assert good_range_mm(tube, 40.0, 0.0, 550.0, -50.0, 80.0) == (-50.0, 80.0)


@given(
    f1=st.floats(200.0, 1500.0),
    m=st.floats(1.5, 6.0),
    part=st.floats(0.5, 0.9),
    by=st.floats(-50.0, 150.0),
)
def test_a_focus_moved_back_and_forth_leaves_the_tube_as_it_was(f1, m, part, by):
    tube = TwoMirrors(f1, m, part * f1)
    by = max(by, -0.4 * m * (1.0 - part) * f1)
    there = moved_back(tube, by)
    again = moved_back(there, -by)
    assert again.magnification == pytest.approx(m, rel=1e-9)
    assert again.separation_mm == pytest.approx(tube.separation_mm, rel=1e-9)
    # The secondary is the same mirror all the time.
    assert there.secondary_focal_mm == pytest.approx(tube.secondary_focal_mm, rel=1e-9)


def test_a_tube_whose_mirrors_stand_further_apart_than_the_primarys_focus_is_refused():
    with pytest.raises(ValueError, match="separation of the mirrors is 700 mm; .*less than 600 mm"):
        TwoMirrors(600.0, 3.0, 700.0)


def test_a_secondary_that_does_not_magnify_is_refused():
    with pytest.raises(ValueError, match="magnification is 1; it must be more than 1"):
        TwoMirrors(600.0, 1.0, 300.0)


def test_a_focus_before_the_secondary_is_refused():
    with pytest.raises(ValueError, match="focus must stay behind the secondary"):
        moved_back(design(), -600.0)


def test_a_focus_too_far_behind_for_the_magnification_is_refused():
    with pytest.raises(ValueError, match="leaves no room for a secondary"):
        separation_for_back_mm(600.0, 1.5, 1000.0)
