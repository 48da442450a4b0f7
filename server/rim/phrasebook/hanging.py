"""Words of what hangs on focuser, rotator and tilt adjuster."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

_CARRIER = "{by?The {by} of }{part}"

WORDS = {
    "hanging.over": _CARRIER
    + " is rated for {rated} and would carry {missing?at least }{load}, {over} too much: it may slip or sag, and a camera that slides out can fall. Do not hang it on.",
    "hanging.take_off": "Take at least {off} off {by?the {by} of }{part}, or use a {other} that is rated for more.",
    "hanging.unknown": _CARRIER
    + " {some?carries at least {load} of the {rated} it is rated for|may carry {rated}}.",
    "hanging.sound": _CARRIER + " carries {load} of the {rated} it is rated for.",
}
TITLES = {"hanging": "Load behind"}
WORKINGS = {
    "hanging": Working(
        "load = sum of the masses between the part and the sensor, the camera with it",
        "Sum of masses, against the part's own rating. How far behind it they sit is not judged.",
    )
}
