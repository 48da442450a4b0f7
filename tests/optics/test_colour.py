"""Glasses by their codes, doublets by the reference's shifts."""

import pytest

from server.optics import colour
from server.optics.colour import LINE_C, LINE_D, LINE_F, blur_um, focus_shift, focus_span
from tests.references import colour as reference


@pytest.mark.parametrize("name", reference.CODES)
def test_a_glass_has_the_index_and_the_dispersion_of_its_code(name):
    glass = getattr(colour, name)
    index, abbe = reference.CODES[name]
    assert glass.index(LINE_D) == pytest.approx(index, abs=6e-4)
    assert glass.dispersion == pytest.approx(abbe, abs=0.06)


@pytest.mark.parametrize(("pair", "red", "c_from_e", "g_from_e"), reference.SHIFTS)
def test_the_colours_focus_as_far_apart_as_the_references(pair, red, c_from_e, g_from_e):
    at = {
        line: focus_shift(pair, line) for line in (LINE_C, LINE_D, reference.LINE_E, LINE_F, reference.LINE_G)
    }
    assert at[LINE_C] == pytest.approx(at[LINE_F], abs=1e-7)
    for first, second, number in (
        (LINE_C, LINE_D, red),
        (LINE_C, reference.LINE_E, c_from_e),
        (reference.LINE_G, reference.LINE_E, g_from_e),
    ):
        assert 1.0 / (at[first] - at[second]) == pytest.approx(number, rel=reference.SHIFT_TOLERANCE)


def test_the_discs_of_red_and_violet_are_the_references():
    for line, disc in ((LINE_C, reference.BLUR_C_UM), (reference.LINE_G, reference.BLUR_G_UM)):
        apart = 480.0 * (focus_shift("crown_flint", line) - focus_shift("crown_flint", reference.LINE_E))
        # With the focus on e itself the disc is twice that of a focus midway.
        assert 2.0 * blur_um(apart, 6.0) == pytest.approx(disc, rel=reference.SHIFT_TOLERANCE)


def test_the_span_of_a_band_about_the_green_is_that_to_its_further_end():
    span = focus_span("crown_flint", reference.LINE_G, LINE_C)
    assert 1.0 / span == pytest.approx(437.0, rel=0.02)


def test_in_seven_nanometres_about_h_alpha_a_doublet_is_free_of_colour():
    low, high = reference.BLUR_H_ALPHA_UM
    assert low <= blur_um(480.0 * focus_span("crown_flint", 652.8, 659.8), 6.0) <= high


def test_light_that_no_formula_holds_for_is_refused():
    with pytest.raises(ValueError, match="wavelength is 200 nm"):
        focus_shift("crown_flint", 200.0)
