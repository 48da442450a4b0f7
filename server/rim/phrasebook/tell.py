"""Put verdicts into words. Every door shows what this gives, and an entry of the logbook keeps it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import Any, TypeVar

from server.domain.findings import Action, Finding, Input, Phrase, Remedy, ShortFinding, Wanted
from server.domain.guarded import Failed, worked
from server.domain.observer import UnitSystem
from server.domain.said import Missing, Said, Words, said
from server.domain.verdicts import Advice, Given, Tell, Verdict
from server.rim.phrasebook.book import TITLES, WORDS, WORKINGS
from server.rim.phrasebook.forms import PhraseError, Writer
from server.rim.phrasebook.working import Working
from server.rim.wording import write_phrase

ACTS = {"add": "act.add", "swap": "act.add", "remove": "act.remove", "set_length": "act.set_length"}

_Kind = TypeVar("_Kind", bound=ShortFinding)


class _Tell:
    """Every door puts verdicts into words by this."""

    def __call__(self, verdict: Verdict) -> Finding:
        """The words of a verdict. One that the phrasebook does not know is told as a fault of its check, and
        logged.
        """
        return _guarded(
            Finding,
            verdict.code,
            lambda: {**_words(verdict), "inputs": tuple(map(_input, verdict.inputs))},
        )

    def short(self, verdict: Verdict) -> ShortFinding:
        """The same, without the numbers that went in."""
        return _guarded(ShortFinding, verdict.code, lambda: _words(verdict))


tell: Tell = _Tell()


def _guarded(kind: type[_Kind], code: str, words: Callable[[], dict[str, Any]]) -> _Kind:
    found = worked(said("work.words", code=code), lambda: kind(**words()))
    if isinstance(found, Failed):
        check = code.partition(".")[0]
        return kind(
            code=f"{check}.fault",
            weight="unknown",
            title=TITLES.get(check, check),
            phrase=phrase_of((found.why,)),
            formula="",
            source="",
        )
    return found


def _words(verdict: Verdict) -> dict[str, Any]:
    working = working_of(verdict)
    return {
        "code": verdict.code,
        "weight": verdict.weight,
        "title": title_of(verdict.code),
        "phrase": phrase_of(verdict.says),
        "figure": verdict.figure,
        "remedies": tuple(map(_remedy, verdict.remedies)),
        "formula": working.formula if verdict.rule is None else plain(verdict.rule),
        "source": working.source,
        "place": verdict.place,
        "missing": asked_of(verdict.missing),
    }


def asked_of(missing: Iterable[Missing | str]) -> tuple[Wanted, ...]:
    """The words of what is missing, each with where it is entered; what is in words already stays as it is."""
    return tuple(
        one
        if isinstance(one, Wanted)
        else Wanted(one)
        if isinstance(one, str)
        else Wanted(plain(one.says), one.part_id, one.field, one.says.key)
        for one in missing
    )


def title_of(code: str) -> str:
    """The two or three words over a finding: those of its code, or of its check."""
    found = TITLES.get(code) or TITLES.get(code.partition(".")[0])
    if found is None:
        raise PhraseError(f"the phrasebook has no title for {code}")
    return found


def working_of(verdict: Verdict) -> Working:
    """Formula and source of a verdict: those of its key, of its code, or of its check."""
    for key in (verdict.working, verdict.code, verdict.code.partition(".")[0]):
        if key in WORKINGS:
            return WORKINGS[key]
    raise PhraseError(f"the phrasebook has no working for {verdict.code}")


# Most clauses of a bench are those of the answer before.
@lru_cache(1024)
def phrase_of(says: tuple[Said, ...]) -> Phrase:
    """Clauses as one phrase, whose amounts are written in its reader's units later."""
    return Writer(WORDS).phrase(says)


def plain(says: Said) -> str:
    """A clause that holds no amount, as text. Raises PhraseError for one that holds some."""
    text = phrase_of((says,)).template.replace("{{", "\0").replace("}}", "\1")
    if "{" in text:
        raise PhraseError(f"{says.key} holds amounts, which are written in their reader's units")
    return text.replace("\0", "{").replace("\1", "}")


def sentence_of(says: Said, units: UnitSystem) -> str:
    """A clause with its amounts in its reader's units."""
    return write_phrase(phrase_of((says,)), units)


def write_words(words: Words, units: UnitSystem = "metric") -> str:
    """Text as it stands, a clause in its reader's units: metric where the reader is not known.

    For a clause without words, such as another version may have stored, a fault is told and logged.
    """
    if isinstance(words, str):
        return words
    says = words.says if isinstance(words, Missing) else words
    told = worked(said("work.words", code=says.key), lambda: sentence_of(says, units))
    return plain(told.why) if isinstance(told, Failed) else told


def _remedy(advice: Advice) -> Remedy:
    act = advice.act
    action = None
    if act is not None:
        action = Action(
            verb=act.verb,
            words=plain(Said(ACTS[act.verb], (("part", act.part),))),
            part_id=act.part.part_id if act.verb in ("add", "swap") else None,
            at=act.at,
            place=act.place,
            length_mm=act.length_mm,
        )
    return Remedy(phrase=phrase_of(advice.says), action=action)


def _input(given: Given) -> Input:
    label = given.label if isinstance(given.label, str) else plain(given.label)
    note = given.note or (Said("input.not_known") if given.amount is None else None)
    text = "" if note is None else plain(note)
    return Input(label=label, amount=given.amount, basis=given.basis, of=given.of, text=text)
