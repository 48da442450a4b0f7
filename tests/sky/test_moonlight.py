"""Moonlight, against another program's published figure and an older table of the Moon's phases.

Of what the paper itself prints (Krisciunas and Schaefer, PASP 103, 1033 (1991)) only its darkest sky is
compared; its table of measured and predicted skies is not compared, since nobody had it at hand.
"""

from __future__ import annotations

import numpy as np
import pytest

from server.sky.moonlight import moonlight_nanolamberts, moonlit_sky, nanolamberts


def test_the_scattered_light_is_what_another_program_publishes():
    # The documentation of specsim (a spectrograph's simulator, its own code of the same paper): zenith angles
    # of 20 and 70 degrees, 50 apart, phase 0.25 of 180 degrees, extinction 0.15: 19.855.
    light = moonlight_nanolamberts(45.0, 50.0, 20.0, 70.0, 0.15)
    assert float(light) == pytest.approx(float(nanolamberts(19.855)), rel=6e-4)


def test_the_papers_darkest_sky_is_79_nanolambert():
    assert float(nanolamberts(21.587)) == pytest.approx(79.0, abs=0.05)


def test_a_full_moon_takes_three_magnitudes_of_a_dark_sky():
    # Worked apart from the code, from the paper's constants.
    assert float(moonlit_sky(21.463, 0.0, 60.0, 45.0, 60.0)) == pytest.approx(18.445, abs=0.001)


@pytest.mark.parametrize(("phase", "fainter"), [(40.0, 1.06), (90.0, 2.63), (120.0, 3.93)])
def test_away_from_full_its_light_falls_as_the_table_says(phase, fainter):
    # Allen, Astrophysical Quantities, magnitudes below full Moon, as quoted by observers of satellites.
    full, less = moonlight_nanolamberts([0.0, phase], 60.0, 45.0, 60.0)
    assert 2.5 * np.log10(full / less) == pytest.approx(fainter, abs=0.06)


def test_close_to_the_moon_dust_shines_most():
    # By hand: f(5) = 2.291e5 x 2.0524 + 6.2e7 / 25 = 2.950e6; f(60) = 2.291e5 x 1.31 + 10^4.65 = 3.448e5.
    close, far = moonlight_nanolamberts(0.0, [5.0, 60.0], 45.0, 60.0)
    assert close / far == pytest.approx(8.557, rel=0.001)
    assert np.isfinite(moonlight_nanolamberts(0.0, 0.0, 45.0, 45.0))


def test_a_moon_below_the_horizon_leaves_the_sky_as_it_is():
    dark = np.array([[20.0], [21.5]])
    sky = moonlit_sky(dark, 10.0, 60.0, [-0.1, -40.0, 30.0], 60.0)
    assert sky.shape == (2, 3)
    assert np.array_equal(sky[:, :2], np.broadcast_to(dark, (2, 2)))
    assert np.all(sky[:, 2] < dark[:, 0])


def test_a_bright_sky_loses_less_to_the_moon():
    dark, bright = (
        21.5 - moonlit_sky(21.5, 60.0, 60.0, 45.0, 60.0),
        18.0 - moonlit_sky(18.0, 60.0, 60.0, 45.0, 60.0),
    )
    assert dark > 4.0 * bright > 0.0


@pytest.mark.parametrize(
    "given",
    [
        (21.0, 181.0, 60.0, 45.0, 60.0),
        (21.0, 10.0, -1.0, 45.0, 60.0),
        (21.0, 10.0, 60.0, 95.0, 60.0),
        (21.0, 10.0, 60.0, 45.0, [60.0, -5.0]),
        (5.0, 10.0, 60.0, 45.0, 60.0),
        (21.0, 10.0, 60.0, 45.0, 60.0, -0.1),
    ],
)
def test_what_no_moon_has_is_refused_in_words(given):
    with pytest.raises(ValueError, match=r"must be .*\. \w.*\.$"):
        moonlit_sky(*given)
