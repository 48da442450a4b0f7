"""Widths, encircled energy, outline and contrast of a star, against published tables
(references/diffraction.py).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from server.optics.pupil import Pupil
from server.optics.star_image import Air, StarImage, instrument_image, seen_image
from server.optics.star_numbers import contrast_of, diameter_um, encircled, numbers_of, shape_of
from server.optics.wavefront import Aberrations
from tests.references import diffraction

GREEN = ((550.0, 1.0),)
LAM_N = 2.2
STEP = 0.11
"""A twentieth of lambda N: fine enough for the tables' diameters to half a percent."""


def ring(eps, step=STEP, cells=1001):
    return instrument_image(Pupil(200.0, eps), Aberrations(), 4.0, GREEN, step, cells)


def normal(sigma_x, sigma_y, turned_deg, step=1.0, cells=201):
    """A normal spot, long along `turned_deg`: every number of it is known."""
    places = (np.arange(cells) - (cells - 1) / 2.0) * step
    x, y = places[None, :], places[:, None]
    t = math.radians(turned_deg)
    u, v = x * math.cos(t) + y * math.sin(t), -x * math.sin(t) + y * math.cos(t)
    values = np.exp(-(u**2) / 2 / sigma_x**2 - v**2 / 2 / sigma_y**2)
    return StarImage(step, values / values.sum())


@pytest.mark.parametrize(("eps", "d50", "d80", "within"), diffraction.ENCIRCLED)
def test_encircled_energy_is_that_of_the_annulus(eps, d50, d80, within):
    image = ring(eps)
    energy = encircled(image)
    assert energy.within(1.219670 * LAM_N) == pytest.approx(within, abs=2e-3)
    found = numbers_of(image)
    assert found.d50_um is not None
    assert found.d80_um is not None
    assert found.d50_um / LAM_N == pytest.approx(d50, rel=5e-3)
    assert found.d80_um / LAM_N == pytest.approx(d80, rel=5e-3)


@pytest.mark.parametrize("parts", [3, 4, 6])
@pytest.mark.parametrize(("eps", "d50", "d80", "_"), diffraction.ENCIRCLED)
def test_diameters_hold_on_cells_as_coarse_as_the_app_draws(eps, d50, d80, _, parts):
    # A third, a quarter and a sixth of lambda N; cells in odd and even number.
    found = numbers_of(ring(eps, LAM_N / parts, 240 + parts % 2))
    assert found.d50_um == pytest.approx(d50 * LAM_N, rel=5e-3)
    assert found.d80_um == pytest.approx(d80 * LAM_N, rel=5e-3)


@pytest.mark.parametrize(("eps", "_", "fwhm"), diffraction.ANNULUS)
@pytest.mark.parametrize("step", [STEP, 0.5])
def test_the_full_width_is_that_of_the_annulus_on_fine_and_on_coarse_cells(eps, _, fwhm, step):
    assert numbers_of(ring(eps, step, 301)).fwhm_um / LAM_N == pytest.approx(fwhm, rel=1e-3)


@pytest.mark.parametrize(("eps", "contrasts"), diffraction.MTF)
def test_contrast_is_oneills(eps, contrasts):
    curves = contrast_of(ring(eps, 0.2, 1001))
    cutoff = 1000.0 / LAM_N
    for share, wanted in zip(diffraction.MTF_FREQUENCIES, contrasts, strict=True):
        found = np.interp(share * cutoff, curves.per_mm, curves.along_x)
        assert found == pytest.approx(wanted, abs=2e-3)


def test_a_normal_spot_has_the_numbers_of_a_normal_spot():
    # Round, sigma 10 um: full width 2.3548 sigma; half the light within 1.17741 sigma, 80 % within 1.79412
    # sigma.
    found = numbers_of(normal(10.0, 10.0, 0.0))
    assert found.fwhm_um == pytest.approx(23.548, rel=2e-3)
    assert found.d50_um == pytest.approx(2 * 11.7741, rel=2e-3)
    assert found.d80_um == pytest.approx(2 * 17.9412, rel=2e-3)
    assert found.shape.eccentricity < 0.05
    assert found.total == pytest.approx(1.0)


def test_a_spot_of_very_many_cells_is_as_wide_as_one_of_few():
    for step, cells in ((4.0, 51), (0.25, 401)):
        assert numbers_of(normal(10.0, 10.0, 0.0, step, cells)).fwhm_um == pytest.approx(23.548, rel=3e-3)


@pytest.mark.parametrize("moved", [(91, 0), (-91, 0), (0, 91), (0, -91), (91, -91)])
def test_a_spot_at_the_edge_of_its_picture_is_as_wide_as_in_the_middle(moved):
    middle = normal(2.0, 2.0, 0.0)
    found = numbers_of(StarImage(1.0, np.roll(middle.values, moved, (0, 1))))
    assert found.fwhm_um == pytest.approx(2.0 * 2.3548, rel=5e-3)
    # Its wing beyond the edge, 4.5 sigma out, is 1e-5 of it and lies 200 um off at the other side.
    assert found.centroid_um == pytest.approx(moved[::-1], abs=5e-3)


@pytest.mark.parametrize("turned", [0.0, 30.0, 90.0, 135.0])
def test_the_outline_of_a_long_spot_has_its_direction_and_its_eccentricity(turned):
    # Axes 12 and 6 um: eccentricity sqrt(1 - 1/4) = 0.8660. Cut at a tenth of the peak both shrink alike.
    shape = shape_of(normal(12.0, 6.0, turned))
    assert shape.eccentricity == pytest.approx(0.8660, abs=2e-3)
    apart = (shape.direction_deg - turned + 90.0) % 180.0 - 90.0
    assert apart == pytest.approx(0.0, abs=0.5)


def test_astigmatism_at_one_side_of_the_focus_lies_across_and_at_the_other_along():
    def at(defocus):
        image = instrument_image(
            Pupil(200.0), Aberrations(defocus_um=defocus, astig_0_um=0.6), 4.0, GREEN, 0.4, 201
        )
        return shape_of(seen_image(image, Air(1.0), 800.0))

    # W = d rho^2 + a (x^2 - y^2): rays fall at -2 N (2 d + 2 a) x and -2 N (2 d - 2 a) y.
    along, across = at(0.6), at(-0.6)
    assert along.direction_deg == pytest.approx(0.0, abs=2) or along.direction_deg == pytest.approx(
        180.0, abs=2
    )
    assert across.direction_deg == pytest.approx(90.0, abs=2)


def test_more_light_is_never_held_by_a_smaller_circle():
    energy = encircled(ring(0.33, 0.4, 301), (3.0, -2.0))
    assert (np.diff(energy.shares) >= -1e-12).all()
    assert diameter_um(energy, 0.9999) is None
    with pytest.raises(ValueError, match="share"):
        diameter_um(energy, 1.0)


def test_a_picture_without_light_is_refused():
    with pytest.raises(ValueError, match="No light"):
        numbers_of(StarImage(1.0, np.zeros((9, 9))))
