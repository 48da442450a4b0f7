"""Words of the joints of a train, its shims and its ends."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_GEOMETRY = f"Plain geometry: {COMMON_PRACTICE}"

WORDS = {
    "joints.mate": "{joints#The one joint mates|All {joints} joints mate}.",
    "joints.between": "Between {upper} and {lower}: {what}",
    "joints.pair": "{upper} to {lower}",
    "joints.push_fit": "Push-fit joints: {pairs}. Each holds by a screw or collet and need not sit square; for imaging prefer threads.",
    "joints.turn": "Turn {part} round: then both of its joints hold.",
    "joints.joiner": "{part} on your shelf joins them.",
    "joints.swap": "{part} on your shelf joins them in place of {old}.",
    "joints.wanted": "No single adapter on your shelf joins them; one that does has {sky} towards the sky and {camera} towards the camera.",
    "joints.unknown": "{joints#One joint is|{joints} joints are} not known yet: enter {missing}.",
    "joints.shim_unknown": "Whether {shim} fits its joint is not known yet: enter {missing}.",
    "joints.shim": "{shim} does not fit this joint: its ring must pass the {thread} thread and lie on the shoulder around it.",
    "joints.shim_thread": "with {shims} in the joint only {turns} turns of thread engage; three or more hold it stiff.",
    "joints.ends": "The train has no {which=both:optical tube and no camera yet: add an optical tube and a camera|tube:optical tube yet: add an optical tube|camera:camera yet: add a camera}.",
}
TITLES = {
    "joints": "Joint",
    "joints.mate": "Joints",
    "joints.unknown": "Joints",
    "joints.shim": "Shim",
    "joints.shim_unknown": "Shim",
    "joints.shim_thread": "Shim",
    "joints.ends": "Train",
}
WORKINGS = {
    "joints": Working(
        "Threads mate where diameter and pitch are equal and one is male, the other female.",
        "Thread sizes as ISO 68-1 and ASME B1.1 designate them; that push-fits are not square: common practice, no source.",
    ),
    "joints.shim": Working("inner diameter >= thread diameter < outer diameter", _GEOMETRY),
    "joints.shim_thread": Working(
        "turns = (male thread - shims) / pitch, no more than the female thread is deep",
        f"Plain geometry. Three turns to be stiff: {COMMON_PRACTICE}",
    ),
}
