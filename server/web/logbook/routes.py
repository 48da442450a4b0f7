"""The logbook: saved entries newest first, one entry as it was, two entries side by side, a file taken in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from difflib import SequenceMatcher
from typing import Annotated, ClassVar, cast

from fastapi import Depends, File, Query, Request, UploadFile
from fastapi.responses import Response
from markupsafe import Markup
from pydantic import BaseModel, Field

from server.domain.changes import compare_documents, field_changes, turned_findings
from server.domain.entry import RULES_VERSION, Entry, EntryDocument, Share, read_entry
from server.domain.errors import RefusedError
from server.domain.findings import Finding
from server.domain.frames.measured import StoredMeasured
from server.domain.observer import UnitSystem
from server.flow.account_protocols import AccountStore
from server.flow.protocols import EntryName, RigLine
from server.flow.take_in_entry import Arrival
from server.flow.views import EntryView
from server.flow.workbench import Workbench
from server.handed import Number, is_hosted
from server.handed.routing import pages
from server.rim.answer import Answer, answer_of, counts_of
from server.rim.changes import ValueLine, WrittenChanges, write_changes, write_field_change
from server.rim.entry_file import LARGEST_FILE, read_entry_file
from server.rim.phrasebook.tell import write_words
from server.settings import Settings
from server.web.deps import ReadingBench, WritingBench, settings_of
from server.web.drawing.qr import qr_svg
from server.web.logbook.files import html_file, json_file
from server.web.logbook.sheet import SavedLine, Sheet, sheet_of
from server.web.paging import offset_within
from server.web.rendering import URLS, go_to, render_page

router = pages()

ENTRIES_A_PAGE = 20


@dataclass(frozen=True)
class EntryLine:
    """An entry in the list.

    Attributes:
        entry: the entry.
        counts: how many findings of each weight, heaviest first.
        answer: how the rig stood.
        before: the entry before it of the same rig, None for the first.
        changes: what changed since that one.
    """

    entry: Entry
    counts: tuple[tuple[str, int], ...]
    answer: Answer | None
    before: Entry | None
    changes: WrittenChanges | None


@dataclass(frozen=True)
class LogbookPage:
    """The list.

    Attributes:
        lines: a page of entries, newest first.
        offset: how many newer ones stand on the pages before.
        total: how many there are.
        limit: how many a page holds.
        rigs: rigs that have entries, to choose one by.
        rig: the chosen rig, None for all.
        to_save: a rig that has parts and no entry yet, for the empty logbook; None where there is none.
    """

    template: ClassVar[str] = "logbook/list.html"

    lines: tuple[EntryLine, ...]
    offset: int
    total: int
    rigs: tuple[RigLine, ...]
    rig: RigLine | None
    to_save: RigLine | None
    limit: int = ENTRIES_A_PAGE


@dataclass(frozen=True)
class RevisedPart:
    """A part of an entry whose specification has changed since: the fields, then and now."""

    part_id: int
    name: str
    values: tuple[ValueLine, ...]


@dataclass(frozen=True)
class NowLine:
    """A finding that today's rules judge otherwise: as saved and as it is now; None where there is none."""

    saved: Finding | None
    now: Finding | None


@dataclass(frozen=True)
class OpenLink:
    """A link to an entry, with its whole address as text and as a QR code."""

    share: Share
    address: str
    qr: Markup


@dataclass(frozen=True)
class EntryPage:
    """One entry as it was.

    Attributes:
        entry: the entry.
        sheet: its content, read.
        rules_now: the version of today's rules.
        now: where today's rules judge otherwise.
        revised: parts whose specification has changed since; `gone` names those that left the catalogue.
        before: the entry before it of the same rig, None for the first; `changes` since that one.
        shares: the links that are open; `withdrawn` counts the others.
        this_machine_only: whether the links lead nowhere from another machine.
        said: what was just done with it, a sentence; "" for nothing.
        listed_since: since when it is shared with the club, None where it is not.
    """

    template: ClassVar[str] = "logbook/entry.html"

    entry: Entry
    sheet: Sheet
    rules_now: int
    now: tuple[NowLine, ...]
    revised: tuple[RevisedPart, ...]
    gone: tuple[str, ...]
    before: Entry | None
    changes: WrittenChanges | None
    shares: tuple[OpenLink, ...]
    withdrawn: int
    this_machine_only: bool
    said: str = ""
    listed_since: datetime | None = None


