"""A clause as a value: its key in the phrasebook (server/rim/phrasebook), and the facts that it speaks of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, TypeAlias

from server.domain.findings import Amount
from server.frozen import frozen


@frozen
class Named:
    """A part that a clause speaks of: its number in the catalogue and its name."""

    part_id: int
    name: str


@frozen
class Quantity:
    """A number in a unit that all readers share, such as volts; lengths and masses are amounts.

    It is written with so many `digits` after the point, or with so many significant `figures`; with as many
    as it has where neither is said.
    """

    value: float
    unit: str
    digits: int | None = None
    figures: int | None = None


def percent_of(share: float, digits: int = 0) -> Quantity:
    """A share of 1 in percent."""
    return Quantity(100.0 * share, "%", digits)


@frozen
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


@frozen
class Missing:
    """What is missing, as a reference: what to call it, and the part and the field where it is entered.

    part_id is None and field "" where no one field says it: a length somewhere, a formula that nobody has.
    """

    says: Said
    part_id: int | None = None
    field: str = ""


One: TypeAlias = "Amount | Quantity | Named | Said | Missing | str"
Fact: TypeAlias = "One | int | tuple[One, ...] | None"
"""A number with its unit, a part, a clause in the clause, a name that a person gave or a word to choose by, a
count or a yes or no, or a list of such.
"""


Words: TypeAlias = "str | Said | Missing"
"""A clause, or text that holds nothing to write in its reader's units."""


_AS_IT_IS = (str, int, bool, type(None), Amount, Quantity, Named, Said, Missing)
_EXACTLY = frozenset(_AS_IT_IS)


def said(key: str, /, **facts: Any) -> Said:
    """A clause with its facts. A part of the catalogue or its place in a train is kept as a reference, and
    what can be iterated as a list.
    """
    for name, fact in facts.items():
        if type(fact) not in _EXACTLY:
            facts[name] = _kept(fact)
    return Said(key, tuple(facts.items()))


def named(part: Any) -> Named:
    """The reference of a part of the catalogue, or of the one in a place."""
    item = getattr(part, "item", part)
    return Named(item.id, item.name)


def exact_length(length_mm: float) -> Amount:
    """A length that was typed, down to the thousandth of a millimetre."""
    usual = round(length_mm, 2 if length_mm < 100.0 else 1) == length_mm
    return Amount(value=length_mm, dimension="length", digits=None if usual else 3)


def exact_mass(mass_kg: float) -> Amount:
    """A mass down to the gram."""
    usual = mass_kg < 1.0 and round(mass_kg, 3) == mass_kg
    return Amount(value=mass_kg, dimension="mass", digits=None if usual else 3)


def _kept(fact: Any) -> Fact:
    if isinstance(fact, _AS_IT_IS):
        return fact
    if hasattr(fact, "name"):
        return named(fact)
    if isinstance(fact, Iterable):
        return tuple(_kept(one) for one in fact)  # type: ignore[misc]
    raise TypeError(f"{fact!r} is no fact of a clause: give numbers as amounts or quantities")
