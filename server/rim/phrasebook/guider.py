"""Words of the star behind an off-axis guider's prism."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

WORDS = {
    "guider.before": "The prism of {guider} stands before {corrector}: the guide camera sees the field without the corrector, comes to focus elsewhere than the main one, and the prism's shadow is not worked out here.",
    "guider.put_behind": "Put {guider} behind {corrector}.",
    "guider.stars_unknown": "What {camera} can guide on is not known yet: enter {missing}.",
    "guider.stars": "{camera} sees {width} by {height} arcminutes at {scale} and stars to about magnitude {faintest}; at {latitude} from the Milky Way the chance of one where it happens to look is {chance}{sure?| ({low} to {high})}.",
    "guider.few_stars": "{turn?Expect to turn the guider for a star|Expect to search for one}.",
    "guider.longer": "Expose longer, plan the angle of the guider for a star before the night, or use a larger guide sensor.",
    "guider.coarse": "Its pixels see {ratio} what the main ones do.{coarse? That is coarse for guiding.}",
    "guider.dim": "A star there gets {same?{light}|{dark} to {light}} of its light: {cuts} takes the rest.",
    "guider.wider": "Put something wider in place of {cuts}, or bring the guider nearer the sensor.",
}
TITLES = {"guider": "Guide stars", "guider.before": "Guider"}
WORKINGS = {
    "guider": Working(
        "field = w h / f^2; signal / noise = S t / sqrt(S t + n ((B + D) t + R^2)), solved for the star; chance = 1 - exp(-stars per square degree x field)",
        "CCD equation: Howell, Handbook of CCD Astronomy, ch. 4 (from memory). Star counts: Tycho-2 (2000) and UCAC4 (2013), spread over galactic latitude as the Gaia catalogue's stars to magnitude 10 are; "
        "good to a quarter to magnitude 10, 40 % to 13, a factor of 1.6 to 16 (2 within 20 degrees of the Milky Way); real fields clump. "
        f"Two seconds, a ratio of 10, sky of 20 magnitudes: {COMMON_PRACTICE}",
    ),
    "guider.before": Working("the guider belongs behind the last corrector", COMMON_PRACTICE),
}
