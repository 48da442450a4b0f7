"""What a rig is for, which is asked once and where it shows: whether the Sun is its target."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

from server.domain.load_plan import LoadPlan
from server.domain.parts import Filter
from server.domain.rig import Rig
from server.rim.load_specs import PURPOSE_SPECS


@dataclass(frozen=True)
class Purpose:
    """What a rig is for, for its form.

    Attributes:
        sun, solar_filter: as in LoadPlan.
        made_for_sun: names of the rig's parts that are made for the Sun.
        labels: the words of both ticks by their names; help what the first of them does.
    """

    sun: bool
    solar_filter: bool
    made_for_sun: tuple[str, ...]
    labels: tuple[tuple[str, str], ...] = tuple((spec.name, spec.label) for spec in PURPOSE_SPECS)
    help: str = PURPOSE_SPECS[0].help

    @property
    def asks(self) -> bool:
        """Whether a part of the rig is made for the Sun and the Sun is not its target."""
        return bool(self.made_for_sun) and not self.sun


def purpose_of(rig: Rig) -> Purpose:
    """Return what the rig is for, and which of its parts ask about it."""
    items = [item for place in (*rig.train, *rig.branch) for item in (place.item, *place.inside)]
    items += [gear.item for gear in rig.gear]
    solar = dict.fromkeys(item.name for item in items if isinstance(item.part, Filter) and item.part.solar)
    return Purpose(rig.load.sun, rig.load.solar_filter, tuple(solar))


def with_purpose(plan: LoadPlan, ticked: Container[str]) -> LoadPlan:
    """Return the plan with what the form's ticks say; all else of it stays."""
    return plan.model_copy(update={spec.name: spec.name in ticked for spec in PURPOSE_SPECS})
