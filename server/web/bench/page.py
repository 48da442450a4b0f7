"""The bench as a page sees it: a run of parts with its joints, its findings, and the tray of parts to add."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar

from markupsafe import Markup

from server.domain.cautions import SafetyNote
from server.domain.changes import standings_of
from server.domain.fields import FieldSpec
from server.domain.findings import Amount, Finding, ShortFinding
from server.domain.load.places import piece_of, sum_of
from server.domain.load.work import work_cautions
from server.domain.observer import Holding, Observer, UnitSystem
from server.domain.parts import KINDS, CataloguedPart, Filter, FilterWheel, Shim
from server.domain.rig import Rig
from server.domain.train import Place, Train, rides_beside
from server.flow.views import BenchView
from server.frozen import frozen
from server.rim.answer import Answer, answer_of, counts_of, in_order
from server.rim.changes import write_standings
from server.rim.phrasebook.common import NOT_JUDGED
from server.rim.phrasebook.tell import write_words
from server.rim.purpose import Purpose, purpose_of
from server.rim.rules import RULE_SPECS, rule_texts
from server.rim.wording import write_amount, write_measure
from server.web.bench.guide_run import GuideRun, guide_run
from server.web.bench.tray import Tray
from server.web.bench.turned import NOTHING_TURNED, Turned
from server.web.bench.unknowns import Settling, Unknowns, unknowns_of
from server.web.bridge.query import bridge_for
from server.web.drawing import SIZES, Size
from server.web.picture import pictures_of
from server.web.rendering import URLS, numbered
from server.web.rig_card import RigCard
from server.web.run import JOINT_WORDS, JointLine, RunLine, run_of


@dataclass(frozen=True)
class InsideLine:
    """A filter in a wheel; the first one is in the beam."""

    item: CataloguedPart
    in_beam: bool


@frozen
class PlaceLine(RunLine):
    """One part of the run, to work on.

    Attributes:
        fixed: "first" for the tube, "last" for the camera, "" for what moves.
        up, down: index to move it to, None at the end of its way.
        inside: filters in it; `holds_filters` says whether it can hold any.
        set_length, shortest, longest: for an adjustable part, written; "" for others.
    """

    fixed: str
    up: int | None
    down: int | None
    inside: tuple[InsideLine, ...]
    holds_filters: bool
    set_length: str = ""
    shortest: str = ""
    longest: str = ""


@frozen
class Pieces:
    """How many pieces of a part the rig holds, how many the observer owns, and how many their club lends."""

    used: int
    owned: int
    lent: int = 0

    @property
    def short(self) -> bool:
        """Whether the rig holds more than there are. A part of which there is none is being planned with."""
        return 0 < self.owned + self.lent < self.used

    @property
    def borrowed(self) -> str:
        """What stands at its place where some of it is the club's; "" elsewhere."""
        some = min(self.used - self.owned, self.lent)
        if some <= 0:
            return ""
        return "The club’s." if some == self.used else f"{some} of the {self.used} here: the club’s."

    @property
    def in_tray(self) -> str:
        """What the tray says of it."""
        often = "" if self.used == 1 else f" {self.used} times"
        already = " already" if self.used >= self.owned else ""
        return f"In this rig{already}{often}; you own {self.owned or 'none'}."

    @property
    def at_place(self) -> str:
        """What stands at its place where it is short; "" elsewhere."""
        if not self.short:
            return ""
        if self.lent:
            there = f"you own {self.owned or 'none'} and the club lends {self.lent}"
            return (
                f"The rig holds {self.used} of these, {there}: {self.used - self.owned - self.lent} too many."
            )
        more = self.used - self.owned
        return f"The rig holds {self.used} of these and you own {self.owned}: {more} more than you have."


@frozen
class Shown:
    """A finding, its number among those of its code and place, and whether the last change turned it."""

    finding: ShortFinding
    nth: int
    turned: bool = False


