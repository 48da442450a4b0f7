"""How deep a rig goes, through a real rig, against cases worked by hand.

The rig: a mirror of 200 mm at 800 mm with 70 mm before it, so that 27,567.5 mm2 are clear; pixels of 3.76
um, 0.969445 arcsec; a mirror's 0.80 (common practice) times 0.85 of the sensor's peak of 16/17 times a filter
that passes all of 506 to 594 nm: 0.64 of the light. A star of magnitude 0 sends 9.988e7 photons/s/m2/nm at
550 nm (Bessell 1979): 8.7895e9 /s/m2 over the band.
"""

from __future__ import annotations

import math
from functools import cache

import pytest

from server.domain.parts import Camera, Filter, OpticalTube
from server.domain.parts.cameras import DarkRow, GainRow
from server.domain.sky.depth import Depth, work_depth
from server.domain.sky.reckoning import USUAL_NEBULA, DepthWishes, dark_at, gain_row, surface_of
from server.domain.sky.site import Site
from server.domain.sky.target import Target
from server.domain.stars.telescope import telescope_of
from server.out_of_range import OutOfRangeError
from tests.domain.rigs import camera, case, glass, holding, ring, tube, wheel

AREA_M2, SCALE = 0.0275675, 0.969445
ZERO_AIRLESS = 8.7895e9 * AREA_M2 * 0.64
"""Electrons per second of magnitude 0 above the air."""
AIR = 0.2434
"""Magnitudes at the zenith at 550 nm: 0.1056 of air (a depth of 0.0973, Hansen and Travis 1974), 0.1088 of
haze (Green 1992), 0.029 of ozone; worked by hand. At 656.3 nm: 0.0515 + 0.0865 + 0.0202."""
AIR_RED = 0.1581
FWHM = 3.2
GAINS = (
    GainRow(gain=0.0, read_noise_e=3.5, full_well_e=50_000.0, conversion_e=0.8),
    GainRow(gain=100.0, read_noise_e=1.5, full_well_e=50_000.0, conversion_e=0.25),
    GainRow(gain=300.0, read_noise_e=1.5, full_well_e=9_000.0, conversion_e=0.1),
)
DARK = (DarkRow(temperature_c=-10.0, dark_e_s=0.002),)
PLACE = {"name": "The garden", "latitude_deg": 50.0, "longitude_deg": 10.0, "zone": "Europe/Berlin"}


def sky(magnitude: float = 20.5) -> Site:
    return Site(**PLACE, brightness_by="magnitude", brightness=magnitude)


def mirror(**given) -> OpticalTube:
    usual = {"design": "newtonian", "focal_length_mm": 800.0, "obstruction_mm": 70.0}
    return tube(**(usual | given))


def sensor(**given) -> Camera:
    usual = {
        "pixel_um": 3.76,
        "width_px": 6000,
        "height_px": 4000,
        "colour": "mono",
        "quantum_efficiency": 16.0 / 17.0,
        "gains": GAINS,
        "dark_current": DARK,
    }
    return camera(**(usual | given))


def v_filter(**given) -> Filter:
    return glass(3.0, **({"band_centre_nm": 550.0, "band_width_nm": 88.0, "peak_transmission": 1.0} | given))


def h_alpha(**given) -> Filter:
    return glass(3.0, **({"band_centre_nm": 656.3, "band_width_nm": 7.0, "peak_transmission": 1.0} | given))


def depth(
    through: Filter | None = None,
    before: OpticalTube | None = None,
    behind: Camera | None = None,
    site: Site | None = None,
    target: Target | None = None,
    altitude_deg: float = 90.0,
    fwhm_arcsec: float = FWHM,
    **wishes,
) -> Depth:
    found = tried(through, before, behind, site, target, altitude_deg, fwhm_arcsec, **wishes)
    assert isinstance(found, Depth)
    return found


def tried(through, before, behind, site, target, altitude_deg, fwhm_arcsec, **wishes):
    parts = (before or mirror(), holding(wheel(20.0), through or v_filter()), ring(10.0), behind or sensor())
    telescope = telescope_of(case(*parts))
    assert telescope is not None
    asked = DepthWishes(**wishes)
    return work_depth(telescope, site or sky(), target or faint(), asked, fwhm_arcsec, altitude_deg)


