"""Which combinations stop on the bench: marks for their rows, or a page of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from server.domain.findings import Finding
from server.domain.scout.candidates import Candidate, Choice
from server.flow.scout_stops import look_at_all
from server.flow.workbench import Workbench
from server.rim.answer import stop_of
from server.web.rendering import URLS

MOST_ROWS = 500


@dataclass(frozen=True)
class StopLine:
    """A combination: its key, name and page; the first that stops it, or None; whether it was looked at."""

    key: str
    name: str
    url: str
    stop: Finding | None
    looked_at: bool


@dataclass(frozen=True)
class StopsPage:
    """The page.

    Attributes:
        said: how many stop on the bench. lines: each. back: the Scout's page with the same needs.
    """

    template: ClassVar[str] = "scout/stops.html"

    said: str
    lines: tuple[StopLine, ...]
    back: str


def stops_page(
    bench: Workbench, choice: Choice, candidates: Sequence[Candidate], query: Mapping[str, Any]
) -> StopsPage:
    """Build the page; what is not among the parts chosen from is left out."""
    some = [(one, parts) for one in candidates if (parts := choice.parts_of(one))]
    found = look_at_all(bench, [parts for _, parts in some])
    lines = []
    for (one, parts), findings in zip(some, found, strict=True):
        name = " with ".join((parts[0].name, ", ".join(item.name for item in parts[1:])))
        lines.append(
            StopLine(
                one.key,
                name,
                URLS.candidate(one.key, **query),
                stop_of(findings or ()),
                looked_at=findings is not None,
            )
        )
    return StopsPage(_said(lines), tuple(lines), URLS.scout(**query))


def _said(lines: Sequence[StopLine]) -> str:
    looked = sum(one.looked_at for one in lines)
    stops = sum(one.stop is not None for one in lines)
    if not lines:
        return "Nothing is chosen to be looked at: begin at the Scout."
    if len(lines) == 1:
        return (
            "On the bench this one stops; why stands below it."
            if stops
            else "On the bench nothing that is known stops this one."
        )
    left = len(lines) - looked
    what = f"On the bench {stops or 'none'} of these {looked} {'stop' if stops > 1 else 'stops'}"
    why = ", each marked with why below it, and with × where it is drawn" if stops else ""
    more = f"; {left} more {'is' if left == 1 else 'are'} not looked at yet" if left else ""
    return f"{what}{why}{more}."
