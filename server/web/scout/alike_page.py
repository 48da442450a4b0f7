"""What is practically equal to a combination of the front, which stands for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from server.domain.observer import Observer
from server.flow.scout import Answer
from server.rim.scout_words import step_words, whole_name
from server.web.rendering import URLS
from server.web.scout.page import FILLED, HEADS, CandidateLine, line_of
from server.web.scout.stops_page import stops_url

AT_ONCE = 100


@dataclass(frozen=True)
class AlikePage:
    """The page.

    Attributes:
        name: the combination that stands for the others, the first of the lines of the first page.
        said: in which steps they are equal. count: how many it stands for.
        wishes: how many there are. before, after: the pages of the lines before these and after, "" for none.
        back: the Scout's page with the same needs. stops_url: what of these the bench stops.
    """

    template: ClassVar[str] = "scout/alike.html"
    filled: ClassVar[Mapping[str, str]] = FILLED

    name: str
    said: str
    count: int
    lines: tuple[CandidateLine, ...]
    wishes: int
    before: str
    after: str
    back: str
    stops_url: str
    query: Mapping[str, Any]
    columns: tuple[str, ...] = HEADS


def alike_page(
    answer: Answer, number: int, offset: int, query: Mapping[str, Any], reader: Observer
) -> AlikePage:
    """Build the page from the line at an offset on."""
    numbers = [number, *(one for one, stands in answer.alike.items() if stands == number)]
    key = answer.table.candidate(number).key

    def page(at: int) -> str:
        return URLS.alike(**{**query, "c": key, "from": at}) if 0 <= at < len(numbers) else ""

    shown = numbers[offset : offset + AT_ONCE]
    lines = tuple(
        line_of(answer, one, nth, whole_name(answer, one), reader, query)
        for nth, one in enumerate(shown, start=offset + 1)
    )
    return AlikePage(
        name=whole_name(answer, number),
        said=step_words(answer, reader.units),
        count=len(numbers) - 1,
        lines=lines,
        wishes=len(answer.lines) - len(answer.musts),
        before=page(max(0, offset - AT_ONCE)) if offset else "",
        after=page(offset + AT_ONCE),
        back=URLS.scout(**query),
        stops_url=stops_url(answer, [line.key for line in lines], query),
        query=query,
    )