def faint(**given) -> Target:
    return Target(**({"name": "A", "ra_deg": 10.0, "dec_deg": 40.0} | given))


@cache
def worked_case() -> Depth:
    """A sky of 20.5 at the zenith, a target of 23.0 that is left 23.2308 by the air; 300 s each, an hour."""
    return depth(surface_mag=23.0 + 0.230798 - AIR, sub_s=300.0, hours=1.0)


# -- By hand


def test_rates_are_those_of_the_worked_case():
    found = worked_case()
    assert found.sky_e * SCALE**2 == pytest.approx(0.919575, rel=1e-3)
    assert found.target_e == pytest.approx(0.0791082, rel=1e-3)
    assert found.zero_e == pytest.approx(ZERO_AIRLESS * 10.0 ** (-0.4 * AIR), rel=1e-3)
    assert (found.dark_e, found.read_e, found.gain, found.full_well_e) == (0.002, 1.5, 100.0, 50_000.0)
    assert found.sky_mag == pytest.approx(20.5)
    assert found.band_nm == pytest.approx((506.0, 594.0))
    assert not found.line


def test_signal_to_noise_and_hours_are_those_of_the_worked_case():
    found = worked_case()
    assert found.per_px == pytest.approx(4.45325, rel=1e-3)
    assert found.per_arcsec2 == pytest.approx(4.59361, rel=1e-3)
    assert found.hours is not None
    assert found.hours.value == pytest.approx(4.73906, rel=2e-3)
    # 4.739 hours of 300 s; a picture of 6000 x 4000 pixels at two bytes.
    assert found.frames == 57
    assert found.bytes_each == 48_000_000


def test_the_shortest_exposure_and_the_one_that_is_taken_are_those_of_the_worked_case():
    found = depth(surface_mag=23.0)
    assert found.shortest_s == pytest.approx(23.8192, rel=1e-3)
    assert found.sub_s == 30.0, "the next that people take"
    assert depth(surface_mag=23.0, sub_s=10.0).sub_s == 10.0
    # With a share of 0.2 in place of 0.05: 1.1025 - 1 over 1.44 - 1 of the time.
    assert depth(surface_mag=23.0, read_share=0.2).shortest_s == pytest.approx(
        23.8192 * 0.1025 / 0.44, rel=1e-3
    )


def test_an_exposure_longer_than_people_take_is_cut_at_the_longest():
    # A band of 1 nm under the darkest sky: about 23.8 s x 88 x 10^(0.4 x 1.5) makes 8,300 s.
    found = depth(v_filter(band_width_nm=1.0), site=sky(22.0), surface_mag=23.0)
    assert found.shortest_s > 1800.0
    assert found.sub_s == 1800.0


@pytest.mark.parametrize(("sub_s", "magnitude"), [(300.0, 12.153), (60.0, 10.401)])
def test_a_star_fills_its_pixel_as_in_the_worked_case(sub_s, magnitude):
    # Stars 3.2 arcsec wide above a well of 50,000; here they come through the air as well.
    found = depth(surface_mag=23.0, sub_s=sub_s)
    assert found.saturating_mag == pytest.approx(magnitude - AIR, abs=0.002)


def test_a_sky_that_fills_the_pixel_alone_leaves_no_star_that_does():
    # 0.92 e/s and pixel for 7,200 s at 15.0 in place of 20.5: 158 times that fills 50,000.
    assert depth(site=sky(15.0), surface_mag=23.0, sub_s=7200.0).saturating_mag is None