@dataclass(frozen=True)
class Parted:
    """Findings as the page shows them: the answer's own, others whole, others in a line, what is not known,
    and what holds.
    """

    first: Shown | None
    whole: tuple[Shown, ...]
    lines: tuple[Shown, ...]
    open: tuple[Shown, ...]
    sound: tuple[Shown, ...]


@dataclass(frozen=True)
class Offer:
    """A way out of a refusal: put a filter into one of the train's wheels."""

    part_id: int
    place: int
    words: str


@dataclass(frozen=True)
class BroughtBack:
    """An entry that stands on the bench again.

    Attributes:
        entry_id, number, title: of the entry.
        saved: how many findings of each weight it was saved with.
        revised: parts that the catalogue has other figures of today.
        gone: parts that had left the catalogue and were entered again.
    """

    entry_id: int
    number: int
    title: str
    saved: tuple[tuple[str, int], ...]
    revised: tuple[str, ...]
    gone: tuple[str, ...]


@dataclass(frozen=True)
class GearLine:
    """Gear beside the train."""

    item: CataloguedPart
    quantity: int
    mass: str

    @property
    def over_tube(self) -> bool:
        """Whether it goes over the front of the tube."""
        return isinstance(self.item.part, Filter) and self.item.part.slips_over_tube


@dataclass(frozen=True)
class RigPage:
    """One rig on the bench.

    Attributes:
        rig_id, name, version: the rig; every change names the version that it was made on.
        undo_words, redo_words: what would be undone or redone; "" where there is nothing.
        section: the drawing; light: of the light over the sensor; tolerances: of where the sensor will stand;
            light_words, tolerance_words: the same in sentences;
            both empty where tube or camera is missing.
        train: what the run shows; places: the run, line by line.
        guide_run: the guide camera's branch, None where the rig has neither a guider nor a branch.
        gear: what goes beside the train.
        answer: how the rig stands and the first thing to do; None where nothing was judged.
        found: all findings as they are shown; unknown: what would settle more.
        other_ends: (key, words) of the parts that a copy of the rig may have another of.
        gear_words: how much goes beside the train.
        counts: how many findings of each weight, in that order.
        tray: parts to add.
        rule_specs, rules, rule_errors: the rules' form.
        status: what just happened, for the live line; stood: how the findings stand, for the next change's.
        trouble: a refusal, in a sentence; `trouble_field` names the form that it belongs to.
        title, note, save_errors: the form that saves an entry, with what was typed.
        name_typed, name_error: the form that renames.
        kinds: kinds for the tray's filter: (value, words).
        pieces: of each part in the rig, how many there are and how many are owned.
        offers: ways out of the refusal.
        brought: the entry that was brought back just now, None for none.
        not_judged: what no check looks at.
        cautions: what can hurt whoever puts this rig together, the Sun first.
        purpose: what it is for.
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
    light_words: tuple[str, ...]
    tolerance_words: tuple[str, ...]
    train: Train
    places: tuple[PlaceLine, ...]
    guide_run: GuideRun | None
    gear: tuple[GearLine, ...]
    answer: Answer | None
    found: Parted
    unknown: Unknowns
    other_ends: tuple[tuple[int, str], ...]
    gear_words: str
    counts: tuple[tuple[str, int], ...]
    tray: Tray
    rule_specs: tuple[FieldSpec, ...]
    rules: dict[str, str]
    purpose: Purpose
    rule_errors: dict[str, str] = field(default_factory=dict)
    status: str = ""
    stood: str = ""
    trouble: str = ""
    title: str = ""
    note: str = ""
    save_errors: dict[str, str] = field(default_factory=dict)
    name_typed: str = ""
    name_error: str = ""
    kinds: tuple[tuple[str, str], ...] = ()
    pieces: Mapping[int, Pieces] = field(default_factory=dict)
    offers: tuple[Offer, ...] = ()
    brought: BroughtBack | None = None
    not_judged: tuple[str, ...] = NOT_JUDGED
    cautions: tuple[SafetyNote, ...] = ()

    def working(self, shown: Shown) -> str:
        """Where the working of a finding is fetched."""
        one = shown.finding
        nth = shown.nth if shown.nth > 1 else None
        return URLS.working(self.rig_id, one.code, place=one.place, nth=nth)

    def beside(self, item: CataloguedPart) -> bool:
        """Whether a part of the tray goes beside the train and not into it."""
        return rides_beside(item.part)

    def bridge(self, finding: ShortFinding) -> str:
        """Where the Bridge looks for what mends a finding; "" where it mends none of its kind."""
        return bridge_for(self.rig_id, finding, self.train)


@dataclass(frozen=True)
class WorkingPage:
    """How one finding of a rig was worked out."""

    template: ClassVar[str] = "bench/working.html"

    rig_id: int
    rig: str
    finding: Finding


@dataclass(frozen=True)
class RigsPage:
    """All rigs of the observer, with the form that begins one.

    Attributes:
        rigs: the rigs, last changed first.
        typed, error: what was typed as a name, and why it could not be taken.
    """

    template: ClassVar[str] = "bench/rigs.html"

    rigs: tuple[RigCard, ...]
    typed: str = ""
    error: str = ""


def rig_page(
    view: BenchView,
    tray: Tray,
    reader: Observer,
    holdings: Mapping[int, Holding],
    settling: Settling | None = None,
    sizes: tuple[Size, ...] = SIZES,
    turned: Turned = NOTHING_TURNED,
    **more: object,
) -> RigPage:
    """Build the page of a rig.

    `holdings` is what the reader has of its parts, `settling` a figure that could not be taken, `sizes` the
    section is drawn in, `turned` what the last change turned; `more` are fields of RigPage that a form's
    answer sets.
    """
    units = reader.units
    answer = answer_of(view.short_findings)
    used = pieces_in(view.rig)
    pictures = pictures_of(view.rig, units, sizes)
    return RigPage(
        rig_id=view.stored.id,
        name=view.stored.name,
        version=view.stored.version,
        undo_words=write_words(view.stored.undo_words, units),
        redo_words=write_words(view.stored.redo_words, units),
        section=pictures.section,
        light=pictures.light,
        tolerances=pictures.tolerances,
        light_words=pictures.light_words,
        tolerance_words=pictures.tolerance_words,
        train=view.rig.train,
        places=place_lines(view, units),
        guide_run=guide_run(view.rig, units),
        gear=tuple(
            GearLine(gear.item, gear.quantity, write_measure(gear.item.part.mass_kg, "mass", units))
            for gear in view.rig.gear
        ),
        stood=write_standings(standings_of(view.short_findings)),
        answer=answer,
        found=_parted(view.short_findings, answer, turned),
        unknown=unknowns_of(view, reader.id, settling),
        other_ends=_other_ends(view.rig.train),
        gear_words=_gear_words(view.rig, units),
        counts=counts_of(view.short_findings),
        tray=tray,
        rule_specs=RULE_SPECS,
        kinds=tuple((kind, part.kind_words) for kind, part in KINDS.items()),
        pieces={
            part_id: Pieces(number, held.owned, held.lent)
            for part_id, number in used.items()
            for held in (holdings.get(part_id, Holding()),)
        },
        cautions=work_cautions(view.rig),
        purpose=purpose_of(view.rig),
        **{"rules": rule_texts(view.rig.rules), **more},  # type: ignore[arg-type]
    )


WHOLE = 3
"""So many findings are shown whole, the answer's own among them, and every stop."""


