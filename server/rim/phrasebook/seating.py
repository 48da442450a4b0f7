"""Words of the threads of each screwed joint."""

from __future__ import annotations

from server.rim.phrasebook.working import COMMON_PRACTICE, Working

_THREAD = "The thread of {male} in {female} "

WORDS = {
    "seating.unknown": "{good#One joint is|{good} joints are} known to close.",
    "seating.sound": "{good#The one screwed joint closes|{good} screwed joints close} at the shoulder with three turns or more in mesh.",
    "seating.bottoms": _THREAD
    + "bottoms before its shoulder seats: the shoulders stay {gap} apart, the train is that much longer than it adds up to, and it stands on a thread's end instead of a faced shoulder.",
    "seating.shim": "Put shims of {gap} in this joint and take as much out elsewhere, or have the male thread shortened by {gap}.",
    "seating.touches": _THREAD
    + "reaches {filter} before its shoulder seats: screwed home it would press {over} into it. Do not force it: a filter can crack.",
    "seating.keep_off": "Put a ring or shims of {over} or more between them and take as much out elsewhere, or use a part whose thread is {most} long at most.",
    "seating.turns": _THREAD + "holds by {turns} turns{at_most? at most}; three or more hold it stiff.",
    "seating.lock": "Lock it with a ring or a drop of tape, or use a longer thread.",
    "seating.bore": "{part} is said to pass {clear}, and its {thread} male thread leaves less than {root} open: measure its bore.",
}
TITLES = {"seating": "Threads"}
WORKINGS = {
    "seating": Working(
        "gap = male thread - shims - depth to what stops it; turns = thread in mesh / pitch; bore left open < root d3 = d - 1.2269 pitch",
        "Arithmetic along the axis; root of a male thread by the ISO 68-1 profile (from memory; it reproduces printed ISO 724 tables). "
        f"Three turns to be stiff: {COMMON_PRACTICE} A female thread of a stated depth is taken to end at a step there.",
    )
}
