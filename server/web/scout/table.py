"""Every combination with every measure, as CSV."""

from __future__ import annotations

import csv
import io

from server.arrays import Floats
from server.domain.scout.needs import MeasureName
from server.flow.scout import Answer
from server.rim.scout_needs import MEASURE_WORDS
from server.rim.scout_words import names_of
from server.web.scout.page import COLUMNS

UNITS: dict[str, str] = {
    "load": "kg",
    "lift": "kg",
    "hours": "h",
    "star": "arcsec",
    "corner": "arcsec",
    "corner_px": "px",
    "room": "mm",
    "power": "W",
}
RANGED: tuple[MeasureName, ...] = ("cost", "hours", "load", "lift", "share")
MORE: tuple[MeasureName, ...] = ("corner_px", "room")


def csv_of(answer: Answer | None) -> str:
    """The table, in fixed units; what is not known is empty. A head alone where there is no answer."""
    file = io.StringIO()
    lines = csv.writer(file)
    columns = [] if answer is None else _columns(answer)
    heads = (head for head, _ in columns)
    lines.writerow(("key", "tube", "behind it", "meets the needs", "on the front", *heads))
    if answer is not None:
        passing, front = set(map(int, answer.passing)), set(map(int, answer.front))
        for number in range(answer.table.count):
            candidate = answer.table.candidate(number)
            figures = (float(column[number]) for _, column in columns)
            yes = ("yes" if number in some else "no" for some in (passing, front))
            shown = ("" if figure != figure else f"{figure:.6g}" for figure in figures)
            lines.writerow((candidate.key, *names_of(answer, candidate), *yes, *shown))
    return file.getvalue()


def _columns(answer: Answer) -> list[tuple[str, Floats]]:
    """Every measure, the ends of those that may be ranges, and of each target what it fills and takes."""
    measures, units = answer.table.measures, {**UNITS, "cost": answer.needs.currency}

    def head(name: MeasureName, *more: str) -> str:
        return ", ".join(filter(None, (MEASURE_WORDS[name], *more, units.get(name, ""))))

    found = [(head(name), measures["value"][name]) for name in (*COLUMNS, *MORE)]
    for name in RANGED:
        found += [(head(name, "low"), measures["low"][name]), (head(name, "high"), measures["high"][name])]
    for target, fills, hours in zip(answer.targets, answer.table.fills, answer.table.hours, strict=True):
        found += [(f"{target.called} fills", fills), (f"{target.called}, h", hours)]
    return found
