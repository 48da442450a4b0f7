"""How light lies in a target, against astropy, scipy, geometry and the catalogue's own brightnesses."""

from __future__ import annotations

import importlib.util
import math
import sqlite3
from pathlib import Path
from statistics import median

import numpy as np
import pytest
from astropy.modeling.models import Sersic1D
from scipy.special import gammaincinv

from server.sky.profiles import (
    hubble_stage,
    light_within,
    mean_surface_magnitude,
    reach,
    sersic_b,
    share_within,
    surface_map,
    surface_profile,
)

KINDS = [("G", "E"), ("G", "S0"), ("G", "SBb"), ("G", "Sm"), ("G", ""), ("GCl", ""), ("PN", ""), ("HII", "")]


@pytest.mark.parametrize("index", [0.5, 1.0, 1.7, 4.0, 10.0])
def test_half_of_the_light_lies_within_sersics_radius(index):
    assert sersic_b(index) == pytest.approx(float(gammaincinv(2.0 * index, 0.5)), rel=5e-4)


def test_from_discs_to_ellipticals_the_series_is_good_to_three_in_a_hundred_thousand():
    for index in (1.0, 1.3, 2.3, 4.0):
        assert sersic_b(index) == pytest.approx(float(gammaincinv(2.0 * index, 0.5)), rel=3e-5)


@pytest.mark.parametrize(("hubble", "index", "half"), [("E", 4.0, 0.83), ("Sc", 1.3, 0.43), ("I", 1.0, 0.45)])
def test_a_galaxy_fades_as_astropys_sersic_law(hubble, index, half):
    r = np.array([0.01, 0.1, 0.4, 0.8, 1.3])
    law = Sersic1D(amplitude=1.0, r_eff=half, n=index)
    ratio = surface_profile("G", hubble, r) / law(r)
    assert ratio == pytest.approx(ratio[0], rel=2e-4)


@pytest.mark.parametrize(("kind", "hubble"), KINDS)
def test_the_map_holds_the_light_once_within_the_ellipse(kind, hubble):
    # 600 x 600 points over an ellipse of 12 x 5 arcmin at 33 degrees, summed.
    step = 13.0 / 600.0
    at = (np.arange(600) + 0.5) * step - 6.5
    x, y = at[None, :], at[:, None]
    turn = math.radians(33.0)
    along, across = y * math.cos(turn) - x * math.sin(turn), x * math.cos(turn) + y * math.sin(turn)
    within = (along / 6.0) ** 2 + (across / 2.5) ** 2 <= 1.0
    light = surface_map(kind, hubble, x, y, 12.0, 5.0, 33.0)
    assert float(light[within].sum()) * step**2 == pytest.approx(1.0, abs=0.01)
    assert light_within(kind, hubble) == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize(("kind", "hubble"), KINDS)
def test_light_gathers_outwards_and_ends_where_the_kind_ends(kind, hubble):
    radii = np.array([0.0, 0.2, 0.5, 0.9, 1.0, 1.3, 2.0])
    gathered = np.array([light_within(kind, hubble, float(r)) for r in radii])
    assert np.all(np.diff(gathered) >= -1e-6)
    end = reach(kind)
    assert float(surface_profile(kind, hubble, end + 1e-9)) == 0.0
    assert float(surface_profile(kind, hubble, 0.99 * end)) < 0.06 or kind == "PN"
    assert light_within(kind, hubble, 2.0) == pytest.approx(light_within(kind, hubble, end), abs=1e-5)


@pytest.mark.parametrize(("kind", "hubble", "half"), [("G", "E", 0.83), ("G", "I", 0.45), ("GCl", "", 0.23)])
def test_half_of_the_whole_light_lies_within_the_half_light_radius(kind, hubble, half):
    # By the definition of Sersic's radius; and half of Plummer's light is seen within his.
    assert light_within(kind, hubble, half) * share_within(kind, hubble) == pytest.approx(0.5, abs=1e-3)


