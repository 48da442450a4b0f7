"""What an address of the sky asks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

from fastapi import Query, Request

from server.domain.sky.site import StoredSite
from server.domain.sky.target import Target
from server.domain.sky.when import tonight
from server.flow.plan_sky import MOST_RIGS, SkyWishes, TargetSky, plan_target
from server.flow.workbench import Workbench
from server.rim.sky_wishes import WISH_SPECS, read_wishes, wish_texts

LONGEST = 80
Rigs = Annotated[list[int], Query(max_length=20)]
Chosen = Annotated[str, Query(max_length=16)]


@dataclass(frozen=True)
class Asked:
    """What an address asks of the sky.

    Attributes:
        site: None where the observer has none. rig_ids: at most MOST_RIGS.
        evening: the night that is planned for.
        query: the address's own choices, without those that say nothing new.
    """

    site: StoredSite | None
    sites: tuple[StoredSite, ...]
    rig_ids: tuple[int, ...]
    wishes: SkyWishes
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    evening: date
    query: dict[str, Any]

    @property
    def site_id(self) -> int | None:
        """The chosen site's number."""
        return None if self.site is None else self.site.id

    @property
    def site_names(self) -> tuple[tuple[int, str], ...]:
        """The sites to choose from."""
        return tuple((one.id, one.site.name) for one in self.sites)


def asked_of(request: Request, bench: Workbench, site: str, rig: list[int]) -> Asked:
    """Read an address: what is not named is as the observer usually has it."""
    texts = {spec.name: request.query_params.get(spec.name, "")[:LONGEST] for spec in WISH_SPECS}
    given = {name: text for name, text in texts.items() if name in request.query_params}
    typed = {**wish_texts(SkyWishes()), **given}
    wishes, errors = read_wishes(typed)
    lines = bench.rigs()
    own = {line.id for line in lines}
    chosen = tuple(dict.fromkeys(number for number in rig if number in own))[:MOST_RIGS]
    if not rig and lines:
        chosen = (next((line.id for line in lines if line.parts), lines[0].id),)
    sites = bench.sites()
    number = int(site) if site.isascii() and site.isdigit() else None
    if number is None and chosen:
        number = bench.rigs_in_hand(chosen[:1])[0][0].site_id
    at = next((one for one in sites if one.id == number), sites[0] if sites else None)
    evening = wishes.evening or tonight(at.site.zone if at else "UTC")
    usual = wish_texts(SkyWishes())
    query: dict[str, Any] = {name: text for name, text in given.items() if text != usual[name]}
    query |= {"site": at.id if at else None, "rig": list(chosen)}
    return Asked(at, sites, chosen, wishes, typed, errors, evening, query)


def plan_of(bench: Workbench, target: Target, asked: Asked) -> TargetSky:
    """A target on the rigs that an address names."""
    return plan_target(target, asked.site, bench.rigs_in_hand(asked.rig_ids), asked.wishes, asked.evening)
