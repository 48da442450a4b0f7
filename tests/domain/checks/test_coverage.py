"""Image circles against the sensor.

Sources: plane geometry: a sensor of 36 by 24 mm has a diagonal of sqrt(36^2 + 24^2) = 43.2666 mm; Gaussian
optics: a corrector's factor scales the image. A 44 mm circle covers 36 x 24 mm: common practice, no source.
"""

from __future__ import annotations

import pytest

from tests.domain.rigs import camera, corrector, finding, input_named, number, ring, tube

DIAGONAL_MM = 5e-5
"""The diagonal by hand has four decimals."""


def test_a_circle_of_44_mm_covers_36_by_24_mm():
    found = finding("coverage", tube(), ring(10.0), camera())
    assert found.code == "coverage.sound"
    assert number(found, "diagonal") == pytest.approx(43.2666, abs=DIAGONAL_MM)
    assert input_named(found, "pixels across") == 9000


def test_a_circle_that_holds_the_sides_and_not_the_corners_is_a_watch():
    # (43.2666 - 40) / 2 = 1.6333 mm.
    found = finding("coverage", tube(image_circle_mm=40.0), ring(10.0), camera())
    assert (found.weight, found.code) == ("watch", "coverage.corners")
    assert number(found, "over") == pytest.approx(1.6333, abs=DIAGONAL_MM)


def test_a_circle_smaller_than_the_long_side_is_a_stop():
    assert finding("coverage", tube(image_circle_mm=36.0), camera()).code == "coverage.corners"
    found = finding("coverage", tube(image_circle_mm=35.9), camera())
    assert (found.weight, found.code) == ("stop", "coverage.edges")


def test_a_circle_of_just_the_diagonal_covers_it_in_spite_of_rounding():
    # 3-4-5 in steps of a tenth: 28.8 by 21.6 mm, diagonal 36 mm; 45 x 0.8 = 36.
    small = camera(width_px=7200, height_px=5400)
    reducer = corrector(factor=0.8, corrected_circle_mm=45.0)
    bare = tube(image_circle_mm=45.0, circle_behind_corrector=False)
    assert finding("coverage", bare, reducer, ring(37.5), small).code == "coverage.sound"


def test_a_reducer_shrinks_the_tubes_circle():
    # 44 x 0.8 = 35.2 mm at its own 55 mm; 10 mm further out it works by 0.8 - 0.2 x 10 / 55 (the lens at its
    # face).
    bare = tube(circle_behind_corrector=False)
    reducer = corrector(factor=0.8, corrected_circle_mm=44.0, principal_mm=0.0)
    found = finding("coverage", bare, reducer, ring(37.5), camera())
    assert number(found, "circle") == pytest.approx(35.2)
    assert found.code == "coverage.edges"
    assert input_named(found, "factor") == pytest.approx(0.8)
    assert "Halden Tube, reduced by Halden Flat to {circle}" in found.phrase.template
    further = finding("coverage", bare, reducer, ring(47.5), camera())
    assert number(further, "circle") == pytest.approx(44.0 * (0.8 - 2.0 / 55.0))


def test_a_circle_that_nobody_says_is_the_bare_tubes_is_asked_about_only_where_it_decides():
    # 44 mm cover 43.27; times 0.8 they are 35.2.
    reducer = corrector(factor=0.8, corrected_circle_mm=None)
    found = finding("coverage", tube(), reducer, ring(37.5), camera())
    assert found.missing == ("whether the image circle of Halden Tube is that of the bare tube",)
    assert finding("coverage", tube(image_circle_mm=30.0), reducer, ring(37.5), camera()).weight == "stop"
    behind = tube(circle_behind_corrector=True)
    assert finding("coverage", behind, reducer, ring(37.5), camera()).code == "coverage.sound"


def test_the_smaller_circle_of_tube_and_corrector_decides():
    for circle, kind in ((60.0, False), (60.0, None), (30.0, None)):
        scope = tube(image_circle_mm=circle, circle_behind_corrector=kind)
        found = finding("coverage", scope, corrector(corrected_circle_mm=42.0), camera())
        assert number(found, "circle") == 42.0
    assert "corrected circle of Halden Flat" in found.phrase.template


def test_a_reducers_own_circle_is_quoted_behind_it_and_not_shrunk_again():
    # The tube's 60 mm come to 48; the reducer's own 44 stand as they are.
    reducer = corrector(factor=0.8, corrected_circle_mm=44.0)
    found = finding("coverage", tube(image_circle_mm=60.0), reducer, camera())
    assert number(found, "circle") == 44.0


def test_the_tubes_circle_is_scaled_by_all_correctors_behind_it():
    # 20 x 2 = 40 mm.
    first = corrector(model="Flat")
    second = corrector(model="Extender", factor=2.0, corrected_circle_mm=60.0)
    scope = tube(image_circle_mm=20.0, circle_behind_corrector=False)
    found = finding("coverage", scope, first, second, ring(37.5), camera())
    assert number(found, "circle") == pytest.approx(40.0)
    assert "enlarged by Halden Flat and Halden Extender to {circle}" in found.phrase.template


def test_one_known_circle_that_covers_is_not_sound_while_the_other_is_unknown():
    bare = tube(image_circle_mm=None, circle_behind_corrector=False)
    found = finding("coverage", bare, corrector(), camera())
    assert (found.weight, found.missing) == ("unknown", ("the image circle of Halden Tube",))


def test_one_known_circle_that_does_not_cover_is_judged_whatever_the_other_is():
    found = finding("coverage", tube(image_circle_mm=None), corrector(corrected_circle_mm=30.0), camera())
    assert found.weight == "stop"


def test_a_circle_before_a_corrector_of_unknown_factor_is_not_known():
    found = finding("coverage", tube(), corrector(factor=None, corrected_circle_mm=None), camera())
    assert (found.weight, found.missing) == (
        "unknown",
        ("the corrected circle of Halden Flat", "the factor of Halden Flat"),
    )


@pytest.mark.parametrize("lacking", ["width_px", "height_px", "pixel_um"])
def test_a_sensor_of_unknown_size_is_asked_for(lacking):
    found = finding("coverage", tube(), camera(**{lacking: None}))
    assert (found.weight, found.code) == ("unknown", "coverage.sensor")
