import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from server.optics.areas import discs_and_half_planes, discs_on_a_line
from tests.references import illumination as reference

#: A disc of 4 x 256 sides is short by 6e-6 of its area.
POLYGON_TOLERANCE = 1e-4
EXACT = 1e-9


def column(*values):
    return np.array(values, dtype=float)[:, np.newaxis]


def on_a_line(discs):
    return float(discs_on_a_line(column(*(c for c, _ in discs)), column(*(r for _, r in discs)))[0])


def anywhere(discs, planes=()):
    x, y, r = (column(*(disc[at] for disc in discs)) for at in range(3))
    if not planes:
        return float(discs_and_half_planes(x, y, r)[0])
    normal = np.array([(math.cos(angle), math.sin(angle)) for angle, _ in planes])
    return float(discs_and_half_planes(x, y, r, normal, column(*(reach for _, reach in planes)))[0])


def polygon(discs, planes=()):
    shape = shapely.box(-500.0, -500.0, 500.0, 500.0)
    for x, y, r in discs:
        shape = shape.intersection(shapely.Point(x, y).buffer(r, quad_segs=256))
    for angle, reach in planes:
        half = shapely.box(-1000.0, -1000.0, reach, 1000.0)
        shape = shape.intersection(shapely.affinity.rotate(half, angle, origin=(0, 0), use_radians=True))
    return shape.area


@pytest.mark.parametrize(("r1", "r2", "apart", "area"), reference.OVERLAPS)
def test_two_discs_have_the_tabulated_area_in_common_by_both_ways(r1, r2, apart, area):
    assert on_a_line([(0.0, r1), (apart, r2)]) == pytest.approx(area, abs=reference.OVERLAP_TOLERANCE_MM2)
    turned = (apart * 0.6, apart * 0.8)
    assert anywhere([(0.0, 0.0, r1), (*turned, r2)]) == pytest.approx(
        area, abs=reference.OVERLAP_TOLERANCE_MM2
    )


def test_three_unit_discs_at_the_corners_of_a_triangle_of_side_one_make_a_reuleaux_triangle():
    # (pi - sqrt 3) / 2, a textbook figure.
    discs = [(0.0, 0.0, 1.0), (1.0, 0.0, 1.0), (0.5, math.sqrt(3.0) / 2.0, 1.0)]
    assert anywhere(discs) == pytest.approx((math.pi - math.sqrt(3.0)) / 2.0, abs=1e-12)


def test_three_unequal_discs_have_the_area_in_common_that_a_count_of_squares_gives():
    assert anywhere(reference.THREE_DISCS) == pytest.approx(
        reference.THREE_DISCS_AREA, abs=reference.THREE_DISCS_TOLERANCE
    )


discs_anywhere = st.lists(
    st.tuples(st.floats(-6.0, 6.0), st.floats(-6.0, 6.0), st.floats(0.1, 12.0)), min_size=1, max_size=14
)


@given(
    discs=discs_anywhere,
    planes=st.lists(st.tuples(st.floats(0.0, 6.3), st.floats(-3.0, 6.0)), max_size=4),
)
def test_discs_and_half_planes_have_the_area_of_their_polygons(discs, planes):
    smallest = math.pi * min(r for _, _, r in discs) ** 2
    assert anywhere(discs, planes) == pytest.approx(
        polygon(discs, planes), abs=POLYGON_TOLERANCE * (smallest + 1.0)
    )


@given(discs=st.lists(st.tuples(st.floats(-30.0, 6.0), st.floats(0.0, 40.0)), min_size=1, max_size=14))
def test_discs_on_a_line_have_the_same_area_as_discs_anywhere(discs):
    smallest = math.pi * min(r for _, r in discs) ** 2
    turned = [(c * 0.6, c * -0.8, r) for c, r in discs]
    # Turning rounds the centres; where borders all but coincide the area feels it by its root.
    assert on_a_line(discs) == pytest.approx(anywhere(turned), abs=1e-6 * (smallest + 1e-3))


@given(discs=discs_anywhere, times=st.integers(2, 4))
def test_the_same_disc_several_times_counts_once(discs, times):
    assert anywhere(discs * times) == pytest.approx(anywhere(discs), abs=EXACT)


@given(line=st.lists(st.tuples(st.floats(-5.0, 5.0), st.floats(0.5, 8.0)), min_size=1, max_size=5))
def test_the_same_disc_on_a_line_several_times_counts_once(line):
    assert on_a_line(line * 3) == pytest.approx(on_a_line(line), abs=EXACT)


@pytest.mark.parametrize("radius", [1e3, 1e5, 1e7])
def test_a_huge_disc_through_the_middle_of_a_small_one_leaves_half_of_it(radius):
    # The sagitta of the huge disc's border takes 2/3 x 1/(2 radius) x 2 at most.
    allowed = 1.0 / radius + 1e-8
    assert on_a_line([(0.0, 1.0), (-radius, radius)]) == pytest.approx(math.pi / 2.0, abs=allowed)
    far = (-radius * 0.6, -radius * 0.8, radius)
    assert anywhere([(0.0, 0.0, 1.0), far]) == pytest.approx(math.pi / 2.0, abs=allowed)


def test_a_square_in_a_disc_is_cut_as_worked_by_hand():
    square = [(0.0, 1.0), (math.pi / 2, 1.0), (math.pi, 1.0), (-math.pi / 2, 1.0)]
    # Within a disc of radius 2 it is whole; a disc of radius 1 lies within it.
    assert anywhere([(0.0, 0.0, 2.0)], square) == pytest.approx(4.0, abs=EXACT)
    assert anywhere([(0.0, 0.0, 1.0)], square) == pytest.approx(math.pi, abs=EXACT)


def test_the_same_line_twice_counts_once():
    assert anywhere([(0.0, 0.0, 1.0)], [(0.3, 0.0), (0.3, 0.0)]) == pytest.approx(math.pi / 2.0, abs=EXACT)


def test_what_has_nothing_in_common_has_no_area():
    assert anywhere([(0.0, 0.0, 1.0), (3.0, 0.0, 1.0)]) == 0.0
    assert anywhere([(0.0, 0.0, 1.0)], [(0.0, -1.5)]) == 0.0
    # Pairwise they meet, all three together they do not.
    ring = [(math.cos(a), math.sin(a), 0.9) for a in (0.0, 2.0 * math.pi / 3.0, 4.0 * math.pi / 3.0)]
    assert anywhere(ring) == pytest.approx(0.0, abs=EXACT)
