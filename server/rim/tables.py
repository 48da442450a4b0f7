"""Parts as CSV and back, without loss: one row a part, of any mixture of kinds.

The first row names the fields; `kind` says what each part is, and `owned`, `wished` and `considered` how many
the observer has. Cells are written as an edit form shows them and read as a form is read. A spreadsheet would
run a cell that begins like a formula: such a cell is written behind an apostrophe, which is taken off here.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from server.domain.errors import FieldErrors
from server.domain.observer import HOLDING_MAXIMUM, Holding
from server.domain.parts import KINDS, Part, specs_of
from server.rim.forms import part_texts, read_part

BYTES_MAXIMUM = 5_000_000
ROWS_MAXIMUM = 20_000
COLUMNS_MAXIMUM = 200
PROBLEMS_MAXIMUM = 500
NOTHING_HELD = Holding()
KIND_COLUMN = "kind"
HOLDING_COLUMNS = ("owned", "wished", "considered")

_BOM = "\ufeff"
_SEPARATORS = (",", ";", "\t")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of a formula (OWASP, CSV Injection)."""


@dataclass(frozen=True)
class CsvRow:
    """A good row: the part, what the observer has of it, and the line of the file it stands on (0: none)."""

    part: Part
    holding: Holding = NOTHING_HELD
    line: int = 0


@dataclass(frozen=True)
class CsvProblem:
    """Why something of the file cannot be taken. `line` counts from 1; `column` is "" for the whole line."""

    line: int
    column: str
    sentence: str


@dataclass(frozen=True)
class CsvReading:
    """What a file holds: the rows that can be entered, the problems of the others, and how many more."""

    good: tuple[CsvRow, ...]
    problems: tuple[CsvProblem, ...]
    problems_left_out: int = 0


def all_columns() -> tuple[str, ...]:
    """Return every column that a file may have, in the order of the export."""
    names = dict.fromkeys(spec.name for kind in KINDS for spec in specs_of(kind))
    return (KIND_COLUMN, *names, *HOLDING_COLUMNS)


def columns_of(kinds: Iterable[str]) -> tuple[str, ...]:
    """Return the columns of a file that holds parts of these kinds, in the order of the export."""
    wanted = {spec.name for kind in kinds for spec in specs_of(kind)}
    wanted.update((KIND_COLUMN, *HOLDING_COLUMNS))
    return tuple(name for name in all_columns() if name in wanted)


def write_csv(rows: Iterable[CsvRow], kinds: Iterable[str] = ()) -> str:
    """Return the rows as CSV (RFC 4180: commas, lines ended by CR LF); `read_csv` reads back the same parts.

    Args:
        rows: the parts in order, with what the observer has of each.
        kinds: kinds whose columns stand in the header even where no row needs them; without rows this makes
            a form to fill in.
    """
    listed = list(rows)
    columns = columns_of({row.part.kind for row in listed}.union(kinds))
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    for row in listed:
        texts = part_texts(row.part)
        texts[KIND_COLUMN] = row.part.kind
        for name in HOLDING_COLUMNS:
            number = getattr(row.holding, name)
            texts[name] = str(number) if number else ""
        writer.writerow([guarded(texts.get(name, "")) for name in columns])
    return out.getvalue()


def guarded(text: str) -> str:
    """Return a cell's text as no spreadsheet runs it."""
    if text.startswith(_FORMULA) or (text.startswith("'") and text[1:].startswith((*_FORMULA, "'"))):
        return f"'{text}"
    return text


def _unguarded(text: str) -> str:
    if text.startswith("'") and text[1:].startswith((*_FORMULA, "'")):
        return text[1:]
    return text


class _Problems:
    """Collects problems up to a bound, so that a hostile file cannot fill the page."""

    def __init__(self) -> None:
        self.kept: list[CsvProblem] = []
        self.left_out = 0

    def add(self, line: int, column: str, sentence: str) -> None:
        if len(self.kept) < PROBLEMS_MAXIMUM:
            self.kept.append(CsvProblem(line, column, sentence))
        else:
            self.left_out += 1


def read_csv(data: bytes, kind: str = "") -> CsvReading:
    """Return what a CSV file holds. Raises nothing, whatever the bytes.

    Args:
        data: the file: UTF-8, with or without a byte order mark; comma, semicolon or tab between cells.
        kind: the kind of every row where the file has no `kind` column.
    """
    problems = _Problems()
    good: list[CsvRow] = []
    text = _decode(data, problems)
    if text is not None:
        good.extend(_rows(text, kind, problems))
    return CsvReading(tuple(good), tuple(problems.kept), problems.left_out)


def _decode(data: bytes, problems: _Problems) -> str | None:
    if len(data) > BYTES_MAXIMUM:
        size, most = len(data) / 1e6, BYTES_MAXIMUM / 1e6
        problems.add(
            1, "", f"The file has {size:.1f} MB; at most {most:.0f} MB are read. Split it into several files."
        )
        return None
    try:
        text = data.decode("utf-8").removeprefix(_BOM)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        problems.add(
            line,
            "",
            "The file is not UTF-8 from here on, so nothing was read. Save it as “CSV UTF-8” and try again.",
        )
        return None
    if not text.strip():
        problems.add(1, "", "The file is empty. Its first row names the fields, such as kind, maker, model.")
        return None
    return text