def test_the_faintest_star_is_the_one_at_a_signal_to_noise_of_five():
    found = worked_case()
    # 71.9 % of a Gaussian star's light lies within 0.68 of its full width (Naylor, MNRAS 296, 339 (1998)):
    # 1 - exp(-4 ln 2 0.68^2). The circle covers pi (0.68 x 3.2 / 0.969445)^2 = 15.83 pixels.
    star = found.zero_e * 0.7226 * 10.0 ** (-0.4 * found.faintest_mag) * 3600.0
    noise2 = star + 15.83 * ((0.919575 + 0.002) * 3600.0 + 12 * 1.5**2)
    assert star / math.sqrt(noise2) == pytest.approx(5.0, rel=2e-3)
    brighter = found.zero_e * 0.7226 * 10.0 ** (-0.4 * 18.0) * 3600.0
    assert found.star_noise == pytest.approx(brighter / math.sqrt(noise2 - star + brighter), rel=2e-3)


def test_lower_down_the_sky_is_brighter_and_the_target_fainter():
    high, low = depth(surface_mag=23.0, altitude_deg=90.0), depth(surface_mag=23.0, altitude_deg=30.0)
    # Two air masses in place of one take another 0.2434 (Bouguer), within a hundredth for the round Earth.
    assert low.target_e is not None
    assert high.target_e is not None
    assert -2.5 * math.log10(low.target_e / high.target_e) == pytest.approx(AIR, abs=0.01)
    # Krisciunas and Schaefer: X = (1 - 0.96 sin^2 60)^-0.5 = 1.8898; -2.5 log X + 0.172 (X - 1).
    assert low.sky_mag == pytest.approx(20.5 - 0.691 + 0.153, abs=0.003)


# -- Lines


def test_seven_nanometres_want_the_long_exposure_of_the_worked_case():
    # In the middle of R, 640 nm, sky 20.0; the sensor has 0.80 of its peak at one line, so the glass passes
    # 0.85 / 0.80 of what it did: not possible with 1.0, so the peak is 1.0 and the tube's 0.80 x 0.80 = 0.64.
    red = h_alpha(band_centre_nm=640.0)
    found = depth(red, behind=sensor(quantum_efficiency=1.0), site=sky(20.0), surface_mag=23.0)
    assert found.line
    assert found.shortest_s == pytest.approx(254.357, rel=1e-3)


def test_rayleighs_behind_a_narrow_filter_are_photons_of_that_line():
    found = depth(h_alpha(), behind=sensor(quantum_efficiency=1.0), rayleigh=50.0)
    # One rayleigh of H-alpha is 5.66e-21 W/m2/arcsec2 (published by its surveys); a photon
    # has h c / 656.3 nm = 3.0267e-19 J.
    photons = 50.0 * 5.66e-21 / 3.0267e-19
    expected = photons * AREA_M2 * 0.64 * 10.0 ** (-0.4 * AIR_RED)
    assert found.target_e == pytest.approx(expected, rel=0.005)
    assert found.rayleigh == pytest.approx(50.0)
    assert found.surface_mag is None
    assert "line_brightness" not in wanted(found)


def test_a_nebula_of_unknown_line_is_reckoned_with_what_is_usual_and_says_so():
    nebula = faint(kind="HII", major_arcmin=60.0)
    found, typed = depth(h_alpha(), target=nebula), depth(h_alpha(), target=nebula, rayleigh=100.0)
    assert found.rayleigh == pytest.approx(100.0)
    assert "line_brightness" in wanted(found)
    assert "depth.usual_line" in assumed(found)
    assert typed.hours is not None
    assert found.hours is not None
    assert found.hours.value == pytest.approx(typed.hours.value)
    assert spread(found) > 2.0 * spread(typed)
    assert found.weighs[0][0] == "target"


def test_rayleighs_mean_nothing_behind_a_wide_filter():
    found = depth(v_filter(), surface_mag=23.0, rayleigh=50.0)
    assert found.rayleigh is None
    assert found.surface_mag == 23.0


def test_a_galaxy_behind_a_narrow_filter_keeps_its_magnitudes():
    found = depth(h_alpha(), target=faint(kind="G", surface_v_mag=22.0))
    assert found.line
    assert found.rayleigh is None
    assert found.surface_mag == 22.0


# -- How bright the target is


def test_what_its_owner_says_wins_over_the_catalogues_figures():
    both = faint(kind="G", surface_v_mag=21.0, surface_b_mag=24.0, v_mag=9.0, major_arcmin=5.0)
    found = surface_of(both)
    assert found is not None
    assert found.value == 21.0


