"""A finding: what a check has to say about a rig, with its working.

Sentences hold their numbers as amounts, so that every door writes them in its reader's units.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import Field, GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

from server.domain.measure import Frozen

Weight = Literal["stop", "watch", "unknown", "sound"]
"""stop: it will not work; watch: it works at a cost; sound: it holds; unknown: data is missing."""

WEIGHT_WORDS: dict[str, str] = {
    "stop": "Stop",
    "watch": "Watch",
    "unknown": "Not known yet",
    "sound": "Sound",
}

AmountDimension = Literal[
    "length",
    "small_length",
    "way",
    "mass",
    "torque",
    "inertia",
    "angle",
    "arcsec",
    "scale",
    "ratio",
    "fraction",
    "times",
    "count",
    "wavelength",
    "pixel",
]
"""How a number in a sentence is written.

Fixed units: mm, mm, mm, kg, N m, kg m², degrees, arcsec, arcsec per pixel, f-number, share of 1, a bare
factor, a bare number, nm, um. `small_length` is a length that all readers want in um when it is below a
tenth of a millimetre, `way` one that is read in metres or feet.
"""


class Amount(Frozen):
    """A number to be written for a reader.

    `digits` after the point in the metric unit; None lets the writer choose.
    """

    value: float
    dimension: AmountDimension
    digits: int | None = Field(default=None, ge=0, le=15)


class Phrase(Frozen):
    """A sentence with named amounts: `{error}` in the template stands for `amounts["error"]`.

    Doubled braces stand for single ones.
    """

    template: str
    amounts: dict[str, Amount] = Field(default_factory=dict)


class Figure(Frozen):
    """The one number of a finding, with how far it may be off (same unit), None where that is not known.

    `at_least`: what is missing can only make it more.
    """

    label: str
    amount: Amount
    uncertainty: float | None = None
    at_least: bool = False


class Input(Frozen):
    """One input of a working: its words, its value, its basis (a key of BASIS_WORDS), and whose it is.

    What is not known has no amount, says so in `text`, and comes from nowhere: its basis is "".
    """

    label: str
    amount: Amount | None
    basis: str
    of: str = ""
    text: str = ""


class Action(Frozen):
    """Something the bench can do for the reader at one press.

    Attributes:
        verb: "add" a part at a joint, "swap" one in at a place, "remove" a place, "set_length" of a place.
        part_id: the part to add, or to put in the place.
        at: index in the train where it goes.
        place: key of the place that is meant.
        length_mm: the length to set.
    """

    verb: Literal["add", "swap", "remove", "set_length"]
    words: str
    part_id: int | None = None
    at: int | None = None
    place: int | None = None
    length_mm: float | None = None


class Remedy(Frozen):
    """What to do about a finding, in a sentence, with an action where the bench can do it."""

    phrase: Phrase
    action: Action | None = None


class Wanted(str):
    """Words of what is missing, such as "the focal length of X", and where it is entered.

    part_id and field: the part's number and the field, None and "" where no one field says it. key: that of
    the phrasebook. It is text to all who only show it, and is kept as text: a saved entry holds the words
    alone.
    """

    part_id: int | None
    field: str
    key: str

    def __new__(cls, words: str, part_id: int | None = None, field: str = "", key: str = "") -> Self:
        """Words, and where they are entered."""
        made = super().__new__(cls, words)
        made.part_id, made.field, made.key = part_id, field, key
        return made


class _AsText:
    """Text in a file; in memory the reference as it is."""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        kept = core_schema.union_schema([core_schema.is_instance_schema(Wanted), core_schema.str_schema()])
        return core_schema.json_or_python_schema(
            json_schema=core_schema.str_schema(),
            python_schema=kept,
            serialization=core_schema.to_string_ser_schema(),
        )


MissingWords = Annotated[str, _AsText]
"""How a finding holds what is missing."""


class ShortFinding(Frozen):
    """What one check found, without the numbers that went in: see `Finding`."""

    code: str
    weight: Weight
    title: str
    phrase: Phrase
    figure: Figure | None = None
    remedies: tuple[Remedy, ...] = ()
    formula: str = ""
    source: str = ""
    place: int | None = None
    missing: tuple[MissingWords, ...] = ()


class Finding(ShortFinding):
    """What one check found.

    Attributes:
        code: stable name, check and finding, such as `spacing.long`.
        weight: how much it matters.
        title: two or three words.
        phrase: the sentence.
        figure: its one number, if it has one.
        remedies: what to do, best first.
        inputs: every number that went in, with where it came from.
        formula: how it was worked out, in plain notation.
        source: where the formula or the rule was published, or "common practice, no source".
        place: key of the place in the train that it is about, if one.
        missing: what to enter, where data is missing.
    """

    inputs: tuple[Input, ...] = ()
