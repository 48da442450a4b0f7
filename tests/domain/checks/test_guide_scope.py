"""Guide scopes: 206 264.806 arcsec to the radian, worked by hand; a star's middle to a tenth of a pixel and
five main pixels to a guide one are common practice, no source.
"""

import pytest

from server.domain.parts import GuideScope
from server.domain.rig import Rules
from tests.domain.rigs import camera, finding, findings, guide_camera, mm, number, tube


def scope(focal_mm):
    return GuideScope(
        maker="Halden", model="Finder", focal_length_mm=None if focal_mm is None else mm(focal_mm)
    )


def guided(focal_mm, **rules):
    gear = [scope(focal_mm), guide_camera()]
    return finding("guide_scope", tube(), camera(), gear=gear, rules=Rules(**rules))


def test_a_scope_of_240_mm_sees_its_pixels_three_times_as_large_as_the_main_ones_and_is_fine_enough():
    # 4 um / 240 mm = 3.4377 arcsec, 4 um / 800 mm = 1.0313; a tenth is 0.34 of the 0.7 that count as usual.
    found = guided(240.0)
    assert (found.weight, found.code) == ("sound", "guide_scope.sound")
    assert number(found, "scale") == pytest.approx(3.4377, abs=1e-4)
    assert number(found, "ratio") == pytest.approx(3.3333, abs=1e-3)
    assert number(found, "error") == pytest.approx(0.34377, abs=1e-4)


def test_a_finder_is_too_coarse_for_the_guiding_asked_for_and_the_focal_length_that_is_not_is_named():
    found = guided(100.0)
    assert (found.weight, found.code) == ("watch", "guide_scope.coarse")
    # 0.1 x 206.265 x 4 / 0.7 = 117.9 mm for the guiding, 800 / 5 = 160 for the main pixels.
    assert found.remedies[0].phrase.amounts["focal"].value == pytest.approx(160.0, abs=0.01)


def test_a_scope_that_is_fine_enough_for_the_guiding_is_coarse_for_main_pixels_a_fifth_of_its_own():
    found = guided(150.0)
    assert (found.weight, found.code) == ("watch", "guide_scope.coarse")
    assert "wanders in the picture" in found.phrase.template


def test_what_is_coarse_hangs_on_the_guiding_that_the_rig_counts_on():
    assert guided(200.0, guiding_arcsec=0.7).weight == "sound"
    assert guided(200.0, guiding_arcsec=0.3).weight == "watch"


def test_a_scope_of_unknown_focal_length_is_asked_for_it():
    found = guided(None)
    assert (found.weight, found.missing) == ("unknown", ("the focal length of Halden Finder",))


def test_without_a_guide_camera_or_a_scope_nothing_is_said():
    assert findings("guide_scope", tube(), camera(), gear=[scope(240.0)]) == []
    assert findings("guide_scope", tube(), camera(), gear=[guide_camera()]) == []
