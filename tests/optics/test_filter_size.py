"""Filter sizes: hand sums of similar triangles, and the last per cent by areas of polygons (shapely)."""

import pytest
from shapely.geometry import Point

from server.optics.beam import cone
from server.optics.filter_size import round_needed_mm, square_needed_mm

SIZE_TOLERANCE_MM = 0.02
"""The polygons of the reference have 4 x 256 sides."""


def test_a_square_filter_holds_the_sensors_long_side_and_half_a_beam_to_either_side():
    # f/4 and an exit pupil 400 before a sensor of 36 by 24: 40 before it the middles shrink to 0.9 of
    # 36, that is, 32.4, and a beam is 10 wide.
    assert square_needed_mm(cone(4.0, 400.0), 40.0, 36.0, 24.0) == pytest.approx(42.4)
    assert square_needed_mm(cone(4.0, 400.0), 40.0, 24.0, 36.0) == pytest.approx(42.4)


@pytest.mark.parametrize("ratio", [2.0, 4.0, 8.0])
def test_a_round_filter_of_the_size_told_keeps_99_per_cent_of_the_corner(ratio):
    needed = round_needed_mm(cone(ratio, 500.0), 30.0, 36.0, 24.0)
    middle = 21.63331 * (1.0 - 30.0 / 500.0)
    beam = Point(middle, 0.0).buffer(15.0 / ratio, quad_segs=256)
    assert beam.intersection(
        Point(0, 0).buffer(needed / 2.0, quad_segs=256)
    ).area / beam.area == pytest.approx(0.99, abs=3e-4)
    assert needed < 2.0 * (middle + 15.0 / ratio)


def test_before_the_sensor_itself_the_filter_is_as_wide_as_the_diagonal():
    assert round_needed_mm(cone(5.0), 0.0, 36.0, 24.0) == pytest.approx(43.2666, abs=SIZE_TOLERANCE_MM)


def test_a_sensor_without_a_size_is_refused():
    with pytest.raises(ValueError, match="sensor's width is 0"):
        round_needed_mm(cone(5.0), 10.0, 0.0, 24.0)
