"""The shelf as pages see it: the list with its filters, one part, the form of a part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any, ClassVar

from server.domain.cautions import SafetyNote, cautions_of, cautions_of_kind
from server.domain.checks.reads import readers_of
from server.domain.fields import FieldSpec
from server.domain.findings import Amount
from server.domain.observer import Holding, UnitSystem
from server.domain.parts import KINDS, CataloguedPart, Part, specs_of
from server.flow.protocols import HoldingFilter, RigLine, ShelfLine
from server.rim.forms import understood
from server.rim.gist import write_gist
from server.rim.spec_reading import TEXT_MAXIMUM, KindSign, Left, Offer, read_specification
from server.rim.wording import (
    default_unit_words,
    write_amount,
    write_basis,
    write_connection,
    write_field,
    write_money,
)
from server.web.shelf.waiting import leading, missed_of, waiting_for

LINES_A_PAGE = 50
HOLDING_MAXIMUM = 999
HOLDING_FILTERS: tuple[tuple[HoldingFilter, str], ...] = (
    ("shelf", "My shelf"),
    ("owned", "What I own"),
    ("wished", "What I wish for"),
    ("considered", "What I am weighing up"),
    ("catalogue", "The whole catalogue"),
)
HOLDING_SPECS = (
    FieldSpec("owned", "How many you own", "count", "count", 0, HOLDING_MAXIMUM, group="On your shelf"),
    FieldSpec("wished", "How many you wish for", "count", "count", 0, HOLDING_MAXIMUM, group="On your shelf"),
    FieldSpec(
        "considered",
        "How many you are weighing up",
        "count",
        "count",
        0,
        HOLDING_MAXIMUM,
        group="On your shelf",
    ),
)
LAST_GROUP = "Price and papers"
LAST_FIELDS = ("price", "document", "note", "basis")
"""Common to all kinds, and asked for last: they matter less than the figures."""

LIVE_SHAPES = ("measure", "count", "money", "connection", "table")
"""Shapes whose text is read back to its writer while it is typed."""

KIND_GROUPS = ("On the optical path", "Beside it and under it")


@dataclass(frozen=True)
class Fact:
    """One figure of a line: its word, and its value as text; "" while it is not known."""

    label: str
    text: str


@dataclass(frozen=True)
class ShelfCard:
    """A part in the list.

    Attributes:
        line: the part and what the observer has of it.
        kind_words: the kind as people say it.
        gist: what tells it from others of its kind.
        sides: its connections, from sky to camera.
        length, aperture: None where a part of this kind has none.
        cautions: what must stand beside it.
    """

    line: ShelfLine
    kind_words: str
    gist: str
    sides: tuple[Fact, ...]
    length: Fact | None
    aperture: Fact | None
    mass: Fact
    price: Fact
    cautions: tuple[SafetyNote, ...]


def card_of(line: ShelfLine, units: UnitSystem) -> ShelfCard:
    """What the list shows of a part."""
    part = line.item.part
    return ShelfCard(
        line=line,
        kind_words=part.kind_words,
        gist=write_gist(part, units),
        sides=_sides(part),
        length=_first(part, ("length_mm", "flange_mm"), units),
        aperture=_first(part, ("clear_aperture_mm", "aperture_mm"), units),
        mass=Fact("Mass", _mass(part, units)),
        price=Fact("Price", write_money(part.price)),
        # The Sun blinds at once, so its caution stands even in a list; the others stand on the part's page.
        cautions=tuple(one for one in cautions_of(part) if one.topic == "sun"),
    )


def _mass(part: Part, units: UnitSystem) -> str:
    """The mass as a list wants it: grams below a kilogram, and no more digits than one compares."""
    if part.mass_kg is None:
        return ""
    return write_amount(Amount(value=part.mass_kg.nominal, dimension="mass"), units)


def _sides(part: Part) -> tuple[Fact, ...]:
    return tuple(
        Fact(label, write_connection(getattr(part, name))) for name, label in _fields_of(part.kind, *SIDES)
    )


SIDES = (("sky_side", "Sky"), ("camera_side", "Camera"), ("dovetail", "Dovetail"), ("saddle", "Saddle"))


@cache
def _fields_of(kind: str, *wanted: tuple[str, str]) -> tuple[tuple[str, str], ...]:
    """Those of the fields, with their words, that a kind has."""
    return tuple((name, label) for name, label in wanted if name in KINDS[kind].model_fields)


@cache
def _spec_among(kind: str, names: tuple[str, ...]) -> FieldSpec | None:
    return next((spec for spec in specs_of(kind) if spec.name in names), None)


def _first(part: Part, names: tuple[str, ...], units: UnitSystem) -> Fact | None:
    spec = _spec_among(part.kind, names)
    return None if spec is None else Fact(spec.label, write_field(spec, getattr(part, spec.name), units))


@dataclass(frozen=True)
class Filters:
    """What is looked for, as it was typed.

    Attributes:
        text: words over all fields.
        kind: one kind, or "".
        connection, mates: connections as typed.
        holding: whose parts.
        offset: the first line shown.
    """

    text: str = ""
    kind: str = ""
    connection: str = ""
    mates: str = ""
    holding: HoldingFilter = "shelf"
    offset: int = 0

    @property
    def narrow(self) -> bool:
        """Whether anything but the holding is asked for."""
        return bool(self.text or self.kind or self.connection or self.mates)

    def query(self, **other: object) -> dict[str, object]:
        """The query of the page's address; `other` replaces what it names."""
        asked: dict[str, object] = {
            "q": self.text,
            "kind": self.kind,
            "connection": self.connection,
            "mates": self.mates,
            "holding": "" if self.holding == "shelf" else self.holding,
            "from": self.offset or "",
        }
        return asked | other


