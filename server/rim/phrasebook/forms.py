"""The forms that a clause of the phrasebook may have, and how its facts are put into them.

    {name}                    the fact: an amount in its reader's units, a name, a list ("a, b and c")
    {name^}                   the same with a capital letter
    {name;}                   a list with semicolons ("a; b")
    {name?these|those}        `these` where the fact is there (yes, any amount, a count but 0, a name, a list)
    {name#one|many}           `one` for a count of 1 or a list of one, else `many`
    {name=a:these|b:those|others}   by the word that the fact is; a last one without a word for all others

What is chosen may hold facts of its own. A choice of nothing may be left out: `{name?these}`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from server.domain.findings import Amount, Phrase
from server.domain.said import Fact, Missing, Named, Quantity, Said

_OPENS = re.compile(r"\{([a-z][a-z0-9_]*)([?#=^;]?)")
_WORD = re.compile(r"([a-z0-9_]+):")


class PhraseError(LookupError):
    """A clause that the phrasebook lacks, or one that lacks a fact: a fault of this program's."""


@dataclass(frozen=True)
class Slot:
    """Where a fact goes: its name, the form, and for a choice the words with what is said for each."""

    name: str
    form: str = ""
    options: tuple[tuple[str, tuple[str | Slot, ...]], ...] = ()


Nodes = tuple[str | Slot, ...]


@lru_cache(4096)
def read_clause(text: str) -> Nodes:
    """A clause of the phrasebook, read. Raises PhraseError for one whose braces do not match."""
    nodes, at = _nodes(text, 0, "")
    if at != len(text):
        raise PhraseError(f"an open or a closed brace too many: {text!r}")
    return nodes


def _nodes(text: str, at: int, ends: str) -> tuple[Nodes, int]:
    """The nodes from `at` up to one of `ends`, or to the end, and where that is."""
    found: list[str | Slot] = []
    start = at
    while at < len(text) and text[at] not in ends:
        if text[at] == "}":
            break
        if text[at] != "{":
            at += 1
            continue
        found.append(text[start:at])
        slot, at = _slot(text, at)
        found.append(slot)
        start = at
    found.append(text[start:at])
    return tuple(one for one in found if one != ""), at


def _slot(text: str, at: int) -> tuple[Slot, int]:
    opened = _OPENS.match(text, at)
    if opened is None:
        raise PhraseError(f"no name after a brace: {text!r}")
    name, form = opened.groups()
    at = opened.end()
    options: list[tuple[str, Nodes]] = []
    if form in ("", "^", ";"):
        if text[at : at + 1] != "}":
            raise PhraseError(f"an open brace: {text!r}")
        return Slot(name, form), at + 1
    while True:
        word = _WORD.match(text, at) if form == "=" else None
        nodes, at = _nodes(text, word.end() if word else at, "|}")
        options.append((word[1] if word else "", nodes))
        if text[at : at + 1] == "}":
            return Slot(name, form, tuple(options)), at + 1
        if text[at : at + 1] != "|":
            raise PhraseError(f"an open brace: {text!r}")
        at += 1


def listed(words: Sequence[str]) -> str:
    """Words as a list in a sentence: "a, b and c"."""
    return ", ".join(words[:-1]) + " and " + words[-1] if len(words) > 1 else "".join(words)


class Writer:
    """Puts clauses together as one phrase, whose amounts keep the names of their facts."""

    def __init__(self, words: Mapping[str, str]) -> None:
        """`words`: the phrasebook, by key."""
        self.words = words
        self.amounts: dict[str, Amount] = {}

    def phrase(self, says: Sequence[Said]) -> Phrase:
        """The phrase of some clauses. Raises PhraseError for a clause without words or without its facts."""
        template = " ".join(text for text in map(self.clause, says) if text)
        return Phrase(template=template, amounts=self.amounts)

    def clause(self, one: Said) -> str:
        """The template of one clause."""
        if one.key not in self.words:
            raise PhraseError(f"the phrasebook has no words for {one.key}")
        facts = dict(one.facts)
        for name, fact in one.facts:
            if isinstance(fact, Amount):
                self.amounts.setdefault(name, fact)
        return self._written(read_clause(self.words[one.key]), facts, one.key)

    def _written(self, nodes: Nodes, facts: Mapping[str, Fact], key: str) -> str:
        return "".join(one if isinstance(one, str) else self._slot(one, facts, key) for one in nodes)

    def _slot(self, slot: Slot, facts: Mapping[str, Fact], key: str) -> str:
        if slot.name not in facts:
            raise PhraseError(f"{key} lacks its fact {slot.name}")
        fact = facts[slot.name]
        if not slot.options:
            if slot.form == ";" and isinstance(fact, tuple):
                return "; ".join(self._fact(slot.name, one) for one in fact)
            text = self._fact(slot.name, fact)
            return text[:1].upper() + text[1:] if slot.form == "^" else text
        chosen: Nodes = ()
        if slot.form == "=":
            by_word = dict(slot.options)
            if str(fact) not in by_word and "" not in by_word:
                raise PhraseError(f"{key} has no words for {slot.name} {fact!r}")
            chosen = by_word.get(str(fact), by_word.get("", ()))
        else:
            size = len(fact) if isinstance(fact, tuple) else fact
            there = isinstance(size, Amount | Quantity) or bool(size)
            first = there if slot.form == "?" else size == 1
            options = [nodes for _, nodes in slot.options]
            chosen = options[0] if first else options[1] if len(options) > 1 else ()
        return self._written(chosen, facts, key)

    def _fact(self, name: str, fact: Fact) -> str:
        match fact:
            case Amount():
                return "{" + self._named(name, fact) + "}"
            case Quantity():
                return write_shared(fact)
            case Said():
                return self.clause(fact)
            case Missing():
                return self.clause(fact.says)
            case Named():
                return literal(fact.name)
            case tuple():
                words = [self._fact(name, one) for one in fact]
                # Two parts of one name lack the same, in words.
                return (
                    listed([*dict.fromkeys(words)] if isinstance(fact[0], Missing) else words) if fact else ""
                )
            case None:
                return ""
        return literal(str(fact))

    def _named(self, name: str, amount: Amount) -> str:
        """The name under which an amount stands in the phrase: its fact's, numbered where that is taken."""
        free, number = name, 1
        while self.amounts.setdefault(free, amount) != amount:
            number += 1
            free = f"{name}_{number}"
        return free


def write_shared(one: Quantity) -> str:
    """A quantity in the unit that all readers share ("11.4 V"; "55 %"; without a unit the number alone)."""
    if one.figures is not None:
        number = f"{one.value:.{one.figures}g}"
    else:
        number = f"{one.value:g}" if one.digits is None else f"{one.value:.{one.digits}f}"
    return f"{number} {one.unit}".rstrip()


def literal(text: str) -> str:
    """A name for use in a template: its braces must not be taken for amounts."""
    return text.replace("{", "{{").replace("}", "}}")
