"""Exposures, against astropy, speclite, synphot, a textbook and cases worked apart from the code."""

from __future__ import annotations

import math

import numpy as np
import pytest
from astropy import constants, units
from astropy.stats import signal_to_noise_oir_ccd
from scipy.stats import norm
from speclite.filters import load_filters
from synphot import Observation, SourceSpectrum, SpectralElement
from synphot.models import Box1D, ConstFlux1D

from server.sky.exposure import (
    Rates,
    faintest_star,
    hours_for,
    line_rate,
    peak_share,
    saturating_magnitude,
    shortest_sub_s,
    signal_to_noise,
    star_signal_to_noise,
    surface_rate,
)

M2 = 1e6  # a square metre, in mm2
#: Bands as wide as Bessell's (1979) about his middles.
V, R = (506.0, 594.0), (566.4, 713.6)
#: A mirror of 200 mm with 35 % before it, 800 mm of focus, pixels of 3.76 um: worked by hand.
AREA_MM2, SCALE, EFFICIENCY = 27_567.5, 0.969445, 0.64
#: The worked case: a sky of 20.5, a target of 23.0 that loses 0.2308 to the air.
SKY, TARGET = 0.919575 / SCALE**2, 0.0791082
CASE = Rates(TARGET, SKY, 0.002, SCALE)


def test_sky_and_target_of_the_worked_case():
    sky = surface_rate(20.5, AREA_MM2, V, EFFICIENCY)
    assert float(sky) * SCALE**2 == pytest.approx(0.919575, rel=1e-4)
    assert float(surface_rate(23.0, AREA_MM2, V, EFFICIENCY, 0.230798)) == pytest.approx(TARGET, rel=1e-4)


@pytest.mark.parametrize(
    ("name", "band", "ab_minus_vega", "within"), [("V", V, 0.02, 0.01), ("R", R, 0.21, 0.05)]
)
def test_rates_are_those_of_measured_filters(name, band, ab_minus_vega, within):
    # speclite's own bessell filters; from AB to Vega by Blanton and Roweis, AJ 133, 734 (2007) (from memory).
    (filtered,) = load_filters(f"bessell-{name}")
    photons = filtered.ab_zeropoint.to_value(1 / units.s / units.m**2) * 10.0 ** (-0.4 * ab_minus_vega)
    assert float(surface_rate(0.0, M2, band, 1.0)) == pytest.approx(photons, rel=within)


@pytest.mark.parametrize(
    ("middle", "width", "jansky"), [(5500.0, 880.0, 3640.0), (6400.0, 1472.0, 3080.0), (6563.0, 70.0, 3022.0)]
)
def test_rates_are_those_of_another_programs_box_shaped_bands(middle, width, jansky):
    # synphot over a flat spectrum of Bessell's fluxes (1979); 3022 Jy lies between his R and I.
    band = SpectralElement(Box1D, amplitude=1.0, x_0=middle, width=width)
    source = SourceSpectrum(ConstFlux1D, amplitude=jansky * units.Jy)
    edges = np.linspace(middle - width, middle + width, 4001)
    counted = Observation(source, band, binset=edges).countrate(area=1.0 * units.m**2).value
    nm = ((middle - width / 2.0) / 10.0, (middle + width / 2.0) / 10.0)
    assert float(surface_rate(0.0, M2, nm, 1.0)) == pytest.approx(counted, rel=0.01)


def test_a_wide_band_is_the_sum_of_its_parts():
    parts = sum(float(surface_rate(0.0, M2, (nm, nm + 1.0), 1.0)) for nm in range(400, 700))
    assert float(surface_rate(0.0, M2, (400.0, 700.0), 1.0)) == pytest.approx(parts, rel=0.03)


def test_a_rayleigh_of_hydrogen_is_a_million_photons_over_all_the_sky():
    # One rayleigh: 10^10 / 4 pi photons/s/m2/sr; in H-alpha 5.66e-21 W/m2/arcsec2 (published by its surveys).
    per_arcsec2 = 1e10 / (4.0 * math.pi) * units.arcsec.to(units.rad) ** 2
    assert float(line_rate(5.66e-21, 656.3, M2, 1.0)) == pytest.approx(per_arcsec2, rel=0.002)


