"""Entering a part: the choice of kinds, and the form of one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar

from server.domain.cautions import SafetyNote, cautions_of_kind
from server.domain.checks.reads import readers_of
from server.domain.errors import FieldErrors
from server.domain.fields import FieldSpec
from server.domain.observer import HOLDING_MAXIMUM, UnitSystem
from server.domain.parts import KINDS, CataloguedPart, Part, specs_of
from server.rim.cells import CellError
from server.rim.connection_picker import GENDERS, USUAL, write_picked
from server.rim.forms import part_texts, understood
from server.rim.sensor_size import SIDES, count_offered
from server.rim.spec_reading import TEXT_MAXIMUM, KindSign, Left, Offer, TwoSides, read_specification
from server.rim.wording import default_unit_words
from server.web.shelf.waiting import leading, waiting_for

HOLDING_SPECS = (
    FieldSpec("owned", "How many you own", "count", "count", 0, HOLDING_MAXIMUM, group="On your shelf"),
    FieldSpec("wished", "How many you wish for", "count", "count", 0, HOLDING_MAXIMUM, group="On your shelf"),
    FieldSpec(
        "considered",
        "How many you consider",
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
        entered: the part that was entered a moment ago, where another is to follow.
        likely: the kinds that it may speak of, with what speaks for each.
        named: the kinds by their short names.
    """

    template: ClassVar[str] = "shelf/kinds.html"

    groups: tuple[tuple[str, tuple[KindChoice, ...]], ...]
    pasted: str = ""
    error: str = ""
    entered: CataloguedPart | None = None
    likely: tuple[KindSign, ...] = ()
    named: Mapping[str, str] = field(
        default_factory=lambda: {name: cls.kind_words for name, cls in KINDS.items()}
    )
    longest: int = TEXT_MAXIMUM


def kinds_page(
    pasted: str = "",
    error: str = "",
    likely: tuple[KindSign, ...] = (),
    entered: CataloguedPart | None = None,
) -> KindsPage:
    """All kinds, those on the optical path first."""
    choices = [
        (cls.on_path, KindChoice(name, cls.kind_words, cls.kind_purpose)) for name, cls in KINDS.items()
    ]
    return KindsPage(
        tuple(
            (heading, tuple(choice for at, choice in choices if at is on_path))
            for heading, on_path in zip(KIND_GROUPS, (True, False), strict=True)
        ),
        pasted=pasted,
        error=error,
        entered=entered,
        likely=likely,
    )


