"""Words of the spacing behind a corrector."""

from __future__ import annotations

from server.rim.phrasebook import glass
from server.rim.phrasebook.working import Working

_THEN = "then the sensor sits {there?in its place|{left} too {far?far|close}}."

WORDS = {
    "spacing.beyond_table": "Its table does not reach this tube, and nothing is guessed beyond it.",
    "spacing.so_far": "{corrector} asks for {asked}; the lengths known so far come to {known}.",
    "spacing.free": "{corrector} may stand at any distance: {actual} from the sensor it works by {factor}{same?|, at {asked} by the stated {stated}}.",
    "spacing.free_no_factor": "{corrector} may stand at any distance. Not known yet: enter its factor.",
    "spacing.free_as_stated": "{corrector} may stand at any distance; its factor is taken as the stated {stated}, since nobody says at which distance it holds.",
    "spacing.free_no_length": "{corrector} may stand at any distance, which sets its factor. Not known yet: enter {missing}.",
    "spacing.no_image": "{corrector} forms no image so far from the sensor: bring it nearer than {actual}.",
    "spacing.there": "The sensor sits where {corrector} asks for it: {actual} behind it, of {asked}.",
    "spacing.inside": "The sensor sits where {corrector} asks for it: {error} too {far?far|close}, of the {window} allowed ({actual}, of {asked}).",
    "spacing.off": "The sensor sits {error} too {far?far|close} behind {corrector}: at {actual}, where {asked} is asked for.",
    "spacing.focuser": "{focusers} stands behind the corrector: drawn out by {error} it brings the sensor to its place, and every change of focus takes it away again.",
    "spacing.open": "Not in this sum: threads that bottom hold shoulders behind it {open} apart, and the sensor sits that much further out.",
    "spacing.by_lengths": "By its parts' lengths the sensor would sit where {corrector} asks for it. Threads that bottom hold shoulders behind it {open} apart: it sits that much further out.",
    "spacing.close_first": "Let the threads close first: see Threads.",
    "spacing.allowed": "{some?{window} is|No error is} allowed.",
    "spacing.not_wholly": "Not wholly known yet: enter {missing}.",
    "spacing.unsure": "The window's glass may ask for {unsure} more.",
    "spacing.already_long": "The lengths known so far put the sensor behind {corrector} at {known} or more, and {asked} is asked for: {over} too far at least{glass?, whatever glass is still to be entered|}.",
    "spacing.take_out": "Take out {part} ({length}): " + _THEN,
    "spacing.set": "Set {part} to {length}: " + _THEN,
    "spacing.put_in": "Put in {part} ({length}) from your shelf: " + _THEN,
    "spacing.add": "Add {change} between corrector and camera.",
    "spacing.take": "Take {change} out between corrector and camera.",
    "spacing.camera_too_deep": "No ring can mend this: {camera} alone sits too deep. It needs a camera of a shorter flange distance, or a corrector that asks for more.",
}
TITLES = {"spacing": "Spacing"}
WORKINGS = {
    "spacing": Working(
        "error = reference + sum of lengths + flange distance - (back focus + sum of shifts by glass); "
        f"{glass.FORMULA}; worst case = sum of tolerances; likely = root of the sum of their squares",
        f"{glass.SOURCE} Likely error: JCGM 100:2008, 5.1.2.",
    ),
    "spacing.free": Working("m = 1 - d / f, f = d0 / (1 - m0)", "Gaussian optics of a thin lens."),
}
