"""The colour of lenses: discs of `tests/references/colour.py`, on rigs.

A doublet's disc is its aperture over the shift number, whatever its ratio: 80 mm / 437 = 183 um for the
violet of 435.83 nm with the focus in the green, half of it with the focus midway.
"""

import pytest

from server.domain.rig import Rules
from tests.domain.rigs import camera, corrector, finding, findings, glass, holding, number, ring, tube, wheel
from tests.references import colour as reference


def band(low, high):
    return glass(2.0, model=f"{low:g}", band_centre_nm=(low + high) / 2.0, band_width_nm=high - low)


def colour(*filters, **of_tube):
    lens = tube(**({"design": "achromat", "aperture_mm": 80.0, "focal_length_mm": 480.0} | of_tube))
    inside = (ring(17.5), holding(wheel(20.0), *filters)) if filters else (ring(37.5),)
    return finding("colour", lens, corrector(), *inside, camera())


def test_an_achromat_without_a_filter_is_a_watch_with_its_glasses_shown_as_assumed():
    found = colour()
    assert (found.weight, found.code) == ("watch", "colour.halo")
    assert number(found, "blur") > reference.BLUR_G_UM / 2.0
    assert next(i for i in found.inputs if i.label == "glasses").basis == "assumed"
    assert "narrow bands and refocus" in found.remedies[0].phrase.template


def test_from_the_violet_line_to_the_red_one_the_blur_is_half_the_references_disc():
    # The nearest focus is not at 546 nm itself but near it: a per cent more.
    found = colour(band(435.83, 656.27))
    assert number(found, "blur") == pytest.approx(reference.BLUR_G_UM / 2.0, rel=0.02)
    assert number(found, "pixels") == pytest.approx(reference.BLUR_G_UM / 8.0, rel=0.02)


def test_in_a_narrow_band_an_achromat_is_free_of_colour():
    found = colour(band(652.8, 659.8))
    assert (found.weight, found.code) == ("sound", "colour.sound")
    low, high = reference.BLUR_H_ALPHA_UM
    assert low <= number(found, "blur") <= high


def test_better_glasses_draw_a_smaller_halo():
    usual, better = colour(), colour(glass_pair="fluor_crown_short_flint")
    assert number(better, "blur") == pytest.approx(number(usual, "blur") * 437.0 / 1342.0, rel=0.1)


def test_an_apochromat_is_not_known_without_a_figure_and_judged_by_it():
    unknown = colour(design="apochromat")
    assert (unknown.weight, unknown.code) == ("unknown", "colour.unknown")
    assert unknown.missing == ("the focus shift over the visible of Halden Tube",)
    # 0.06 mm over 2 x 6: 5 um.
    known = colour(design="apochromat", colour_shift_mm=0.06)
    assert known.weight == "sound"
    assert number(known, "blur") == pytest.approx(5.0)


@pytest.mark.parametrize(("pixel", "words"), [(2.4, "less than the air"), (2.6, "does not show")])
def test_a_blur_of_more_than_two_pixels_within_the_airs_is_told_as_such(pixel, words):
    # 5 um as above; 3 arcsec at 480 mm are 6.98 um.
    lens = tube(design="apochromat", aperture_mm=80.0, focal_length_mm=480.0, colour_shift_mm=0.06)
    air = Rules(seeing_arcsec=3.0)
    found = finding("colour", lens, corrector(), ring(37.5), camera(pixel_um=pixel), rules=air)
    assert found.code == "colour.sound"
    assert words in found.phrase.template


@pytest.mark.parametrize(("pixel", "cut"), [(2.5, None), (2.9, 520.0), (5.9, 505.0)])
def test_the_violet_is_told_to_be_cut_no_further_than_it_must_be_and_never_into_the_green(pixel, cut):
    def through(low):
        lens = tube(design="achromat", aperture_mm=80.0, focal_length_mm=480.0)
        held = holding(wheel(20.0), band(low, 600.0))
        parts = (lens, corrector(), ring(17.5), held, camera(pixel_um=pixel))
        return finding("colour", *parts, rules=Rules(seeing_arcsec=0.3))

    plain = through(400.0)
    assert plain.code == "colour.halo"
    if cut is None:
        assert "Cut what" not in plain.remedies[0].phrase.template
        assert through(520.0).code == "colour.halo"
        return
    # What the cut leaves is sound, and 5 nm more of it are not.
    assert plain.remedies[0].phrase.amounts["cut"].value == cut
    assert through(cut).code == "colour.sound"
    assert through(cut - 5.0).code == "colour.halo"


def test_an_apochromat_in_a_narrow_band_is_sound_without_a_figure_since_even_a_plain_doublet_would_be():
    found = colour(band(652.8, 659.8), design="apochromat")
    assert found.code == "colour.sound"
    assert "at most {blur}" in found.phrase.template


def test_a_reducer_draws_the_colours_as_far_apart_as_the_faster_beam_does():
    reducer = corrector(corrector_type="reducer", factor=0.8)
    lens = tube(design="achromat", aperture_mm=80.0, focal_length_mm=480.0)
    found = finding("colour", lens, reducer, ring(37.5), camera())
    assert number(found, "blur") == pytest.approx(0.8 * number(colour(), "blur"), rel=1e-3)


def test_a_mirror_has_no_colour():
    assert findings("colour", tube(design="newtonian"), corrector(), ring(37.5), camera()) == []
