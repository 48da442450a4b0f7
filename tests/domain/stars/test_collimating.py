"""How well a tube must be collimated, against closed forms and against the stars that its own pupil draws.

Sources, all from memory: Marechal's criterion and 0.60 waves of coma at a Strehl ratio of 0.8 (Born & Wolf,
Principles of Optics, sec. 9.3; by the exponential 0.638); tangential coma 3 h / (16 N^2) of a paraboloid
(Schroeder, Astronomical Optics, ch. 5); coma over a ring (Mahajan, J. Opt. Soc. Am. 71, 75 (1981)).
"""

from __future__ import annotations

import math

import pytest

from server.domain.parts.optical import SpotRow
from tests.domain.rigs import camera, corrector, glass, holding, number, ring, tube, wheel
from tests.domain.stars.test_stars import SENSOR, named, newtonian, of

PARABOLOID_MM = 0.7186
"""0.638 waves of 550 nm are 0.3509 um; f/4 draws 1000 / (32 x 64) um for each mm."""
LONG = {
    "design": "ritchey_chretien",
    "aperture_mm": 200.0,
    "focal_length_mm": 1600.0,
    "obstruction_mm": 90.0,
    "primary_focal_ratio": 3.0,
    "mirror_separation_mm": 387.2727,
}
PEAK_WITHIN = 0.01


def green(length_mm):
    """A wheel with a narrow filter: one wavelength, 550 nm."""
    return holding(wheel(length_mm), glass(2.0, band_centre_nm=550.0, band_width_nm=6.0))


def collimation(*parts, **wishes):
    return named(of(*parts, camera(**SENSOR), **wishes), "Collimation")


def test_a_newtonian_bears_what_the_closed_form_says():
    found = collimation(newtonian(obstruction_mm=0.0), ring(10.0))
    assert number(found, "allowed") == pytest.approx(PARABOLOID_MM, rel=2e-3)
    # 800 mm x 2.9089e-4 for each arcminute.
    assert number(found, "tilt") == pytest.approx(PARABOLOID_MM / 0.232711, rel=2e-3)
    # 3 / (16 x 16) mm for each mm off the axis, in pixels of 3.8 um.
    assert number(found, "tail") == pytest.approx(11.71875 / 3.8, rel=1e-6)


def test_an_obstruction_is_counted():
    bare, ringed = (
        number(collimation(newtonian(obstruction_mm=mm), ring(10.0)), "allowed") for mm in (0.0, 100.0)
    )
    # Half of the aperture: sqrt(0.75^2 x 2.0625 / 1.25) = 0.9634 of the RMS.
    assert ringed / bare == pytest.approx(1.0 / 0.96339, rel=1e-4)


@pytest.mark.parametrize(
    "parts",
    [
        (newtonian(), green(10.0)),
        (newtonian(), corrector(corrector_type="coma_corrector"), green(37.5)),
        (newtonian(), corrector(corrector_type="coma_corrector", factor=0.8), green(37.5)),
        (tube(**LONG), green(10.0)),
        (tube(**LONG), corrector(factor=0.7, corrector_type="reducer"), green(37.5)),
    ],
    ids=["bare", "corrected", "reduced and corrected", "two mirrors", "two mirrors, reduced"],
)
def test_so_far_out_the_drawn_star_has_lost_a_fifth_of_its_peak(parts):
    allowed = number(collimation(*parts), "allowed")
    # A small sensor and calm air: all stars are small and drawn on the finest cells.
    small = camera(width_px=1200, height_px=800, pixel_um=3.8)
    out = of(*parts, small, collimation_mm=allowed, spacing_mm=0.0, seeing_arcsec=0.5).field
    assert out.centre.alone_numbers.strehl == pytest.approx(0.8, abs=PEAK_WITHIN)


def test_with_a_coma_corrector_an_error_draws_one_comet_over_the_whole_field():
    parts = (newtonian(), corrector(corrector_type="coma_corrector"), ring(37.5), camera(**SENSOR))
    field = of(*parts, collimation_mm=2.0).field
    # 2 mm off a paraboloid of f/4: 2 x 11.71875 um in each star.
    for star in field.stars:
        assert 24.0 * math.hypot(star.wave.coma_x_um, star.wave.coma_y_um) == pytest.approx(23.4375, rel=1e-6)
    # And where the maker's spots say what the field does, the comet comes on top of them.
    spots = (SpotRow(height_mm=0.0, spot_um=3.0), SpotRow(height_mm=15.0, spot_um=6.0))
    told = of(newtonian(spot_sizes=spots), ring(10.0), camera(**SENSOR), collimation_mm=2.0).field.worst
    assert 24.0 * math.hypot(told.wave.coma_x_um, told.wave.coma_y_um) == pytest.approx(23.4375, rel=1e-6)
