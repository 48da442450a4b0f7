"""A part as the texts of its form, and back.

Nothing that was typed is lost here: the texts stay with the door, which shows them beside what was wrong.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from server.domain.connections import (
    Barrel,
    Bayonet,
    BoltPattern,
    Connection,
    Dovetail,
    InchThread,
    MetricThread,
    gender_of,
    thread_length_of,
)
from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.measure import Measure
from server.domain.parts import KINDS, PART, Part, specs_of
from server.domain.refusals import sentence_of
from server.rim.cells import CellError, read_cell, write_cell
from server.rim.connection_picker import hint_of
from server.rim.wording import write_field, write_money
from server.units import write_quantity

NAME_WANTED = "Give the part a model, or at least a maker, so that you find it again."
_NAMED_FIELD = re.compile(r"(?P<name>[a-z_]+): (?P<reason>.+)", re.DOTALL)


def read_part(kind: str, texts: Mapping[str, str]) -> Part:
    """Return the part of `kind` that the texts of its form describe.

    Args:
        kind: a key of `KINDS`.
        texts: field name -> what was typed; a field that is left out counts as empty, and a name that is no
            field of the kind is not looked at.

    Raises:
        FieldErrors: one sentence for each field that cannot be taken.
        KeyError: for an unknown kind, which is the caller's mistake.
    """
    words = KINDS[kind].kind_words
    values: dict[str, Any] = {"kind": kind}
    errors: dict[str, str] = {}
    for spec in specs_of(kind):
        text = texts.get(spec.name, "")
        try:
            value = read_cell(spec, text, words)
        except CellError as error:
            errors[spec.name] = error.sentence
            continue
        # A choice that was left empty keeps what the part's class has for it (as the basis of the figures).
        if value is not None:
            values[spec.name] = value
    if not {"maker", "model"} & errors.keys() and not (values.get("maker") or values.get("model")):
        errors["model"] = NAME_WANTED
    part: Part | None = None
    try:
        part = PART.validate_python(values)
    except ValidationError as error:
        for name, sentence in _sentences(error, kind).items():
            errors.setdefault(name, sentence)
    if errors or part is None:
        raise FieldErrors(errors)
    return part


def part_texts(part: Part) -> dict[str, str]:
    """Return what the edit form of a part shows, field by field; `read_part` gives back the same part."""
    return {spec.name: write_cell(spec, getattr(part, spec.name)) for spec in specs_of(part.kind)}


def _sentences(error: ValidationError, kind: str) -> dict[str, str]:
    """Return a sentence per field for what the part's class itself found wrong."""
    names = {spec.name for spec in specs_of(kind)}
    found: dict[str, str] = {}
    for detail in error.errors(include_url=False):
        message = sentence_of(detail)
        if detail["type"] == "value_error":
            message = str(detail["msg"]).removeprefix("Value error, ")
        # The first place is the kind, by which the class was chosen.
        place = next((str(step) for step in detail["loc"] if step in names), "")
        named = _NAMED_FIELD.fullmatch(message)
        if not place and named is not None and named["name"] in names:
            place, message = named["name"], named["reason"]
        found.setdefault(place or "model", _as_sentence(message))
    return found


def _as_sentence(message: str) -> str:
    return message[:1].upper() + message[1:].rstrip(".") + "."


def understood(kind: str, name: str, text: str) -> str:
    """Return what is understood of one field ("metric thread 48 mm, pitch 0.75, male"); "" for no text.

    Raises:
        FieldErrors: with the sentence of that field.
        KeyError: for a kind that is not known, or a field that the kind has not.
    """
    spec = field_of(kind, name)
    try:
        value = read_cell(spec, text, KINDS[kind].kind_words)
    except CellError as error:
        raise FieldErrors({name: error.sentence}) from None
    return "" if value is None or value in ("", ()) else _in_words(spec, value)


def field_of(kind: str, name: str) -> FieldSpec:
    """Return the spec of one field. Raises KeyError where the kind is not known or has no such field."""
    for spec in specs_of(kind):
        if spec.name == name:
            return spec
    raise KeyError(name)


def _in_words(spec: FieldSpec, value: Any) -> str:
    match spec.shape:
        case "measure":
            return _measure_words(value, spec)
        case "money":
            return write_money(value)
        case "connection":
            return ". ".join(words for words in (connection_words(value), hint_of(value)) if words)
        case "flag":
            return "yes" if value else "no"
        case "choice":
            return dict(spec.choices)[value]
        case "choices":
            return ", ".join(dict(spec.choices)[one] for one in value)
        case "table":
            return _table_words(spec, value)
    return str(value)


def _measure_words(measure: Measure, spec: FieldSpec) -> str:
    text = write_field(spec, measure, "metric")
    return f"{text}, {measure.basis}" if measure.basis else text


def _table_words(spec: FieldSpec, rows: tuple[dict[str, float], ...]) -> str:
    lines = [
        " → ".join(write_quantity(row[column.name], column.dimension) for column in spec.columns)
        for row in rows[:4]
    ]
    more = f", and {len(rows) - 4} more" if len(rows) > 4 else ""
    return f"{len(rows)} {'line' if len(rows) == 1 else 'lines'}: {'; '.join(lines)}{more}"


def connection_words(connection: Connection) -> str:
    """Return a connection spelt out, so that a slip shows ("inch thread 2 in, 24 to the inch, female")."""
    match connection:
        case MetricThread(diameter_mm=diameter, pitch_mm=pitch):
            words = f"metric thread {diameter:g} mm"
            words += ", pitch not known" if pitch is None else f", pitch {pitch:g}"
        case InchThread(diameter_in=diameter, threads_per_inch=threads):
            words = f"inch thread {diameter:g} in, {threads:g} to the inch"
        case Barrel(diameter_mm=diameter):
            words = f"push-fit barrel {diameter:g} mm"
        case Bayonet(name=name):
            words = f"bayonet named {name}"
        case BoltPattern(name=name, circle_mm=circle):
            return f"bolt pattern named {name}" + (
                ", circle not known" if circle is None else f" on a {circle:g} mm circle"
            )
        case Dovetail(width_mm=width):
            return f"dovetail {width:g} mm wide"
    gender = gender_of(connection)
    words += f", {gender}" if gender else ", male or female not known"
    length = thread_length_of(connection)
    if length is None:
        return words
    return f"{words}, {length:g} mm {'deep' if gender == 'female' else 'long'}"
