"""The shelf as pages see it: the list with its filters, and one part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import ClassVar

from server.domain.cautions import SafetyNote, cautions_of
from server.domain.fields import FieldSpec
from server.domain.findings import Amount
from server.domain.observer import Holding, UnitSystem
from server.domain.part_history import PartChange
from server.domain.parts import KINDS, CataloguedPart, Part, specs_of
from server.flow.protocols import HoldingFilter, RigLine, ShelfLine, Whose
from server.rim.cells import write_cell
from server.rim.gist import write_gist
from server.rim.part_history import ToldChange, told_changes
from server.rim.wording import (
    write_amount,
    write_basis,
    write_connection,
    write_field,
    write_money,
)
from server.web.shelf.form import LAST_FIELDS, LAST_GROUP, in_form_order
from server.web.shelf.waiting import missed_of

LINES_A_PAGE = 50
HOLDING_FILTERS: tuple[tuple[HoldingFilter, str], ...] = (
    ("shelf", "My shelf"),
    ("owned", "What I own"),
    ("wished", "What I wish for"),
    ("considered", "What I consider"),
    ("catalogue", "The whole catalogue"),
)
LENT: tuple[Whose, str] = ("lent", "What the club lends")


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
    holding: Whose = "shelf"
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
    holdings: tuple[tuple[Whose, str], ...] = HOLDING_FILTERS
    understood: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class HoldingPiece:
    """What the observer has of one part, with the buttons that change it; shown as its block `holding`."""

    template: ClassVar[str] = "shelf/holding.html"

    line: ShelfLine


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
        steward: whether they are a steward, who may correct any part and merge doubles.
        history: what was changed on it, the newest first; in the hosted form alone.
        observer_id: who reads.
        price: what it costs the reader, as one types it; price_error: why that could not be taken.
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
    steward: bool = False
    history: tuple[ToldChange, ...] = ()

    @property
    def correcting(self) -> bool:
        """Whether they may change another's part."""
        return self.steward and not self.mine

    price: str = ""
    price_error: str = ""


def part_page(
    item: CataloguedPart,
    holding: Holding,
    rigs: tuple[RigLine, ...],
    observer_id: int,
    units: UnitSystem,
    said: str = "",
    *,
    steward: bool = False,
    changes: tuple[PartChange, ...] = (),
) -> PartPage:
    """What the page of a part shows."""
    part = item.part
    groups: dict[str, list[KnownField]] = {}
    for spec in in_form_order(part.kind, False):
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
        steward=steward,
        history=told_changes(changes, item.id, observer_id, units),
        price=write_cell(next(spec for spec in specs_of(part.kind) if spec.name == "price"), part.price),
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
        for spec in in_form_order(part.kind, False)
        if spec.name in missed
    )
