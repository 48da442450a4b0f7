"""The bench as a page sees it: a run of parts with its joints, its findings, and the tray of parts to add."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import ClassVar

from markupsafe import Markup

from server.domain.connections import print_connection
from server.domain.fields import FieldSpec
from server.domain.findings import Finding, Weight
from server.domain.observer import UnitSystem
from server.domain.parts import KINDS, CataloguedPart, FilterWheel, Shim
from server.domain.train import TRAIN_KINDS, Joint, Place
from server.flow.protocols import PartPage, RigLine
from server.flow.workbench import BenchView
from server.rim.rules import RULE_SPECS, rule_texts
from server.rim.wording import write_measure
from server.units import write_quantity
from server.web.bridge_query import bridge_for
from server.web.picture import pictures_of

WEIGHT_ORDER: tuple[Weight, ...] = ("stop", "watch", "unknown", "sound")
JOINT_WORDS = {
    "mates": "mates",
    "watch": "holds, with a caution",
    "wrong_gender": "wrong gender",
    "wrong_size": "wrong size",
    "wrong_kind": "wrong kind",
    "unknown": "not known yet",
}
JOINT_WEIGHTS = {
    "mates": "sound",
    "watch": "watch",
    "wrong_gender": "stop",
    "wrong_size": "stop",
    "wrong_kind": "stop",
    "unknown": "unknown",
}


@dataclass(frozen=True)
class JointLine:
    """The joint above a place.

    Attributes:
        at: index at which a part added here goes.
        weight, word: how it is judged, as shape and word.
        sentence: the whole of it.
        upper, lower: the two connections as the trade writes them.
        joiners: parts on the shelf that would join them.
    """

    at: int
    weight: str
    word: str
    sentence: str
    upper: str
    lower: str
    joiners: tuple[CataloguedPart, ...] = ()


@dataclass(frozen=True)
class InsideLine:
    """A filter in a wheel; the first one is in the beam."""

    item: CataloguedPart
    in_beam: bool


@dataclass(frozen=True)
class PlaceLine:
    """One part of the run.

    Attributes:
        number: 1 for the first.
        place: the place itself.
        joint: the joint towards the sky, None for the first part and for a shim.
        length: its optical length or flange distance, written; "not known" where it is not.
        distance: its sky-side shoulder's distance from the sensor, written; "" where it is not known.
        sky, camera: its connections as it is turned, written.
        fixed: "first" for the tube, "last" for the camera, "" for what moves.
        up, down: index to move it to, None at the end of its way.
        inside: filters in it; `holds_filters` says whether it can hold any.
        set_length, shortest, longest: for an adjustable part, written; "" for others.
    """

    number: int
    place: Place
    joint: JointLine | None
    length: str
    distance: str
    sky: str
    camera: str
    fixed: str
    up: int | None
    down: int | None
    inside: tuple[InsideLine, ...]
    holds_filters: bool
    set_length: str = ""
    shortest: str = ""
    longest: str = ""


@dataclass(frozen=True)
class Tray:
    """Parts to put into the train.

    Attributes:
        text, kind, whole: what is looked for; `whole` looks in the whole catalogue, not on the shelf alone.
        at: the joint that is meant, None for none.
        swap: key of the place that is to be swapped, None for none.
        wheel: key of the place whose filters are meant, None for none.
        meant: words for what the parts are wanted for, "" for the plain tray.
        fitting: parts that mate at the joint; `fitting_words` says in what way.
        others: the other parts found.
        total: how many there are in all, `more` whether the list is cut.
    """

    text: str = ""
    kind: str = ""
    whole: bool = False
    at: int | None = None
    swap: int | None = None
    wheel: int | None = None
    meant: str = ""
    fitting: tuple[CataloguedPart, ...] = ()
    fitting_words: str = ""
    others: tuple[CataloguedPart, ...] = ()
    total: int = 0
    more: bool = False

    @property
    def query(self) -> dict[str, object]:
        """The tray's state for an address."""
        return {
            "q": self.text,
            "kind": self.kind,
            "whole": self.whole,
            "at": self.at,
            "swap": self.swap,
            "wheel": self.wheel,
        }


@dataclass(frozen=True)
class GearLine:
    """Gear beside the train."""

    item: CataloguedPart
    quantity: int
    mass: str


@dataclass(frozen=True)
class RigPage:
    """One rig on the bench.

    Attributes:
        rig_id, name, version: the rig; every change names the version that it was made on.
        undo_words, redo_words: what would be undone or redone; "" where there is nothing.
        section: the drawing; light: of the light over the sensor; tolerances: of where the sensor will stand;
            both empty where tube or camera is missing.
        places: the run.
        gear: what goes beside the train.
        findings: all findings, heaviest first.
        counts: how many findings of each weight, in that order.
        tray: parts to add.
        rule_specs, rules, rule_errors: the rules' form.
        status: what just happened, for the live line.
        trouble: a refusal, in a sentence; `trouble_field` names the form that it belongs to.
        title, note, save_errors: the form that saves an entry, with what was typed.
        name_typed, name_error: the form that renames.
        kinds: kinds for the tray's filter: (value, words).
    """

    template: ClassVar[str] = "bench/rig.html"

    rig_id: int
    name: str
    version: int
    undo_words: str
    redo_words: str
    section: Markup
    light: Markup
    tolerances: Markup
    places: tuple[PlaceLine, ...]
    gear: tuple[GearLine, ...]
    findings: tuple[Finding, ...]
    counts: tuple[tuple[str, int], ...]
    tray: Tray
    rule_specs: tuple[FieldSpec, ...]
    rules: dict[str, str]
    rule_errors: dict[str, str] = field(default_factory=dict)
    status: str = ""
    trouble: str = ""
    title: str = ""
    note: str = ""
    save_errors: dict[str, str] = field(default_factory=dict)
    name_typed: str = ""
    name_error: str = ""
    kinds: tuple[tuple[str, str], ...] = ()

    @property
    def train_kinds(self) -> tuple[str, ...]:
        """Kinds that stand in a train; the others go beside it."""
        return TRAIN_KINDS

    def bridge(self, finding: Finding) -> str:
        """Where the Bridge looks for what mends a finding; "" where it mends none of its kind."""
        return bridge_for(self.rig_id, finding)


