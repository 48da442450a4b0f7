"""Collimation against traced rays (batoid 0.9), a pupil summed point by point, and published figures."""

from __future__ import annotations

import math

import batoid
import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from server.optics.collimation import (
    allowed_decentre_mm,
    allowed_tilt_arcmin,
    coma_of_strehl_um,
    coma_rms_um,
    comet_um,
    newtonian_misaligned,
)
from server.optics.third_order import (
    Conics,
    Misaligned,
    classical,
    ritchey_chretien,
    secondary_misaligned,
    two_mirror_terms,
)
from server.optics.two_mirror import TwoMirrors
from tests.optics.rays import even_pupil, spot_um, two_mirrors

LONG = TwoMirrors(600.0, 8.0 / 3.0, 600.0 - 600.0 * 1.3 / (8.0 / 3.0 + 1.0))
"""200 mm f/8: a primary of 600 mm, its focus 180 mm behind it."""
SHORT = TwoMirrors(400.0, 5.0, 316.67)
"""200 mm f/10: a primary of 400 mm."""


def traced_coma_um(system, aperture, ratio, degrees=0.0):
    """The coma along x, um of wave, that a star's rays hold by least squares, all low orders fitted, and
    where they fall, mm.
    """
    px, py = even_pupil(16)
    x, y, middle = spot_um(system, aperture, degrees, 2000.0, px, py)
    rho2, none, one = px**2 + py**2, np.zeros_like(px), np.ones_like(px)
    slopes = (
        (3.0 * px**2 + py**2, 2.0 * px * py),
        (2.0 * px * py, px**2 + 3.0 * py**2),
        (2.0 * px, 2.0 * py),
        (2.0 * px, -2.0 * py),
        (2.0 * py, 2.0 * px),
        (4.0 * rho2 * px, 4.0 * rho2 * py),
        (one, none),
        (none, one),
    )
    columns = np.array([np.concatenate([-2.0 * ratio * sx, -2.0 * ratio * sy]) for sx, sy in slopes]).T
    found = np.linalg.lstsq(columns, np.concatenate([x, y]), rcond=None)[0]
    return float(found[0]), middle


def spherical_secondary(tube, ratio):
    """The primary's figure that takes away what a spherical secondary leaves."""
    plain = two_mirror_terms(tube, ratio, Conics(0.0, 0.0)).spherical_um
    full = two_mirror_terms(tube, ratio, Conics(-1.0, 0.0)).spherical_um
    return Conics(-plain / (plain - full), 0.0)


@pytest.mark.parametrize("arcmin", [3.0, 10.0])
def test_a_newtonians_tilted_primary_draws_the_traced_coma_into_the_middle(arcmin):
    tilt = math.radians(arcmin / 60.0)
    system = batoid.CompoundOptic(
        [
            batoid.Mirror(batoid.Paraboloid(1600.0), coordSys=batoid.CoordSys(rot=batoid.RotY(tilt))),
            batoid.Detector(batoid.Plane(), coordSys=batoid.CoordSys(origin=[0, 0, 800.0])),
        ]
    )
    # A mirror turned by an angle turns the light by twice as much: this star falls on the middle.
    by_side = [
        (abs(middle), abs(coma))
        for coma, middle in (
            traced_coma_um(system, 200.0, 4.0, side * 2.0 * arcmin / 60.0) for side in (1, -1)
        )
    ]
    off, coma = min(by_side)
    assert off < 0.05
    assert newtonian_misaligned(800.0, 4.0).per_arcmin * arcmin == pytest.approx(coma, rel=0.01)


def test_a_newtonians_axis_off_the_middle_draws_the_published_coma():
    # Schroeder, Astronomical Optics, ch. 5 (from memory): tangential coma 3 theta / (16 N^2) as an angle; 1
    # mm of 800 at f/4 is 3 / (16 x 16) um for each um: 11.71875 um.
    assert comet_um(newtonian_misaligned(800.0, 4.0).per_mm, 4.0) == pytest.approx(11.71875, rel=1e-9)


