"""Words of the colour of a lens."""

from __future__ import annotations

from server.domain.parts.optical import GLASS_PAIRS
from server.rim.phrasebook.working import COMMON_PRACTICE, Working

WORDS = {
    "colour.glasses": "{pair=" + "|".join(f"{name}:{words}" for name, words in GLASS_PAIRS) + "}",
    "colour.unknown": "The colour that {tube} leaves is not known yet: enter its focus shift over the visible.",
    "colour.below_air": "From {low} to {high} the colours of {tube} draw a star {at_most?at most }{blur} wide, {pixels} pixels: less than the air.",
    "colour.sound": "From {low} to {high} the colour that {tube} leaves does not show: it blurs a star by {at_most?at most }{blur}, a pixel is {pixel}.",
    "colour.halo": "From {low} to {high} the colours of {tube} draw a star {blur} wide, {pixels} pixels: bright stars get a violet halo.",
    "colour.narrow": "{cut?Cut what is bluer than {cut}, or image in narrow bands and refocus at each|Image in narrow bands and refocus at each}.",
}
TITLES = {"colour": "Colour"}
WORKINGS = {
    "colour": Working(
        "blur = f' / f x (furthest - nearest focus over the band) / (2 N), with the focus midway; of an achromat f (1 / power - 1) over the band, power = sum of its glasses' shares (n - 1) / (n_d - 1)",
        "Thin lenses in contact: Smith, Modern Optical Engineering (from memory); the glasses' Sellmeier coefficients from their maker's catalogue of 2017. "
        f"Crown and flint for an achromat of unknown glasses: {COMMON_PRACTICE}",
    )
}