@dataclass(frozen=True)
class RigsPage:
    """All rigs of the observer, with the form that begins one.

    Attributes:
        rigs: the rigs, last changed first.
        typed, error: what was typed as a name, and why it could not be taken.
    """

    template: ClassVar[str] = "bench/rigs.html"

    rigs: tuple[RigLine, ...]
    typed: str = ""
    error: str = ""


def rig_page(view: BenchView, tray: Tray, units: UnitSystem, **more: object) -> RigPage:
    """Build the page of a rig; `more` are the fields of RigPage that a form's answer sets."""
    weights = Counter(finding.weight for finding in view.findings)
    pictures = pictures_of(view.rig, units)
    return RigPage(
        rig_id=view.stored.id,
        name=view.stored.name,
        version=view.stored.version,
        undo_words=view.stored.undo_words,
        redo_words=view.stored.redo_words,
        section=pictures.section,
        light=pictures.light,
        tolerances=pictures.tolerances,
        places=place_lines(view, units),
        gear=tuple(
            GearLine(gear.item, gear.quantity, write_measure(gear.item.part.mass_kg, "mass", units))
            for gear in view.rig.gear
        ),
        findings=tuple(sorted(view.findings, key=lambda finding: WEIGHT_ORDER.index(finding.weight))),
        counts=tuple((weight, weights[weight]) for weight in WEIGHT_ORDER if weights[weight]),
        tray=tray,
        rule_specs=RULE_SPECS,
        kinds=tuple((kind, part.kind_words) for kind, part in KINDS.items()),
        **{"rules": rule_texts(view.rig.rules), **more},  # type: ignore[arg-type]
    )


def place_lines(view: BenchView, units: UnitSystem) -> tuple[PlaceLine, ...]:
    """The run of parts with the joint above each."""
    train = view.rig.train
    joints = {joint.lower.key: joint for joint in train.joints}
    first = 1 if train.tube is not None and train.places[0] is train.tube else 0
    last = len(train) - (2 if train.camera is not None and train.places[-1] is train.camera else 1)
    lines = []
    for index, place in enumerate(train):
        fixed = "first" if place is train.tube else "last" if place is train.camera else ""
        shoulders = train.shoulders[index]
        joint = joints.get(place.key)
        lines.append(
            PlaceLine(
                number=index + 1,
                place=place,
                joint=None if joint is None else _joint_line(joint, view),
                length=write_measure(place.length, "length", units),
                distance="" if shoulders.sky_mm is None else _distance(shoulders.sky_mm, units),
                sky=_written(place.sky_connection),
                camera=_written(place.camera_connection),
                fixed=fixed,
                up=index - 1 if not fixed and index > first else None,
                down=index + 1 if not fixed and index < last else None,
                inside=tuple(InsideLine(item, at == 0) for at, item in enumerate(place.inside)),
                holds_filters=isinstance(place.part, FilterWheel),
                **_adjustment(place),
            )
        )
    return tuple(lines)


def _distance(length_mm: float, units: UnitSystem) -> str:
    return write_quantity(length_mm, "length", units, 2 if units == "metric" else 3)


def _written(connection: object) -> str:
    return "" if connection is None else print_connection(connection)  # type: ignore[arg-type]


def _adjustment(place: Place) -> dict[str, str]:
    longest = place.adjustable_to_mm
    part = place.part
    if longest is None or isinstance(part, Shim):
        return {}
    length = getattr(part, "length_mm", None)
    shortest = length.nominal if length is not None else 0.0
    now = shortest if place.set_length_mm is None else place.set_length_mm
    return {"set_length": f"{now:g} mm", "shortest": f"{shortest:g} mm", "longest": f"{longest:g} mm"}


def _joint_line(joint: Joint, view: BenchView) -> JointLine:
    verdict = joint.mating.verdict
    return JointLine(
        at=joint.index,
        weight=JOINT_WEIGHTS[verdict],
        word=JOINT_WORDS[verdict],
        sentence=joint.mating.sentence,
        upper=_written(joint.upper.camera_connection) or "not known",
        lower=_written(joint.lower.sky_connection) or "not known",
        joiners=view.joiners.get(joint.index, ())[:3],
    )


def tray_parts(page: PartPage) -> tuple[CataloguedPart, ...]:
    """The parts of a page of lines."""
    return tuple(line.item for line in page.lines)