@dataclass(frozen=True)
class PairLine:
    """A row of two trains side by side; a side is None where its train has nothing there.

    `words` say what became of the part ("in", "out", "moved here", "turned round" ...), "" for nothing.
    """

    left: SavedLine | None
    right: SavedLine | None
    words: str


@dataclass(frozen=True)
class FindingPair:
    """What one check said of one thing in either entry."""

    title: str
    left: Finding | None
    right: Finding | None

    @property
    def turned(self) -> bool:
        """Whether the weight differs."""
        return (self.left and self.left.weight) != (self.right and self.right.weight)


@dataclass(frozen=True)
class ComparePage:
    """Two entries side by side.

    Attributes:
        entries: all entries by name, to choose from, newest first.
        left, right: the chosen ones; None while not chosen.
        left_sheet, right_sheet: their content.
        changes: what differs from left to right.
        run: both trains, aligned.
        gear: (name, how many left, how many right).
        findings: both sets of findings, aligned.
    """

    template: ClassVar[str] = "logbook/compare.html"

    entries: tuple[EntryName, ...]
    left: Entry | None = None
    right: Entry | None = None
    left_sheet: Sheet | None = None
    right_sheet: Sheet | None = None
    changes: WrittenChanges | None = None
    run: tuple[PairLine, ...] = ()
    gear: tuple[tuple[str, int, int], ...] = ()
    findings: tuple[FindingPair, ...] = ()


@dataclass(frozen=True)
class TakeInPage:
    """The form that takes in a file.

    Attributes:
        error: why the file could not be taken, a sentence.
        largest_mb: how long a file may be.
    """

    template: ClassVar[str] = "logbook/take_in.html"

    error: str = ""
    largest_mb: int = LARGEST_FILE // 1_000_000


@router.get("/logbook")
def show_logbook(
    request: Request,
    bench: ReadingBench,
    rig: int | None = None,
    start: Annotated[int, Query(alias="from")] = 0,
) -> Response:
    """All entries, or those of one rig, a page of them."""
    rigs = bench.rigs()
    chosen = next((line for line in rigs if line.id == rig), None)
    total = chosen.entries if chosen else sum(line.entries for line in rigs)
    offset = offset_within(start, total, ENTRIES_A_PAGE)
    entries = bench.entries(chosen.id if chosen else None, limit=ENTRIES_A_PAGE, offset=offset)
    units = bench.observer.units
    page = LogbookPage(
        lines=tuple(_line(entry, before, units) for entry, before in _with_those_before(bench, entries)),
        offset=offset,
        total=total,
        rigs=tuple(line for line in rigs if line.entries),
        rig=chosen,
        to_save=next((line for line in rigs if line.parts and not line.entries), None),
    )
    return render_page(request, page)


@router.get("/logbook/compare")
def compare(
    request: Request, bench: ReadingBench, earlier: int | None = None, later: int | None = None
) -> Response:
    """Any two entries side by side; which two stands in the address."""
    entries = bench.entry_names()
    known = {entry.id for entry in entries}
    left, right = (bench.saved(number) if number in known else None for number in (earlier, later))
    if left is None or right is None:
        return render_page(request, ComparePage(entries, left, right))
    return render_page(request, _compared(entries, left, right, bench.observer.units))


@router.get("/logbook/take-in")
def ask_for_file(request: Request, bench: ReadingBench) -> Response:  # noqa: ARG001 - an observer must be chosen
    """The form that takes in an entry's file."""
    return render_page(request, TakeInPage())


def sent_entry(file: Annotated[UploadFile | None, File()] = None) -> EntryDocument | RefusedError:
    """The entry in the file that was sent, or why there is none; read before the writing unit is opened."""
    try:
        if file is None or not file.filename:
            raise RefusedError("Choose the file first: an entry's page (.html) or its data (.json).")
        return read_entry(read_entry_file(file.file.read(LARGEST_FILE + 1)))
    except RefusedError as error:
        return error


