"""Which checks wait for a field of a part: what the form leads with, and what a part's page misses."""

from __future__ import annotations

from collections.abc import Sequence

from server.domain.checks.reads import Readers, fields_asked, readers_of
from server.domain.parts import Part
from server.rim.phrasebook.tell import title_of

NAMES = ("maker", "model", "owned", "wished", "considered", "mass_kg")
LATER = frozenset(("power", "stars", "load"))
"""Who asks where somebody plans a night or looks at stars: the form does not lead with that."""
TITLES = {"stars": "Stars", "load": "Load"}
"""What those who are no checks are called."""
MOST_NAMED = 3


def leading(kind: str, design: str | None = None) -> frozenset[str]:
    """The fields that the form of a kind leads with: names, mass, and what a check asks for."""
    asked = {name: one.asked_of(design) for name, one in readers_of(kind).items()}
    first = {name for name, who in asked.items() if not LATER.issuperset(who)}
    if first <= {*NAMES}:
        # Of a battery only the night's power asks anything.
        first = {name for name, who in asked.items() if who}
    return frozenset((*NAMES, *first))


def waiting_for(kind: str, name: str) -> str:
    """Who asks for a field, or where nobody does, who reads it: "Focus, Circle and 4 more"; "" for nobody."""
    readers = readers_of(kind).get(name, Readers())
    return titled(nearest(readers.asked) or readers.read)


def missed_of(part: Part) -> dict[str, str]:
    """The empty fields of a part that somebody asks for, each with who."""
    said, design = _said_otherwise(part), getattr(part, "design", None)
    return {
        name: titled(nearest(asked))
        for name, one in readers_of(part.kind).items()
        if (asked := one.asked_of(design)) and name not in said and getattr(part, name) in (None, ())
    }


def nearest(names: Sequence[str]) -> tuple[str, ...]:
    """Those first that ask for least else: it is theirs more than others'."""
    return tuple(sorted(names, key=fields_asked))


def titled(names: Sequence[str]) -> str:
    """The titles of checks, three at most, and how many more."""
    titles = list(dict.fromkeys(TITLES.get(name) or title_of(name) for name in names))
    if len(titles) > MOST_NAMED:
        titles[MOST_NAMED:] = [f"{len(titles) - MOST_NAMED} more"]
    return " and ".join(filter(None, (", ".join(titles[:-1]), *titles[-1:])))


def _said_otherwise(part: Part) -> set[str]:
    """Fields that nobody waits for, since another says the same or that there is nothing to say."""
    answers = {
        "back_focus_mm": bool(getattr(part, "back_focus_table", ())),
        "window_thickness_mm": getattr(part, "flange_quoted", None) == "optical",
        "obstruction_mm": getattr(part, "obstruction_share", None) is not None,
        "spider_thickness_mm": not getattr(part, "spider_vanes", None),
    }
    return {name for name, answered in answers.items() if answered}
