"""The corner's stars on the bench, worked by hand (sources: tests/optics/test_third_order.py)."""

from __future__ import annotations

import pytest

from server.domain.parts.optical import SpotRow
from server.domain.rig import Rules
from tests.domain.checks.test_focus import SPHERES, open_tube
from tests.domain.rigs import camera, corrector, finding, findings, number, ring, tube

SENSOR = {"width_px": 6200, "height_px": 4140, "pixel_um": 3.8}


def newtonian(**given):
    usual = {"design": "newtonian", "aperture_mm": 200.0, "focal_length_mm": 800.0, "obstruction_mm": 0.0}
    return tube(**(usual | given))


def test_a_bare_newtonian_is_told_its_coma_and_what_mends_it():
    found = finding("corners", newtonian(), ring(10.0), camera(**SENSOR), rules=Rules(seeing_arcsec=3.0))
    assert (found.code, found.weight) == ("corners.blurred", "watch")
    assert "by coma" in found.phrase.template
    assert "coma corrector" in found.remedies[0].phrase.template
    # 14.164 mm: sagittal coma h / (16 N^2) = 55.3 um, RMS radius sqrt(2/3) of it: 45.2; with curvature and
    # astigmatism on the flat sensor sqrt(45.2^2 + ...) a little more. RMS diameter 90 to 96 um.
    assert 0.090 < number(found, "blur") < 0.096
    assert number(found, "pixels") == pytest.approx(number(found, "blur") / 0.0038)
    # 3 arc seconds of 800 mm: 3 x 800 / 206264.8 mm.
    assert number(found, "sky") == pytest.approx(0.0116355, abs=1e-6)


def test_the_coma_of_two_spherical_mirrors_is_told_without_a_newtonians_corrector():
    scope = open_tube(**SPHERES, obstruction_mm=68.0)
    small = camera(width_px=2000, height_px=2000, pixel_um=1.0)
    found = finding("corners", scope, ring(82.5), small, rules=Rules(seeing_arcsec=0.3))
    assert "by coma" in found.phrase.template
    assert not found.remedies


def test_with_its_corrector_at_its_place_the_corner_is_sound_and_off_it_is_told():
    parts = (newtonian(), corrector(corrector_type="coma_corrector"), ring(37.5), camera(**SENSOR))
    # As far as a perfect corrector goes: not "sound" before its maker's spots are there.
    assert finding("corners", *parts).code == "corners.unknown"
    assert finding("corners", *parts).missing == ("the maker's spot sizes of Halden Flat",)
    spots = (SpotRow(height_mm=0.0, spot_um=3.0), SpotRow(height_mm=20.0, spot_um=4.0))
    told = corrector(corrector_type="coma_corrector", spot_sizes=spots)
    assert finding("corners", newtonian(), told, ring(37.5), camera(**SENSOR)).code == "corners.sound"
    far = (newtonian(), corrector(corrector_type="coma_corrector"), ring(53.5), camera(**SENSOR))
    found = finding("corners", *far)
    assert found.code == "corners.blurred"
    assert "the corrector's wrong distance" in found.phrase.template


def test_a_makers_spots_are_taken_as_they_are():
    spots = (SpotRow(height_mm=0.0, spot_um=3.0), SpotRow(height_mm=15.0, spot_um=6.0))
    found = finding("corners", newtonian(spot_sizes=spots), ring(10.0), camera(**SENSOR))
    # 3 + 3 x 14.164 / 15 = 5.833 um.
    assert number(found, "blur") == pytest.approx(0.005833, abs=2e-5)
    assert found.weight == "sound"


def test_what_is_missing_is_asked_for_and_never_sound():
    found = finding("corners", tube(design=None), ring(10.0), camera(**SENSOR))
    assert found.weight == "unknown"
    assert "the design of Halden Tube (its field is taken as perfect)" in found.missing


def test_a_train_without_a_camera_is_not_judged():
    assert not findings("corners", newtonian(), ring(10.0))