def _parted(findings: Sequence[ShortFinding], answer: Answer | None, turned: Turned) -> Parted:
    shown = [Shown(one, nth, turned.holds(one)) for one, nth in numbered(in_order(findings))]
    named = None if answer is None else answer.first
    first = next((one for one in shown if one.finding is named), None)
    others = [one for one in shown if one is not first and one.finding.weight != "sound"]
    to_do = [one for one in others if one.finding.weight in ("stop", "watch")]
    whole = [one for nth, one in enumerate(to_do, 2) if nth <= WHOLE or one.finding.weight == "stop"]
    lines = [one for one in others if not any(one is other for other in whole)]
    return Parted(
        first,
        tuple(whole),
        tuple(one for one in lines if one.finding.weight != "unknown"),
        tuple(one for one in lines if one.finding.weight == "unknown"),
        tuple(one for one in shown if one.finding.weight == "sound"),
    )


def _other_ends(train: Train) -> tuple[tuple[int, str], ...]:
    """Tube, corrector and camera: what one weighs one of against another."""
    return tuple((place.key, OTHERS[place.item.kind]) for place in train if place.item.kind in OTHERS)


OTHERS = {"optical_tube": "tube", "corrector": "corrector", "camera": "camera"}


def _gear_words(rig: Rig, units: UnitSystem) -> str:
    """How much goes beside the train: "8 parts, 27.3 kg", at least where a mass is not known."""
    count = sum(one.quantity for one in rig.gear)
    kg, missing = sum_of(piece_of(one.item, one.quantity) for one in rig.gear)
    written = write_amount(Amount(value=kg, dimension="mass", digits=1), units)
    least = "at least " if missing else ""
    return f"{count} {'part' if count == 1 else 'parts'}" + (f", {least}{written}" if kg else "")


