"""Words of what a tripod or pier carries."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "stand.saddle": "what is on the saddle",
    "stand.bar": "what is on the bar",
    "stand.over": "{stand} is rated for {rated} and would carry {missing?at least }{load}, {over} too much.",
    "stand.take_off": "Take at least {off} off, or choose a stand that is rated for {wanted} or more.",
    "stand.unknown": "{stand} carries at least {load} of the {rated} it is rated for.",
    "stand.sound": "{stand} carries {load} of the {rated} it is rated for, counterweights included.",
    "stand.not_counted": "Not counted, not known yet: {missing}.",
}
TITLES = {"stand": "Stand"}
WORKINGS = {
    "stand": Working(
        "load = mount + all that is on the saddle + all that is on the bar",
        "Sum of masses, against the stand's own rating.",
    )
}
