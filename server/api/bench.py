"""Rigs: their train, its joints, and what the checks say of it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Annotated, Literal, Self

from fastapi import Path, Query
from pydantic import BaseModel, Field

from server.api.deps import ReadingBench, WritingBench
from server.api.errors import CHANGING, CHANGING_A_VERSION, LOOKING
from server.api.findings import FindingAnswer, write_findings
from server.api.naming import operations
from server.api.reading import Body, ChangeDocument, Version
from server.api.shelf import PartBrief
from server.domain.connections import Verdict
from server.domain.load_plan import LoadPlan
from server.domain.measure import Measure
from server.domain.observer import UnitSystem
from server.domain.parts import CataloguedPart
from server.domain.rig import Gear, Rules
from server.domain.train import Joint, Place, Shoulders
from server.flow.protocols import RigLine
from server.flow.views import BenchView
from server.flow.workbench import Workbench
from server.handed import LARGEST_NUMBER, Number
from server.rim.phrasebook.tell import sentence_of, write_words
from server.rim.wording import write_connection

router = operations("bench", "/observers/{observer_id}/rigs")

RigNumber = Annotated[Number, Path(description="The number of a rig of this observer's.")]

AskedVersion = Annotated[
    int, Query(ge=1, le=LARGEST_NUMBER, description="The version of the rig that is to go.")
]


class RigLineAnswer(BaseModel):
    """A rig in the list."""

    id: int
    name: str
    version: int
    changed_at: datetime
    parts: int = Field(description="How many parts it has, gear and filters counted.")
    entries: int = Field(description="How many entries of it the logbook holds.")

    @classmethod
    def of(cls, line: RigLine) -> Self:
        """The answer for a line."""
        return cls(
            id=line.id,
            name=line.name,
            version=line.version,
            changed_at=line.changed_at,
            parts=line.parts,
            entries=line.entries,
        )


class PlaceAnswer(BaseModel):
    """A part's place in the train, sky first. Distances count from the sensor, positive towards the sky."""

    key: int = Field(description="Stays with the place while it is moved; changes name a place by it.")
    part: PartBrief
    flipped: bool
    inside: tuple[PartBrief, ...] = Field(description="Filters in a wheel; the first is in the beam.")
    set_length_mm: float | None = Field(description="What an adjustable part is set to; null: its shortest.")
    length_mm: Measure | None = Field(description="What it adds between its shoulders.")
    sky_connection: str = Field(description="As it is turned; empty where it is not known.")
    camera_connection: str
    sky_shoulder_mm: float | None
    camera_shoulder_mm: float | None

    @classmethod
    def of(cls, place: Place, shoulders: Shoulders) -> Self:
        """The answer for a place."""
        return cls(
            key=place.key,
            part=PartBrief.of(place.item),
            flipped=place.flipped,
            inside=tuple(PartBrief.of(item) for item in place.inside),
            set_length_mm=place.set_length_mm,
            length_mm=place.length,
            sky_connection=write_connection(place.sky_connection),
            camera_connection=write_connection(place.camera_connection),
            sky_shoulder_mm=shoulders.sky_mm,
            camera_shoulder_mm=shoulders.camera_mm,
        )


class JointAnswer(BaseModel):
    """Where two neighbours meet, and whether they mate."""

    index: int = Field(description="A part that is added here goes to this index of the train.")
    upper: int = Field(description="The key of the place towards the sky.")
    lower: int
    shims: tuple[int, ...] = Field(description="The keys of the shims that lie in the joint.")
    verdict: Verdict
    sentence: str
    why: str
    joiners: tuple[PartBrief, ...] = Field(description="Parts of the shelf that would join it.")

    @classmethod
    def of(cls, joint: Joint, joiners: Iterable[CataloguedPart], units: UnitSystem) -> Self:
        """The answer for a joint."""
        return cls(
            index=joint.index,
            upper=joint.upper.key,
            lower=joint.lower.key,
            shims=tuple(shim.key for shim in joint.shims),
            verdict=joint.mating.verdict,
            sentence=sentence_of(joint.mating.says, units),
            why=sentence_of(joint.mating.why, units),
            joiners=tuple(PartBrief.of(item) for item in joiners),
        )


class GearAnswer(BaseModel):
    """A part that rides along beside the train."""

    part: PartBrief
    quantity: int

    @classmethod
    def of(cls, gear: Gear) -> Self:
        """The answer for gear."""
        return cls(part=PartBrief.of(gear.item), quantity=gear.quantity)


