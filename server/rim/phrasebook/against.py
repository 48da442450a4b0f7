"""Words of two tubes against each other: what an obstruction takes, and what an aperture gives."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "against.shut": (
        "What stands before the aperture of {tube} ({share} of its diameter{usual?, as is usual for its kind: nobody has said}) takes {lost} of its light, "
        "and leaves {disc} of a star's light in its disc, where a clear aperture has {whole}: the rest goes into the rings."
    ),
    "against.light": "{more} gathers {times} the light of {less}, mirrors' and lenses' own losses aside.",
    "against.detail": (
        "Of the contrast of detail as fine as the air's own star, {seeing}, the optics of {more} pass {passed} and those of {less} {other}"
        "{shut?; with nothing before it the larger would pass {unshut}}."
    ),
    "against.star": "Through air and guiding and on its pixels a star is {star} wide in {more}, and {other} in {less}.",
}
TITLES = {"against": "Obstruction against aperture"}
WORKINGS = {
    "against": Working(
        "lost = 1 - clear area / whole area; light = clear area of the one / of the other; "
        "in the disc = (1 - e^2) / 2 x integral of star(x) x dx to the first dark ring of a clear aperture; "
        "contrast = overlap of the aperture with itself, moved by wavelength / detail; "
        "star = half height of air x aperture x guiding x pixel",
        "Areas; star of an annular aperture: Born & Wolf, Principles of Optics, sec. 8.5 and 8.6; contrast: O'Neill, J. Opt. Soc. Am. 46, 285 (1956); "
        "long exposure through the air: Fried, J. Opt. Soc. Am. 56, 1372 (1966) (all from memory).",
    )
}