def test_a_galaxys_blue_isophote_less_a_usual_colour_is_its_surface():
    # Common practice, no source: B-V of galaxies is 0.8, 0.4 to 1.0; isophotes are good to 0.3.
    found = surface_of(faint(kind="G", surface_b_mag=23.6))
    assert found is not None
    assert (found.value, found.low, found.high) == pytest.approx((22.8, 22.3, 23.5))
    assert "depth.colour" in assumed(depth(target=faint(kind="G", surface_b_mag=23.6)))


def test_a_nebula_of_unknown_surface_is_what_is_usual_whatever_its_magnitude():
    assert surface_of(faint(kind="RfN", v_mag=5.0, major_arcmin=10.0)) == USUAL_NEBULA
    found = depth(target=faint(kind="RfN", v_mag=5.0, major_arcmin=10.0))
    assert "target_brightness" in wanted(found)
    assert "depth.usual_nebula" in assumed(found)


def test_a_planetary_nebulas_magnitude_is_spread_over_its_ellipse():
    # 10.0 over an ellipse of 2' x 1': 5654.9 square arcseconds, 9.3810 magnitudes.
    found = surface_of(faint(kind="PN", v_mag=10.0, major_arcmin=2.0, minor_arcmin=1.0))
    assert found is not None
    assert (found.value, found.low, found.high) == pytest.approx((19.381, 18.881, 19.881), abs=1e-3)
    # Of the blue magnitude a usual colour is taken off.
    blue = surface_of(faint(kind="PN", b_mag=10.8, major_arcmin=2.0, minor_arcmin=1.0))
    assert blue is not None
    assert blue.value == pytest.approx(19.381, abs=1e-3)


@pytest.mark.parametrize("given", [{}, {"v_mag": 9.0}, {"major_arcmin": 9.0}, {"kind": "G", "v_mag": 9.0}])
def test_a_target_of_unknown_brightness_has_exposures_but_no_hours(given):
    assert surface_of(faint(**given)) is None
    found = depth(target=faint(**given))
    assert (found.hours, found.per_px, found.per_arcsec2) == (None, None, None)
    assert (found.frames, found.target_e, found.moonlit, found.weighs) == (None, None, (), ())
    assert "target_brightness" in wanted(found)
    assert found.shortest_s == pytest.approx(23.8192, rel=1e-3)
    assert math.isfinite(found.faintest_mag)


def test_a_brightness_that_is_asked_for_wins_over_the_targets():
    found = depth(target=faint(surface_v_mag=21.0), surface_mag=24.0)
    assert found.surface_mag == 24.0
    assert "target_brightness" not in wanted(found)


# -- What is missing, and what that does to the hours


def wanted(found: Depth) -> set[str]:
    return {one.field or one.says.key.partition(".")[2] for one in found.missing}


def assumed(found: Depth) -> set[str]:
    return {one.key for one in found.assumed}


def spread(found: Depth) -> float:
    assert found.hours is not None
    return math.log(found.hours.high / found.hours.low)


def test_a_site_of_unknown_darkness_gives_no_depth_but_asks_for_it():
    found = tried(None, None, None, Site(**PLACE), faint(surface_v_mag=22.0), 90.0, FWHM)
    assert isinstance(found, tuple)
    assert [one.says.key for one in found] == ["wants.sky_brightness"]


def test_hours_lie_between_their_ends_and_nothing_is_missing_of_a_full_rig():
    found = worked_case()
    assert found.missing == ()
    assert found.hours is not None
    assert found.hours.low < found.hours.value < found.hours.high


