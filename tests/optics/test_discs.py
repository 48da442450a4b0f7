import math

import pytest
import shapely
from hypothesis import example, given
from hypothesis import strategies as st

from server.optics.discs import disc_overlap_area_mm2
from tests.references import illumination as reference

#: A circle drawn as a polygon of 8192 sides is short by 1e-7 of its area.
POLYGON_TOLERANCE = 1e-5
ROUNDING = 1e-9


@pytest.mark.parametrize(("r1_mm", "r2_mm", "centres_mm", "area_mm2"), reference.OVERLAPS)
def test_two_discs_overlap_by_the_tabulated_area(r1_mm, r2_mm, centres_mm, area_mm2):
    computed = disc_overlap_area_mm2(r1_mm, r2_mm, centres_mm)
    assert computed == pytest.approx(area_mm2, abs=reference.OVERLAP_TOLERANCE_MM2)


@given(r1=st.floats(0.1, 50.0), r2=st.floats(0.1, 50.0), d=st.floats(0.0, 100.0))
@example(r1=2.0, r2=2.0, d=5e-324)
def test_two_discs_overlap_as_polygons_of_many_sides_do(r1, r2, d):
    first = shapely.Point(0.0, 0.0).buffer(r1, quad_segs=2048)
    second = shapely.Point(d, 0.0).buffer(r2, quad_segs=2048)
    smaller = math.pi * min(r1, r2) ** 2
    drawn = first.intersection(second).area
    assert disc_overlap_area_mm2(r1, r2, d) == pytest.approx(drawn, abs=POLYGON_TOLERANCE * (smaller + 1.0))


@given(r1=st.floats(0.0, 1e5), r2=st.floats(0.0, 1e5), d=st.floats(0.0, 1e5))
def test_the_overlap_has_no_order_and_is_never_more_than_the_smaller_disc(r1, r2, d):
    area = disc_overlap_area_mm2(r1, r2, d)
    assert area == pytest.approx(disc_overlap_area_mm2(r2, r1, d), rel=1e-6, abs=1e-6)
    assert 0.0 <= area <= math.pi * min(r1, r2) ** 2 * (1.0 + ROUNDING)
