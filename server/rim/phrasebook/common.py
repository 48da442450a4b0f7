"""Clauses that all checks share."""

from __future__ import annotations

from server.rim.phrasebook.working import Working

WORDS = {
    "enter": "Not known yet: enter {missing}.",
    "act.add": "Put {part} in",
    "act.remove": "Take out {part}",
    "act.set_length": "Set {part}",
    "input.not_known": "not known",
}
TITLES: dict[str, str] = {}
WORKINGS = {"none": Working()}
