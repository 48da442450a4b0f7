"""A saved entry as it is read: on its own page, on a shared page and in a file, all from one value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from server.domain.cautions import SUN, SafetyNote
from server.domain.entry import EntryDocument
from server.domain.findings import Finding
from server.domain.frames.measured import StoredMeasured
from server.domain.load.work import work_cautions
from server.domain.observer import UnitSystem
from server.domain.parts import Filter
from server.domain.rig import Rig
from server.domain.train import Place
from server.frozen import frozen
from server.rim.answer import Answer, answer_of, counts_of, in_order
from server.rim.wording import write_measure
from server.web.bench.guide_run import GuideLine, guide_run
from server.web.logbook.measured import SheetMeasured, sheet_measured
from server.web.picture import sheet_section
from server.web.run import RunLine, run_of, write_distance


@frozen
class SavedLine(RunLine):
    """One part of the train as it was. `marks`: "turned round", "set to 12 mm", and the filters in it."""

    marks: tuple[str, ...]


@dataclass(frozen=True)
class GearLine:
    """Gear beside the train, with the mass of one. `over_tube`: it goes over the front of the tube."""

    name: str
    kind: str
    quantity: int
    mass: str
    over_tube: bool = False


@dataclass(frozen=True)
class Sheet:
    """An entry, read.

    Attributes:
        title, note, rig, observer, saved_at, rules_version: as saved.
        section: the drawing.
        run: the parts in order, sky first.
        branch: what stands between the off-axis guider's side port and the guide camera, and that camera.
        gear: what goes with it.
        findings: as saved, heaviest first.
        answer: how the rig stood; None where nothing was judged.
        counts: how many of each weight, in that order.
        cautions: what can hurt whoever puts this together, the Sun first.
        measured: what was measured on its own frames, oldest first.
    """

    title: str
    note: str
    rig: str
    observer: str
    saved_at: datetime
    rules_version: int
    section: Markup
    run: tuple[SavedLine, ...]
    branch: tuple[GuideLine, ...]
    gear: tuple[GearLine, ...]
    findings: tuple[Finding, ...]
    answer: Answer | None
    counts: tuple[tuple[str, int], ...]
    cautions: tuple[SafetyNote, ...]
    measured: tuple[SheetMeasured, ...]


def sheet_of(
    document: EntryDocument,
    units: UnitSystem,
    measured: Sequence[StoredMeasured] = (),
    *,
    side: str = "",
) -> Sheet:
    """Read a document, with the measurements that belong to it, for a reader of these units. `side` tells
    apart two on one page.
    """
    rig = document.build()
    return Sheet(
        title=document.title,
        note=document.note,
        rig=document.rig,
        observer=document.observer,
        saved_at=document.saved_at,
        rules_version=document.rules_version,
        section=sheet_section(rig, units, links=not side, id_prefix=side or "section"),
        run=run_lines(rig, units),
        branch=_branch(rig, units),
        gear=tuple(
            GearLine(
                gear.item.name,
                gear.item.part.kind_words,
                gear.quantity,
                write_measure(gear.item.part.mass_kg, "mass", units),
                over_tube=isinstance(gear.item.part, Filter) and gear.item.part.slips_over_tube,
            )
            for gear in rig.gear
        ),
        findings=in_order(document.findings),
        answer=answer_of(document.findings),
        counts=counts_of(document.findings),
        # Who reads a saved sheet may have other plans than its owner: the Sun's is never left out.
        cautions=tuple(dict.fromkeys((SUN, *work_cautions(rig)))),
        measured=sheet_measured(rig, measured),
    )


def run_lines(rig: Rig, units: UnitSystem) -> tuple[SavedLine, ...]:
    """The parts of a rig in order, with their cumulative distances."""
    return tuple(
        SavedLine(**vars(line), marks=_marks(line.place, units)) for line in run_of(rig.train, units)
    )


def _branch(rig: Rig, units: UnitSystem) -> tuple[GuideLine, ...]:
    """The guide chain as it was; empty where nothing stood before the guide camera."""
    found = guide_run(rig, units) if rig.branch else None
    return () if found is None else found.lines


def _marks(place: Place, units: UnitSystem) -> tuple[str, ...]:
    marks = ["turned round"] if place.flipped else []
    if place.set_length_mm is not None:
        marks.append(f"set to {write_distance(place.set_length_mm, units)}")
    marks += [f"{item.name} in the beam" if at == 0 else item.name for at, item in enumerate(place.inside)]
    return tuple(marks)
