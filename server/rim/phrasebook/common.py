"""Clauses that all checks share."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "more": "{count} more",
    "enter": "Not known yet: enter {missing}.",
    "not_counted": "Not counted, not known yet: enter {missing}.",
    "outside": "This could not be worked out. {why}",
    "fault": "{why}",
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
