"""Parts out as CSV, and in: a report of what a file holds first, and only then the good rows, all or none.

Nothing is kept on the server between the two steps: the report's own form carries the file, packed, and the
second step reads it anew.
"""

from __future__ import annotations

import base64
import binascii
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

from fastapi import Depends, Query, Request
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from server.domain.errors import RefusedError
from server.domain.observer import Holding
from server.domain.parts import KINDS
from server.flow.protocols import HoldingFilter, PartQuery
from server.flow.workbench import Workbench
from server.handed.routing import pages
from server.rim.tables import BYTES_MAXIMUM, CsvProblem, CsvReading, CsvRow, read_csv, write_csv
from server.web.deps import ReadingBench, WritingBench
from server.web.rendering import URLS, go_to, render_page
from server.web.shelf.page import HOLDING_FILTERS

router = pages("/shelf")

LINES_A_QUERY = 200
ROWS_SHOWN = 12
PACKED_MAXIMUM = 5_000_000


@dataclass(frozen=True)
class ImportPage:
    """Where a file is chosen.

    Attributes:
        entered: how many parts came in a moment ago, None at the beginning.
        known: how many of the file the catalogue had already.
        error: why no file could be read.
    """

    template: ClassVar[str] = "shelf/import.html"

    entered: int | None = None
    known: int = 0
    error: str = ""
    kinds: tuple[tuple[str, str], ...] = tuple((name, cls.kind_words) for name, cls in KINDS.items())
    holdings: tuple[tuple[HoldingFilter, str], ...] = HOLDING_FILTERS


@dataclass(frozen=True)
class ReportPage:
    """What a file holds, before anything is entered.

    Attributes:
        name: the file's name.
        kind: the kind that its rows were said to be, or "".
        good: how many rows can be entered.
        shown: the first few of them.
        problems: why the others cannot, by line and column; `left_out` counts those beyond the bound.
        packed: the file, for the second step; "" where there is nothing to enter.
        no_quantities: whether no row says how many one has.
    """

    template: ClassVar[str] = "shelf/report.html"

    name: str
    kind: str
    good: int
    shown: tuple[CsvRow, ...]
    problems: tuple[CsvProblem, ...]
    left_out: int
    packed: str
    no_quantities: bool


@dataclass(frozen=True)
class Upload:
    """What a form sent: the file's name and bytes, and its other fields."""

    name: str
    data: bytes
    fields: dict[str, str]


async def upload_of(request: Request) -> Upload:
    """The form of either step. The body is bounded before it comes here."""
    fields: dict[str, str] = {}
    name, data = "", b""
    async with request.form(max_part_size=PACKED_MAXIMUM) as form:
        for field, value in form.multi_items():
            if isinstance(value, UploadFile):
                name, data = value.filename or "", await value.read()
            else:
                fields[field] = value
    return Upload(name, data, fields)


Sent = Annotated[Upload, Depends(upload_of)]
Short = Annotated[str, Query(max_length=40)]


@router.get("/export.csv")
def export_parts(bench: ReadingBench, holding: Short = "shelf", kind: Short = "") -> Response:
    """The parts of the shelf, or of the whole catalogue, or of one kind, as CSV."""
    whose: dict[str, HoldingFilter] = {name: name for name, _ in HOLDING_FILTERS}
    known = whose.get(holding, "shelf")
    kinds = [kind] if kind in KINDS else []
    text = write_csv(_rows(bench, known, kind if kinds else ""), kinds)
    name = "-".join(["trainwright", "catalogue" if known == "catalogue" else known, *kinds])
    # The byte order mark tells spreadsheets that the file is UTF-8.
    return Response(
        text.encode("utf-8-sig"),
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}.csv"'},
    )


def _rows(bench: Workbench, holding: HoldingFilter, kind: str) -> Iterator[CsvRow]:
    query = PartQuery(bench.observer.id, kind=kind, holding=holding, limit=LINES_A_QUERY)
    while True:
        lines = bench.find_parts(query).lines
        yield from (CsvRow(line.item.part, line.holding) for line in lines)
        if len(lines) < LINES_A_QUERY:
            return
        query = replace(query, offset=query.offset + LINES_A_QUERY)


@router.get("/import")
def choose_file(
    request: Request,
    bench: ReadingBench,  # noqa: ARG001
    entered: Short = "",
    known: Short = "",
) -> Response:
    """Where a file is chosen. The bench is asked for, since only an observer can enter parts."""
    numbers = [int(text) if text.isascii() and text.isdigit() else None for text in (entered, known)]
    return render_page(request, ImportPage(numbers[0], numbers[1] or 0))


@router.post("/import")
def report_file(request: Request, sent: Sent, bench: ReadingBench) -> Response:  # noqa: ARG001
    """What the file holds. Nothing is entered yet."""
    if not sent.name:
        page = ImportPage(
            error="No file was chosen. Choose a CSV file of at most 5 MB, then press the button."
        )
        return render_page(request, page, 422)
    kind = sent.fields.get("kind", "")
    reading = read_csv(sent.data, kind)
    report = _report(sent.name, kind if kind in KINDS else "", sent.data, reading)
    return render_page(request, report, 200 if report.packed else 422)


def _report(name: str, kind: str, data: bytes, reading: CsvReading) -> ReportPage:
    good, problems = reading.good, reading.problems
    packed = pack(data) if good else ""
    if len(packed) > PACKED_MAXIMUM:
        packed = ""
        too_large = "The file is too large to be carried to the next step. Split it into two files."
        problems = (CsvProblem(1, "", too_large), *problems)
    return ReportPage(
        name=name[:120],
        kind=kind,
        good=len(good),
        shown=good[:ROWS_SHOWN],
        problems=problems,
        left_out=reading.problems_left_out,
        packed=packed,
        no_quantities=not any(row.holding.any for row in good),
    )


def carried_rows(sent: Sent) -> tuple[CsvRow, ...]:
    """The good rows of the file that the report carried. Raises RefusedError where there is none."""
    reading = read_csv(unpack(sent.fields.get("packed", "")), sent.fields.get("kind", ""))
    if not reading.good:
        raise RefusedError("There is no row that could be entered. Choose the file again.")
    bare = Holding(owned=1) if sent.fields.get("own_one") else Holding()
    return tuple(row if row.holding.any else replace(row, holding=bare) for row in reading.good)


CarriedRows = Annotated[tuple[CsvRow, ...], Depends(carried_rows)]


@router.post("/import/enter")
def enter_rows(request: Request, rows: CarriedRows, bench: WritingBench) -> Response:
    """Enter the good rows, all or none.

    They are read before the writing unit is opened, which only one request can hold at a time.
    """
    taken = bench.take_in_parts([(row.part, row.holding) for row in rows])
    return go_to(request, URLS.import_parts(entered=taken.entered, known=taken.known))


def pack(data: bytes) -> str:
    """Return the file as text without line ends, which a form field would change."""
    return base64.b64encode(zlib.compress(data, 6)).decode("ascii")


def unpack(packed: str) -> bytes:
    """Return the file that `pack` packed. Raises RefusedError where it is no such thing, or too large."""
    broken = RefusedError("The file did not arrive whole, so nothing was entered. Choose it again.")
    try:
        unpacking = zlib.decompressobj()
        data = unpacking.decompress(base64.b64decode(packed, validate=True), BYTES_MAXIMUM + 1)
    except (binascii.Error, ValueError, zlib.error):
        raise broken from None
    if len(data) > BYTES_MAXIMUM or not unpacking.eof:
        raise broken
    return data
