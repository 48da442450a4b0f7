"""Words of the bench: what was done to a rig, and what was refused."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

_OUT_OF_DATE = "; the page was out of date."
_NO_CELL = "{part} has no cell of its own: put it into a filter wheel or drawer"
_THREAD = "If it has a thread, enter its connections on the Shelf."

WORDS = {
    # A rig's states keep these keys with their facts, for undo: none of them may go or lose a fact.
    "did.rules": "changed the rules",
    "did.seen": "{seen?took the field as frames showed it|took the field as its parts draw it}",
    "did.load": "changed the plan of the load",
    "did.added": "added {part}{turned?, turned round}",
    "did.took_out": "took out {part}",
    "did.moved": "moved {part}{behind? behind {behind}}",
    "did.swapped": "swapped {part} for {new}",
    "did.turned": "turned {part} round",
    "did.set_length": "set {part} to {length}",
    "did.put_filter": "put {part} into the beam",
    "did.left_open": "{ask?asked again for|left open} a figure of {part}",
    "did.took_filter": "took {part} out of {holder}",
    "did.put_stack": "put {count} {count#part|parts} between {sky} and {camera}{guided? and brought the guide camera into focus}",
    "did.added_branch": "added {part} before the guide camera",
    "did.took_out_branch": "took {part} out before the guide camera",
    "did.set_count": "set {part} to {count}",
    "did.took_off": "took off {part}",
    "did.brought_back": "brought back entry {number}",
    # The train
    "refused.full": "A train holds at most {count} parts. Take one out first.",
    "refused.not_held": "{part} does not hold that filter.",
    "refused.stack_order": "A stack goes between two parts, the one nearer the sky named first.",
    "refused.stack_long": "A train holds at most {count} parts; this stack would make it longer.",
    "refused.no_place": "{part} has no place there.",
    "refused.stands_no_longer": "{part} no longer stands there" + _OUT_OF_DATE,
    "refused.not_reversible": "{part} is not marked as one that can be turned round.",
    "refused.not_marked": "{part} is not marked as one that can be turned round; change that on the Shelf.",
    "refused.not_in_rig": "That part is no longer in the rig" + _OUT_OF_DATE,
    "refused.gone": "That part is no longer in the train" + _OUT_OF_DATE,
    "refused.not_of_path": "{part} is not a part of the light path: add it under “Beside the train”.",
    "refused.one_only": "The train has {old} already. Swap it for {part}, or take it out first.",
    "refused.no_cell": _NO_CELL + "{thread? of the train. " + _THREAD + "|.}",
    "refused.stands_fixed": "{part} stands {first?first|last} in every train.",
    "refused.over_tube": "{part} goes over the front of the tube, before all of the train: add it beside the train. "
    + _THREAD,
    "refused.swap_not_of_path": "{part} is not a part of the light path.",
    "refused.swap_kind": "{part} can only be swapped for another {kind}.",
    "refused.no_room": "{part} has room for {room} and {old} holds {count} filters. Take some out first.",
    "refused.not_adjustable": "{part} is not adjustable.",
    "refused.outside": "{part} adjusts from {shortest} to {longest}; {length} is outside that.",
    "refused.holds_none": "{part} holds no filters.",
    "refused.no_filter": "{part} is not a filter.",
    "refused.wheel_full": "{part} has {count} positions and all are full. Take a filter out first.",
    # The guide camera's branch
    "refused.not_of_branch": "Only rings, adapters and shims go before a guide camera; {part} is none.",
    "refused.branch_full": "At most {count} parts go before a guide camera. Take one out first.",
    "refused.branch_change": "Take {part} out and add what should stand there instead.",
    # Beside the train
    "refused.in_train": "{part} belongs in the train itself: add it there.",
    "refused.pieces": "A rig carries at most {count} pieces of one part.",
    "refused.stands_on": "The rig stands on {part} already. Take that off first.",
    "refused.one_mount": "A rig stands on one mount.",
    "refused.gear": "A rig carries at most {count} kinds of gear.",
    # Rigs, entries and parts
    "refused.empty_train": "The train is empty: add a part before you save it.",
    "refused.stale_rig": (
        "{rig} was changed elsewhere since this page was made, so nothing was changed now."
        "{last? The last change there: {last}.} Look at the train as it stands, then make your change again."
    ),
    "refused.stale_stored": (
        "“{rig}” was changed elsewhere since this page was made (it showed version {shown}, now it is version {now})."
        "{last? The last change was: {last}.} Nothing was overwritten: look at the rig as it is now, then change it."
    ),
    "refused.stale_part": (
        "{part} was changed elsewhere since this form was opened, so nothing was stored. "
        "Look at the part as it stands, then make your change again."
    ),
    "refused.in_use": (
        "{part} cannot be removed: it stands in {rigs}, or undo can bring it back there, and undo reaches back to a rig's "
        "first day. It goes once each such rig is removed. Or keep it and set its quantities to 0: then it is off your shelf."
    ),
    "refused.not_yours": "{part} was entered by {owner}, who alone can {verb} it. Copy it and work on the copy.",
}
TITLES: dict[str, str] = {}
WORKINGS: dict[str, Working] = {}