@router.post("/logbook/take-in")
def take_in(
    request: Request, sent: Annotated[EntryDocument | RefusedError, Depends(sent_entry)], bench: WritingBench
) -> Response:
    """Take in an entry's file. A refusal stands beside the field, and nothing was stored."""
    if isinstance(sent, RefusedError):
        return render_page(request, TakeInPage(error=write_words(sent.message)), 422)
    return go_to(request, arrived(bench.take_in(sent)))


def arrived(arrival: Arrival) -> str:
    """The address of an entry that was taken in, which says what came in."""
    if arrival.known:
        return URLS.entry(arrival.entry.id, said="known")
    return URLS.entry(arrival.entry.id, said="in", parts=arrival.parts, new=str(arrival.new))


class Said(BaseModel):
    """What the address says was just done with an entry."""

    said: str = Field(default="", max_length=20)
    parts: int = Field(default=0, ge=0, le=1000)
    new: int = Field(default=0, ge=0, le=1000)

    @property
    def sentence(self) -> str:
        """It in words; "" for nothing."""
        if self.said == "known":
            return "This entry stands in your logbook already, word for word, so nothing was taken in."
        if self.said != "in":
            return ""
        parts = "Its part is" if self.parts == 1 else f"Its {self.parts} parts are"
        new = {0: "none of them is new here", self.parts: "all are new here"}.get(
            self.new, f"{self.new} of them {'is' if self.new == 1 else 'are'} new here"
        )
        return (
            "Taken in. The entry stands in your logbook, dated and signed as it was, and its rig on your "
            f"bench. {parts} in the catalogue ({new}) and on your shelf, as considered where you "
            "had none."
        )


@router.get("/logbook/{entry_id}")
def show_entry(
    request: Request, bench: ReadingBench, entry_id: Number, said: Annotated[Said, Query()]
) -> Response:
    """One entry as it was."""
    view = bench.entry(entry_id)
    before = bench.entry_before(view.entry)
    settings = settings_of(request)
    measured = bench.store.measurements_of_entry(entry_id)
    page = _entry_page(view, before, measured, bench.observer.units, settings)
    listed = cast(AccountStore, bench.store).listed_since(entry_id) if is_hosted(request) else None
    return render_page(request, replace(page, said=said.sentence, listed_since=listed))


@router.post("/logbook/{entry_id}/bring-back")
def bring_back(request: Request, bench: WritingBench, entry_id: Number) -> Response:
    """Make the entry's train the present one of its rig, on the bench, where undo takes it back."""
    return go_to(request, URLS.rig(bench.bring_back(entry_id).id, brought=entry_id))


@router.get("/logbook/{entry_id}/file.html")
def download_page(bench: ReadingBench, entry_id: Number) -> Response:
    """The entry as one self-contained page."""
    document = bench.saved(entry_id).document
    return html_file(document, bench.observer.units, bench.store.measurements_of_entry(entry_id))


@router.get("/logbook/{entry_id}/file.json")
def download_data(bench: ReadingBench, entry_id: Number) -> Response:
    """The entry as JSON."""
    return json_file(bench.saved(entry_id).document)


def _with_those_before(bench: Workbench, entries: tuple[Entry, ...]) -> Iterator[tuple[Entry, Entry | None]]:
    """Each entry with the one before it of the same rig, which may stand on a later page."""
    by_number = {(entry.rig_id, entry.number): entry for entry in entries}
    for entry in entries:
        before = by_number.get((entry.rig_id, entry.number - 1))
        yield entry, before or (bench.entry_before(entry) if entry.number > 1 else None)


def _line(entry: Entry, before: Entry | None, units: UnitSystem) -> EntryLine:
    return EntryLine(
        entry,
        counts_of(entry.document.findings),
        answer_of(entry.document.findings),
        before,
        _changes(before, entry, units),
    )