def test_a_line_loses_to_glass_and_air_and_grows_with_the_wavelength():
    photon = (constants.h * constants.c / (500.7 * units.nm)).to_value(units.J)
    clear, air = line_rate(1e-18, 500.7, 2.0 * M2, 0.5, [0.0, 2.5])
    assert clear == pytest.approx(1e-18 / photon, rel=1e-9)
    assert air == pytest.approx(clear / 10.0)


def test_signal_and_noise_of_the_worked_case():
    assert float(signal_to_noise(CASE, 1.5, 300.0, 12)) == pytest.approx(4.45325, rel=1e-4)
    assert float(signal_to_noise(CASE, 1.5, 300.0, 12, per="arcsec2")) == pytest.approx(4.59361, rel=1e-4)
    assert float(hours_for(CASE, 1.5, 300.0, 10.0)) == pytest.approx(4.73906, rel=1e-4)


def test_after_the_hours_asked_for_the_signal_stands_out_as_asked():
    rates = Rates(np.array([0.02, 0.5]), SKY, 0.01, np.array([[0.5], [2.0]]))
    hours = hours_for(rates, 3.0, 120.0, 7.0)
    assert hours.shape == (2, 2)
    assert signal_to_noise(rates, 3.0, 120.0, hours * 30.0, per="arcsec2") == pytest.approx(7.0)


def test_a_target_without_light_never_stands_out():
    rates = Rates([0.0, TARGET], 0.0, 0.0, SCALE)
    assert list(np.isinf(hours_for(rates, 0.0, 60.0, 5.0))) == [True, False]
    assert signal_to_noise(rates, 0.0, 60.0, 10)[0] == 0.0


@pytest.mark.parametrize(
    ("seconds", "star", "sky", "dark", "read", "pixels", "known"),
    [
        (300.0, 50.0, 4.0, 0.02, 3.5, 30.0, 66.0674),
        (60.0, 2.0, 1.2, 0.005, 1.6, 40.0, 2.15028),
        # Howell's handbook: 24 013 counts of 5 electrons, sky 620 counts, read noise 5, dark 1.8: 342.
        (1.0, 120_065.0, 620.0 * 5.0, 1.8, 5.0, 1.0, 342.0),
    ],
)
def test_a_star_stands_out_as_astropy_says(seconds, star, sky, dark, read, pixels, known):
    ratio = float(star_signal_to_noise(star, sky, dark, read, pixels, seconds))
    assert ratio == pytest.approx(signal_to_noise_oir_ccd(seconds, star, sky, dark, read, pixels), rel=1e-9)
    assert ratio == pytest.approx(known, rel=5e-4)


#: Aperture mm, hole, efficiency, star, sky, exposures, s, read noise, dark, pixel over focus, S/N of one and
#: of all, faintest at 5.
STARS = (
    (200.0, 0.35, 0.64, 20.0, 20.5, 12, 300.0, 1.5, 0.002, 3.76 / 800.0, 9.1920, 31.842, 22.1018),
    (80.0, 0.0, 0.75, 18.0, 21.0, 30, 120.0, 1.6, 0.003, 3.76 / 400.0, 9.3472, 51.197, 20.7352),
)


@pytest.mark.parametrize("case", STARS)
def test_stars_of_two_rigs_worked_apart_from_the_code(case):
    aperture, hole, efficiency, star, sky, count, sub, read, dark, pixel, one, all_of_them, faintest = case
    scale = math.degrees(pixel / 1000.0) * 3600.0
    area = math.pi / 4.0 * aperture**2 * (1.0 - hole**2)
    light, sky_px, zero = surface_rate([star, sky, 0.0], area, V, efficiency) * [1.0, scale**2, 1.0]
    behind = (sky_px, dark, read, 7.5212, sub)
    assert star_signal_to_noise(light, *behind, [1, count]) == pytest.approx([one, all_of_them], rel=1e-3)
    limit = faintest_star(zero, *behind, count)
    assert float(limit) == pytest.approx(faintest, abs=0.001)
    shown = star_signal_to_noise(zero * 10.0 ** (-0.4 * limit), *behind, count)
    assert float(shown) == pytest.approx(5.0)


