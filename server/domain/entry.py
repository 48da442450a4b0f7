"""An entry of the logbook: a rig as it was when it was saved, whole and unchanging.

The document is also what travels: the JSON file, and the data inside the self-contained HTML file, are this.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, Literal

from pydantic import Field, ValidationError

from server.domain.errors import RefusedError
from server.domain.findings import Finding
from server.domain.limits import demand_limits, demand_order
from server.domain.measure import Frozen
from server.domain.parts import CataloguedPart, Part
from server.domain.refusals import sentence_of
from server.domain.rig import Rig, RigPlan, build_rig

ENTRY_SCHEMA: Final = 1
RULES_VERSION = 7
"""Raised whenever a check judges differently, so that old findings are known to be of older rules."""


class FrozenPart(Frozen):
    """A part as it was: its number and revision in the catalogue it came from, and the whole document."""

    id: int
    revision: int
    entered_by: str
    part: Part


def priceless(part: Part) -> Part:
    """The part without what it costs."""
    return part.model_copy(update={"price": None})


class EntryDocument(Frozen):
    """Everything of one saved entry. Part numbers are those of the catalogue it was saved in."""

    format: Literal["trainwright-entry"] = "trainwright-entry"
    schema_version: Literal[1] = ENTRY_SCHEMA
    rules_version: int = RULES_VERSION
    saved_at: datetime
    observer: str = Field(max_length=80)
    rig: str = Field(max_length=120)
    title: str = Field(max_length=120)
    note: str = Field(default="", max_length=4000)
    plan: RigPlan
    parts: tuple[FrozenPart, ...]
    findings: tuple[Finding, ...]

    def for_others(self) -> EntryDocument:
        """What others are shown of it: all but what the parts cost its owner."""
        parts = tuple(one.model_copy(update={"part": priceless(one.part)}) for one in self.parts)
        return self.model_copy(update={"parts": parts})

    def build(self) -> Rig:
        """The rig as it was. Raises RefusedError where the document lacks a part that its plan names."""
        parts = {p.id: CataloguedPart(p.id, 0, p.entered_by, p.revision, p.part) for p in self.parts}
        try:
            return build_rig(self.rig, self.plan, parts)
        except KeyError as missing:
            raise RefusedError(
                f"This entry names part number {missing} and does not hold it: the file is damaged."
            ) from None


def freeze(
    rig: Rig,
    plan: RigPlan,
    *,
    title: str,
    note: str,
    observer: str,
    saved_at: datetime,
    findings: tuple[Finding, ...],
) -> EntryDocument:
    """Freeze a rig with its parts as they are now.

    What the bench can do about a finding at one press stays behind: it names places and catalogue numbers of
    this moment. The sentence of the remedy is kept.
    """
    items: dict[int, CataloguedPart] = {}
    for place in (*rig.train, *rig.branch):
        items.update({item.id: item for item in (place.item, *place.inside)})
    items.update({gear.item.id: gear.item for gear in rig.gear})
    return EntryDocument(
        saved_at=saved_at,
        observer=observer,
        rig=rig.name,
        title=title,
        note=note,
        plan=plan,
        parts=tuple(
            FrozenPart(id=i.id, revision=i.revision, entered_by=i.entered_by_name, part=i.part)
            for i in sorted(items.values(), key=lambda item: item.id)
        ),
        findings=tuple(_at_rest(finding) for finding in findings),
    )


def _at_rest(finding: Finding) -> Finding:
    remedies = tuple(remedy.model_copy(update={"action": None}) for remedy in finding.remedies)
    return finding.model_copy(update={"remedies": remedies})


def read_entry(document: Any) -> EntryDocument:
    """Read a document of any schema version that this program knows.

    Raises RefusedError with a sentence where it is not an entry, is of a newer version, or is damaged.
    """
    if not isinstance(document, dict) or document.get("format") != "trainwright-entry":
        raise RefusedError("This is not a Trainwright entry: its format line is missing.")
    version = document.get("schema_version")
    if version != ENTRY_SCHEMA:
        raise RefusedError(
            f"This entry is written in version {version!r} of the format; this copy of Trainwright reads "
            f"version {ENTRY_SCHEMA}. Update Trainwright and try again."
        )
    try:
        entry = EntryDocument.model_validate(document)
    except ValidationError as error:
        first = error.errors()[0]
        where = " > ".join(str(step) for step in first["loc"])
        raise RefusedError(f"This entry is damaged at “{where}”. {sentence_of(first)}") from None
    demand_order(entry.plan, [(frozen.id, frozen.part) for frozen in entry.parts])
    for frozen in entry.parts:
        demand_limits(frozen.part)
    return entry


@dataclass(frozen=True)
class Entry:
    """An entry as this install keeps it.

    Attributes:
        id: number in this install.
        rig_id: the rig it belongs to.
        observer_id: whose logbook it stands in.
        number: 1 for the rig's first entry, and so on.
        document: the frozen content.
    """

    id: int
    rig_id: int
    observer_id: int
    number: int
    document: EntryDocument


@dataclass(frozen=True)
class Share:
    """A link to one entry. Whoever holds `token` may read the entry until it is withdrawn."""

    id: int
    token: str
    entry_id: int
    created_at: datetime
    withdrawn_at: datetime | None = None
