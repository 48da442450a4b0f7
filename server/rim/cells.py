"""Read and write one field of a part as text. `forms` puts the fields of a kind together."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, NoReturn, cast
from unicodedata import category

from pydantic import ValidationError

from server.domain.connections import Connection, ConnectionTextError, print_connection, read_connection
from server.domain.fields import Column, FieldSpec
from server.domain.measure import Frozen, Measure, Money
from server.domain.refusals import sentence_of
from server.units import Limits, QuantityError, ReadQuantity, edit_money, edit_text, read_money, read_quantity

DEFAULT_CURRENCY = "EUR"
"""The currency of a price typed without one. The form says so beside the field."""

TABLE_MAXIMUM_CHARACTERS = 20_000
TABLE_MAXIMUM_LINES = 200
CHOICES_MAXIMUM_CHARACTERS = 600

YES = frozenset({"yes", "y", "true", "on", "1"})
NO = frozenset({"no", "n", "false", "off", "0"})
NOT_KNOWN = frozenset({"", "not known", "unknown", "?"})

_UNSHOWN = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Unicode categories of characters that a page cannot show: controls, lone surrogates, line separators."""

_TURNS_TEXT_ROUND = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""They make text read in another order than it is stored (Unicode Technical Report 36, section 3.3)."""

_BETWEEN_COLUMNS = re.compile(r"[;:\t]")


class CellError(Exception):
    """One field's text cannot be taken; `sentence` says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def limits_of(spec: FieldSpec, kind_words: str) -> Limits:
    """Return the limits of a field for the reader of quantities.

    Only the length of the part itself is spoken of as the part's own ("more than any spacer ring measures").
    """
    thing = kind_words if spec.name == "length_mm" else ""
    return Limits(spec.minimum, spec.maximum, spec.above, thing)


def read_cells(
    specs: Iterable[FieldSpec], texts: Mapping[str, str], kind_words: str, figures: bool = False
) -> tuple[dict[str, Any], dict[str, str]]:
    """Return what each field's text says, and a sentence for each that cannot be read, by field names.

    figures: measures are wanted as figures alone.
    """
    read: dict[str, Any] = {}
    errors: dict[str, str] = {}
    for spec in specs:
        try:
            value = read_cell(spec, texts.get(spec.name, ""), kind_words)
            read[spec.name] = figure_of(value) if figures else value
        except CellError as error:
            errors[spec.name] = error.sentence
    return read, errors


def figure_of(value: Any) -> Any:
    """Return the figure of what was read for a field that keeps no more of it, any other value as it is.

    Raises:
        CellError: where more was typed, which would be lost.
    """
    if not isinstance(value, Measure | ReadQuantity):
        return value
    if (value.plus, value.minus, value.basis) != (None, None, None):
        _refuse("Only the figure is kept here: leave out its ± and where it comes from.")
    return value.nominal


def read_cell(spec: FieldSpec, text: str, kind_words: str) -> Any:
    """Return what `text` says for a field, as the part's class takes it; None, "" or () for no text.

    Raises:
        CellError: with a sentence for the person who typed it.
    """
    if spec.shape in ("text", "long_text"):
        return _read_text(spec, text)
    if spec.shape == "table":
        return _read_table(spec, text)
    if spec.shape == "choices":
        return _read_choices(spec, text)
    typed = text.strip()
    if not typed:
        return None
    try:
        match spec.shape:
            case "measure":
                read = read_quantity(typed, spec.dimension, None, limits_of(spec, kind_words))
                return Measure(nominal=read.nominal, plus=read.plus, minus=read.minus, basis=read.basis)
            case "count":
                return _read_count(spec, typed)
            case "money":
                price = read_money(typed, DEFAULT_CURRENCY)
                return Money(hundredths=price.hundredths, currency=price.currency)
            case "connection":
                return read_connection(typed)
            case "flag":
                return _read_flag(typed)
            case "choice":
                return _read_choice(spec, typed)
    except QuantityError as error:
        raise CellError(error.message) from None
    except ConnectionTextError as error:
        raise CellError(error.message) from None
    except ValidationError as error:
        # A number that the reader of quantities understood and no field may hold, such as its tolerance.
        raise CellError(sentence_of(error.errors()[0])) from None
    raise AssertionError(f"no reader for the shape {spec.shape!r}")


def write_cell(spec: FieldSpec, value: Any) -> str:
    """Return the text of a field that `read_cell` reads back to the same value."""
    if value is None:
        return ""
    match spec.shape:
        case "text" | "long_text":
            return str(value)
        case "measure":
            measure = cast(Measure, value)
            return edit_text(measure.nominal, measure.plus, measure.minus, measure.basis, spec.dimension)
        case "count":
            return str(value)
        case "money":
            price = cast(Money, value)
            return edit_money(price.hundredths, price.currency)
        case "connection":
            return print_connection(cast(Connection, value))
        case "flag":
            return "yes" if value else "no"
        case "choice":
            return str(value)
        case "choices":
            return "; ".join(value)
        case "table":
            return "\n".join(_write_row(spec.columns, row) for row in value)


