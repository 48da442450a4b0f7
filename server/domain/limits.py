"""What a document from elsewhere must keep to before this install works with it.

What people type is held to these limits by the forms; a file has passed no form.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from server.domain.errors import RefusedError
from server.domain.fields import FieldSpec
from server.domain.measure import Measure
from server.domain.parts import Filter, FilterWheel, Part
from server.domain.rig import RigPlan
from server.domain.train import BRANCH_KINDS, TRAIN_KINDS

MOST_PLACES = 40
MOST_GEAR = 60
MOST_OF_ONE = 99
"""How many pieces of one part stand beside a train at most."""
MOST_BRANCH = 12
"""How many parts the guide camera's branch holds at most."""
MOST_PARTS = 400
"""How many different parts an entry holds at most: full wheels and drawers in many places."""


def demand_limits(part: Part) -> None:
    """Raise RefusedError for the first number of a part that its field does not allow."""
    for spec in part.specs():
        value = getattr(part, spec.name)
        if value is None or spec.shape not in ("measure", "count", "table"):
            continue
        for label, number, low, high in _numbers(spec, value):
            above = spec.above and low is not None and number <= low
            if above or (low is not None and number < low) or (high is not None and number > high):
                lowest = "nothing" if low is None else f"{low:g}"
                highest = "no end" if high is None else f"{high:g}"
                raise RefusedError(
                    f"{part.name or part.kind_words}: the field “{label}” says {number:g}, and may say from "
                    f"{lowest} to {highest}. Have the part put right where the file was made, and saved anew."
                )


def demand_order(plan: RigPlan, numbered: Sequence[tuple[int, Part]]) -> None:
    """Raise RefusedError where a document's plan, over its parts, is none that the bench could have made."""
    parts = dict(numbered)
    if len(parts) < len(numbered):
        _damaged("two of its parts carry one number")
    if not plan.places:
        _damaged("its train is empty")
    if len(plan.places) > MOST_PLACES or len(plan.gear) > MOST_GEAR:
        _damaged(f"it has more than {MOST_PLACES} parts in the train or {MOST_GEAR} kinds of gear beside it")
    if len(plan.branch) > MOST_BRANCH:
        _damaged(f"it has more than {MOST_BRANCH} parts between side port and guide camera")
    everywhere = (*plan.places, *plan.branch)
    if len({place.key for place in everywhere}) < len(everywhere):
        _damaged("two places of its train carry one key")
    missing = plan.part_ids - parts.keys()
    if missing:
        _damaged(f"it names part number {min(missing)} and does not hold it")
    for place in plan.branch:
        part = parts[place.part_id]
        if part.kind not in BRANCH_KINDS or place.inside:
            _damaged(f"{part.name} stands between side port and guide camera, where only rings go")
    last = len(plan.places) - 1
    for index, place in enumerate(plan.places):
        part = parts[place.part_id]
        if part.kind not in TRAIN_KINDS:
            _damaged(f"{part.name} stands in its train and is no part of the light path")
        if (part.kind == "optical_tube" and index > 0) or (part.kind == "camera" and index < last):
            _damaged(f"{part.name} stands in the middle of its train; a tube stands first, a camera last")
        if place.inside and not isinstance(part, FilterWheel):
            _damaged(f"{part.name} holds filters and is neither a wheel nor a drawer")
        if not all(isinstance(parts[number], Filter) for number in place.inside):
            _damaged(f"{part.name} holds something that is no filter")
    if len(parts) > MOST_PARTS or parts.keys() - plan.part_ids:
        _damaged(f"it holds more than {MOST_PARTS} parts, or parts that its rig does not have")


def _numbers(spec: FieldSpec, value: object) -> Iterator[tuple[str, float, float | None, float | None]]:
    if isinstance(value, Measure):
        yield spec.label, value.nominal, spec.minimum, spec.maximum
    elif isinstance(value, int | float):
        yield spec.label, value, spec.minimum, spec.maximum
    elif isinstance(value, tuple):
        for row in value:
            for column in spec.columns:
                number = getattr(row, column.name)
                if number is not None:
                    yield f"{spec.label}: {column.label}", number, column.minimum, column.maximum


def _damaged(why: str) -> None:
    raise RefusedError(f"This entry is damaged: {why}. Have it saved and sent anew.")