def _changes(before: Entry | None, entry: Entry, units: UnitSystem) -> WrittenChanges | None:
    return (
        None if before is None else write_changes(compare_documents(before.document, entry.document), units)
    )


def _entry_page(
    view: EntryView,
    before: Entry | None,
    measured: tuple[StoredMeasured, ...],
    units: UnitSystem,
    settings: Settings,
) -> EntryPage:
    document = view.entry.document
    frozen = {part.id: part.part for part in document.parts}
    open_shares = tuple(share for share in view.shares if share.withdrawn_at is None)
    return EntryPage(
        entry=view.entry,
        sheet=sheet_of(document, units, measured),
        rules_now=RULES_VERSION,
        now=tuple(
            NowLine(turn.before, turn.after) for turn in turned_findings(document.findings, view.findings_now)
        ),
        revised=tuple(
            RevisedPart(
                item.id,
                item.name,
                tuple(write_field_change(c, units) for c in field_changes(frozen[item.id], item.part)),
            )
            for item in view.revised
        ),
        gone=tuple(part.part.name for part in view.gone),
        before=before,
        changes=_changes(before, view.entry, units),
        shares=tuple(_open_link(share, settings.share_address) for share in open_shares),
        withdrawn=len(view.shares) - len(open_shares),
        this_machine_only=not settings.links_lead_here,
    )


def _open_link(share: Share, share_address: str) -> OpenLink:
    address = f"{share_address}{URLS.shared(share.token)}"
    return OpenLink(share, address, qr_svg(address, "QR code of this link"))


def _compared(entries: tuple[EntryName, ...], left: Entry, right: Entry, units: UnitSystem) -> ComparePage:
    left_sheet, right_sheet = (
        sheet_of(left.document, units, side="left"),
        sheet_of(right.document, units, side="right"),
    )
    changes = write_changes(compare_documents(left.document, right.document), units)
    return ComparePage(
        entries=entries,
        left=left,
        right=right,
        left_sheet=left_sheet,
        right_sheet=right_sheet,
        changes=changes,
        run=aligned(left_sheet.run, right_sheet.run),
        gear=_gear_pairs(left_sheet, right_sheet),
        findings=_finding_pairs(left.document.findings, right.document.findings),
    )


def aligned(left: tuple[SavedLine, ...], right: tuple[SavedLine, ...]) -> tuple[PairLine, ...]:
    """Two trains row by row: the same part stands beside itself where the order allows it."""
    old, new = [line.place.item.id for line in left], [line.place.item.id for line in right]
    rows: list[PairLine] = []
    for tag, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "equal":
            rows += [PairLine(x, y, _kept(x, y)) for x, y in zip(left[a:b], right[c:d], strict=True)]
            continue
        rows += [PairLine(x, None, "moved away" if x.place.item.id in new else "out") for x in left[a:b]]
        rows += [PairLine(None, y, "moved here" if y.place.item.id in old else "in") for y in right[c:d]]
    return tuple(rows)


def _kept(left: SavedLine, right: SavedLine) -> str:
    if ("turned round" in left.marks) != ("turned round" in right.marks):
        return "turned round"
    if left.marks != right.marks:
        return "set otherwise"
    return "" if left.length == right.length else "other length"


def _gear_pairs(left: Sheet, right: Sheet) -> tuple[tuple[str, int, int], ...]:
    before = {line.name: line.quantity for line in left.gear}
    after = {line.name: line.quantity for line in right.gear}
    return tuple((name, before.get(name, 0), after.get(name, 0)) for name in dict.fromkeys((*before, *after)))


def _finding_pairs(left: tuple[Finding, ...], right: tuple[Finding, ...]) -> tuple[FindingPair, ...]:
    """Findings of one check about one place stand in one row."""

    def by_subject(findings: tuple[Finding, ...]) -> dict[tuple[str, str, int | None], Finding]:
        return {(f.code.partition(".")[0], f.title, f.place): f for f in findings}

    before, after = by_subject(left), by_subject(right)
    pairs = [FindingPair(key[1], before.get(key), after.get(key)) for key in dict.fromkeys((*before, *after))]
    return tuple(sorted(pairs, key=lambda pair: not pair.turned))
