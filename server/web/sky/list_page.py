"""The targets as their list shows them: the catalogue looked through, and the observer's own list."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar

from server.domain.fields import FieldSpec
from server.domain.sky.finding import Found, FoundTarget, TargetQuery
from server.domain.sky.frame import Frame
from server.domain.sky.site import StoredSite
from server.domain.sky.target import ListedTarget, Target
from server.flow.protocols import RigLine
from server.rim.sky_query import QUERY_SPECS
from server.rim.sky_words import kind_words, long_hours, size_words
from server.web.sky.ribbons import MONTHS


@dataclass(frozen=True)
class TargetLine:
    """A target in a list.

    Attributes:
        key: what its page's address names. listed: its line on the observer's list, None while not on it.
        name, common, what: what it is called, and its kind and constellation.
        size, magnitude, surface, top, hours, moonless, best, fill: its figures, "" where not known.
    """

    key: str
    listed: ListedTarget | None
    name: str
    common: str
    what: str
    size: str
    magnitude: str
    surface: str
    top: str
    hours: str
    moonless: str
    best: str
    fill: str


@dataclass(frozen=True)
class SkyPage:
    """The list.

    Attributes:
        mine: the observer's own list is shown, not the catalogue.
        lines, total, offset, limit: what was found.
        typed, errors: the form of the search. query: what its addresses carry.
        sites, site_id, rigs, rig_id: the choices, and what is chosen.
        on_list: how many targets the observer's list holds.
        credit: whose catalogue it is.
        trouble: why nothing can be worked out.
    """

    template: ClassVar[str] = "sky/list.html"

    mine: bool
    lines: tuple[TargetLine, ...]
    total: int
    offset: int
    limit: int
    typed: Mapping[str, str]
    errors: Mapping[str, str]
    query: Mapping[str, Any]
    sites: tuple[StoredSite, ...]
    site_id: int | None
    rigs: tuple[RigLine, ...]
    rig_id: int | None
    rig_framed: bool
    on_list: int
    credit: str
    trouble: str
    specs: tuple[FieldSpec, ...] = QUERY_SPECS

    @property
    def site_names(self) -> tuple[tuple[int, str], ...]:
        """The sites to choose from."""
        return tuple((one.id, one.site.name) for one in self.sites)


def line_of(found: FoundTarget, key: str, listed: ListedTarget | None) -> TargetLine:
    """A line of the list."""
    target = found.target
    bright = target.v_mag if target.v_mag is not None else target.b_mag
    band = "" if target.v_mag is not None or bright is None else " B"
    surface = target.surface_v_mag if target.surface_v_mag is not None else target.surface_b_mag
    fill = found.framed.fill if found.framed is not None else None
    return TargetLine(
        key=key,
        listed=listed,
        name=target.called,
        common=target.common_name,
        what=kind_words(target),
        size=size_words(target),
        magnitude="" if bright is None else f"{bright:.1f}{band}",
        surface="" if surface is None else f"{surface:.1f}",
        top="" if found.culmination_deg is None else f"{found.culmination_deg:.0f}°",
        hours="" if found.above_h is None else long_hours(found.above_h),
        moonless="" if found.moonless_h is None else long_hours(found.moonless_h),
        best=""
        if found.best_month is None
        else MONTHS[found.best_month - 1]
        if found.best_month
        else "never",
        fill="" if fill is None else f"{100 * fill:.0f} %",
    )


def sky_page(
    found: Found,
    listed: tuple[ListedTarget, ...],
    mine: bool,
    query: TargetQuery,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    asked: Mapping[str, Any],
    sites: tuple[StoredSite, ...],
    site: StoredSite | None,
    rigs: tuple[RigLine, ...],
    rig_id: int | None,
    frame: Frame | None,
    credit: str,
    trouble: str,
) -> SkyPage:
    """Build the page."""
    by_key = {one.key: one for one in listed}

    def key_of(target: Target) -> str:
        if not target.own:
            return target.name
        return next(one.key for one in listed if one.target is target)

    lines = tuple(line_of(one, key_of(one.target), by_key.get(key_of(one.target))) for one in found.lines)
    return SkyPage(
        mine=mine,
        lines=lines,
        total=found.total,
        offset=query.offset,
        limit=query.limit,
        typed=typed,
        errors=errors,
        query=asked,
        sites=sites,
        site_id=None if site is None else site.id,
        rigs=rigs,
        rig_id=rig_id,
        rig_framed=frame is not None,
        on_list=len(listed),
        credit=credit,
        trouble=trouble,
    )


def usual_texts(today: date) -> dict[str, str]:
    """What the search begins with: what is large enough for most rigs, and well placed now."""
    return {"month": str(today.month), "least_arcmin": "5", "order": "brightness"}