@dataclass(frozen=True)
class ShelfPage:
    """The shelf and the catalogue.

    Attributes:
        filters: what is looked for.
        errors: sentences at `connection` and `mates`.
        cards: the lines of this page of the list.
        total, counted_to: how many there are; exact up to `counted_to`.
        anything: whether the catalogue holds any part at all.
    """

    template: ClassVar[str] = "shelf/list.html"

    filters: Filters
    errors: Mapping[str, str]
    cards: tuple[ShelfCard, ...]
    total: int
    counted_to: int
    anything: bool
    limit: int = LINES_A_PAGE
    kinds: tuple[tuple[str, str], ...] = tuple((name, cls.kind_words) for name, cls in KINDS.items())
    holdings: tuple[tuple[HoldingFilter, str], ...] = HOLDING_FILTERS
    understood: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class HoldingPiece:
    """What the observer has of one part, with the buttons that change it; shown as its block `holding`."""

    template: ClassVar[str] = "shelf/holding.html"

    line: ShelfLine


@dataclass(frozen=True)
class KindChoice:
    """A kind to enter, with what it is for."""

    name: str
    words: str
    purpose: str


@dataclass(frozen=True)
class KindsPage:
    """Which kind of part is to be entered?

    Attributes:
        groups: headings with their kinds.
        pasted: a specification that was pasted, whose kind is not sure.
        error: why it cannot be read.
        likely: the kinds that it may speak of, with what speaks for each.
        named: the kinds by their short names.
    """

    template: ClassVar[str] = "shelf/kinds.html"

    groups: tuple[tuple[str, tuple[KindChoice, ...]], ...]
    pasted: str = ""
    error: str = ""
    likely: tuple[KindSign, ...] = ()
    named: Mapping[str, str] = field(
        default_factory=lambda: {name: cls.kind_words for name, cls in KINDS.items()}
    )
    longest: int = TEXT_MAXIMUM


def kinds_page(pasted: str = "", error: str = "", likely: tuple[KindSign, ...] = ()) -> KindsPage:
    """All kinds, those on the optical path first."""
    choices = [
        (cls.on_path, KindChoice(name, cls.kind_words, cls.kind_purpose)) for name, cls in KINDS.items()
    ]
    return KindsPage(
        tuple(
            (heading, tuple(choice for at, choice in choices if at is on_path))
            for heading, on_path in zip(KIND_GROUPS, (True, False), strict=True)
        ),
        pasted,
        error,
        likely,
    )


@dataclass(frozen=True)
class FormField:
    """One field of the form with what stands in it.

    Attributes:
        waiting: which checks look at it.
        words: the words of a pasted text that it was filled from, "" where it was typed.
        offer: what may stand in it, worked out of other figures; None for nothing.
    """

    spec: FieldSpec
    value: Any
    error: str
    unit: str
    understood: str
    live: bool
    waiting: str
    words: str = ""
    offer: Offer | None = None

    @property
    def says(self) -> bool:
        """Whether something stands in it that its owner chose."""
        value = self.value if isinstance(self.value, str) else "".join(self.value)
        return bool(value) and (self.spec.name, value) != ("basis", "typed")


