import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.optics.beam import (
    Corrector,
    Tube,
    cone,
    diameter_for_share_mm,
    share_through,
    trace,
    two_mirror_per_pupil,
)
from server.optics.light_map import light_at
from server.optics.openings import Oval, Round
from server.optics.two_mirror import TwoMirrors
from server.out_of_range import OutOfRangeError
from tests.references import beam as reference
from tests.references.illumination import OFFSET_TOLERANCE_MM, STOP_TOLERANCE, STOPS

ROUNDING = 1e-9

heights = st.floats(0.0, 50.0)
distances = st.floats(0.1, 200.0)
cones = st.builds(
    cone,
    st.floats(1.5, 20.0),
    st.one_of(st.just(math.inf), st.floats(250.0, 5000.0), st.floats(-5000.0, -200.0)),
    st.one_of(st.just(0.0), st.floats(0.1, 0.5)),
)


def traced(case: reference.Case):
    per_pupil = 1.0 / case.focal_mm
    if case.mirrors is not None:
        per_pupil = two_mirror_per_pupil(TwoMirrors(*case.mirrors), case.stop_mm)
    correctors = []
    if case.corrector is not None:
        factor, at = case.corrector
        correctors.append(Corrector(at / (1.0 - factor), at))
    return trace(Tube(case.focal_mm, case.aperture_mm, case.obstruction, per_pupil), correctors)


@pytest.mark.parametrize("case", reference.CASES)
def test_an_opening_before_or_behind_a_corrector_passes_what_rays_count(case):
    beam = traced(case)
    assert 1.0 / beam.per_pupil == pytest.approx(case.pupil_mm, abs=reference.PUPIL_TOLERANCE_MM)
    light = share_through(beam, case.at_mm, case.opening_mm, case.height_mm)
    assert light == pytest.approx(case.light, abs=reference.LIGHT_TOLERANCE)
    on_the_map = light_at(
        beam,
        [Round(case.at_mm, case.opening_mm)],
        np.array([0.6, -0.8]) * case.height_mm,
        np.array([0.8, 0.6]) * case.height_mm,
    )
    assert on_the_map.through == pytest.approx(light, abs=ROUNDING)


def test_an_oval_that_stands_off_the_axis_passes_what_rays_count():
    beam = traced(reference.CASES[8])
    found = light_at(beam, [Oval(70.0, 48.0, 38.0, 2.0, -1.5)], np.array([21.64]), np.array([0.0]))
    assert found.through[0] == pytest.approx(reference.OVAL_LIGHT, abs=reference.LIGHT_TOLERANCE)


def test_the_focal_length_and_ratio_behind_a_reducer_are_the_products_by_hand():
    # 540 mm x 0.8 at f/6 x 0.8.
    beam = traced(reference.CASES[1])
    assert beam.focal_mm == pytest.approx(432.0)
    assert beam.focal_ratio == pytest.approx(4.8)


def test_two_correctors_work_as_one_after_the_other():
    # By hand: a 2x extender 80 mm before the sensor wants the light converging 40 mm behind it; 60 mm before
    # it a 0.8 reducer of 275 mm works by 1 - 100/275.
    reducer, extender = Corrector(275.0, 140.0), Corrector(-80.0, 80.0)
    beam = trace(Tube(700.0, 100.0, 0.0, 1.0 / 700.0), [reducer, extender])
    assert beam.focal_mm == pytest.approx(700.0 * 2.0 * (1.0 - 100.0 / 275.0))


@given(
    tube=st.builds(
        Tube, st.floats(200.0, 3000.0), st.floats(50.0, 400.0), st.just(0.0), st.floats(-1 / 200.0, 1 / 200.0)
    ),
    lenses=st.lists(
        st.tuples(
            st.one_of(st.floats(150.0, 900.0), st.floats(-900.0, -60.0)),
            st.floats(5.0, 60.0),
            st.floats(-5.0, 15.0),
        ),
        max_size=3,
    ),
)
def test_the_lagrange_invariant_is_the_same_in_every_stretch(tube, lenses):
    at = 0.0
    correctors: list[Corrector] = []
    for focal, gap, planes in reversed(lenses):
        at += gap + max(0.0, planes)
        correctors.insert(0, Corrector(focal, at, planes))
        at += max(0.0, planes)
    try:
        beam = trace(tube, correctors)
    except ValueError:
        return  # No image there, said in words.
    # y U - u Y in slopes over x: the same before and behind every lens, and D / 2 in entrance space.
    assert beam.focal_mm is not None
    for one in beam.stretches:
        invariant = one.half_mm * one.middle_per_mm - one.half_per_mm * one.middle
        assert invariant * beam.focal_mm == pytest.approx(-tube.aperture_mm / 2.0, rel=1e-9)
    # In focus: the edge ray meets the axis on the sensor.
    assert beam.half_mm(0.0) == pytest.approx(0.0, abs=1e-9 * tube.aperture_mm)


