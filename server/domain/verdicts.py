"""A verdict: what a check found, as values. Its words are the phrasebook's (server/rim/phrasebook).

A clause is a key of the phrasebook with its facts; a sentence is the clauses of a verdict, one by one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

from server.domain.findings import Amount, AmountDimension, Figure, Finding, Input, Weight
from server.domain.parts import CataloguedPart
from server.domain.train import Place


@dataclass(frozen=True)
class Named:
    """A part that a clause speaks of: its number in the catalogue and its name."""

    part_id: int
    name: str


@dataclass(frozen=True)
class Quantity:
    """A number in a unit that all readers share, such as volts; lengths and masses are amounts.

    It is written with so many `digits` after the point, or with so many significant `figures`; with as many
    as it has where neither is said.
    """

    value: float
    unit: str
    digits: int | None = None
    figures: int | None = None


@dataclass(frozen=True)
class Said:
    """A clause: its key in the phrasebook, and its facts by name."""

    key: str
    facts: tuple[tuple[str, Fact], ...] = ()

    def parts(self) -> Iterator[Named]:
        """The parts that it speaks of, in the order of its facts."""
        for _, fact in self.facts:
            for one in fact if isinstance(fact, tuple) else (fact,):
                if isinstance(one, Named):
                    yield one
                elif isinstance(one, Said):
                    yield from one.parts()


One: TypeAlias = "Amount | Quantity | Named | Said | str"
Fact: TypeAlias = "One | int | tuple[One, ...] | None"
"""A number with its unit, a part, a clause in the clause, a name that a person gave or a word to choose by, a
count or a yes or no, or a list of such.
"""
Spoken: TypeAlias = "Fact | CataloguedPart | Place | Iterable[One | CataloguedPart | Place]"


def said(key: str, /, **facts: Spoken) -> Said:
    """A clause with its facts; parts and places among them are kept as references."""
    return Said(key, tuple((name, _kept(fact)) for name, fact in facts.items()))


def _kept(fact: Spoken) -> Fact:
    if isinstance(fact, Place):
        return Named(fact.item.id, fact.item.name)
    if isinstance(fact, CataloguedPart):
        return Named(fact.id, fact.name)
    if fact is None or isinstance(fact, str | int | Amount | Quantity | Named | Said):
        return fact
    return tuple(_kept(one) for one in fact)  # type: ignore[misc]


@dataclass(frozen=True)
class Given:
    """One input of a working: what it is, its value, its basis (a key of BASIS_WORDS), and whose it is.

    `label` is the quantity's name, or a clause where that name holds facts. What has no amount says in `note`
    what is there instead: that it is not known, unless another is given.
    """

    label: str | Said
    amount: Amount | None
    basis: str
    of: str = ""
    note: Said | None = None


@dataclass(frozen=True)
class Act:
    """Something the bench can do for the reader at one press.

    Attributes:
        verb: "add" a part at a joint, "remove" a place, "set_length" of a place.
        part: the part that is added, taken out or set.
        at: index in the train where it goes.
        place: key of the place that is meant.
        length_mm: the length to set.
    """

    verb: Literal["add", "remove", "set_length"]
    part: Named
    at: int | None = None
    place: int | None = None
    length_mm: float | None = None


@dataclass(frozen=True)
class Advice:
    """What to do about it, in clauses, with an act where the bench can do it."""

    says: tuple[Said, ...]
    act: Act | None = None


@dataclass(frozen=True)
class Verdict:
    """What one check found.

    Attributes:
        code: stable name, check and finding, such as `spacing.long`.
        weight: how much it matters.
        says: the clauses of its sentence.
        figure: its one number, if it has one.
        remedies: what to do, best first.
        inputs: every number that went in, with where it came from.
        place: key of the place in the train that it is about, if one.
        missing: what to enter, where data is missing.
        working: under which key the phrasebook has its formula and source; "" for that of the code, or of
            the check.
    """

    code: str
    weight: Weight
    says: tuple[Said, ...]
    figure: Figure | None = None
    remedies: tuple[Advice, ...] = ()
    inputs: tuple[Given | Input, ...] = ()
    place: int | None = None
    missing: tuple[str, ...] = ()
    working: str = ""

    @property
    def parts(self) -> tuple[Named, ...]:
        """The parts that it speaks of, each once."""
        return tuple(dict.fromkeys(part for one in self.says for part in one.parts()))


Judged: TypeAlias = "Verdict | Finding"
Tell: TypeAlias = Callable[["Judged"], Finding]
"""How a verdict is put into words: the phrasebook's."""

__all__ = [
    "Act",
    "Advice",
    "Amount",
    "AmountDimension",
    "Fact",
    "Figure",
    "Given",
    "Judged",
    "Named",
    "Quantity",
    "Said",
    "Tell",
    "Verdict",
    "Weight",
    "said",
]