def pieces_in(rig: Rig) -> Counter[int]:
    """How many pieces of each part a rig holds: in the train and its branch, in its wheels, beside it."""
    used: Counter[int] = Counter()
    for place in (*rig.train, *rig.branch):
        used.update((place.item.id, *(item.id for item in place.inside)))
    for gear in rig.gear:
        used[gear.item.id] += gear.quantity
    return used


def place_lines(view: BenchView, units: UnitSystem) -> tuple[PlaceLine, ...]:
    """The run of parts with the joint above each."""
    train = view.rig.train
    first = 1 if train.tube is not None and train.places[0] is train.tube else 0
    last = len(train) - (2 if train.camera is not None and train.places[-1] is train.camera else 1)
    lines = []
    for index, line in enumerate(run_of(train, units, view.joiners)):
        place = line.place
        joint = _as_it_closes(line.joint, view.short_findings, place)
        kept: dict[str, Any] = {**vars(line), "joint": joint, **_adjustment(place)}
        fixed = "first" if place is train.tube else "last" if place is train.camera else ""
        lines.append(
            PlaceLine(
                **kept,
                fixed=fixed,
                up=index - 1 if not fixed and index > first else None,
                down=index + 1 if not fixed and index < last else None,
                inside=tuple(InsideLine(item, at == 0) for at, item in enumerate(place.inside)),
                holds_filters=isinstance(place.part, FilterWheel),
            )
        )
    return tuple(lines)


def _as_it_closes(
    joint: JointLine | None, findings: Sequence[ShortFinding], place: Place
) -> JointLine | None:
    """A joint that mates with what its threads do once it is screwed home; the finding has the words."""
    if joint is None or joint.weight != "sound":
        return joint
    found = {f.weight for f in findings if f.place == place.key and f.code.startswith("seating.")}
    for weight, word in (("stop", "its threads do not close"), ("watch", JOINT_WORDS["watch"])):
        if weight in found:
            return replace(joint, weight=weight, word=word, sentence="")
    return joint


def _adjustment(place: Place) -> dict[str, str]:
    longest = place.adjustable_to_mm
    part = place.part
    if longest is None or isinstance(part, Shim):
        return {}
    length = getattr(part, "length_mm", None)
    shortest = length.nominal if length is not None else 0.0
    now = shortest if place.set_length_mm is None else place.set_length_mm
    return {"set_length": f"{now:g} mm", "shortest": f"{shortest:g} mm", "longest": f"{longest:g} mm"}
