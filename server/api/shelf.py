"""The catalogue of parts, and what one observer has of it."""

from __future__ import annotations

from typing import Annotated, Self

from fastapi import Path, Query
from pydantic import AfterValidator, BaseModel, Field, WithJsonSchema

from server.api.deps import ReadingBench, WritingBench
from server.api.errors import CHANGING, CHANGING_A_VERSION, LOOKING
from server.api.naming import operations
from server.api.reading import Body, PartDocument
from server.domain.connections import Connection, ConnectionTextError, read_connection
from server.domain.errors import FieldErrors
from server.domain.fields import Column, FieldSpec
from server.domain.observer import HOLDING_MAXIMUM, Holding
from server.domain.parts import KINDS, CataloguedPart
from server.domain.train import TRAIN_KINDS
from server.flow.protocols import HoldingFilter, PartQuery
from server.flow.workbench import Workbench
from server.handed import LARGEST_NUMBER, Number
from server.units import unit_label

router = operations("shelf")

LINES_AT_MOST = 200
OFFSET_MAXIMUM = 1_000_000

PartNumber = Annotated[Number, Path(description="The number of a part in the catalogue.")]


# Kinds


class ColumnAnswer(BaseModel):
    """One column of a table field: plain numbers."""

    name: str
    label: str
    unit: str
    minimum: float | None
    maximum: float | None

    @classmethod
    def of(cls, column: Column) -> Self:
        """The answer for a column."""
        unit = unit_of(column)
        return cls(
            name=column.name, label=column.label, unit=unit, minimum=column.minimum, maximum=column.maximum
        )


class FieldAnswer(BaseModel):
    """One field of a kind of part: what a program needs to ask for it and to check it."""

    name: str = Field(description="The field in the part's document.", examples=["length_mm"])
    label: str = Field(examples=["Optical length"])
    shape: str = Field(description="What kind of value it holds.", examples=["measure"])
    unit: str = Field(
        description="The fixed unit of its numbers; empty for bare numbers (a share is one of 1).",
        examples=["mm"],
    )
    minimum: float | None = Field(description="The least number allowed, in the fixed unit.")
    maximum: float | None = Field(description="The greatest number, or the longest text in characters.")
    above_minimum: bool = Field(description="Whether the minimum itself is not allowed.")
    choices: dict[str, str] = Field(description="The values of a choice, with their words.")
    columns: tuple[ColumnAnswer, ...] = Field(description="The columns of a table.")
    help: str
    group: str

    @classmethod
    def of(cls, spec: FieldSpec) -> Self:
        """The answer for a field."""
        return cls(
            name=spec.name,
            label=spec.label,
            shape=spec.shape,
            unit=unit_of(spec),
            minimum=spec.minimum,
            maximum=spec.maximum,
            above_minimum=spec.above,
            choices=dict(spec.choices),
            columns=tuple(ColumnAnswer.of(column) for column in spec.columns),
            help=spec.help,
            group=spec.group,
        )


class KindAnswer(BaseModel):
    """A kind of part."""

    kind: str = Field(examples=["spacer_ring"])
    words: str = Field(examples=["spacer ring"])
    purpose: str
    in_train: bool = Field(
        description="Whether it stands in the train; otherwise it rides along as gear, and so does a filter "
        "made for the Sun without threads, which goes over the front of the tube."
    )
    fields: tuple[FieldAnswer, ...]


def unit_of(field: FieldSpec | Column) -> str:
    """The unit in which a document holds a field's numbers."""
    # People read shares as per cent; a document holds them as shares of 1.
    return "" if field.dimension == "fraction" else unit_label(field.dimension)


@router.get("/kinds")
def list_kinds() -> tuple[KindAnswer, ...]:
    """Every kind of part with the fields of its document."""
    return tuple(
        KindAnswer(
            kind=kind,
            words=cls.kind_words,
            purpose=cls.kind_purpose,
            in_train=kind in TRAIN_KINDS,
            fields=tuple(FieldAnswer.of(spec) for spec in cls.specs()),
        )
        for kind, cls in KINDS.items()
    )


# Parts


class HoldingDocument(Body):
    """How many of a part the observer has, wishes for, and considers."""

    owned: int = Field(default=0, ge=0, le=HOLDING_MAXIMUM)
    wished: int = Field(default=0, ge=0, le=HOLDING_MAXIMUM)
    considered: int = Field(default=0, ge=0, le=HOLDING_MAXIMUM)

    @classmethod
    def of(cls, holding: Holding) -> Self:
        """The document of a holding."""
        return cls(owned=holding.owned, wished=holding.wished, considered=holding.considered)

    def holding(self) -> Holding:
        """The holding that it says."""
        return Holding(self.owned, self.wished, self.considered)


class PartBrief(BaseModel):
    """A part by its number and its name."""

    id: int
    kind: str
    name: str = Field(description="Maker and model.")
    revision: int = Field(description="1 when entered, one more with each change.")

    @classmethod
    def of(cls, item: CataloguedPart) -> Self:
        """The answer for a part."""
        return cls(id=item.id, kind=item.kind, name=item.name, revision=item.revision)


class PartAnswer(BaseModel):
    """A part of the catalogue, with what the observer has of it."""

    id: int
    revision: int
    entered_by: int = Field(description="The observer who entered it, and alone may change it.")
    entered_by_name: str
    holding: HoldingDocument
    part: PartDocument

    @classmethod
    def of(cls, item: CataloguedPart, holding: Holding) -> Self:
        """The answer for a part."""
        return cls(
            id=item.id,
            revision=item.revision,
            entered_by=item.entered_by,
            entered_by_name=item.entered_by_name,
            holding=HoldingDocument.of(holding),
            part=item.part,
        )