def test_short_exposures_drown_in_read_noise_and_the_limit_is_known():
    assert float(shortest_sub_s(CASE, 1.5, 0.05)) == pytest.approx(23.8192, rel=1e-4)
    # 7 nm of R about 640 nm under a sky of 20.0.
    narrow = surface_rate(20.0, AREA_MM2, (636.5, 643.5), EFFICIENCY)
    assert float(shortest_sub_s(Rates(0.0, narrow, 0.002, SCALE), 1.5, 0.05)) == pytest.approx(
        254.357, rel=1e-4
    )
    # Worked apart: read noise 1.5, 1.5 and 3.5 under 0.5, 0.05 and 0.2 electrons/s/px.
    worked = shortest_sub_s(Rates(0.0, [0.5, 0.05, 0.2], 0.0, 1.0), [1.5, 1.5, 3.5], 0.05)
    assert worked == pytest.approx([43.902, 439.02, 597.56], rel=1e-4)


def test_without_any_light_no_exposure_is_long_enough_and_without_read_noise_none_too_short():
    assert np.isinf(shortest_sub_s(Rates(0.0, 0.0, 0.0, 1.0), 1.5, 0.05))
    assert float(shortest_sub_s(Rates(0.0, 0.0, 0.0, 1.0), 0.0, 0.05)) == 0.0


@pytest.mark.parametrize("fwhm", [0.5, 1.5, 3.3, 20.0])
def test_the_brightest_pixel_has_the_share_of_a_bell(fwhm):
    share = 1.0 - 2.0 * norm.sf(0.5, scale=fwhm / 2.354820045)
    assert float(peak_share(fwhm)) == pytest.approx(share**2, rel=1e-6)


def test_stars_burn_out_at_the_worked_magnitudes():
    # Stars 3.2 arcsec wide, a full well of 50 000, in 300 and in 60 s.
    zero = surface_rate(0.0, AREA_MM2, V, EFFICIENCY)
    fills = saturating_magnitude(zero, peak_share(3.2 / SCALE), 50_000.0, 0.919575, 0.002, [300.0, 60.0])
    assert fills == pytest.approx([12.153, 10.401], abs=0.001)


def test_where_the_sky_alone_fills_a_pixel_every_star_burns_out():
    assert float(saturating_magnitude(1e9, 0.1, 1000.0, 20.0, 0.0, 60.0)) == math.inf


@pytest.mark.parametrize(
    ("work", "given"),
    [
        (surface_rate, (20.0, 0.0, V, 0.5)),
        (surface_rate, (20.0, 1.0, (600.0, 500.0), 0.5)),
        (surface_rate, (20.0, 1.0, (600.0, 600.0), 0.5)),
        (surface_rate, (20.0, 1.0, V, [0.5, 1.1])),
        (surface_rate, (20.0, 1.0, V, 0.5, -1.0)),
        (line_rate, (-1.0, 656.0, 1.0, 0.5)),
        (signal_to_noise, (CASE, -1.0, 60.0, 1)),
        (signal_to_noise, (CASE, 1.0, 60.0, 0)),
        (signal_to_noise, (Rates(1.0, 1.0, 0.0, 0.0), 1.0, 60.0, 1)),
        (hours_for, (CASE, 1.0, 0.0, 5.0)),
        (shortest_sub_s, (CASE, 1.0, 0.0)),
        (star_signal_to_noise, (float("nan"), 1.0, 0.0, 1.0, 9.0, 60.0)),
        (faintest_star, (0.0, 1.0, 0.0, 1.0, 9.0, 60.0)),
        (peak_share, (0.0,)),
        (saturating_magnitude, (1e9, 1.5, 1000.0, 1.0, 0.0, 60.0)),
    ],
)
def test_what_no_exposure_has_is_refused_in_words(work, given):
    with pytest.raises(ValueError, match=r"must .*\."):
        work(*given)
