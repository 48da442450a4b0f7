"""Which two of the front are worth standing side by side."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from server.domain.parts import OpticalTube
from server.domain.scout.needs import STEPS, MeasureName
from server.domain.scout.usual import OBSTRUCTION
from server.flow.scout import Answer

REFRACTORS = ("achromat", "apochromat")
REFLECTORS = tuple(design for design, share in OBSTRUCTION.items() if share.low > 0.0)


def designs_pair(answer: Answer) -> tuple[int, int] | None:
    """The refractor and the reflector of the front that cost the same, within a step, or come nearest to it:
    of these the two that need the fewest hours. None without one of each whose cost and hours are known.
    """
    refractors, reflectors = (_by_step(answer, some) for some in (REFRACTORS, REFLECTORS))

    def apart(steps: tuple[int, int]) -> tuple[int, float]:
        one, other = steps
        hours = _figure(answer, "hours", refractors[one]) + _figure(answer, "hours", reflectors[other])
        return max(1, abs(one - other)), hours

    best = min(product(refractors, reflectors), key=apart, default=None)
    return None if best is None else (refractors[best[0]], reflectors[best[1]])


def ends_pair(answer: Answer) -> tuple[int, int] | None:
    """The lightest of the front and the one of the fewest hours; None where one is both, or none is known."""
    front = _known(answer, "load", "hours")
    light = min(front, key=lambda number: _figure(answer, "load", number), default=None)
    deep = min(front, key=lambda number: _figure(answer, "hours", number), default=None)
    return None if light is None or deep is None or light == deep else (light, deep)


def _by_step(answer: Answer, designs: Sequence[str]) -> dict[int, int]:
    """Of the front's tubes of some designs that of the fewest hours in each step of money."""
    found: dict[int, int] = {}
    parts = answer.table.choice.by_number
    for number in sorted(_known(answer, "cost", "hours"), key=lambda one: _figure(answer, "hours", one)):
        tube = parts[int(answer.table.tubes[number])].part
        if isinstance(tube, OpticalTube) and tube.design in designs:
            found.setdefault(round(_figure(answer, "cost", number) / STEPS["cost"]), number)
    return found


def _known(answer: Answer, *names: MeasureName) -> list[int]:
    """Those of the front of which all of these are known."""
    front = map(int, answer.front)
    return [one for one in front if all(_figure(answer, name, one) >= 0.0 for name in names)]


def _figure(answer: Answer, name: MeasureName, number: int) -> float:
    return float(answer.table.measures["value"][name][number])
