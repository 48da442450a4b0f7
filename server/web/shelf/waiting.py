"""Which checks wait for a field of a part: what the form leads with, and what a part's page misses."""

from __future__ import annotations

from collections.abc import Sequence

from server.domain.checks.reads import Readers, readers_of
from server.domain.parts import Part
from server.rim.phrasebook.forms import listed
from server.rim.phrasebook.tell import title_of

NAMES = ("maker", "model", "owned", "wished", "considered", "mass_kg")
LATER = frozenset(("power", "stars", "load"))
"""Who asks where somebody plans a night or looks at stars: the form does not lead with that."""
TITLES = {"stars": "Stars", "load": "Load"}
"""What those who are no checks are called."""
OTHER_WAYS = {"back_focus_mm": "back_focus_table", "obstruction_mm": "obstruction_share"}
"""Fields that another one answers for: it is asked for where the first is."""
MOST_NAMED = 3


def leading(kind: str, design: str | None = None) -> frozenset[str]:
    """The fields that the form of a kind leads with: names, mass, and what a check asks for."""
    asked = {name: one.asked_of(design) for name, one in readers_of(kind).items()}
    first = {name for name, who in asked.items() if not LATER.issuperset(who)}
    if first <= {*NAMES}:
        # Of a battery only the night's power asks anything.
        first = {name for name, who in asked.items() if who}
    return frozenset((*NAMES, *first, *(OTHER_WAYS[name] for name in first & OTHER_WAYS.keys())))


def waiting_for(kind: str, name: str) -> str:
    """Who asks for a field, or where nobody does, who reads it: "Focus, Circle and 4 more"; "" for nobody."""
    readers = readers_of(kind).get(name, Readers())
    return titled(readers.asked or readers.read)


def missed_of(part: Part) -> dict[str, str]:
    """The empty fields of a part that somebody asks for, each with who."""
    said, design = _said_otherwise(part), getattr(part, "design", None)
    return {
        name: titled(asked)
        for name, one in readers_of(part.kind).items()
        if (asked := one.asked_of(design)) and name not in said and getattr(part, name) in (None, ())
    }


def titled(names: Sequence[str]) -> str:
    """The titles of checks, three at most in the registry's order, and how many more."""
    titles = list(dict.fromkeys(TITLES.get(name) or title_of(name) for name in names))
    if len(titles) > MOST_NAMED:
        titles[MOST_NAMED:] = [f"{len(titles) - MOST_NAMED} more"]
    return listed(titles)


def _said_otherwise(part: Part) -> set[str]:
    """Fields that nobody waits for, since another says the same or that there is nothing to say."""
    answers = {name: getattr(part, other, None) not in (None, ()) for name, other in OTHER_WAYS.items()} | {
        "window_thickness_mm": getattr(part, "flange_quoted", None) == "optical",
        "spider_thickness_mm": not getattr(part, "spider_vanes", None),
    }
    return {name for name, answered in answers.items() if answered}
