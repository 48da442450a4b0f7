"""Clauses that all checks share."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "more": "{count} more",
    "enter": "Not known yet: enter {missing}.",
    "not_counted": "Not counted, not known yet: enter {missing}.",
    "outside": "This could not be worked out. {why}",
    "fault": "This is a fault of Trainwright's in {what}: everything else stands.",
    "work.check": "the check {title}",
    "work.words": "the words of {code}",
    "work.stars": "the stars",
    "work.balance": "this rig's balance",
    "work.rough": "this rig's balance by what is assumed",
    "work.lifts": "this rig's lifts",
    "work.packed": "this rig's cases",
    "work.places": "this rig's places",
    "work.power": "this rig's power",
    "work.light": "the light",
    "work.tolerances": "the tolerances",
    "work.beam": "the beam",
    "act.add": "Put {part} in",
    "act.remove": "Take out {part}",
    "act.set_length": "Set {part}",
    "input.none_entered": "none entered",
    "input.mass_of": "mass of {count}",
    "input.enter": "not known yet: enter {missing}",
    "input.not_known": "not known",
}
TITLES: dict[str, str] = {}
WORKINGS = {
    "none": Working(),
    "outside": Working(source="The range in which the formula of this check holds."),
}

NOT_JUDGED: tuple[str, ...] = (
    "Guiding: the mount's periodic error, and what holds a guide scope still.",
    "How the sensor's squareness is set: tilt plate, range and steps of a tilt adjuster or rotator.",
    "The light quoted at the edge of an image circle.",
    "What the stars' own page alone says: spikes, contrast, a focus motor's steps, collimation.",
    "What a wire may carry for good: that is for its maker and for local codes.",
    "A camera's gain, read noise, full well, dark current and quantum efficiency.",
    "Carrying: a slope, a dark path, stairs; the lifting equation is for the lift alone.",
    "Swing and reach: whether the tube clears the legs, heights of supports, what a motor can turn; the "
    "moments of inertia are shown with the load and held to no limit.",
    "How far a part bends under load, but for the tilt of a drawtube whose sag is entered.",
)
"""What is kept or drawn and enters no verdict: said at the foot of the findings and in About."""