FormGroups = tuple[tuple[str, tuple[FormField, ...]], ...]
"""Headings with their fields."""


@dataclass(frozen=True)
class FormPage:
    """The form of a part, new or to be changed.

    Attributes:
        kind, kind_words, purpose: what is being entered.
        groups: headings with their fields, those that the checks ask for.
        more: the same of those that are read where they are there; kept: of the rest, which are kept for
            their owner alone.
        more_open: whether these two are unfolded, since one of them says something or could not be taken.
        errors: sentences by field name.
        item: the part that is changed, None for a new one.
        entered: the part that was entered a moment ago, where another is to follow.
        stale: a sentence, where the part was changed elsewhere meanwhile.
        rig: the rig to go back to, None for none.
        pasted: the specification that the form was filled from, "" for none; left: what of it stays in the
            note, with why; filled: how many fields it filled.
    """

    template: ClassVar[str] = "shelf/form.html"

    kind: str
    kind_words: str
    purpose: str
    groups: FormGroups
    more: FormGroups
    kept: FormGroups
    more_open: bool
    errors: Mapping[str, str]
    cautions: tuple[SafetyNote, ...]
    item: CataloguedPart | None = None
    entered: CataloguedPart | None = None
    revision: int = 0
    stale: str = ""
    rig: int | None = None
    pasted: str = ""
    left: tuple[Left, ...] = ()
    filled: int = 0
    longest: int = TEXT_MAXIMUM

    @property
    def offered(self) -> tuple[FormField, ...]:
        """The fields for which something is offered."""
        groups = (*self.groups, *self.more, *self.kept)
        return tuple(one for _, fields in groups for one in fields if one.offer)

    @property
    def specs(self) -> tuple[FieldSpec, ...]:
        """The fields, in the order in which they stand."""
        return tuple(one.spec for _, fields in (*self.groups, *self.more, *self.kept) for one in fields)


def form_page(
    kind: str,
    texts: Mapping[str, str],
    units: UnitSystem,
    *,
    errors: Mapping[str, str] | None = None,
    holdings: bool = False,
    item: CataloguedPart | None = None,
    entered: CataloguedPart | None = None,
    revision: int = 0,
    stale: str = "",
    rig: int | None = None,
) -> FormPage:
    """The form of a kind with these texts in its fields; `holdings` asks as well how many one has.

    The text `pasted` among them is the specification that the form was filled from.
    """
    found = errors or {}
    pasted = texts.get("pasted", "")[:TEXT_MAXIMUM]
    reading = read_specification(pasted, kind, units)
    words = {one.field: one.words for one in reading.taken if one.text == texts.get(one.field)}
    offers = {one.field: one for one in reading.offers if not texts.get(one.field)}
    fields = [
        replace(
            _form_field(kind, spec, texts.get(spec.name, ""), found, units, spec.name in words),
            words=words.get(spec.name, ""),
            offer=offers.get(spec.name),
        )
        for spec in _in_form_order(kind, holdings)
    ]
    first, read = leading(kind, texts.get("design")), readers_of(kind)
    more = [one for one in fields if one.spec.name not in first]
    cls = KINDS[kind]
    return FormPage(
        kind=kind,
        kind_words=cls.kind_words,
        purpose=cls.kind_purpose,
        groups=_grouped([one for one in fields if one.spec.name in first]),
        more=_grouped([one for one in more if one.spec.name in read]),
        kept=_grouped([one for one in more if one.spec.name not in read]),
        # What stays in the note is told above the form.
        more_open=any(one.error or (one.says and not (pasted and one.spec.name == "note")) for one in more),
        errors=found,
        cautions=cautions_of_kind(kind),
        item=item,
        entered=entered,
        revision=revision,
        stale=stale,
        rig=rig,
        pasted=pasted,
        left=reading.left,
        filled=len(words),
    )


def pasted_texts(kind: str, pasted: str, units: UnitSystem) -> dict[str, str]:
    """What stands in the form of a new part that is filled from a specification."""
    reading = read_specification(pasted, kind, units)
    return {"owned": "1", "basis": "typed"} | reading.texts | {"pasted": pasted}


def _grouped(fields: list[FormField]) -> FormGroups:
    groups: dict[str, list[FormField]] = {}
    for one in fields:
        groups.setdefault(LAST_GROUP if one.spec.name in LAST_FIELDS else one.spec.group, []).append(one)
    return tuple((name, tuple(members)) for name, members in groups.items())