class PartsAnswer(BaseModel):
    """One page of what a search finds."""

    parts: tuple[PartAnswer, ...]
    offset: int
    total: int = Field(description="How many there are; beyond `counted_to` at least so many.")
    counted_to: int
    by_name: bool = Field(
        description="Whether they are ordered by name; a search that finds very many is ordered by number."
    )


class NewPart(Body):
    """A part to be entered, with what the observer has of it."""

    part: PartDocument = Field(
        examples=[
            {
                "kind": "spacer_ring",
                "maker": "Halden",
                "model": "Ring 10",
                "length_mm": {"nominal": 10.0, "plus": 0.05, "minus": 0.05, "basis": "maker"},
                "sky_side": {
                    "type": "metric_thread",
                    "diameter_mm": 42,
                    "pitch_mm": 0.75,
                    "gender": "male",
                },
            }
        ]
    )
    holding: HoldingDocument = HoldingDocument()


class ChangedPart(Body):
    """A part's new document."""

    revision: int = Field(
        ge=1, le=LARGEST_NUMBER, description="The revision of the part that this replaces.", examples=[1]
    )
    part: PartDocument


def _known_kind(kind: str) -> str:
    if kind and kind not in KINDS:
        raise ValueError(f"there is no such kind; the kinds are {', '.join(KINDS)}")
    return kind


KindName = Annotated[
    str, AfterValidator(_known_kind), WithJsonSchema({"type": "string", "enum": ["", *KINDS]})
]
Mate = Annotated[str, Field(max_length=80, examples=["M42x0.75 male"])]


class PartSearch(BaseModel):
    """What to look for, as the shelf's own page asks."""

    text: str = Field(
        default="", max_length=200, description="Words; each must be found, as the beginning of a word."
    )
    kind: KindName = ""
    connection: Mate = Field(default="", description="Has this connection on one of its sides.")
    mates_with: Mate = Field(default="", description="Has a side that mates with this connection.")
    holding: HoldingFilter = Field(
        default="catalogue",
        description="All parts, or those of which the observer has something ('shelf'), or one sort of it.",
    )
    offset: int = Field(default=0, ge=0, le=OFFSET_MAXIMUM)
    limit: int = Field(default=50, ge=1, le=LINES_AT_MOST)

    def query(self, observer_id: int) -> PartQuery:
        """The question to the catalogue. Raises FieldErrors for a connection that cannot be read."""
        return PartQuery(
            observer_id=observer_id,
            text=self.text,
            kind=self.kind,
            connection=_connection("connection", self.connection),
            mates_with=_connection("mates_with", self.mates_with),
            holding=self.holding,
            offset=self.offset,
            limit=self.limit,
        )


def _connection(name: str, text: str) -> Connection | None:
    try:
        return read_connection(text) if text.strip() else None
    except ConnectionTextError as error:
        raise FieldErrors({name: error.message}) from None


def _answer(bench: Workbench, item: CataloguedPart) -> PartAnswer:
    return PartAnswer.of(item, bench.holding(item.id))


_PARTS = "/observers/{observer_id}/parts"
_PART = _PARTS + "/{part_id}"


@router.get(_PARTS, responses=LOOKING)
def find_parts(bench: ReadingBench, search: Annotated[PartSearch, Query()]) -> PartsAnswer:
    """One page of the catalogue or of the shelf."""
    page = bench.find_parts(search.query(bench.observer.id))
    return PartsAnswer(
        parts=tuple(PartAnswer.of(line.item, line.holding) for line in page.lines),
        offset=page.offset,
        total=page.total,
        counted_to=page.counted_to,
        by_name=page.by_name,
    )


@router.post(_PARTS, status_code=201, responses=CHANGING)
def add_part(bench: WritingBench, body: NewPart) -> PartAnswer:
    """Enter a part into the catalogue, and put it on the shelf if there is something of it."""
    return _answer(bench, bench.add_part(body.part, body.holding.holding()))


@router.get(_PART, responses=LOOKING)
def show_part(bench: ReadingBench, part_id: PartNumber) -> PartAnswer:
    """One part."""
    return _answer(bench, bench.part(part_id))


@router.put(_PART, responses=CHANGING_A_VERSION)
def change_part(bench: WritingBench, part_id: PartNumber, body: ChangedPart) -> PartAnswer:
    """Put a new document in place of a part that this observer entered; a club's steward corrects any. Saved
    entries keep the old one.
    """
    return _answer(bench, bench.change_part(part_id, body.revision, body.part, correcting=True))


@router.delete(_PART, status_code=204, responses=CHANGING_A_VERSION)
def remove_part(bench: WritingBench, part_id: PartNumber) -> None:
    """Take a part out of the catalogue; refused while rigs hold it, with their names."""
    bench.remove_part(part_id)


@router.post(_PART + "/copy", status_code=201, responses=CHANGING)
def copy_part(bench: WritingBench, part_id: PartNumber) -> PartAnswer:
    """Copy a part into an entry of the observer's own, which may then be changed."""
    return _answer(bench, bench.copy_part(part_id))


@router.put(_PART + "/holding", responses=CHANGING)
def set_holding(bench: WritingBench, part_id: PartNumber, body: HoldingDocument) -> PartAnswer:
    """Say how many of a part there are; all 0 takes it off the shelf."""
    item = bench.part(part_id)
    bench.set_holding(item.id, body.holding())
    return _answer(bench, item)
