"""Rigs as they were saved: entries, what changed between them, and entries of other installs."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Self

from fastapi import Depends, Path, Query
from pydantic import BaseModel, Field

from server.api.bench import RigAnswer, RigNumber
from server.api.deps import ReadingBench, WritingBench
from server.api.errors import CHANGING, CHANGING_A_VERSION, LOOKING
from server.api.findings import FindingAnswer, write_findings
from server.api.naming import operations
from server.api.reading import Body, SavedDocument, Version, plain_json
from server.api.shelf import PartBrief
from server.domain.changes import EntryChanges
from server.domain.entry import Entry, EntryDocument, read_entry
from server.domain.findings import Weight
from server.domain.observer import UnitSystem
from server.flow.views import EntryView
from server.handed import LARGEST_NUMBER, Number
from server.rim.changes import write_changes

router = operations("logbook", "/observers/{observer_id}")

EntryNumber = Annotated[Number, Path(description="The number of an entry in this observer's logbook.")]
AskedNumber = Annotated[int, Query(ge=1, le=LARGEST_NUMBER)]


class EntryLine(BaseModel):
    """An entry in the list."""

    id: int
    rig_id: int
    number: int = Field(description="1 for the rig's first entry, and so on.")
    rig: str = Field(description="The rig's name when it was saved.")
    title: str
    note: str
    observer: str = Field(description="Who saved it, in whatever install.")
    saved_at: datetime
    weights: dict[Weight, int] = Field(description="How many findings of each weight it was saved with.")

    @classmethod
    def of(cls, entry: Entry) -> Self:
        """The answer for an entry."""
        return cls(**_line(entry))


def _line(entry: Entry) -> dict[str, Any]:
    document = entry.document
    weights: dict[Weight, int] = {"stop": 0, "watch": 0, "unknown": 0, "sound": 0}
    for finding in document.findings:
        weights[finding.weight] += 1
    return {
        "id": entry.id,
        "rig_id": entry.rig_id,
        "number": entry.number,
        "rig": document.rig,
        "title": document.title,
        "note": document.note,
        "observer": document.observer,
        "saved_at": document.saved_at,
        "weights": weights,
    }


class EntryAnswer(EntryLine):
    """An entry with its document, which is what its JSON file holds."""

    document: SavedDocument

    @classmethod
    def of(cls, entry: Entry) -> Self:
        """The answer for an entry."""
        return cls(**_line(entry), document=entry.document)


class OpenedEntry(EntryAnswer):
    """An entry, and what is to be said of it today."""

    findings_now: tuple[FindingAnswer, ...] = Field(
        description="What today's rules say of the rig as it was."
    )
    revised: tuple[PartBrief, ...] = Field(description="Parts that say something else in the catalogue now.")
    gone: tuple[str, ...] = Field(description="Parts that have left the catalogue since.")

    @classmethod
    def opened(cls, view: EntryView, units: UnitSystem) -> Self:
        """The answer for an entry that was opened."""
        return cls(
            **_line(view.entry),
            document=view.entry.document,
            findings_now=write_findings(view.findings_now, units),
            revised=tuple(PartBrief.of(item) for item in view.revised),
            gone=tuple(frozen.part.name for frozen in view.gone),
        )


class SpecificationChange(BaseModel):
    """A field of a part that differs. Raw values; null or empty for what is not known."""

    part: str
    field: str
    label: str
    before: Any
    after: Any


class SetLengthChange(BaseModel):
    """An adjustable part that is set differently; null: its shortest."""

    part: str
    before_mm: float | None
    after_mm: float | None


class RuleChange(BaseModel):
    """A rule that differs."""

    rule: str
    before: float
    after: float


class FindingChange(BaseModel):
    """A finding whose weight turned; null on the side where it was not there."""

    title: str
    before: Weight | None
    after: Weight | None


class ChangesAnswer(BaseModel):
    """All differences between two entries. Names of parts, raw values, and `lines` for people."""

    parts_in: tuple[str, ...]
    parts_out: tuple[str, ...]
    moved: tuple[str, ...]
    turned_round: tuple[str, ...]
    gear_in: tuple[str, ...]
    gear_out: tuple[str, ...]
    set_lengths: tuple[SetLengthChange, ...]
    specifications: tuple[SpecificationChange, ...]
    rules: tuple[RuleChange, ...]
    findings: tuple[FindingChange, ...]
    lines: tuple[str, ...] = Field(description="The values that changed, in the units the observer reads.")

    @classmethod
    def of(cls, changes: EntryChanges, units: UnitSystem) -> Self:
        """The answer for an observer who reads these units."""
        turns = write_changes(changes, units)
        return cls(
            parts_in=changes.parts_in,
            parts_out=changes.parts_out,
            moved=changes.moved,
            turned_round=changes.turned_round,
            gear_in=changes.gear_in,
            gear_out=changes.gear_out,
            set_lengths=tuple(
                SetLengthChange(part=part, before_mm=before, after_mm=after)
                for part, before, after in changes.set_lengths
            ),
            specifications=tuple(
                SpecificationChange(
                    part=one.part, field=one.field, label=one.label, before=one.before, after=one.after
                )
                for one in changes.specifications
            ),
            rules=tuple(RuleChange(rule=name, before=a, after=b) for name, a, b in changes.rules),
            findings=tuple(
                FindingChange(
                    title=(turn.after or turn.before).title,  # type: ignore[union-attr]
                    before=turn.before.weight if turn.before else None,
                    after=turn.after.weight if turn.after else None,
                )
                for turn in changes.findings
            ),
            lines=tuple(f"{one.of}, {one.label}: {one.before} → {one.after}" for one in turns.values),
        )


class NewEntry(Body):
    """A rig's present state, to be saved for good."""

    version: Version
    title: str = Field(
        max_length=500, description="At most 120 characters.", examples=["Before the new spacer"]
    )
    note: str = Field(default="", max_length=20_000, description="At most 4000 characters.")


