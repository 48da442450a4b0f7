"""A verdict: what a check found, as values. Its words are the phrasebook's (server/rim/phrasebook).

A clause is a key of the phrasebook with its facts; a sentence is the clauses of a verdict, one by one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, Protocol, overload

from server.domain.findings import Amount, Figure, Finding, ShortFinding, Weight
from server.domain.said import Missing, Named, Said
from server.frozen import frozen


@frozen
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


class Later(Sequence[Given]):
    """Inputs that are put together when somebody asks for them: a bench has three hundred, and shows none."""

    def __init__(self, put_together: Callable[..., Iterable[Given]], *of: Any) -> None:
        self._put_together, self._of = put_together, of

    @cached_property
    def _all(self) -> tuple[Given, ...]:
        return tuple(self._put_together(*self._of))

    @overload
    def __getitem__(self, at: int) -> Given: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Given, ...]: ...
    def __getitem__(self, at: int | slice) -> Given | tuple[Given, ...]:
        return self._all[at]

    def __len__(self) -> int:
        return len(self._all)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Later | tuple) and self._all == tuple(other)

    def __hash__(self) -> int:
        return hash(self._all)


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


@frozen
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
    inputs: Sequence[Given] = ()
    place: int | None = None
    missing: tuple[Missing, ...] = ()
    working: str = ""
    rule: Said | None = None

    @property
    def parts(self) -> tuple[Named, ...]:
        """The parts that it speaks of, each once."""
        return tuple(dict.fromkeys(part for one in self.says for part in one.parts()))


class Tell(Protocol):
    """How a verdict is put into words: the phrasebook's."""

    def __call__(self, verdict: Verdict) -> Finding:
        """All of it."""

    def short(self, verdict: Verdict) -> ShortFinding:
        """What it says, without the numbers that went in."""
