"""The trade's filter sizes at a wheel's place.

Clear apertures of the sizes: common practice, no source. The rest by similar triangles: the rig's tube is f/4
and a lens of 800 mm, so that 24.5 mm before a sensor of 36 by 24 the corner's beam is 6.1 mm wide and its
middle lies 21.63 x (1 - 24.5 / 800) = 20.97 mm from the axis: 48.1 mm pass all of it.
"""

import pytest

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

BARE = {"clear_aperture_mm": None}


def filter_size(held=None, *, of_wheel=None, of_camera=None, of_corrector=None):
    the_wheel = wheel(20.0, **({"filter_at_mm": 13.0, "clear_aperture_mm": None} | (of_wheel or {})))
    inside = holding(the_wheel, *([] if held is None else [held]))
    parts = (tube(), corrector(**(of_corrector or {})), ring(17.5), inside, camera(**(of_camera or {})))
    return finding("filter_size", *parts)


def test_a_full_frame_sensor_behind_f4_asks_for_50_mm_and_no_mounted_filter_is_wide_enough():
    found = filter_size()
    assert (found.weight, found.code) == ("sound", "filter_size.told")
    assert "the smallest filters that pass all its light are 50 mm round." in found.phrase.template
    assert number(found, "at") == pytest.approx(24.5, abs=0.01)
    # Less than the whole 48.1 by what a hundredth of a beam of 6.1 mm is at its edge.
    assert number(found, "wide") == pytest.approx(47.8, abs=0.2)


def test_what_is_there_and_passes_is_sound():
    found = filter_size(glass(None, format="round_50", **BARE))
    assert found.code == "filter_size.sound"
    assert found.phrase.template.startswith(
        "50 mm round at Brask Wheel, {at} before the sensor, passes all its light."
    )


def test_what_is_there_and_clips_is_told_and_left_to_the_light_cone():
    found = filter_size(glass(None, format="round_36", **BARE))
    assert (found.weight, found.code) == ("sound", "filter_size.told")
    assert found.phrase.template.endswith("36 mm round is there: the light cone says what it costs.")
    assert not found.remedies


def test_its_own_clear_aperture_goes_before_what_is_usual_for_its_size():
    assert filter_size(glass(None, format="round_50", clear_aperture_mm=44.0)).code == "filter_size.told"


@pytest.mark.parametrize(
    ("size", "clear"),
    [("mounted_1_25", 26.0), ("mounted_2", 45.0), ("round_31", 29.0), ("round_36", 34.0), ("round_50", 48.0)],
)
def test_a_size_passes_as_much_as_the_least_that_is_sold_in_it_leaves_clear(size, clear):
    # As above (clear - 5.8) / (2 x 20.97) of the whole sensor ask for just so much.
    for off, code in ((-0.4, "filter_size.sound"), (0.4, "filter_size.told")):
        sensor = {"pixel_um": 4.0 * (clear + off - 5.8) / 41.94}
        found = filter_size(glass(None, format=size, **BARE), of_camera=sensor)
        assert number(found, "wide") == pytest.approx(clear + off, abs=0.3)
        assert found.code == code


def test_a_filter_of_no_size_goes_by_its_own_aperture_and_name_and_no_other_is_told():
    found = filter_size(glass(None, format=None, clear_aperture_mm=50.0))
    assert found.code == "filter_size.sound"
    assert found.phrase.template.startswith("Sell Glass at Brask Wheel")
    assert found.phrase.template.endswith("passes all its light.")


def test_a_small_sensor_is_served_by_the_smallest_of_both_kinds():
    # 3000 by 2000 pixels of 4 um: 12 by 8 mm; 13.98 + 6.1 = 20.1 mm.
    found = filter_size(of_camera={"width_px": 3000, "height_px": 2000})
    assert "are 1.25 in mounted and 31 mm round." in found.phrase.template


def test_a_larger_one_than_is_needed_is_sound_and_the_smaller_ones_are_told():
    found = filter_size(
        glass(None, format="round_50", **BARE), of_camera={"width_px": 3000, "height_px": 2000}
    )
    assert found.code == "filter_size.sound"
    assert found.phrase.template.endswith("the smallest that do are 1.25 in mounted and 31 mm round.")


def test_where_the_reducers_glass_decides_between_two_sizes_it_is_not_known_yet():
    reducer = {"corrector_type": "reducer", "factor": 0.75, "length_mm": 60.0}
    found = filter_size(
        of_wheel={"filter_at_mm": 2.0},
        of_corrector=reducer,
        of_camera={"width_px": 4500, "height_px": 3000},
    )
    assert (found.weight, found.code) == ("unknown", "filter_size.unknown")
    assert "2 in mounted and 36 mm round or 2 in mounted and 50 mm round" in found.phrase.template
    assert "rear principal plane of Halden Flat" in found.missing[0]


def test_without_filter_or_camera_nothing_is_said():
    assert findings("filter_size", tube(), corrector(), ring(37.5), camera()) == []
    assert findings("filter_size", tube(), corrector(), wheel(20.0)) == []


def test_in_a_wheel_turned_round_the_filter_stands_as_far_from_the_other_face():
    # 13 mm of 20 from the face that is now the camera's, which stands 17.5 mm before the sensor.
    turned = holding(wheel(20.0, filter_at_mm=13.0, clear_aperture_mm=None), flipped=True)
    found = finding("filter_size", tube(), corrector(), ring(17.5), turned, camera())
    assert input_named(found, "filter before the sensor") == pytest.approx(30.5)
    straight = holding(wheel(20.0, filter_at_mm=13.0, clear_aperture_mm=None))
    found = finding("filter_size", tube(), corrector(), ring(17.5), straight, camera())
    assert input_named(found, "filter before the sensor") == pytest.approx(24.5)