@pytest.mark.parametrize(
    ("given", "field", "unsure"),
    [
        ({"before": mirror(design=None)}, "design", "optics"),
        ({"behind": sensor(quantum_efficiency=None)}, "quantum_efficiency", "sensor"),
        ({"behind": sensor(colour=None)}, "colour", "sensor"),
        ({"behind": sensor(gains=())}, "gains", "read"),
        ({"behind": sensor(dark_current=())}, "dark_current", "dark"),
        ({"through": v_filter(peak_transmission=None)}, "peak_transmission", "filter"),
    ],
)
def test_each_missing_figure_is_asked_for_and_widens_the_hours(given, field, unsure):
    full, found = depth(surface_mag=23.0, sub_s=60.0), depth(**given, surface_mag=23.0, sub_s=60.0)
    assert wanted(found) == {field}
    assert spread(found) > spread(full)
    assert dict(found.weighs)[unsure] > dict(full.weighs).get(unsure, 0.0)


def test_hours_are_ended_by_the_squares_of_what_each_figure_does_alone():
    # With the sky alone unsure, a line known, read noise and dark current measured: what is left is the sky's
    # tenth, the optics and the sensor. Each end moved alone, logarithms added in squares.
    found = worked_case()
    assert found.hours is not None

    def alone(sky_mag: float, share: float) -> float:
        s2 = SCALE**2
        light = 0.919575 / s2 * 10.0 ** (-0.4 * (sky_mag - 20.5)) * share
        target = 0.0791082 * share
        return 100.0 * (target + light + (0.002 + 1.5**2 / 300.0) / s2) / target**2 / 3600.0

    middle = alone(20.5, 1.0)
    # A mirror's share is 0.70 to 0.90 about 0.80, a sensor's 0.75 to 0.95 about 0.85 of its peak.
    worse = [alone(20.4, 1.0), alone(20.5, 0.70 / 0.80), alone(20.5, 0.75 / 0.85)]
    better = [alone(20.6, 1.0), alone(20.5, 0.90 / 0.80), alone(20.5, 0.95 / 0.85)]
    up, down = (math.sqrt(sum(math.log(one / middle) ** 2 for one in ends)) for ends in (worse, better))
    assert found.hours.high == pytest.approx(middle * math.exp(up), rel=3e-3)
    assert found.hours.low == pytest.approx(middle * math.exp(-down), rel=3e-3)


def test_what_the_hours_are_least_sure_by_are_shares_of_one_the_heaviest_first():
    found = worked_case()
    shares = [share for _, share in found.weighs]
    assert sum(shares) == pytest.approx(1.0)
    assert shares == sorted(shares, reverse=True)
    assert {name for name, _ in found.weighs} == {"sky", "optics", "sensor"}


def test_a_mosaic_of_colours_takes_two_thirds_of_the_light():
    # Common practice, no source: a third is left of a wide band.
    mono, colour = depth(surface_mag=23.0), depth(behind=sensor(colour="colour"), surface_mag=23.0)
    assert colour.sky_e == pytest.approx(0.33 * mono.sky_e)
    assert "depth.mosaic" in assumed(colour)
    assert "depth.mosaic" not in assumed(mono)


def test_without_a_filter_400_to_700_nm_are_counted_and_that_is_said():
    parts = (mirror(), ring(20.0), sensor())
    telescope = telescope_of(case(*parts))
    assert telescope is not None
    found = work_depth(telescope, sky(), faint(), DepthWishes(surface_mag=23.0), FWHM, 90.0)
    assert isinstance(found, Depth)
    assert found.band_nm == (400.0, 700.0)
    assert "depth.no_filter" in assumed(found)


def test_a_filter_of_unknown_band_is_asked_for_it():
    found = depth(v_filter(band_width_nm=None), surface_mag=23.0)
    assert found.band_nm == (400.0, 700.0)
    assert wanted(found) == {"band_width_nm"}
    assert "depth.no_filter" in assumed(found)
    assert wanted(depth(v_filter(band_centre_nm=None, band_width_nm=None), surface_mag=23.0)) == {
        "band_centre_nm",
        "band_width_nm",
    }


def test_a_figure_beyond_the_air_is_refused():
    with pytest.raises(OutOfRangeError):
        depth(surface_mag=23.0, altitude_deg=95.0)


# -- The camera's tables


