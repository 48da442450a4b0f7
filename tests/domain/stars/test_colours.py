"""The stars of lenses that focus the colours apart.

The size that holds 80 % of an achromat's light is worked out in `tests/references/colour.py`.
"""

from __future__ import annotations

import pytest

from server.domain.parts.optical import SpotRow
from server.domain.stars.wishes import StarWishes
from server.flow.draw_stars import draw_stars
from server.rim.phrasebook.tell import plain
from tests.domain.rigs import camera, glass, holding, rig, ring, tube, wheel
from tests.references import colour as reference

SENSOR = {"width_px": 6200, "height_px": 4140, "pixel_um": 3.8}


def doublet(**given):
    return tube(**({"design": "achromat", "aperture_mm": 80.0, "focal_length_mm": 480.0} | given))


def of(*parts):
    """The stars of a train."""
    view = draw_stars(rig(*parts), StarWishes())
    assert view.field is not None, (view.lacking, view.trouble)
    return view


def test_an_achromats_star_is_drawn_with_its_colours_apart_and_says_of_which_glasses():
    view = of(doublet(), ring(10.0), camera(**SENSOR))
    # Within the choice of the focus, here where half of the colours focus before it.
    assert view.field.centre.alone_numbers.d80_um == pytest.approx(reference.D80_UM, rel=0.04)
    assert any("usual crown and flint" in one for one in map(plain, view.telescope.assumed))
    assert not any("free of coma and of colour" in one for one in map(plain, view.telescope.assumed))


def test_an_achromat_in_a_narrow_band_and_an_apochromat_are_sharp_and_the_latter_says_what_is_left_out():
    narrow = holding(wheel(20.0), glass(2.0, band_centre_nm=656.28, band_width_nm=7.0))
    view = of(doublet(), narrow, camera(**SENSOR))
    assert view.field.centre.alone_numbers.strehl > 0.9
    view = of(doublet(design="apochromat"), ring(10.0), camera(**SENSOR))
    assert view.field.centre.alone_numbers.strehl > 0.99
    assert any("not known and not drawn" in one for one in map(plain, view.telescope.assumed))


def test_of_lenses_with_their_makers_spots_nothing_is_taken_by_their_kind():
    for design, words in (("apochromat", "taken as a doublet"), ("astrograph", "nobody has a formula")):
        for spots in ((), (SpotRow(height_mm=0.0, spot_um=3.0), SpotRow(height_mm=10.0, spot_um=9.0))):
            view = of(tube(design=design, spot_sizes=spots), ring(10.0), camera(**SENSOR))
            assert any(words in one for one in map(plain, view.telescope.assumed)) is not bool(spots)
