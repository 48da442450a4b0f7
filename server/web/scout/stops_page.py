"""Combinations looked at on the bench, some at a time: pieces for their rows, or a page of its own."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from server.domain.findings import ShortFinding
from server.domain.parts import CataloguedPart
from server.domain.scout.candidates import Candidate, Choice
from server.flow.scout import Answer
from server.flow.scout_stops import LONGEST_S, as_time_does_for, look_at
from server.flow.workbench import Workbench
from server.rim.answer import stop_of
from server.rim.prices import prices_text
from server.web.rendering import URLS
from server.web.scout.drawn import drawn_corner, stars_of, white_arcsec2
from server.web.stars.page import DrawnStar

MOST_ROWS = 500
PIECE_S = 0.5
"""After so long an answer that is one of several is sent, and the next one asked for."""
LEAST_WIDE, MOST_WIDE, WIDE_CORNERS = 12, 60, 3.0
"""What a star's picture shows, arcsec at least and at most: so many times the largest RMS diameter."""


@dataclass(frozen=True)
class Sofar:
    """How far a look at several is: how many are looked at and stop, whether it is to rest there; `wide` is
    what each star's picture shows, arcsec.
    """

    looked: int = 0
    stops: int = 0
    rests: bool = False
    wide: int = LEAST_WIDE


@dataclass(frozen=True)
class StopLine:
    """A combination that was looked at: its key, name and page; the first that stops it, or None; what is to
    be bought to close it, "" for nothing; the star in its widest corner.
    """

    key: str
    name: str
    url: str
    stop: ShortFinding | None
    rings: str
    corner: DrawnStar | None


@dataclass(frozen=True)
class StopsPage:
    """The page.

    Attributes:
        said: how many stop on the bench. lines: those that were looked at now.
        looked, count: how many are, of how many. on: looks at the rest, "" for none; rest: leaves it there.
        rests: it was left there. back: the Scout's page with the same needs.
    """

    template: ClassVar[str] = "scout/stops.html"

    said: str
    lines: tuple[StopLine, ...]
    looked: int
    count: int
    on: str
    rest: str
    rests: bool
    back: str


def stops_url(answer: Answer, keys: Sequence[str], query: Mapping[str, Any]) -> str:
    """Where some combinations are looked at on the bench, their stars drawn to one scale; "" for none."""
    corners = answer.table.measures["value"]["corner"][answer.front]
    widest = max((float(one) for one in corners if not math.isnan(one)), default=0.0)
    wide = math.ceil(min(MOST_WIDE, max(LEAST_WIDE, WIDE_CORNERS * widest)))
    return URLS.scout_stops(**{**query, "c": keys, "wide": wide}) if keys else ""


def stops_page(
    bench: Workbench,
    choice: Choice,
    candidates: Sequence[Candidate],
    query: Mapping[str, Any],
    seeing: float | None,
    sofar: Sofar,
    piece: bool,
) -> StopsPage:
    """Look at the first of some combinations and build the page; what is not among the parts chosen from is
    left out. piece: it is one of several answers, so a short one.
    """
    some = [(one, parts) for one in candidates if (parts := choice.parts_of(one))]
    longest_s = PIECE_S if piece else LONGEST_S
    lines = tuple(
        _line(bench, choice, one, parts, query, seeing, sofar.wide)
        for one, parts in as_time_does_for(() if sofar.rests else some, longest_s)
    )
    looked, left = sofar.looked + len(lines), [one.key for one, _ in some[len(lines) :]]
    stops = sofar.stops + sum(one.stop is not None for one in lines)
    further = {**query, "c": left, "looked": looked, "stops": stops, "wide": sofar.wide}
    return StopsPage(
        said=_said(looked, stops, len(left)),
        lines=lines,
        looked=looked,
        count=looked + len(left),
        on=URLS.scout_stops(**further) if left else "",
        rest=URLS.scout_stops(**further, rests=True) if left else "",
        rests=sofar.rests,
        back=URLS.scout(**query),
    )


def _line(
    bench: Workbench,
    choice: Choice,
    candidate: Candidate,
    parts: tuple[CataloguedPart, ...],
    query: Mapping[str, Any],
    seeing: float | None,
    wide: int,
) -> StopLine:
    looked, rig = look_at(bench, parts), choice.of(candidate)
    offer = looked.closing.offer
    stars = None if rig is None else stars_of(rig, seeing)
    white = 0.0 if stars is None else white_arcsec2(stars)
    return StopLine(
        key=candidate.key,
        name=" with ".join((parts[0].name, ", ".join(item.name for item in parts[1:]))),
        url=URLS.candidate(candidate.key, **query),
        stop=stop_of(looked.findings),
        rings=f"and rings, {prices_text(offer.bought)}" if offer and offer.bought else "",
        corner=drawn_corner(stars, wide, white, bench.observer),
    )


def _said(looked: int, stops: int, left: int) -> str:
    if not looked + left:
        return "Nothing is chosen to be looked at: begin at the Scout."
    if left:
        return f"{looked} of {looked + left} looked at on the bench: {stops or 'none'} of them so far stop."
    if looked == 1:
        return (
            "On the bench this one stops; why stands below it."
            if stops
            else "On the bench nothing that is known stops this one."
        )
    what = f"On the bench {stops or 'none'} of these {looked} {'stop' if stops > 1 else 'stops'}"
    why = ", each marked with why below it" if stops else ""
    return f"{what}{why}."
