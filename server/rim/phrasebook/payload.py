"""Words of what the mount carries, and of its arm and moments."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_FORMULA = (
    "load = sum of masses on the saddle; usable = rating x share for imaging; rating wanted = load / share"
)
_SOURCE = f"Sum of masses. The share of a rating that is usable for imaging, half to two thirds for counterweighted equatorial mounts: {COMMON_PRACTICE}"
_LOAD = "The load is {missing?at least }{load}"

WORDS = {
    "payload.has_to_carry": "The mount has to carry {missing?at least }{load}.",
    "payload.no_rating": "Not known yet: {add?add|enter} {missing}.",
    "payload.nor_load": "Nor what it has to carry: enter {missing}.",
    "payload.over_rating": _LOAD + ", more than the {rated} that {mount} is rated for. Do not hang it on.",
    "payload.over_usable": (
        _LOAD
        + "; of the {rated} that {mount} is rated for, {share} or {usable} is usual for imaging. It is {over} over that, at {taken} of the rating"
        "{little? only a little over: calm nights bear it|: expect wind and guiding to cost frames}."
    ),
    "payload.sound": _LOAD + " of the {usable} that is usual for imaging on {mount} ({share} of {rated}).",
    "payload.no_weights": "No counterweight is in the rig: add those that balance it.",
    "payload.nothing_known": "{usable} is usual for imaging on {mount} ({share} of {rated}).",
    "payload.take_off": "{wind?In wind: take|Take} at least {off} off, or choose a mount that is rated for {wanted} or more.",
    "payload.strain_wave": (
        "{rated=without:It is rated without a counterweight: with the load far from the axis it carries less."
        "|with_counterweight:It is rated with a counterweight: without one it carries less."
        "|Strain-wave mounts carry less without a counterweight: enter which way it is rated.}"
    ),
    "payload.own_rings": "Assumed: {tube} comes with its own rings, and {plates} count besides, which is the heavier reading. If those are its rings, clear its mass with rings on the Shelf.",
    "payload.arm": "Its centre lies {arm} from the polar axis.",
    "payload.clamped_off": "Clamped {off_balance} off its balance point, it turns declination with {torque}.",
    "payload.inertia": "Its moment of inertia is about {about}.",
    "payload.inertia_declination": "{inertia_declination} about declination",
    "payload.inertia_polar": "{inertia_polar} about the polar axis at most",
    "payload.no_verdict": "Makers publish no limit for these, so no verdict is given on them.",
}
TITLES = {"payload": "Load"}
WORKINGS = {
    "payload": Working(_FORMULA, _SOURCE),
    "payload.moments": Working(
        f"{_FORMULA}; torque = mass x g x distance off balance; moment of inertia = sum of masses x distance squared",
        f"{_SOURCE} Arm, torque and moments of inertia: statics and the parallel-axis theorem, by hand; no limit for them is published, and none is judged.",
    ),
}
