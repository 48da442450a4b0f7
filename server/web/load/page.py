"""The load of a rig and its packing list as their templates see them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import ClassVar

from markupsafe import Markup

from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.findings import Amount, Finding, Wanted
from server.domain.load.lifts import sum_trips
from server.domain.load.sheet import LiftLine, Trips
from server.domain.observer import UnitSystem
from server.domain.parts import Accessory, CataloguedPart, GuideCamera, GuideScope
from server.domain.rig import Rig
from server.domain.said import Missing
from server.domain.sky.site import StoredSite
from server.domain.workings.case import Case
from server.domain.workings.loads import loads_of
from server.flow.views import BenchView
from server.rim.load_form import (
    NEW,
    asks_unit,
    feed_spec,
    kept_words,
    lead_specs,
    lift_specs,
    lift_words,
    plan_texts,
    spot_specs,
    understood,
)
from server.rim.load_specs import BALANCE, LIFTING, LOAD_SPECS, NIGHT
from server.rim.phrasebook.tell import asked_of
from server.rim.purpose import Purpose, purpose_of
from server.rim.wording import default_unit_words
from server.web.entering import form_for
from server.web.load.balance import carried_of, facts_of, picture_of, seen_of, write
from server.web.load.blocks import LoadBlocks, work_blocks
from server.web.load.drawing import key_of
from server.web.load.steps import Step, balance_says, lifts_say, opens_most, power_says, steps_of
from server.web.rendering import URLS

ENTERED_HERE = {
    "wants.focuser_at_side": "load-focuser_at_mm",
    "wants.clamp": "load-clamp_mm",
    "wants.clamp_middle": "load-clamp_mm",
    "wants.tube_above": "load-tube_above_saddle_mm",
    "wants.axis_above": "load-tube_above_saddle_mm",
    "wants.night": "load-latitude_deg",
    "wants.night_date": "load-night",
    "wants.night_length": "load-night_hours",
    "wants.lead_wire": "load-lead-wire",
    "wants.converter": "load-supply_share",
    "wants.converter_for": "load-supply_share",
}
"""What the load lacks that this page asks for itself, and the field."""
ASKED_FIRST = 3
"""So many fields of the balance are asked at once: its measured point, the clamp, the axis' height."""
ON_THE_BENCH = ("wants.tube_in_train", "wants.source")
"""What is put into the rig, and not typed here."""
OF_LIFTS = "wants.lift."
"""What the lifting equation wants: the rest of the key is the field of the lift."""


@dataclass(frozen=True)
class ToEnter:
    """Something that is lacking: its words, and where it is entered, "" where no form is known."""

    words: str
    url: str


@dataclass(frozen=True)
class Asked:
    """One field of the form as it stands; `first` is the first of those that could not be taken."""

    spec: FieldSpec
    value: str
    error: str
    understood: str
    unit: str
    live: bool
    first: bool


@dataclass(frozen=True)
class Tick:
    """One piece that may go in a lift."""

    part_id: int
    words: str
    on: bool


@dataclass(frozen=True)
class LiftForm:
    """The fields of one lift: of the plan's, or of one more (`key` "new").

    `said` are its stored figures in one line, `people` how many lift it; `first` as in Asked.
    """

    key: str
    fields: tuple[Asked, ...]
    ticks: tuple[Tick, ...]
    error: str
    open: bool
    first: bool
    said: str = ""
    people: int = 1


@dataclass(frozen=True)
class Refused:
    """One field that could not be taken: its id on the page, its label, why."""

    field_id: str
    label: str
    sentence: str