def _rows(text: str, kind: str, problems: _Problems) -> Iterator[CsvRow]:
    lines = _records(text, problems)
    header = next(lines, None)
    if header is None:
        return
    columns = _header(header[0], header[1], kind, problems)
    if columns is None:
        return
    seen = 0
    for line, cells in lines:
        if not any(cell.strip() for cell in cells):
            continue
        seen += 1
        if seen > ROWS_MAXIMUM:
            problems.add(
                line,
                "",
                f"At most {ROWS_MAXIMUM} rows are read; the rest was not. Put it in another file.",
            )
            return
        row = _row(line, cells, columns, kind, problems)
        if row is not None:
            yield row


def _records(text: str, problems: _Problems) -> Iterator[tuple[int, list[str]]]:
    """Yield the line that each record begins on, and its cells."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_separator(text), strict=True)
    begins = 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            problems.add(begins, "", _broken(error))
            return
        yield begins, cells
        begins = reader.line_num + 1


def _broken(error: csv.Error) -> str:
    if "field limit" in str(error):
        why = "a cell is far too long, or its quotation mark is not closed"
    elif "unexpected end" in str(error):
        why = "a quotation mark is opened and not closed"
    else:
        why = "the quotation marks do not pair up"
    return (
        f"The row that begins here cannot be read: {why}. Rows below it were not looked at; "
        "mend it and try again."
    )


def _separator(text: str) -> str:
    first = text.lstrip().partition("\n")[0]
    return max(_SEPARATORS, key=first.count)


def _header(line: int, cells: list[str], kind: str, problems: _Problems) -> tuple[str, ...] | None:
    """Return the columns' names, "" for one that is left out; None where the file cannot be read by them."""
    if len(cells) > COLUMNS_MAXIMUM:
        problems.add(line, "", f"The first row has {len(cells)} cells; at most {COLUMNS_MAXIMUM} are read.")
        return None
    known = set(all_columns())
    columns: list[str] = []
    for cell in cells:
        name = cell.strip().casefold().replace(" ", "_")
        if name in columns and name:
            problems.add(
                line, name, "This column stands here twice, so nothing was read. Take one of the two out."
            )
            return None
        if name and name not in known:
            shown = cell.strip()[:40]
            problems.add(
                line,
                shown,
                "No part has a field of this name, so the column was left out. The export shows the names.",
            )
            name = ""
        columns.append(name)
    if KIND_COLUMN not in columns and kind not in KINDS:
        problems.add(
            line,
            KIND_COLUMN,
            "There is no column “kind”, so it is not known what the parts are. "
            "Add it, with words such as camera or spacer ring.",
        )
        return None
    return tuple(columns)


def _row(
    line: int, cells: list[str], columns: tuple[str, ...], kind: str, problems: _Problems
) -> CsvRow | None:
    found: list[tuple[str, str]] = []
    if any(cell.strip() for cell in cells[len(columns) :]):
        found.append(
            (
                "",
                f"This row has {len(cells)} cells; the first row names {len(columns)}. Is a text unquoted?",
            )
        )
    texts = {
        name: _unguarded(cell) for name, cell in zip(columns, cells, strict=False) if name and cell.strip()
    }
    said = texts.pop(KIND_COLUMN, "")
    found_kind = _kind(said) if said.strip() or KIND_COLUMN in columns else kind
    holding = _holding(texts, found)
    part: Part | None = None
    if found_kind is None:
        found.append((KIND_COLUMN, _unknown_kind(said)))
    else:
        fields = {spec.name for spec in specs_of(found_kind)}
        words = KINDS[found_kind].kind_words
        found.extend(
            (name, f"A part of the kind “{words}” has no such field. Leave this cell empty.")
            for name in texts
            if name not in fields
        )
        try:
            part = read_part(found_kind, texts)
        except FieldErrors as error:
            found.extend(error.errors.items())
    for column, sentence in found:
        problems.add(line, column, sentence)
    return None if found or part is None or holding is None else CsvRow(part, holding, line)


def _kind(said: str) -> str | None:
    word = " ".join(said.replace("_", " ").split()).casefold()
    for name, cls in KINDS.items():
        if word in (name.replace("_", " "), cls.kind_words.casefold()):
            return name
    return None


def _unknown_kind(said: str) -> str:
    words = ", ".join(cls.kind_words for cls in KINDS.values())
    begins = f"“{said.strip()[:40]}” is no kind of part." if said.strip() else "The kind is missing."
    return f"{begins} Take one of: {words}."


def _holding(texts: dict[str, str], found: list[tuple[str, str]]) -> Holding | None:
    """Take the three quantities out of `texts`; None where one is no number, which is then in `found`."""
    numbers: dict[str, int] = {}
    for name in HOLDING_COLUMNS:
        typed = texts.pop(name, "").strip()
        if typed and not (
            typed.isascii() and typed.isdigit() and len(typed) <= 6 and int(typed) <= HOLDING_MAXIMUM
        ):
            found.append(
                (
                    name,
                    f"“{typed[:40]}” is no number of pieces. Type a number from 0 to {HOLDING_MAXIMUM}.",
                )
            )
            return None
        numbers[name] = int(typed or 0)
    return Holding(**numbers)