@dataclass(frozen=True)
class FormField:
    """One field of the form with what stands in it.

    Attributes:
        waiting: which checks look at it.
        words: the words of a pasted text that it was filled from, "" where it was typed.
        offer: what may stand in it, worked out of other figures; None for nothing.
        picked: for a connection, what is picked and not written yet: its size, gender and length.
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
    picked: tuple[str, str, str] = ("", "", "")

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
        makers, connections: what was typed before, to be offered again.
        written: the field that was just filled on request, "" for none.
        copied: whether the part was copied a moment ago.
        pasted: the specification that the form was filled from, "" for none; left: what of it stays in the
            note, with why; filled: how many fields it filled; sides: two connections of it, of which it is
            asked which faces the sky.
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
    makers: tuple[str, ...] = ()
    connections: tuple[str, ...] = ()
    written: str = ""
    copied: bool = False
    usual: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = USUAL
    genders: tuple[tuple[str, str], ...] = GENDERS
    pasted: str = ""
    left: tuple[Left, ...] = ()
    filled: int = 0
    sides: TwoSides | None = None
    longest: int = TEXT_MAXIMUM

    @property
    def focus(self) -> str:
        """The field to begin at: the one just filled on request, else the first where nothing is told."""
        told = self.errors or self.pasted or self.rig
        return self.written or ("" if told else "model" if self.copied else "maker")

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
    written: str = "",
) -> FormPage:
    """The form of a kind with these texts in its fields; `holdings` asks as well how many one has.

    The text `pasted` among them is the specification that the form was filled from.
    """
    found = errors or {}
    pasted = texts.get("pasted", "")[:TEXT_MAXIMUM]
    reading = read_specification(pasted, kind, units)
    words = {one.field: one.words for one in reading.taken if one.text == texts.get(one.field)}
    offers = {one.field: one for one in reading.offers if not texts.get(one.field)}
    for side in SIDES:
        count, how = count_offered(side, texts.get(side, ""), texts.get("pixel_um", ""))
        if count:
            offers[side] = Offer(side, count, how)
    fields = [
        replace(
            _form_field(kind, spec, texts.get(spec.name, ""), found, units, spec.name in (*words, written)),
            words=words.get(spec.name, ""),
            offer=offers.get(spec.name),
            picked=picked_of(texts, spec.name),
        )
        for spec in in_form_order(kind, holdings)
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
        written=written,
        pasted=pasted,
        # Of these it is asked by buttons of their own.
        left=tuple(one for one in reading.left if not (reading.sides and one.words in reading.sides.words)),
        filled=len(words),
        sides=None if texts.get("sky_side") or texts.get("camera_side") else reading.sides,
    )


def picked_of(texts: Mapping[str, str], name: str) -> tuple[str, str, str]:
    """What is picked for a connection beside its free text: size, gender, length."""
    size, gender, length = (texts.get(f"{name}.{piece}", "") for piece in ("size", "gender", "length"))
    return size, gender, length


def write_connections(
    kind: str, texts: Mapping[str, str], asked: str = ""
) -> tuple[dict[str, str], dict[str, str]]:
    """The texts of a form with what was picked written into its connections, and a sentence where it cannot.

    It goes into a field that is empty, and into the one that is `asked` for whatever stands there.
    """
    written, errors = dict(texts), {}
    for spec in specs_of(kind):
        size, gender, length = picked_of(texts, spec.name)
        if spec.shape != "connection" or not (size or spec.name == asked):
            continue
        if spec.name == asked or not texts.get(spec.name, "").strip():
            try:
                written[spec.name] = write_picked(size, gender, length)
            except CellError as error:
                errors[spec.name] = error.sentence
    return written, errors


def pasted_texts(kind: str, pasted: str, units: UnitSystem) -> dict[str, str]:
    """What stands in the form of a new part that is filled from a specification."""
    reading = read_specification(pasted, kind, units)
    return {"owned": "1", "basis": "typed"} | reading.texts | {"pasted": pasted}


ALIKE = {
    "spacer_ring": ("sky_side", "camera_side"),
    "shim": ("fits_from_mm", "fits_to_mm"),
    "filter": ("format", "thickness_mm", "sky_side", "camera_side"),
}
"""What the next part of a kind mostly has like the one before it."""


def kept_texts(before: Part, kind: str) -> dict[str, str]:
    """What stands in the form of a new part that follows another: its maker, and what is alike in a kind."""
    kept = ("maker", *(ALIKE.get(kind, ()) if before.kind == kind else ()))
    texts = part_texts(before)
    return {name: texts[name] for name in kept}


def _grouped(fields: list[FormField]) -> FormGroups:
    groups: dict[str, list[FormField]] = {}
    for one in fields:
        groups.setdefault(LAST_GROUP if one.spec.name in LAST_FIELDS else one.spec.group, []).append(one)
    return tuple((name, tuple(members)) for name, members in groups.items())


def in_form_order(kind: str, holdings: bool) -> tuple[FieldSpec, ...]:
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
    words = _read_back(kind, spec.name, text) if shown else ""
    error = errors.get(spec.name, "")
    return FormField(spec, value, error, unit, words, live, waiting_for(kind, spec.name))


def _read_back(kind: str, name: str, text: str) -> str:
    """What is understood of a text; "" where it cannot be taken, which is told when the form is sent."""
    try:
        return understood(kind, name, text)
    except FieldErrors:
        return ""