@dataclass(frozen=True)
class Typed:
    """What a form held: texts and ticks by their names, the version it was made on, and what is wrong."""

    texts: Mapping[str, str]
    ticked: Mapping[str, Sequence[int]]
    version: int = -1
    errors: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class LoadPage:
    """The load of one rig.

    Attributes:
        rig_id, name, version: the rig; every change names the version that it was made on.
        blocks: what is worked out, each block by itself.
        purpose: what the rig is for; sun: what is found of the Sun, before all else.
        steps: what each step says, in their order.
        carried: what each place carries, in words and values.
        narrows: what to measure that narrows the balance, the most of it first.
        picture: the balance from the side, empty where nothing has a known place; key: what its numbers are.
        facts: words and values of the balance.
        groups: the fields of what the owner says, by their headings; spots: where gear sits on the tube.
        lift_forms: the fields of each planned lift by its number, and those of one more under "new".
        feeds: how each device is fed.
        lead, lead_part: the fields of one device's lead, and the device chosen there.
        refused: what could not be taken, in the order of the page.
        said: why nothing was stored though all could be read; kept: what was just stored; unchanged: whether
            a form was sent of which nothing was new.
        trips: all that is carried, None where nothing is.
        items, observer_id: for the forms of what is lacking.
        sites: the observer's, to choose the rig's usual one from; site: that one, None where none is chosen;
            site_counts: whether the night is reckoned for it, and not as typed.
    """

    template: ClassVar[str] = "load/load.html"

    rig_id: int
    name: str
    version: int
    blocks: LoadBlocks
    purpose: Purpose
    sun: tuple[Finding, ...]
    steps: tuple[Step, ...]
    carried: tuple[tuple[str, str], ...]
    narrows: tuple[tuple[Missing, Amount], ...]
    picture: Markup
    key: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    groups: Mapping[str, tuple[Asked, ...]]
    spots: tuple[Asked, ...]
    lift_forms: Mapping[str, LiftForm]
    feeds: tuple[Asked, ...]
    lead: tuple[Asked, ...]
    lead_part: str
    lead_error: str
    refused: tuple[Refused, ...]
    said: str
    kept: tuple[str, ...]
    unchanged: bool
    trips: Trips | None
    items: tuple[CataloguedPart, ...]
    observer_id: int
    sites: tuple[StoredSite, ...]
    site: StoredSite | None
    site_counts: bool
    lifting: str = LIFTING
    night: str = NIGHT

    @property
    def asked_first(self) -> tuple[Asked, ...]:
        """The fields of the balance that answer most."""
        return self.groups[BALANCE][:ASKED_FIRST]

    @property
    def asked_then(self) -> tuple[Asked, ...]:
        """The other fields of the balance."""
        return self.groups[BALANCE][ASKED_FIRST:]

    def to_enter(self, lacking: Iterable[Missing | str]) -> tuple[ToEnter, ...]:
        """What is lacking, each with the field or the form that asks for it."""
        return tuple(ToEnter(one, self._url(one)) for one in asked_of(lacking))

    def to_plan(self, line: LiftLine) -> tuple[ToEnter, ...]:
        """What the lifting equation still wants of a planned lift, each with its field."""
        return tuple(
            ToEnter(one, f"#load-lift-{line.planned}-{one.key.removeprefix(OF_LIFTS)}")
            for one in asked_of(line.to_plan)
        )

    def is_heavy(self, line: LiftLine) -> bool:
        """Whether a load that one person lifts is above what many keep below, nobody having set a limit."""
        alone = line.planned is None or self.lift_forms[str(line.planned)].people == 1
        return alone and not self.blocks.own_limit and line.mass_kg > self.blocks.limit_kg

    def _url(self, asked: Wanted) -> str:
        if asked.key == "wants.on_tube":
            return f"#load-spot-{asked.part_id}-along_mm"
        if asked.key.startswith(OF_LIFTS):
            wanted = (line.planned for line in self.blocks.lifts if asked in asked_of(line.to_plan))
            return f"#load-lift-{next(wanted, NEW)}-{asked.key.removeprefix(OF_LIFTS)}"
        if asked.key in ENTERED_HERE:
            return f"#{ENTERED_HERE[asked.key]}"
        if asked.key in ON_THE_BENCH:
            return URLS.rig(self.rig_id)
        return form_for(asked, self.items, self.observer_id, self.rig_id)


@dataclass(frozen=True)
class PackingPage:
    """What goes in which case, with its masses and a box to tick.

    Attributes:
        blocks: as on the load's page.
        packed: by part what is typed; errors by "case-<part>".
        stale: why nothing was stored though all could be read; kept: whether it was just stored.
    """

    template: ClassVar[str] = "load/packing.html"

    rig_id: int
    name: str
    version: int
    blocks: LoadBlocks
    packed: Mapping[int, str]
    errors: Mapping[str, str]
    stale: str
    kept: bool
    items: tuple[CataloguedPart, ...]


