"""What was changed on a part, in lines for people."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from server.domain.changes import FieldChange
from server.domain.observer import UnitSystem
from server.domain.part_history import PartChange
from server.rim.changes import ValueLine, write_field_change

WHO_LEFT = "someone who left"


@dataclass(frozen=True)
class ToldChange:
    """One change.

    Attributes:
        by: who made it: "you", a name, or that they have left.
        double: the name of the double that was merged, or on which this was changed before it was; or "".
        merged: whether it tells of the merger; its values are what the double said and what stayed.
    """

    at: datetime
    by: str
    double: str
    merged: bool
    values: tuple[ValueLine, ...]


def told_changes(
    changes: Iterable[PartChange], part_id: int, reader_id: int, units: UnitSystem
) -> tuple[ToldChange, ...]:
    """Return the changes of a part in the reader's units, in their order."""
    return tuple(
        ToldChange(
            one.at,
            "you" if one.by_id == reader_id else one.by or WHO_LEFT,
            "" if one.of_id == part_id else one.was.name,
            one.act == "merged",
            _values(one, units),
        )
        for one in changes
    )


def _values(change: PartChange, units: UnitSystem) -> tuple[ValueLine, ...]:
    was, became = change.was, change.became
    if was.kind != became.kind:
        return (ValueLine(became.name, "Kind", was.kind_words, became.kind_words),)
    return written_fields(change.fields, units)


def written_fields(fields: Iterable[FieldChange], units: UnitSystem) -> tuple[ValueLine, ...]:
    """Return fields that differ in the reader's units."""
    return tuple(write_field_change(field, units) for field in fields)
