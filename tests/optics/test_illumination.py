import math

import pytest
import shapely
from hypothesis import example, given
from hypothesis import strategies as st

from server.optics.illumination import (
    aperture_for_fraction_mm,
    aperture_for_full_light_mm,
    beam_diameter_mm,
    beam_offset_mm,
    bounds_on_combined_fraction,
    disc_overlap_area_mm2,
    fraction_through,
    natural_falloff,
)
from tests.references import illumination as reference

#: A circle drawn as a polygon of 8192 sides is short by 1e-7 of its area.
POLYGON_TOLERANCE = 1e-5
ROUNDING = 1e-9

stops = st.floats(0.0, 100.0)
distances = st.floats(0.0, 200.0)
ratios = st.floats(1.5, 20.0)
heights = st.floats(0.0, 50.0)
pupils = st.one_of(st.just(math.inf), st.floats(200.0, 5000.0))


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


@pytest.mark.parametrize(("stop", "x", "n", "pupil", "height", "beam", "offset", "share"), reference.STOPS)
def test_a_stop_passes_the_tabulated_share_of_the_light(stop, x, n, pupil, height, beam, offset, share):
    assert beam_diameter_mm(x, n) == pytest.approx(beam, abs=reference.OFFSET_TOLERANCE_MM)
    assert beam_offset_mm(height, x, pupil) == pytest.approx(offset, abs=reference.OFFSET_TOLERANCE_MM)
    assert fraction_through(stop, x, n, height, pupil) == pytest.approx(share, abs=reference.STOP_TOLERANCE)


@given(stop=stops, wider=st.floats(0.0, 20.0), x=distances, n=ratios, height=heights, pupil=pupils)
def test_a_wider_stop_never_loses_light(stop, wider, x, n, height, pupil):
    narrow = fraction_through(stop, x, n, height, pupil)
    wide = fraction_through(stop + wider, x, n, height, pupil)
    assert 0.0 <= narrow <= wide + ROUNDING <= 1.0 + ROUNDING


@given(stop=stops, further=st.floats(0.0, 20.0), x=distances, n=ratios, height=heights, pupil=pupils)
def test_a_point_further_from_the_axis_never_gets_more_light(stop, further, x, n, height, pupil):
    inner = fraction_through(stop, x, n, height, pupil)
    outer = fraction_through(stop, x, n, height + further, pupil)
    assert outer <= inner + ROUNDING


@given(x=st.floats(0.1, 200.0), n=ratios, height=heights, pupil=pupils)
def test_the_stop_for_full_light_is_just_wide_enough(x, n, height, pupil):
    full = aperture_for_full_light_mm(x, n, height, pupil)
    assert fraction_through(full * (1.0 + ROUNDING), x, n, height, pupil) == 1.0
    assert fraction_through(full * 0.99, x, n, height, pupil) < 1.0


def test_the_stop_for_full_light_is_as_worked_by_hand():
    # 14 mm off the axis, parallel beams of 20 mm / 4 = 5 mm: 2 x 14 + 5 = 33 mm.
    assert aperture_for_full_light_mm(20.0, 4.0, 14.0) == pytest.approx(33.0)


@given(share=st.floats(0.01, 1.0), x=st.floats(1.0, 200.0), n=ratios, height=heights, pupil=pupils)
def test_the_stop_for_a_share_of_the_light_passes_that_share(share, x, n, height, pupil):
    stop = aperture_for_fraction_mm(share, x, n, height, pupil)
    assert fraction_through(stop, x, n, height, pupil) == pytest.approx(share, abs=1e-6)


@pytest.mark.parametrize(("stop", "x", "n", "pupil", "height", "beam", "offset", "share"), reference.STOPS)
def test_the_stop_for_a_tabulated_share_is_the_tabulated_stop(stop, x, n, pupil, height, beam, offset, share):
    computed = aperture_for_fraction_mm(share, x, n, height, pupil)
    assert computed == pytest.approx(stop, abs=1e-3)


def test_on_the_sensor_a_stop_passes_all_or_nothing():
    assert fraction_through(28.0, 0.0, 4.0, 13.9) == 1.0
    assert fraction_through(28.0, 0.0, 4.0, 14.1) == 0.0
    assert aperture_for_fraction_mm(0.5, 0.0, 4.0, 14.0) == pytest.approx(28.0)


def test_on_the_axis_half_the_beams_width_passes_a_quarter_of_the_light():
    # Areas go as the square of diameters.
    assert fraction_through(5.0, 40.0, 4.0, 0.0) == pytest.approx(0.25)


@pytest.mark.parametrize(("angle_deg", "share"), reference.FALLOFF)
def test_the_edge_of_a_wide_field_is_darker_as_tabulated(angle_deg, share):
    assert natural_falloff(angle_deg) == pytest.approx(share, abs=reference.FALLOFF_TOLERANCE)


def test_two_stops_that_lose_a_tenth_each_pass_eight_to_nine_tenths():
    # By hand: apart they lose 0.1 + 0.1, together 0.1.
    assert bounds_on_combined_fraction([0.9, 0.9]) == pytest.approx((0.8, 0.9))


def test_two_stops_that_lose_more_than_half_each_may_pass_nothing():
    assert bounds_on_combined_fraction([0.4, 0.45, 1.0]) == pytest.approx((0.0, 0.4))


def test_no_stop_loses_nothing():
    assert bounds_on_combined_fraction([]) == (1.0, 1.0)


@given(
    first=st.tuples(st.floats(5.0, 40.0), st.floats(1.0, 100.0)),
    second=st.tuples(st.floats(5.0, 40.0), st.floats(1.0, 100.0)),
    height=st.floats(0.0, 20.0),
    pupil=st.floats(150.0, 1000.0),
)
def test_two_stops_in_one_beam_pass_what_the_bounds_allow(first, second, height, pupil):
    # Both stops are drawn in the plane of the exit pupil, where the cone is one disc, and cut by polygons.
    n = 4.0
    cone = shapely.Point(0.0, 0.0).buffer(pupil / (2.0 * n), quad_segs=512)
    light = cone
    alone = []
    for stop, x in (first, second):
        # Seen from the image point, the stop's shadow in the pupil is larger by pupil / x.
        centre = height - height * pupil / x
        shadow = shapely.Point(centre, 0.0).buffer(stop / 2.0 * pupil / x, quad_segs=512)
        light = light.intersection(shadow)
        alone.append(fraction_through(stop, x, n, height, pupil))
    least, most = bounds_on_combined_fraction(alone)
    assert least - 1e-3 <= light.area / cone.area <= most + 1e-3


def test_a_stop_beyond_the_exit_pupil_is_refused():
    with pytest.raises(ValueError, match="between the exit pupil and the sensor"):
        beam_offset_mm(10.0, 300.0, 200.0)


def test_a_share_in_per_cent_is_refused():
    with pytest.raises(ValueError, match="share of light to keep is 90; .*0.9 for 90 %"):
        aperture_for_fraction_mm(90.0, 20.0, 4.0, 10.0)


def test_a_share_above_one_is_refused():
    with pytest.raises(ValueError, match=r"share of light through a stop is 1\.2"):
        bounds_on_combined_fraction([1.2])


def test_a_field_of_half_the_sky_is_refused():
    with pytest.raises(ValueError, match="field angle is 90 degrees"):
        natural_falloff(90.0)