def test_a_shell_is_brightest_at_its_hole():
    # A line of sight through the middle crosses 2 x 0.4, one along the hole's edge 2 x 0.8 of the shell.
    middle, rim = surface_profile("PN", "", [0.0, 0.6])
    assert rim / middle == pytest.approx(2.0)
    assert rim == max(surface_profile("PN", "", np.linspace(0.0, 1.0, 101)))


def test_a_nebula_is_even_and_its_edge_soft():
    face = surface_profile("HII", "", np.linspace(0.0, 1.2, 121))
    assert np.all(face[:60] == face[0])
    assert np.all(face[100:] == 0.0)
    assert np.abs(np.diff(face)).max() < 0.1


def test_an_elliptical_is_more_concentrated_than_a_disc():
    cores = [light_within("G", hubble, 0.1) for hubble in ("E", "S0", "Sa", "Sb", "Sc", "Sm")]
    assert cores == sorted(cores, reverse=True)


@pytest.mark.parametrize(
    ("text", "stage"),
    [
        ("E", -5.0),
        ("E?", -5.0),
        ("S0-a", 0.0),
        ("SABbc", 4.0),
        ("SBm", 9.0),
        ("IB", 10.0),
        ("S?", None),
        ("", None),
    ],
)
def test_types_have_their_numbers_with_bars_or_without(text, stage):
    assert hubble_stage(text) == stage


def test_the_angle_goes_from_up_to_the_left():
    upper_left, upper_right = surface_map("G", "Sc", [-1.0, 1.0], [1.0, 1.0], 6.0, 1.5, 45.0)
    assert upper_left > 5.0 * upper_right
    up, right = surface_map("HII", "", [0.0, 2.0], [2.0, 0.0], 6.0, 1.5, 0.0)
    assert up > 0.0 == right


def test_mean_brightness_by_hand():
    # A circle of 10 arcmin is 282 743 square arcsec: 13.628 magnitudes.
    assert float(mean_surface_magnitude(10.0, 10.0, 10.0)) == pytest.approx(23.628, abs=0.001)
    # The Andromeda galaxy, 177.83 x 69.66 arcmin, V 3.44: 22.30.
    assert mean_surface_magnitude([3.44], 177.83, 69.66) == pytest.approx([22.30], abs=0.01)


def test_the_light_within_the_ellipse_is_what_the_catalogues_two_brightnesses_say():
    # OpenNGC's total B magnitude and its mean brightness within the ellipse are two measurements. Their
    # medians agree with the share that the profile leaves inside to a quarter of a magnitude; without it they
    # are up to 0.74 apart.
    spec = importlib.util.find_spec("pyongc")
    assert spec is not None
    assert spec.origin is not None
    base = sqlite3.connect(f"file:{Path(spec.origin).parent / 'ongc.db'}?mode=ro", uri=True)
    for hubble in ("E", "S0", "Sb", "Sc", "I"):
        rows = base.execute(
            "select bmag, majax, minax, sbrightn from objects where type = 'G' and hubble = ? and majax > 1.5"
            " and minax > 0 and bmag > 0 and sbrightn > 0",
            (hubble,),
        ).fetchall()
        b, major, minor, surface = np.array(rows).T
        inside = b - 2.5 * math.log10(share_within("G", hubble))
        assert abs(median(mean_surface_magnitude(inside, major, minor) - surface)) < 0.25, hubble
    base.close()


@pytest.mark.parametrize(
    ("work", "given"),
    [
        (surface_profile, ("G", "E", [0.5, -0.1])),
        (light_within, ("G", "E", 3.0)),
        (mean_surface_magnitude, (10.0, 0.0, 1.0)),
        (mean_surface_magnitude, ([10.0, float("nan")], 1.0, 1.0)),
        (surface_map, ("G", "E", 0.0, 0.0, 1.0, -1.0, 0.0)),
        (sersic_b, (0.1,)),
    ],
)
def test_what_no_target_has_is_refused_in_words(work, given):
    with pytest.raises(ValueError, match=r"must be .*\. \w.*\.$"):
        work(*given)