def _in_form_order(kind: str, holdings: bool) -> tuple[FieldSpec, ...]:
    """The name first, then what the checks live on, the papers last."""
    specs = specs_of(kind)
    first = [spec for spec in specs if spec.name in ("maker", "model")]
    last = [spec for spec in specs if spec.name in LAST_FIELDS]
    between = [spec for spec in specs if spec not in first and spec not in last]
    groups = list(dict.fromkeys(spec.group for spec in between))
    groups.sort(key=lambda name: name != "Connections")
    ordered = [spec for group in groups for spec in between if spec.group == group]
    return (*first, *(HOLDING_SPECS if holdings else ()), *ordered, *last)


def _form_field(
    kind: str, spec: FieldSpec, text: str, errors: Mapping[str, str], units: UnitSystem, pasted: bool
) -> FormField:
    value: Any = [one.strip() for one in text.split(";")] if spec.shape == "choices" else text
    unit = "pieces" if spec.group == "On your shelf" else default_unit_words(spec, units)
    live = spec.shape in LIVE_SHAPES and spec.group != "On your shelf"
    # A form shown again says beside each good field what it was taken for, as it did while it was typed.
    shown = live and text and (errors or pasted) and spec.name not in errors
    words = understood(kind, spec.name, text) if shown else ""
    error = errors.get(spec.name, "")
    return FormField(spec, value, error, unit, words, live, waiting_for(kind, spec.name))


@dataclass(frozen=True)
class KnownField:
    """A field of a part that is known.

    Attributes:
        rows: for a table, its lines; else empty.
        beside: the same in metric, for readers of imperial units, or "".
        basis: where the figure came from, or "".
    """

    spec: FieldSpec
    text: str
    beside: str
    basis: str
    rows: tuple[str, ...] = ()


@dataclass(frozen=True)
class MissingField:
    """A field that is empty, and which checks wait for it."""

    spec: FieldSpec
    waiting: str


@dataclass(frozen=True)
class PartPage:
    """One part.

    Attributes:
        line: the part and what the observer has of it.
        groups: what is known of it.
        missing: what is not known yet and would be of use.
        rigs: the rigs that hold it.
        mine: whether this observer entered it.
        observer_id: who reads.
    """

    template: ClassVar[str] = "shelf/part.html"

    line: ShelfLine
    kind_words: str
    gist: str
    groups: tuple[tuple[str, tuple[KnownField, ...]], ...]
    missing: tuple[MissingField, ...]
    cautions: tuple[SafetyNote, ...]
    rigs: tuple[RigLine, ...]
    mine: bool
    observer_id: int
    said: str = ""


def part_page(
    item: CataloguedPart,
    holding: Holding,
    rigs: tuple[RigLine, ...],
    observer_id: int,
    units: UnitSystem,
    said: str = "",
) -> PartPage:
    """What the page of a part shows."""
    part = item.part
    groups: dict[str, list[KnownField]] = {}
    for spec in _in_form_order(part.kind, False):
        known = _known(spec, part, units)
        if known is not None and spec.name not in ("maker", "model"):
            group = LAST_GROUP if spec.name in LAST_FIELDS else spec.group
            groups.setdefault(group, []).append(known)
    return PartPage(
        line=ShelfLine(item, holding),
        kind_words=part.kind_words,
        gist=write_gist(part, units),
        groups=tuple((name, tuple(fields)) for name, fields in groups.items()),
        missing=_missing(part),
        cautions=cautions_of(part),
        rigs=rigs,
        mine=item.entered_by == observer_id,
        observer_id=observer_id,
        said=said,
    )


def _known(spec: FieldSpec, part: Part, units: UnitSystem) -> KnownField | None:
    value = getattr(part, spec.name)
    text = write_field(spec, value, units)
    if not text:
        return None
    metric = write_field(spec, value, "metric")
    basis = write_basis(part.basis_of(value)) if spec.shape == "measure" else ""
    rows = tuple(text.split("\n")) if spec.shape == "table" else ()
    return KnownField(spec, text, metric if metric != text and not rows else "", basis, rows)


def _missing(part: Part) -> tuple[MissingField, ...]:
    missed = missed_of(part)
    return tuple(
        MissingField(spec, missed[spec.name])
        for spec in _in_form_order(part.kind, False)
        if spec.name in missed
    )