class RigAnswer(BaseModel):
    """A rig as it stands, checked."""

    id: int
    name: str
    version: int = Field(description="A change names it; one more with every change, undo and redo.")
    undo: str = Field(description="What undo would take back; empty where there is nothing.")
    redo: str
    train: tuple[PlaceAnswer, ...]
    joints: tuple[JointAnswer, ...]
    branch: tuple[PlaceAnswer, ...] = Field(
        description="From the off-axis guider's side port to the guide camera; its shoulders are not counted."
    )
    gear: tuple[GearAnswer, ...]
    rules: Rules
    load: LoadPlan = Field(description="What the owner says of the load; the change `load` sets all of it.")
    findings: tuple[FindingAnswer, ...]

    @classmethod
    def of(cls, bench: Workbench, view: BenchView) -> Self:
        """The answer for a rig, in words for the observer at the bench."""
        stored, rig = view.stored, view.rig
        return cls(
            id=stored.id,
            name=stored.name,
            version=stored.version,
            undo=write_words(stored.undo_words, bench.observer.units),
            redo=write_words(stored.redo_words, bench.observer.units),
            train=tuple(PlaceAnswer.of(place, shoulders) for place, shoulders, _ in rig.train.lines),
            joints=tuple(
                JointAnswer.of(one, view.joiners.get(one.index, ()), bench.observer.units)
                for one in rig.train.joints
            ),
            branch=tuple(PlaceAnswer.of(place, Shoulders(None, None)) for place in rig.branch),
            gear=tuple(GearAnswer.of(gear) for gear in rig.gear),
            rules=rig.rules,
            load=rig.load,
            findings=write_findings(view.findings, bench.observer.units),
        )


RigName = Annotated[str, Field(max_length=500, description="At most 120 characters.", examples=["Garden"])]


class NewRig(Body):
    """A rig to begin."""

    name: RigName


class Rename(Body):
    """Another name for a rig."""

    version: Version
    name: RigName


class ChangeRequest(Body):
    """One change on the bench."""

    version: Version
    change: ChangeDocument = Field(examples=[{"verb": "add", "part_id": 1, "at": None}])


class Step(Body):
    """A step through the states of a rig."""

    version: Version


@router.get("", responses=LOOKING)
def list_rigs(bench: ReadingBench) -> tuple[RigLineAnswer, ...]:
    """The observer's rigs, last changed first."""
    return tuple(RigLineAnswer.of(line) for line in bench.rigs())


@router.post("", status_code=201, responses=CHANGING)
def add_rig(bench: WritingBench, body: NewRig) -> RigAnswer:
    """Begin a rig with an empty train."""
    return RigAnswer.of(bench, bench.bench(bench.new_rig(body.name).id))


@router.get("/{rig_id}", responses=LOOKING)
def show_rig(bench: ReadingBench, rig_id: RigNumber) -> RigAnswer:
    """A rig with its train, joints, shoulders and findings."""
    return RigAnswer.of(bench, bench.bench(rig_id))


@router.put("/{rig_id}/name", responses=CHANGING_A_VERSION)
def rename_rig(bench: WritingBench, rig_id: RigNumber, body: Rename) -> RigAnswer:
    """Give a rig another name."""
    bench.rename_rig(rig_id, body.version, body.name)
    return RigAnswer.of(bench, bench.bench(rig_id))


@router.delete("/{rig_id}", status_code=204, responses=CHANGING_A_VERSION)
def remove_rig(bench: WritingBench, rig_id: RigNumber, version: AskedVersion) -> None:
    """Remove a rig that has no entries: entries never lose their rig."""
    bench.remove_rig(rig_id, version)


@router.post("/{rig_id}/changes", responses=CHANGING_A_VERSION)
def change_rig(bench: WritingBench, rig_id: RigNumber, body: ChangeRequest) -> RigAnswer:
    """Make one change: add, remove, move, swap, flip, set a length, filters, gear, rules, load."""
    return RigAnswer.of(bench, bench.change_rig(rig_id, body.version, body.change))


def _step(bench: Workbench, rig_id: int, version: int, step: Literal[-1, 1]) -> RigAnswer:
    return RigAnswer.of(bench, bench.step_rig(rig_id, version, step))


@router.post("/{rig_id}/undo", responses=CHANGING_A_VERSION)
def undo_change(bench: WritingBench, rig_id: RigNumber, body: Step) -> RigAnswer:
    """Take the last change back."""
    return _step(bench, rig_id, body.version, -1)


@router.post("/{rig_id}/redo", responses=CHANGING_A_VERSION)
def redo_change(bench: WritingBench, rig_id: RigNumber, body: Step) -> RigAnswer:
    """Make a change again that was taken back."""
    return _step(bench, rig_id, body.version, 1)
