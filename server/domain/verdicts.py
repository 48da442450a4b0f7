"""A verdict: what a check found, as values. Its words are the phrasebook's (server/rim/phrasebook).

A clause is a key of the phrasebook with its facts; a sentence is the clauses of a verdict, one by one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeAlias

from server.domain.findings import Amount, Figure, Finding, Weight
from server.domain.said import Missing, Named, Said


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
        verb: "add" a part at a joint, "swap" one in at a place, "remove" a place, "set_length" of a place.
        part: the part that is added, swapped in, taken out or set.
        at: index in the train where it goes.
        place: key of the place that is meant.
        length_mm: the length to set.
    """

    verb: Literal["add", "swap", "remove", "set_length"]
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
        rule: the formula, where the finding has one of its own.
    """

    code: str
    weight: Weight
    says: tuple[Said, ...]
    figure: Figure | None = None
    remedies: tuple[Advice, ...] = ()
    inputs: tuple[Given, ...] = ()
    place: int | None = None
    missing: tuple[Missing, ...] = ()
    working: str = ""
    rule: Said | None = None

    @property
    def parts(self) -> tuple[Named, ...]:
        """The parts that it speaks of, each once."""
        return tuple(dict.fromkeys(part for one in self.says for part in one.parts()))


Tell: TypeAlias = Callable[["Verdict"], Finding]
"""How a verdict is put into words: the phrasebook's."""