def items_of(view: BenchView) -> tuple[CataloguedPart, ...]:
    """Every part of the rig, each once."""
    return tuple({item.id: item for item in _each(view.rig)}.values())


def _each(rig: Rig) -> list[CataloguedPart]:
    """Every piece of the rig, one that is there twice stands twice."""
    found = [item for place in (*rig.train, *rig.branch) for item in (place.item, *place.inside)]
    return found + [gear.item for gear in rig.gear for _ in range(gear.quantity)]


def load_page(
    view: BenchView,
    sites: Sequence[StoredSite],
    units: UnitSystem,
    observer_id: int,
    typed: Typed | None = None,
    said: str = "",
    kept: Sequence[str] = (),
    unchanged: bool = False,
) -> LoadPage:
    """Build the page; `sites` are the observer's; `typed` is what a form held that was not stored."""
    rig, blocks = view.rig, work_blocks(view)
    # What is stored is asked, and not what the rig's usual site adds to it.
    plan = view.stored.plan.load
    site = next((one for one in sites if one.id == view.stored.site_id), None)
    form = _Form(plan_texts(plan, units), units, typed)
    # Asked in the order of the page: what could not be taken is told in it.
    groups = {LIFTING: form.group(LIFTING)}
    lift_forms = {
        str(number): replace(
            form.lift(str(number), rig, lift.parts, lift.name),
            said=lift_words(lift, units),
            people=lift.people,
        )
        for number, lift in enumerate(plan.lifts)
    }
    lift_forms[NEW] = form.lift(NEW, rig, (), "One lift more")
    groups[BALANCE] = form.group(BALANCE)
    spots = tuple(form.ask(spec) for item in _with_spots(rig) for spec in spot_specs(item))
    groups[NIGHT] = form.group(NIGHT)
    feeds = tuple(form.ask(spec) for spec in _feed_specs(rig, blocks))
    lead_error = form.plain("lead-device", "Device")
    findings = blocks.findings
    says = {
        "lifts": lifts_say(blocks.lifts),
        "balance": balance_says(blocks.balance, blocks.rough, plan, findings),
        "power": power_says(blocks.power),
    }
    seen = seen_of(blocks.balance, blocks.rough)
    return LoadPage(
        rig_id=view.stored.id,
        name=view.stored.name,
        version=view.stored.version,
        blocks=blocks,
        purpose=purpose_of(rig),
        sun=tuple(one for one in findings if one.code.startswith("sun.")),
        steps=steps_of(findings, says),
        carried=carried_of(blocks.places, units),
        narrows=opens_most(blocks.rough),
        picture=picture_of(rig, seen, blocks.rough, units),
        key=key_of(seen, partial(write, units, "length", 0), partial(write, units, "mass", 2)),
        facts=facts_of(blocks.balance, plan.change_kg, units),
        groups=groups,
        spots=spots,
        lift_forms=lift_forms,
        feeds=feeds,
        lead=tuple(form.ask(spec) for spec in lead_specs()),
        lead_part=form.texts.get("lead-device", ""),
        lead_error=lead_error,
        refused=tuple(form.refused),
        said=said,
        kept=kept_words(plan, kept, units),
        unchanged=unchanged,
        trips=sum_trips(blocks.lifts),
        items=items_of(view),
        observer_id=observer_id,
        sites=tuple(sites),
        site=site,
        site_counts=site is not None and plan.latitude_deg is None and plan.night_hours is None,
    )


