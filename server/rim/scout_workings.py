"""How each figure of a combination is worked out: its formula, and where that was published."""

from __future__ import annotations

from collections.abc import Mapping

from server.domain.scout.measures import ALTITUDE_DEG, RULES, WISHES
from server.rim.phrasebook.book import WORKINGS
from server.rim.phrasebook.working import COMMON_PRACTICE, Working
from server.rim.scout_needs import MEASURE_WORDS

_USUAL = f"Where its mass or obstruction is not known, what is usual for its kind: {COMMON_PRACTICE}"


def _of(check: str, more: str = "", source: str = "") -> Working:
    """What a check says of the same figure, and what more there is to say here."""
    known = WORKINGS[check]
    return Working(known.formula + more, " ".join(filter(None, (known.source, source))))


WORKED: Mapping[str, Working] = {
    MEASURE_WORDS["cost"]: Working(
        "sum of the prices of tube, corrector, camera and mount; 0 for what is owned or kept",
        "Sum of prices.",
    ),
    MEASURE_WORDS["hours"]: Working(
        "sum over all targets and the panels that take each in: S^2 (t + b + (d + R^2 / sub) / s^2) / t^2, "
        f"S = {WISHES.signal_to_noise:g} for a square arcsecond; t target and b sky in electrons for each "
        "second and square arcsecond, through the clear aperture; d dark current, R read noise, s scale; "
        f"each target {ALTITUDE_DEG:g}° high",
        "The CCD equation: Howell, Handbook of CCD Astronomy, ch. 4 (from memory). Light that optics and "
        f"sensor pass, where nobody has said: {COMMON_PRACTICE}",
    ),
    MEASURE_WORDS["load"]: Working("sum of the masses of tube, corrector and camera", _USUAL),
    MEASURE_WORDS["lift"]: Working(
        "the heavier of the tube as it goes on the saddle and the mount's heaviest piece", _USUAL
    ),
    MEASURE_WORDS["share"]: Working("mass on the mount / its rating", WORKINGS["payload"].source),
    MEASURE_WORDS["corner"]: _of("corners"),
    MEASURE_WORDS["light"]: _of("beam"),
    MEASURE_WORDS["star"]: _of("sampling", f", with the guiding's {RULES.guiding_arcsec:g} arcsec"),
    MEASURE_WORDS["power"]: Working(
        "sum of the watts that camera, mount and what is put in take on average, as the bench counts them",
        WORKINGS["power"].source,
    ),
    "fills": Working(
        "extent of the target's ellipse along each side / that side, the larger of both, at the angle that "
        "fits best; side = 2 atan(sensor / (2 f'))",
        "An ellipse between parallels; rectilinear projection.",
    ),
}
"""By the words over the figure."""