@pytest.mark.parametrize(
    ("gain", "read_noise", "well"),
    [(None, 1.5, 50_000.0), (0.0, 3.5, 50_000.0), (120.0, 1.5, 50_000.0), (250.0, 1.5, 9_000.0)],
)
def test_the_gain_is_the_nearest_to_the_one_asked_for_else_of_least_noise_and_then_the_deepest(
    gain, read_noise, well
):
    found = depth(surface_mag=23.0, gain=gain)
    assert (found.read_e, found.full_well_e) == (read_noise, well)


def test_without_a_table_no_gain_is_known_and_no_star_saturates():
    found = depth(behind=sensor(gains=()), surface_mag=23.0)
    assert (found.gain, found.full_well_e, found.saturating_mag) == (None, None, None)
    assert gain_row(sensor(gains=()), 100.0) is None


@pytest.mark.parametrize(
    ("temperature", "dark"),
    [
        (None, 0.001),  # the coldest that is known
        (-30.0, 0.001),  # beyond the table its nearest row holds
        (-20.0, 0.001),
        (-15.0, 0.002),  # the middle of a logarithm: the root of 0.001 x 0.004
        (-10.0, 0.004),
        (0.0, 0.016),  # the root of 0.004 x 0.064
        (10.0, 0.064),
        (25.0, 0.064),
    ],
)
def test_dark_current_is_straight_in_its_logarithm_between_two_temperatures(temperature, dark):
    rows = [(10.0, 0.064), (-20.0, 0.001), (-10.0, 0.004)]
    table = tuple(DarkRow(temperature_c=at, dark_e_s=value) for at, value in rows)
    assert dark_at(sensor(dark_current=table), temperature) == pytest.approx(dark)


def test_a_warmer_sensor_takes_longer_and_the_coldest_is_as_usual():
    table = tuple(DarkRow(temperature_c=at, dark_e_s=value) for at, value in [(-10.0, 0.002), (20.0, 0.5)])
    cold, asked, warm, hot = (
        depth(behind=sensor(dark_current=table), surface_mag=23.0, temperature_c=one).hours
        for one in (None, -10.0, 5.0, 20.0)
    )
    assert cold == asked
    assert cold.value < warm.value < hot.value


def test_a_dark_current_of_nothing_has_no_logarithm_and_is_taken_straight():
    table = tuple(DarkRow(temperature_c=at, dark_e_s=value) for at, value in [(-20.0, 0.0), (0.0, 0.02)])
    assert dark_at(sensor(dark_current=table), -5.0) == pytest.approx(0.015)
    assert dark_at(sensor(dark_current=()), -5.0) is None


# -- The Moon


def test_the_moon_brightens_the_sky_as_in_the_worked_case_and_costs_hours_by_it():
    # Krisciunas and Schaefer 1991, k 0.172, zenith 21.587, the Moon 45 up and 60 away, the target 60 up:
    # 21.463 without it, 18.445 at phase angle 0. The Moon is 0.26 magnitudes fainter at 10, 2.60 at 90.
    found = depth(site=sky(21.587), surface_mag=23.0, altitude_deg=60.0, sub_s=300.0)
    assert found.sky_mag == pytest.approx(21.463, abs=0.001)
    dark, full = 10.0 ** (-0.4 * 21.463), 10.0 ** (-0.4 * 18.445)
    half_moon, full_moon = found.moonlit
    for one, fainter in ((half_moon, 2.602), (full_moon, 0.260)):
        lit = dark + (full - dark) * 10.0 ** (-0.4 * fainter)
        assert one.sky_mag == pytest.approx(-2.5 * math.log10(lit), abs=0.005)
    assert (half_moon.lit, full_moon.lit) == (0.5, 1.0)
    brighter = depth(site=sky(21.587), surface_mag=23.0, altitude_deg=60.0, sub_s=300.0)
    s2, target = SCALE**2, brighter.target_e
    assert target is not None
    for one in found.moonlit:
        lit_e = found.sky_e * 10.0 ** (0.4 * (found.sky_mag - one.sky_mag))
        rest = target + (0.002 + 1.5**2 / 300.0) / s2
        assert one.times == pytest.approx((rest + lit_e) / (rest + found.sky_e), rel=1e-3)
