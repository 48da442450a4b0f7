"""Words of the stars in the sensor's corners, as the bench judges them without drawing them."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

WORDS = {
    "corners.blurred": "The corner's stars are blurred{cause? by {cause}} over {blur} (RMS diameter), {pixels} pixels; the air draws {sky}.",
    "corners.sound": "The corner's stars are blurred over {blur} (RMS diameter), {pixels} pixels: within what the air and the pixels draw.",
    "corners.unknown": "How sharp the stars in the corners are is not known yet: enter {missing}.",
    "corners.more": "There may be more of it: {missing} would tell.",
    "corners.to_back_focus": "Bring the sensor to the corrector's back focus: see Spacing{elsewhere? on the bench}.",
    "corners.coma_corrector": "Put a coma corrector for this focal ratio in.",
    "corners.flattener": "Put a flattener, or a reducer that flattens, behind the tube.",
}
TITLES = {"corners": "Corner stars"}
WORKINGS = {
    "corners": Working(
        "RMS of -2 N dW/d(x, y) over the aperture, W = curvature h^2 rho^2 + astigmatism h^2 + coma h; twice that against the larger of the seeing's width and two pixels",
        "Third-order field of the tube's kind (Schroeder, Astronomical Optics; Welford, Aberrations of Optical Systems, "
        f"from memory), or the maker's spot sizes. Where a blur is seen: a choice of ours. {COMMON_PRACTICE}",
    )
}
