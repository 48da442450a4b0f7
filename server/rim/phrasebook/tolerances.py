"""Words of what the parts' tolerances do, and of a sensor that is not square."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_JOINTS = (
    "{joints#One joint a little out of square tilts|{joints} joints a little out of square tilt} the sensor"
)
_TILT = Working(
    "likely tilt = joint x sqrt(joints); difference across the sensor = diagonal x tan(tilt); depth of focus = 2 lambda N^2 to either side",
    "JCGM 100:2008, 5.1.2 (from memory), each joint leaning its own way; trigonometry; quarter-wave depth of focus: "
    f"Born & Wolf, Principles of Optics, sec. 8.8 (from memory). How square a joint is: {COMMON_PRACTICE}",
)

WORDS = {
    "tolerances.chance": "Built from parts within their tolerances ({worst} at worst, {likely} likely), the train falls inside the window of {corrector} with a chance of {chance}.",
    "tolerances.most": "{part} brings most of the spread, {share}.",
    "tolerances.exact": "No tolerance is entered for {parts}: taken as exact.",
    "tolerances.keep_shims": "Keep shims of {shims} at hand: with some of them the train is sure to fit.",
    "tolerances.shorter_first": "Shims only lengthen: take a shorter part first, then shim the finished train.",
    "tolerances.measure": "Measure {part}: it brings {share} of the spread.",
    "tolerances.tilt": _JOINTS + " by {corner} in a corner, likely, within the depth of focus of {depth}.",
    "tolerances.one_way": "All leaning one way it would be {worst}.",
    "tolerances.tilted": _JOINTS
    + ": one corner likely stands {corner} from focus and the opposite one as far the other way, beyond the depth of focus of {depth}.",
    "tolerances.square": "{plate?Square the sensor on a star field with its tilt plate|Put a tilt adjuster into the train, or use fewer joints}.",
}
TITLES = {"tolerances": "Tolerances", "tolerances.tilt": "Tilt", "tolerances.tilted": "Tilt"}
WORKINGS = {
    "tolerances": Working(
        "worst case = sum of tolerances; likely = root of the sum of their squares; chance = share of trains made at random within their tolerances whose error lies inside the window",
        "JCGM 100:2008, 4.3.7 and 5.1.2, and JCGM 101:2008 (from memory): a maker's tolerance as limits with every value alike, a measured one as two standard deviations. "
        "Parts of one batch that all err alike are not looked at.",
    ),
    "tolerances.tilt": _TILT,
    "tolerances.tilted": _TILT,
}
