"""Which figures that nobody has said could change the Scout's answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeAlias

from server.domain.checks.reach import work_reach
from server.domain.missing import lacks
from server.domain.parts import CataloguedPart, OpticalTube
from server.domain.said import Missing
from server.domain.scout.measures import Three
from server.domain.scout.needs import MeasureName
from server.flow.scout import Answer, Flag, columns_of, stepped

MOST_ASKED = 5
_Parts: TypeAlias = "dict[str, CataloguedPart | None]"


def figures_that_matter(answer: Answer) -> tuple[Missing, ...]:
    """The figures that could change the answer, each once, those first that could move most combinations."""
    import numpy as np

    from server.search.scout.influence import influence

    names: list[MeasureName | Flag] = [line.measure for line in answer.musts]
    names += answer.needs.front
    ends, limits = [], np.zeros(0)
    for end in ("low", "high"):
        needed, limits = columns_of(answer.table, answer.musts, end)
        front = [np.rint(stepped(answer.table, name, end)) for name in answer.needs.front]
        ends.append(np.column_stack([needed, *front]))
    # What is turned so that less is better, like the light, has its ends turned as well. Nothing is below 0,
    # but for what is turned. What is known at its low end alone has no upper one.
    low, high = np.fmin(*ends), np.maximum(*ends)
    turned = np.array([not line.at_most for line in answer.musts] + [False for _ in answer.needs.front])
    low = np.where(np.isnan(low), np.where(turned, -np.inf, 0.0), low)
    high = np.where(np.isnan(high), np.where(turned, 0.0, np.inf), high)
    limits = np.concatenate([limits, np.full(len(answer.needs.front), np.inf)])
    chosen = range(len(answer.musts), len(names))
    found: dict[tuple[int | None, str], Missing] = {}
    for one in influence(low, high, limits, chosen):
        for asked in _asked(answer, one.row, names[one.column]):
            found.setdefault((asked.part_id, asked.field), asked)
        if len(found) >= MOST_ASKED:
            break
    return tuple(found.values())[:MOST_ASKED]


def _asked(answer: Answer, row: int, name: MeasureName | Flag) -> Iterator[Missing]:
    """What one measure of one combination hangs on."""
    table = answer.table
    three = table.threes[int(table.of[row])]
    parts: _Parts = {
        "tube": table.choice.tubes[three.tube],
        "corrector": table.choice.correctors[three.corrector],
        "camera": table.choice.cameras[three.camera],
        "mount": table.choice.mounts[int(table.mount[row])],
    }
    if name == "cost":
        for item in parts.values():
            price = answer.table.choice.price_of(item)
            if (
                item is not None
                and (price is None or price.currency != answer.needs.currency)
                and not (price and price.hundredths == 0)
            ):
                yield lacks(item, "price")
    elif name == "hours":
        yield from _assumed(three, parts, "obstruction_mm")
        yield from () if three.telescope is None else three.telescope.missing
        yield from table.lacking[int(table.of[row])]
    elif name in _HANGS_ON:
        yield from _HANGS_ON[name](three, parts)
    elif three.telescope is not None:
        yield from three.telescope.missing


def _masses(three: Three, parts: _Parts) -> Iterator[Missing]:
    yield from _assumed(three, parts, "mass_kg")
    for kind in ("corrector", "camera"):
        item = parts[kind]
        if item is not None and getattr(item.part, "mass_kg", None) is None:
            yield lacks(item, "mass_kg")


def _assumed(three: Three, parts: _Parts, field: str) -> Iterator[Missing]:
    tube = parts["tube"]
    if tube is not None and field in three.figures.assumed:
        yield lacks(tube, field)


def _of_mount(parts: _Parts, field: str) -> Iterator[Missing]:
    mount = parts["mount"]
    if mount is not None and getattr(mount.part, field) is None:
        yield lacks(mount, field)


def _shares(three: Three, parts: _Parts) -> Iterator[Missing]:
    yield from _masses(three, parts)
    yield from _of_mount(parts, "rated_kg")


def _lifts(three: Three, parts: _Parts) -> Iterator[Missing]:
    yield from _assumed(three, parts, "mass_kg")
    yield from _of_mount(parts, "heaviest_piece_kg")


def _of_design(_: Three, parts: _Parts) -> Iterator[Missing]:
    tube = parts["tube"]
    if tube is not None and isinstance(tube.part, OpticalTube):
        yield lacks(tube, "design" if tube.part.design is None else "spider_vanes")


def _rooms(three: Three, parts: _Parts) -> Iterator[Missing]:
    corrector, spacing = parts["corrector"], three.case.spacing
    if spacing is None:
        yield from work_reach(three.case).missing
        return
    yield from spacing.missing
    if corrector is not None and spacing.asked_mm is None:
        yield lacks(corrector, "back_focus_mm")


_HANGS_ON: dict[str, Callable[[Three, _Parts], Iterator[Missing]]] = {
    "load": _masses,
    "share": _shares,
    "lift": _lifts,
    "room": _rooms,
    "collimate": _of_design,
    "spikes": _of_design,
}
