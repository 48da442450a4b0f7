"""What an off-axis guider finds to guide on, worked by hand.

Sources: w h / f^2; Poisson 1 - exp(-N A) with star counts that tests/sky/test_guide_stars.py checks against
the Gaia catalogue. 206 264.806 arcsec to the radian.
"""

from __future__ import annotations

from math import exp, log

import pytest

from server.domain.parts import GuideScope
from server.domain.parts.cameras import GainRow
from server.domain.rig import Rules
from server.sky.guide_stars import stars_per_square_degree
from tests.domain.rigs import (
    camera,
    corrector,
    finding,
    findings,
    guide_camera,
    guider,
    input_named,
    number,
    ring,
    tube,
)


def branch(*behind, watching=None, rules=None, side=None, of_tube=None):
    """A guider behind the corrector, with its camera."""
    gear = [guide_camera() if watching is None else watching]
    return findings(
        "guider",
        tube(**(of_tube or {})),
        corrector(),
        side or guider(),
        *behind,
        camera(),
        gear=gear,
        rules=rules,
    )


def test_the_field_and_the_scale_are_those_of_the_whole_telescope():
    # 4.8 / 800 rad = 20.63 arcmin; 4 um / 800 mm = 1.0313 arcsec per pixel; the main pixels are 4 um as well.
    stars = branch(ring(17.0))[0]
    assert number(stars, "width") == pytest.approx(20.6265, abs=1e-3)
    assert number(stars, "scale") == pytest.approx(1.0313, abs=1e-3)
    assert number(stars, "ratio") == pytest.approx(1.0)


@pytest.mark.parametrize("latitude", [0.0, 45.0, 80.0])
def test_the_chance_is_poissons_for_the_faintest_star_and_the_latitude(latitude):
    stars = branch(ring(17.0), rules=Rules(galactic_latitude_deg=latitude))[0]
    faintest = min(16.0, number(stars, "faintest"))
    # 4.8 x 3.6 mm at 800 mm: 0.08864 square degrees.
    expected = 0.08864 * stars_per_square_degree(faintest, latitude)
    assert number(stars, "chance") == pytest.approx(1 - exp(-expected), abs=1e-3)


def test_stars_are_fewer_away_from_the_milky_way():
    rules = [Rules(galactic_latitude_deg=b) for b in (2.0, 45.0, 80.0)]
    chances = [input_named(branch(ring(17.0), rules=r)[0], "stars to be expected") for r in rules]
    assert chances[0] > chances[1] > chances[2]


@pytest.mark.parametrize(
    ("unknown", "word"),
    [
        ({"watching": guide_camera(width_px=None)}, "sensor pixels and pixel size of Quill Watch"),
        ({"of_tube": {"focal_length_mm": None}}, "the focal length of Halden Tube"),
        ({"of_tube": {"aperture_mm": None}}, "the aperture of Halden Tube"),
    ],
)
def test_what_the_guide_stars_hang_on_is_asked_for(unknown, word):
    (stars,) = branch(ring(17.0), **unknown)
    assert (stars.code, stars.weight, stars.missing) == ("guider.stars_unknown", "unknown", (word,))


@pytest.mark.parametrize(("pixel", "code"), [(31.9, "guider.stars"), (32.1, "guider.coarse")])
def test_guide_pixels_of_more_than_eight_main_ones_are_coarse(pixel, code):
    # Both cameras look through the same glass: the ratio is that of the pixels, and the main ones are 4 um.
    (stars,) = branch(ring(17.0), watching=guide_camera(pixel_um=pixel))
    assert (stars.code, stars.weight) == (code, "sound" if code == "guider.stars" else "watch")
    assert number(stars, "ratio") == pytest.approx(pixel / 4.0)


def test_a_small_field_at_a_long_focal_length_is_a_watch():
    long = {"focal_length_mm": 3000.0, "aperture_mm": 150.0}
    noisy = guide_camera(
        width_px=300, height_px=200, gains=(GainRow(gain=0, read_noise_e=12, full_well_e=1, conversion_e=1),)
    )
    stars = branch(ring(17.0), watching=noisy, of_tube=long)[0]
    assert (stars.code, stars.weight) == ("guider.few_stars", "watch")
    assert stars.figure is not None
    assert stars.figure.uncertainty


