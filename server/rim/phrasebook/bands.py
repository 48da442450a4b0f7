"""Words of narrow bands in a fast beam."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_LOST = "In a beam of {ratio} the band of {filter} moves {shift} to the {blue?blue|red}, and {same?{most}|{least} to {most}} of the line is lost{same?|, by the band's shape}{others?, more than of the other narrow bands}."

WORDS = {
    "bands.unknown": "What this beam leaves of a line is not known yet: enter {missing}.",
    "bands.sound": "{filter} keeps its line in a beam of {ratio}: less than 2 % is lost.",
    "bands.some": _LOST,
    "bands.lost": _LOST,
    "bands.not_so_fast": "Use a filter that is not made for so fast a beam.",
    "bands.use": "Use a filter made for {ratio}, {wide?or a plain one {need} wide or more|{half} wide or more, or a plain one of {need} or more}.",
}
TITLES = {"bands": "Narrow band"}
WORKINGS = {
    "bands": Working(
        "shifts lie evenly between eps^2 E and E, E = lambda / (8 n^2 N^2); share = mean of the band's transmission over them, its peak taken as 1; "
        "a filter made for f/N0 has its centre E(N0) / 2 to the red; band needed = 2 E",
        "Lissberger and Wilcock, J. Opt. Soc. Am. 49, 126 (1959) (from memory): lambda sqrt(1 - sin^2 / n^2); good to 0.05 at f/1.9. On the axis; the line is taken at the band's centre. "
        f"Usual effective index: {COMMON_PRACTICE}",
    )
}