@pytest.mark.parametrize("mirrors", [reference.RC, reference.SPHERES, (600.0, 8.0 / 3.0, 387.0)])
def test_the_exit_pupil_of_two_mirrors_is_the_published_one(mirrors):
    # Schroeder, Astronomical Optics, on the exit pupil of a two-mirror telescope with its stop at the primary
    # (from memory): m^2 k f1 / (m + k - 1) before the focus.
    f1, m, separation = mirrors
    k = 1.0 - separation / f1
    found = 1.0 / two_mirror_per_pupil(TwoMirrors(f1, m, separation))
    assert found == pytest.approx(f1 * m * m * k / (m + k - 1.0))


@pytest.mark.parametrize(("stop", "x", "n", "pupil", "height", "beam", "offset", "share"), STOPS)
def test_a_stop_in_a_bare_cone_passes_the_tabulated_share(stop, x, n, pupil, height, beam, offset, share):
    light = cone(n, pupil)
    assert 2.0 * light.half_mm(x) == pytest.approx(beam, abs=OFFSET_TOLERANCE_MM)
    assert height * light.middle(x) == pytest.approx(offset, abs=OFFSET_TOLERANCE_MM)
    assert share_through(light, x, stop, height) == pytest.approx(share, abs=STOP_TOLERANCE)
    assert diameter_for_share_mm(light, x, share, height) == pytest.approx(stop, abs=1e-3)


@given(beam=cones, stop=st.floats(0.0, 100.0), wider=st.floats(0.0, 20.0), x=distances, height=heights)
def test_a_wider_stop_never_loses_light(beam, stop, wider, x, height):
    narrow, wide = (share_through(beam, x, stop + more, height) for more in (0.0, wider))
    assert 0.0 <= narrow <= wide + ROUNDING <= 1.0 + ROUNDING


@given(beam=cones, x=distances, height=heights)
def test_the_stop_for_full_light_is_just_wide_enough(beam, x, height):
    full = diameter_for_share_mm(beam, x, 1.0, height)
    assert share_through(beam, x, full * (1.0 + ROUNDING), height) == 1.0
    assert share_through(beam, x, full * 0.99, height) < 1.0


@given(beam=cones, share=st.floats(0.01, 1.0), x=distances, height=heights)
def test_the_stop_for_a_share_of_the_light_passes_that_share(beam, share, x, height):
    stop = diameter_for_share_mm(beam, x, share, height)
    kept = share_through(beam, x, stop, height)
    assert kept >= share - ROUNDING
    assert share_through(beam, x, max(0.0, stop - 3e-4), height) <= share + ROUNDING


def test_the_stop_for_full_light_is_as_worked_by_hand():
    # 14 mm off the axis, parallel beams of 20 mm / 4 = 5 mm: 2 x 14 + 5 = 33 mm.
    assert diameter_for_share_mm(cone(4.0), 20.0, 1.0, 14.0) == pytest.approx(33.0)


def test_on_the_sensor_a_stop_passes_all_or_nothing():
    assert share_through(cone(4.0), 0.0, 28.0, 13.9) == 1.0
    assert share_through(cone(4.0), 0.0, 28.0, 14.1) == 0.0
    assert diameter_for_share_mm(cone(4.0), 0.0, 0.5, 14.0) == pytest.approx(28.0)


def test_on_the_axis_half_the_beams_width_passes_a_quarter_of_the_light_and_less_of_an_obstructed_one():
    # Areas go as the square of diameters: (1/4 - 0.09) / (1 - 0.09) with three tenths in the middle.
    assert share_through(cone(4.0), 40.0, 5.0, 0.0) == pytest.approx(0.25)
    assert share_through(cone(4.0, math.inf, 0.3), 40.0, 5.0, 0.0) == pytest.approx(0.16 / 0.91)


def test_a_reducer_beyond_its_own_focal_length_is_refused_in_words():
    with pytest.raises(ValueError, match=r"factor at this distance is -0\.1; .*Check factor and distance"):
        trace(Tube(540.0, 90.0, 0.0, 1.0 / 540.0), [Corrector(100.0, 110.0)])


def test_a_share_in_per_cent_is_refused():
    with pytest.raises(ValueError, match="share of light is 90; .*0.9"):
        diameter_for_share_mm(cone(4.0), 20.0, 90.0, 10.0)


def test_light_that_comes_together_nowhere_is_refused_in_words():
    # Half of this aperture over the focal length is less than any number that a machine holds.
    parallel = Tube(1e5, 5e-324, 0.0, 0.0)
    with pytest.raises(OutOfRangeError, match="The focal ratio is inf; it must be"):
        trace(parallel)