def _refuse(sentence: str) -> NoReturn:
    raise CellError(sentence)


def _read_text(spec: FieldSpec, text: str) -> str:
    typed = text.strip()
    longest = int(spec.maximum or 0)
    if len(typed) > longest:
        _refuse(f"This has {len(typed)} characters; at most {longest} are kept. Shorten it.")
    for character in typed:
        if character in "\n\r\t":
            if spec.shape == "text":
                _refuse("This is written on one line, without tabs. Put the rest into the note.")
        elif character in _TURNS_TEXT_ROUND or category(character) in _UNSHOWN:
            _refuse(f"This holds a character that cannot be shown (U+{ord(character):04X}). Type it anew.")
    return typed


def _read_count(spec: FieldSpec, typed: str) -> int:
    read = read_quantity(typed, "count", None, limits_of(spec, ""))
    if read.plus is not None or read.minus is not None or read.basis is not None:
        _refuse("A whole number is counted: it has no tolerance and no basis. Type it like 7.")
    return int(read.nominal)


def _read_flag(typed: str) -> bool | None:
    word = typed.casefold()
    if word in YES:
        return True
    if word in NO:
        return False
    if word in NOT_KNOWN:
        return None
    _refuse(
        f"“{_short(typed)}” is not an answer here. Type yes or no, or leave it empty while it is not known."
    )


def _read_choice(spec: FieldSpec, typed: str) -> str | None:
    found = _choice(spec, typed)
    if found is None and typed.casefold() in NOT_KNOWN:
        return None
    if found is None:
        words = ", ".join(f"“{words}”" for _, words in spec.choices)
        _refuse(f"“{_short(typed)}” is none of the choices. Take one of {words}.")
    return found


def _choice(spec: FieldSpec, typed: str) -> str | None:
    low = " ".join(typed.split()).casefold()
    for value, words in spec.choices:
        if low in (value.casefold(), words.casefold(), value.casefold().replace("_", " ")):
            return value
    return None


def _read_choices(spec: FieldSpec, text: str) -> tuple[str, ...]:
    if len(text) > CHOICES_MAXIMUM_CHARACTERS:
        _refuse(
            f"This has {len(text)} characters; at most {CHOICES_MAXIMUM_CHARACTERS} are read. "
            "Name each choice once."
        )
    found: list[str] = []
    for piece in re.split(r"[;,\n]", text):
        if piece.strip():
            value = _read_choice(spec, piece.strip())
            if value is not None and value not in found:
                found.append(value)
    return tuple(found)


def _read_table(spec: FieldSpec, text: str) -> tuple[dict[str, float], ...]:
    if len(text) > TABLE_MAXIMUM_CHARACTERS:
        _refuse(
            f"This has {len(text)} characters; at most {TABLE_MAXIMUM_CHARACTERS} are read. Leave lines out."
        )
    lines = [(at, line.strip()) for at, line in enumerate(text.split("\n"), start=1) if line.strip()]
    if len(lines) > TABLE_MAXIMUM_LINES:
        _refuse(f"This has {len(lines)} lines; at most {TABLE_MAXIMUM_LINES} are kept. Leave lines out.")
    return tuple(_read_row(spec.columns, line, at) for at, line in lines)


def _read_row(columns: tuple[Column, ...], line: str, at: int) -> dict[str, float]:
    pieces = [piece.strip() for piece in _BETWEEN_COLUMNS.split(line)]
    while len(pieces) > len(columns) and not pieces[-1]:
        pieces.pop()
    if len(pieces) != len(columns):
        wanted = ": ".join(column.label.casefold() for column in columns)
        _refuse(
            f"Line {at}, “{_short(line)}”: a line holds {len(columns)} numbers ({wanted}), "
            f"and this one {len(pieces)}. Put a colon between them."
        )
    row: dict[str, float] = {}
    for column, piece in zip(columns, pieces, strict=True):
        try:
            read = read_quantity(piece, column.dimension, None, Limits(column.minimum, column.maximum))
        except QuantityError as error:
            _refuse(f"Line {at}, {column.label.casefold()}: {error.message}")
        if read.plus is not None or read.minus is not None or read.basis is not None:
            _refuse(
                f"Line {at}, {column.label.casefold()}: “{_short(piece)}” has a tolerance or a basis, and a "
                "table keeps plain numbers. Type the number alone."
            )
        row[column.name] = read.nominal
    return row


def _write_row(columns: tuple[Column, ...], row: Frozen) -> str:
    return ": ".join(edit_text(getattr(row, column.name), dimension=column.dimension) for column in columns)


def _short(text: str, longest: int = 40) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"