@router.post("/rigs/{rig_id}/entries", status_code=201, responses=CHANGING_A_VERSION)
def save_entry(bench: WritingBench, rig_id: RigNumber, body: NewEntry) -> EntryAnswer:
    """Save a rig as it is now, with its parts as they are now. An entry never changes again."""
    return EntryAnswer.of(bench.save_entry(rig_id, body.version, body.title, body.note))


@router.get("/entries", responses=LOOKING)
def list_entries(
    bench: ReadingBench,
    rig: AskedNumber | None = None,
    limit: Annotated[int | None, Query(ge=1, le=LARGEST_NUMBER, description="None: all of them.")] = None,
    offset: Annotated[int, Query(ge=0, le=LARGEST_NUMBER)] = 0,
) -> tuple[EntryLine, ...]:
    """The logbook, newest first; of one rig where it is named, and so much of the list as is asked for."""
    return tuple(EntryLine.of(entry) for entry in bench.entries(rig, limit=limit, offset=offset))


@router.get("/entries/compare", responses=LOOKING)
def compare_entries(bench: ReadingBench, earlier: AskedNumber, later: AskedNumber) -> ChangesAnswer:
    """What changed from one entry to another."""
    return ChangesAnswer.of(bench.compare(earlier, later), bench.observer.units)


@router.get("/entries/{entry_id}", responses=LOOKING)
def show_entry(bench: ReadingBench, entry_id: EntryNumber) -> OpenedEntry:
    """Open an entry: its document, what today's rules say of it, which of its parts have changed since."""
    return OpenedEntry.opened(bench.entry(entry_id), bench.observer.units)


@router.post("/entries/{entry_id}/bring-back", responses=CHANGING)
def bring_entry_back(bench: WritingBench, entry_id: EntryNumber) -> RigAnswer:
    """Make an entry's train the present one of its rig; undo takes that back."""
    return RigAnswer.of(bench, bench.bench(bench.bring_back(entry_id).id))


def sent_entry(body: dict[str, Any]) -> EntryDocument:
    """The entry that was sent, read before the writing unit is opened."""
    plain_json(body)
    return read_entry(body)


@router.post("/take-in", status_code=201, responses=CHANGING)
def take_entry_in(
    document: Annotated[EntryDocument, Depends(sent_entry)], bench: WritingBench
) -> EntryAnswer:
    """Take in the document of an entry, as another install's JSON file holds it: parts, rig and entry.

    One that stands in the logbook already, word for word, is given back as it is and not taken in again.
    """
    return EntryAnswer.of(bench.take_in(document).entry)
