"""The checks of a rig's load, and its cautions."""

from __future__ import annotations

from server.domain.cautions import CAUTIONS, HEAVY_ALONE_KG, LIFTING, SUN, SafetyNote, cautions_of
from server.domain.guarded import worked_or_none
from server.domain.load.lifts import work_lifts
from server.domain.rig import Rig
from server.domain.said import said
from server.domain.workings.case import Case

LOAD_CHECKS = ("sun", "sag", "hanging", "payload", "stand", "balance", "lifting", "power")
"""The checks whose findings belong on the page of the load, by the first part of their codes."""


def work_cautions(rig: Rig) -> tuple[SafetyNote, ...]:
    """What can hurt whoever puts this rig together, the Sun's first: the same wherever the rig is shown."""
    items = [item for place in (*rig.train, *rig.branch) for item in (place.item, *place.inside)]
    items += [gear.item for gear in rig.gear]
    found = {note for item in items for note in cautions_of(item.part)}
    if rig.load.sun:
        found.add(SUN)
    if _is_heavy(rig):
        found.add(LIFTING)
    return tuple(note for note in CAUTIONS if note in found)


def _is_heavy(rig: Rig) -> bool:
    """Whether any load of the rig is above what is lifted alone, as it is lifted or as one part of it."""
    limit_kg = min(rig.load.lift_limit_kg or HEAVY_ALONE_KG, HEAVY_ALONE_KG)
    lifts = worked_or_none(said("work.lifts"), lambda: work_lifts(Case(rig)))
    # What cannot be worked out is not called light.
    return lifts is None or any(line.mass_kg > limit_kg for line in lifts)