class _Form:
    """The form's fields in the order of the page, with what was typed in the place of what is stored."""

    def __init__(self, stored: Mapping[str, str], units: UnitSystem, typed: Typed | None) -> None:
        self.texts = {**stored, **(typed.texts if typed else {})}
        self.ticked = dict(typed.ticked) if typed else {}
        self.errors = typed.errors if typed else {}
        self.held = frozenset(typed.texts) if typed else frozenset[str]()
        self.again = typed is not None
        self.units = units
        self.refused: list[Refused] = []

    def group(self, name: str) -> tuple[Asked, ...]:
        """The fields of one group."""
        return tuple(self.ask(spec) for spec in LOAD_SPECS if spec.group == name)

    def plain(self, name: str, label: str, field_id: str = "") -> str:
        """Why that field could not be taken, "" where it could."""
        error = self.errors.get(name, "")
        if error:
            self.refused.append(Refused(field_id or f"load-{name}", label, error))
        return error

    def ask(self, spec: FieldSpec, of: str = "") -> Asked:
        """One field."""
        first = not self.refused
        value = self.texts.get(spec.name, "")
        error = self.plain(spec.name, f"{of}: {spec.label}" if of else spec.label)
        live = spec.shape in ("measure", "count")
        asked = asks_unit(spec.name)
        return Asked(
            spec=spec,
            value=value,
            error=error,
            understood=_understood(spec.name, value) if self.again and live and not error else "",
            unit="with its unit" if asked else default_unit_words(spec, self.units),
            live=live,
            first=bool(error) and first,
        )

    def lift(self, key: str, rig: Rig, parts: Sequence[int], name: str) -> LiftForm:
        """The fields of one lift; `parts` are those that it takes as it is stored."""
        before = len(self.refused)
        fields = tuple(self.ask(spec, name) for spec in lift_specs(key))
        # A lift that the form held without a tick has none; one that it did not hold keeps its own.
        left = Counter(self.ticked.get(key, ()) if f"lift-{key}-name" in self.held else parts)
        there = Counter(item.id for item in _each(rig))
        ticks: list[Tick] = []
        for item in {item.id: item for item in _each(rig)}.values():
            many = max(there[item.id], left[item.id])
            for number in range(1, many + 1):
                words = f"{item.name} ({number} of {many})" if many > 1 else item.name
                ticks.append(Tick(item.id, words, number <= left[item.id]))
        first = not self.refused
        error = self.plain(f"lift-{key}-part", f"{name}: What goes together", f"load-lift-{key}-part")
        begun = key == NEW and (any(one.value for one in fields) or any(tick.on for tick in ticks))
        return LiftForm(
            key=key,
            fields=fields,
            ticks=tuple(ticks),
            error=error,
            open=len(self.refused) > before or begun,
            first=bool(error) and first,
        )


def _understood(name: str, text: str) -> str:
    try:
        return understood(name, text)
    except FieldErrors:
        return ""


def _with_spots(rig: Rig) -> tuple[CataloguedPart, ...]:
    """The gear that rides on the tube, or on the counterweight bar, and has a place of its own there."""
    riding = {load.item.id for load in loads_of(Case(rig))}
    scope = any(isinstance(gear.item.part, GuideScope) for gear in rig.gear)
    hangs = rig.guider is not None and not scope
    found = [gear.item for gear in rig.gear if gear.item.id in riding]
    on_bar = [g.item for g in rig.gear if isinstance(g.item.part, Accessory) and g.item.part.place == "bar"]
    on_tube = (item for item in found if not (hangs and isinstance(item.part, GuideCamera)))
    return (*on_tube, *on_bar)


def _feed_specs(rig: Rig, blocks: LoadBlocks) -> tuple[FieldSpec, ...]:
    """How each device is fed, by one of the accessories that take current themselves or otherwise."""
    boxes = {gear.item.id for gear in rig.gear if isinstance(gear.item.part, Accessory)}
    consumers = {one.part_id: one.name for one in blocks.power.consumers}
    hosts = [(number, name) for number, name in consumers.items() if number in boxes]
    return tuple(feed_spec(number, name, hosts) for number, name in consumers.items())


def packing_page(
    view: BenchView,
    packed: Mapping[int, str] | None = None,
    errors: Mapping[str, str] | None = None,
    stale: str = "",
    kept: bool = False,
) -> PackingPage:
    """Build the packing list; `packed` are those typed that were not stored."""
    stored = {line.part_id: line.case for line in view.rig.load.cases}
    return PackingPage(
        rig_id=view.stored.id,
        name=view.stored.name,
        version=view.stored.version,
        blocks=work_blocks(view),
        packed=stored if packed is None else packed,
        errors=errors or {},
        stale=stale,
        kept=kept,
        items=items_of(view),
    )
