"""What changed between two entries, in lines for people."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import quote, unquote

from server.domain.changes import EntryChanges, FieldChange, FindingTurn, Standing
from server.domain.measure import Measure
from server.domain.observer import UnitSystem
from server.domain.parts import specs_of
from server.rim.rules import RULE_SPECS
from server.rim.wording import write_field, write_measure

NOT_KNOWN, NOTHING = "not known", "nothing"
NONE_STAND = "none"
LONGEST_STANDINGS = 4000
_PLACE = re.compile(r"(?:-?[0-9]{1,15})?")


@dataclass(frozen=True)
class ValueLine:
    """One value that changed: of what, which, from, to. Empty values read "not known", empty texts "nothing".

    `of` names several parts, one after the other, where the same value of all of them changed alike.
    """

    of: str
    label: str
    before: str
    after: str


@dataclass(frozen=True)
class TurnLine:
    """A finding that turned; a weight is None where it came or went."""

    title: str
    before: str | None
    after: str | None


@dataclass(frozen=True)
class WrittenChanges:
    """All that changed: `lists` are (words, names), such as ("In", ("Spacer 5",)); then values, findings."""

    lists: tuple[tuple[str, tuple[str, ...]], ...]
    values: tuple[ValueLine, ...]
    turns: tuple[TurnLine, ...]

    @property
    def nothing(self) -> bool:
        """Whether nothing changed."""
        return not (self.lists or self.values or self.turns)


def write_changes(changes: EntryChanges, units: UnitSystem) -> WrittenChanges:
    """Return the changes in the reader's units; groups in which nothing changed are left out."""
    lists = (
        ("In", changes.parts_in),
        ("Out", changes.parts_out),
        ("Moved", changes.moved),
        ("Turned round", changes.turned_round),
        ("Before the guide camera, in", changes.branch_in),
        ("Before the guide camera, out", changes.branch_out),
        ("Beside the train, in", changes.gear_in),
        ("Beside the train, out", changes.gear_out),
        ("Plan of the load", changes.load),
    )
    values = [ValueLine(name, "set to", *_lengths(a, b, units)) for name, a, b in changes.set_lengths]
    values += _gathered([write_field_change(change, units) for change in changes.specifications])
    values += [_rule(name, a, b, units) for name, a, b in changes.rules]
    return WrittenChanges(
        tuple((words, names) for words, names in lists if names),
        tuple(values),
        tuple(_turn(turn) for turn in changes.findings),
    )


def write_standings(standings: Iterable[Standing]) -> str:
    """Return standings as one word of plain letters, which `read_standings` reads; "" for too many."""
    told = (f"{one.weight},{one.check},{_number(one.place)},{quote(one.title, safe='')}" for one in standings)
    text = ";".join(told) or NONE_STAND
    return text if len(text) <= LONGEST_STANDINGS else ""


def read_standings(text: str) -> tuple[Standing, ...] | None:
    """Return the standings that a text tells; None where it tells none."""
    if text == NONE_STAND:
        return ()
    found: list[Standing] = []
    for one in text[:LONGEST_STANDINGS].split(";"):
        match one.split(","):
            case [("stop" | "watch" | "unknown") as weight, check, place, title] if _PLACE.fullmatch(place):
                found.append(Standing(weight, check, int(place) if place else None, unquote(title)))
            case _:
                return None
    return tuple(found)


def _number(place: int | None) -> str:
    return "" if place is None else str(place)


def write_field_change(change: FieldChange, units: UnitSystem) -> ValueLine:
    """Return one field of a part, before and after, with where each came from if only that differs."""
    spec = next(spec for spec in specs_of(change.kind) if spec.name == change.field)
    nothing = NOTHING if spec.shape in ("text", "long_text") else NOT_KNOWN
    before = write_field(spec, change.before, units) or nothing
    after = write_field(spec, change.after, units) or nothing
    if before == after and isinstance(change.before, Measure) and isinstance(change.after, Measure):
        before += f" ({change.before.basis or 'as the part'})"
        after += f" ({change.after.basis or 'as the part'})"
    return ValueLine(change.part, change.label, before, after)


def _gathered(lines: list[ValueLine]) -> list[ValueLine]:
    """Lines that differ only in whose value it is, as one."""
    owners: dict[tuple[str, str, str], list[str]] = {}
    for line in lines:
        owners.setdefault((line.label, line.before, line.after), []).append(line.of)
    return [ValueLine(", ".join(names), *rest) for rest, names in owners.items()]


def _lengths(before: float | None, after: float | None, units: UnitSystem) -> tuple[str, str]:
    def written(length_mm: float | None) -> str:
        return (
            "its shortest"
            if length_mm is None
            else write_measure(Measure(nominal=length_mm), "length", units)
        )

    return written(before), written(after)


def _rule(name: str, before: float, after: float, units: UnitSystem) -> ValueLine:
    spec = next(spec for spec in RULE_SPECS if spec.name == name)
    written = [write_measure(Measure(nominal=value), spec.dimension, units) for value in (before, after)]
    return ValueLine("Rule", spec.label, *written)


def _turn(turn: FindingTurn) -> TurnLine:
    finding = turn.after or turn.before
    assert finding is not None
    return TurnLine(
        finding.title,
        turn.before.weight if turn.before else None,
        turn.after.weight if turn.after else None,
    )