@pytest.mark.parametrize(
    ("chance", "code", "word"),
    [
        (0.92, "guider.stars", ""),
        (0.88, "guider.few_stars", "Expect to turn the guider"),
        (0.52, "guider.few_stars", "Expect to turn the guider"),
        (0.48, "guider.few_stars", "Expect to search"),
    ],
)
def test_a_guider_is_to_be_turned_below_nine_tenths_and_searched_with_below_a_half(chance, code, word):
    # Poisson: a chance p takes -ln(1 - p) stars, and these go as the sensor's width. On 1200 by 9 pixels at
    # 800 mm: 0.0008864 square degrees.
    pole = Rules(galactic_latitude_deg=80.0)
    faintest = number(branch(ring(17.0), rules=pole)[0], "faintest")
    strip = 0.0008864 * stars_per_square_degree(min(16.0, faintest), 80.0)
    watching = guide_camera(height_px=9, width_px=round(-1200 * log(1 - chance) / strip))
    (stars,) = branch(ring(17.0), watching=watching, rules=pole)
    assert number(stars, "chance") == pytest.approx(chance, abs=0.01)
    assert stars.code == code
    assert word in stars.phrase.template
    assert ("Expect" in stars.phrase.template) == bool(word)


def test_a_noisier_camera_sees_less_faint_stars():
    def faintest(noise):
        rows = (GainRow(gain=0, read_noise_e=noise, full_well_e=20000, conversion_e=1),)
        return number(branch(ring(17.0), watching=guide_camera(gains=rows))[0], "faintest")

    assert faintest(1.0) > faintest(10.0)


def test_a_prism_before_the_corrector_is_said_in_a_sentence_and_the_rest_still_judged():
    found = findings("guider", tube(), guider(), corrector(), ring(37.5), camera(), gear=[guide_camera()])
    assert [(f.code, f.weight) for f in found] == [("guider.before", "watch")]
    assert "Put Brask Side behind Halden Flat." in found[0].remedies[0].phrase.template
    assert finding("spacing", tube(), guider(), corrector(), ring(37.5), camera()).code == "spacing.sound"
    assert findings("beam", tube(), guider(), corrector(), ring(37.5), camera())[0].code.startswith("beam.")


def test_without_a_guider_nothing_is_said():
    assert findings("guider", tube(), camera(), gear=[guide_camera()]) == []


def test_a_guide_star_that_a_narrow_ring_before_the_guider_cuts_is_dim_and_the_ring_is_named():
    # The prism's middle stands 26 mm off the axis or more; a ring of 36 mm ahead leaves that place dark.
    rings = ring(10.0, clear_aperture_mm=36.0, model="Narrow")
    found = findings(
        "guider", tube(), corrector(), rings, guider(), ring(7.0), camera(), gear=[guide_camera()]
    )
    (dim,) = found
    assert (dim.code, dim.weight) == ("guider.dim", "watch")
    assert "Brask Narrow takes the rest" in dim.phrase.template
    assert "wider in place of Brask Narrow" in dim.remedies[0].phrase.template


@pytest.mark.parametrize(
    ("principal", "words"), [(None, "{dark} to {light} of its light"), (0.0, "{light} of its")]
)
def test_where_the_reducers_glass_is_not_known_a_guide_star_gets_the_least_to_the_most_light(
    principal, words
):
    wide = {"clear_aperture_mm": 90.0}
    reducer = corrector(corrector_type="reducer", factor=0.75, length_mm=60.0, principal_mm=principal, **wide)
    parts = (tube(), reducer, ring(10.0, clear_aperture_mm=44.0), guider(**wide), ring(7.0, **wide), camera())
    (dim,) = findings("guider", *parts, gear=[guide_camera()])
    assert f"A star there gets {words}" in dim.phrase.template
    # Where all is known one figure is told; else the least and the most differ.
    assert (number(dim, "dark") < number(dim, "light") - 0.01) == (principal is None)


def test_a_guide_star_in_full_light_is_not_told_of_it():
    wide = {"clear_aperture_mm": 90.0}
    parts = (tube(), corrector(**wide), guider(**wide), ring(17.0, **wide), camera())
    (found,) = findings("guider", *parts, gear=[guide_camera()])
    assert "of its light" not in found.phrase.template
    assert input_named(found, "light that the train lets through") == 1.0


def test_a_camera_behind_a_guide_scope_is_not_judged_at_the_guiders_prism():
    gear = [guide_camera(), GuideScope(maker="Halden", model="Finder")]
    assert findings("guider", tube(), corrector(), guider(), ring(17.0), camera(), gear=gear) == []