@pytest.mark.parametrize(
    ("tube", "ratio", "conics"),
    [
        (LONG, 8.0, ritchey_chretien(LONG)),
        (LONG, 8.0, classical(LONG)),
        (LONG, 8.0, spherical_secondary(LONG, 8.0)),
        (SHORT, 10.0, spherical_secondary(SHORT, 10.0)),
    ],
    ids=["ritchey-chretien", "classical", "spherical secondary", "fast primary, spherical secondary"],
)
def test_a_secondary_out_of_place_draws_the_traced_coma_to_two_percent(tube, ratio, conics):
    found = secondary_misaligned(tube, ratio, conics)
    off, _ = traced_coma_um(two_mirrors(tube, conics, off_mm=1.0), 200.0, ratio)
    tilted, _ = traced_coma_um(two_mirrors(tube, conics, tilt_arcmin=5.0), 200.0, ratio)
    assert found.per_mm == pytest.approx(abs(off), rel=0.02)
    assert 5.0 * found.per_arcmin == pytest.approx(abs(tilted), rel=0.02)


def peak(coma_waves, obstruction):
    """The brightest point of a comet over that of a perfect star, from the pupil's points one by one."""
    px, py = even_pupil(60)
    inside = np.hypot(px, py) >= obstruction
    px, py = px[inside], py[inside]
    wave = coma_waves * px * (px**2 + py**2)

    def dark(move):
        return -(abs(np.mean(np.exp(2j * math.pi * (wave - move * px)))) ** 2)

    return -minimize_scalar(dark, bounds=(0.0, 2.0 * coma_waves), method="bounded").fun


@pytest.mark.parametrize("obstruction", [0.0, 0.35, 0.5])
@pytest.mark.parametrize(("strehl", "within"), [(0.95, 0.01), (0.8, 0.01), (0.5, 0.03)])
def test_the_coma_of_a_strehl_ratio_lowers_the_summed_peak_to_it(strehl, within, obstruction):
    waves = coma_of_strehl_um(strehl, 550.0, obstruction) / 0.55
    assert peak(waves, obstruction) == pytest.approx(strehl, abs=within)


def test_the_coma_of_a_strehl_ratio_of_0_8_is_the_published_one():
    # Born & Wolf, Principles of Optics, sec. 9.3 (from memory): 0.60 waves, by 1 - (2 pi s)^2, which is a
    # little stricter than the exponential.
    assert coma_of_strehl_um(0.8, 550.0) / 0.55 == pytest.approx(0.60, rel=0.07)


def test_the_waves_rms_is_that_of_the_pupils_points():
    px, py = even_pupil(80)
    for obstruction in (0.0, 0.35, 0.6):
        inside = np.hypot(px, py) >= obstruction
        x, rho2 = px[inside], (px**2 + py**2)[inside]
        wave = x * rho2
        wave = wave - x * np.mean(wave * x) / np.mean(x * x)
        assert coma_rms_um(1.0, obstruction) == pytest.approx(math.sqrt(np.mean(wave**2)), rel=0.01)
    assert coma_rms_um(-1.0) == pytest.approx(1.0 / math.sqrt(72.0))


def test_a_comet_is_as_long_as_its_outermost_rays_are_apart():
    # The rays of the pupil's edge and of its middle: x from 0 to -2 N (3 x^2 + y^2) W.
    px, py = even_pupil(60)
    rays = -2.0 * 5.0 * 0.4 * (3.0 * px**2 + py**2)
    assert comet_um(-0.4, 5.0) == pytest.approx(float(rays.max() - rays.min()), rel=0.02)
    assert comet_um(0.4, 5.0) == pytest.approx(12.0)


def test_what_may_be_off_is_the_coma_over_what_each_unit_draws():
    # f/4, 550 nm: 0.60 waves (Born & Wolf) are 0.33 um, and a mm draws 1000 / (32 x 64) um: 0.676 mm.
    newtonian = newtonian_misaligned(800.0, 4.0)
    assert allowed_decentre_mm(0.33, newtonian) == pytest.approx(0.67584, rel=1e-4)
    # The axis moves by 800 mm x 2.9089e-4 for each arcminute: 2.904 arcminutes.
    assert allowed_tilt_arcmin(0.33, newtonian) == pytest.approx(2.9042, rel=1e-4)
    assert allowed_decentre_mm(0.33, Misaligned(0.0, 0.0)) == math.inf


@pytest.mark.parametrize(
    "call",
    [
        lambda: newtonian_misaligned(0.0, 4.0),
        lambda: newtonian_misaligned(800.0, 0.1),
        lambda: comet_um(math.nan, 4.0),
        lambda: coma_rms_um(1.0, 1.0),
        lambda: coma_of_strehl_um(0.4, 550.0),
        lambda: allowed_decentre_mm(-0.1, Misaligned(1.0, 1.0)),
    ],
)
def test_what_cannot_be_is_refused_in_words(call):
    with pytest.raises(ValueError, match="must be"):
        call()
