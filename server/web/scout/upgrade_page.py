"""The upgrade path of a rig as its template sees it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from server.domain.observer import Observer
from server.domain.parts import CataloguedPart
from server.domain.rig import Rig
from server.domain.scout.candidates import Candidate
from server.domain.scout.needs import FRONT_MEASURES, MeasureName
from server.flow.scout import Answer
from server.flow.upgrade import Upgrade, candidate_of, upgrades_of
from server.rim.phrasebook.forms import listed
from server.rim.scout_needs import MEASURE_WORDS
from server.rim.scout_words import measure_text
from server.web.rendering import URLS
from server.web.scout.stops_page import stops_url

BETTERED: tuple[MeasureName, ...] = tuple(name for name in FRONT_MEASURES if name != "cost")


@dataclass(frozen=True)
class UpgradeLine:
    """A change: what is done in which order, what it costs, what the measure is then, what is left over, and
    the key and the page of the combination that it leads to.
    """

    key: str
    steps: tuple[str, ...]
    cost: str
    value: str
    spare: tuple[str, ...]
    url: str


@dataclass(frozen=True)
class UpgradePage:
    """The page.

    Attributes:
        measure: which one is bettered; measures: which may be. now: what it is. trouble: why nothing is told.
        query: the needs, for its form and its addresses; back: the Scout with them. stops_url: where the
            bench looks at what the changes lead to.
    """

    template: ClassVar[str] = "scout/upgrade.html"

    rig_id: int
    name: str
    measure: MeasureName
    now: str
    trouble: str
    lines: tuple[UpgradeLine, ...]
    query: Mapping[str, Any]
    back: str
    stops_url: str

    @property
    def measures(self) -> tuple[tuple[MeasureName, str], ...]:
        """What may be bettered."""
        return tuple((name, MEASURE_WORDS[name]) for name in BETTERED)


def _step(gone: CataloguedPart | None, come: CataloguedPart | None) -> str:
    if gone is None or come is None:
        return f"add {come.name}" if come is not None else f"take out {gone.name}" if gone is not None else ""
    return f"{come.name} in place of {gone.name}"


def _beyond(rig: Rig, answer: Answer, now: Candidate) -> str:
    """Why a rig is none of the combinations."""
    here = answer.table.choice.by_number
    items = (place.item for place in rig.train if place.item.id in (now.tube, now.corrector, now.camera))
    names = [item.name for item in (*items, *((rig.mount,) if rig.mount else ())) if item.id not in here]
    if not names:
        return "Its parts are not taken together here: see on its bench what does not suit."
    kept = answer.needs.cameras or answer.needs.mounts
    how = "untick what you keep" if kept else "look at the whole catalogue"
    return f"{listed(names)} {'is' if len(names) == 1 else 'are'} not among what is chosen from: {how}."


def upgrade_page(
    rig_id: int, rig: Rig, answer: Answer, name: MeasureName, query: Mapping[str, Any], reader: Observer
) -> UpgradePage:
    """Build the page."""
    table, now = answer.table, candidate_of(rig)
    number = None if now is None else table.number_of(now)
    lines: tuple[UpgradeLine, ...] = ()
    trouble, told = "", ""

    def text(measure: MeasureName, value: float) -> str:
        return measure_text(measure, value, answer.needs.currency, reader.units)

    def line(one: Upgrade) -> UpgradeLine:
        steps = [_step(*swap) for swap in one.swaps]
        steps[0] = steps[0][:1].upper() + steps[0][1:]
        if one.first is not None:
            steps[0] += f" (alone: {text(name, one.first)})"
        spare = tuple(
            gone.name
            for gone, _ in one.swaps
            if gone is not None and gone.id in table.choice.owned - table.choice.borrowed
        )
        key = table.candidate(one.number).key
        value, url = text(name, one.value), URLS.candidate(key, **query)
        return UpgradeLine(key, tuple(steps), text("cost", one.cost), value, spare, url)

    if now is None:
        trouble = "It has no tube or no camera yet: there is nothing to better."
    elif number is None:
        trouble = _beyond(rig, answer, now)
    else:
        told = text(name, float(table.measures["value"][name][number]))
        lines = tuple(map(line, upgrades_of(answer, now, name)))
    stops = stops_url(answer, [one.key for one in lines], query)
    return UpgradePage(rig_id, rig.name, name, told, trouble, lines, query, URLS.scout(**query), stops)
