"""How a rig stands, in one sentence: whether it works, and the first thing to do about it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from server.domain.checks.registry import CHECKS
from server.domain.findings import Remedy, ShortFinding, Weight
from server.domain.load.work import LOAD_CHECKS
from server.domain.observer import UnitSystem
from server.domain.said import said
from server.rim.phrasebook.tell import plain
from server.rim.wording import write_phrase

HEAVIEST: tuple[Weight, ...] = ("stop", "watch", "unknown", "sound")
"""The order in which findings are shown; within a weight it is that of the checks, first things first."""
_TURN = {check.name: turn for turn, check in enumerate(CHECKS)}
_TURN |= {"load": _TURN["payload"], "light": _TURN["beam"]}  # As entries of an older day call them.
_HURTS = ("power.lead_hot", "power.lead_unguarded")
"""What can start a fire comes first of its weight, though its check is the last."""
_CUSTOM = "lifting.heavy_alone"
"""What many do not lift alone is a custom: it comes after what was worked out."""
_OPEN = ("sun.cover_unknown", "joints.ends")
"""What must be known before anything can be said to work."""

_Some = TypeVar("_Some", bound=ShortFinding)


@dataclass(frozen=True)
class Answer:
    """The answer to "will it work, and what is the one thing to do?".

    Attributes:
        weight: that of the first finding.
        lead: how it stands, a sentence.
        first: the finding that says why; None where everything holds.
        remedy: the first thing to do about it, None where there is none.
        others: how many findings of that weight there are besides.
    """

    weight: Weight
    lead: str
    first: ShortFinding | None
    remedy: Remedy | None
    others: int


def in_order(findings: Sequence[_Some]) -> tuple[_Some, ...]:
    """Findings as they are shown: the heaviest first, and of those what one would do first."""
    return tuple(sorted(findings, key=lambda one: (HEAVIEST.index(one.weight), _later(one), _turn(one.code))))


def counts_of(findings: Sequence[ShortFinding]) -> tuple[tuple[Weight, int], ...]:
    """How many findings there are of each weight that occurs, heaviest first."""
    counts = Counter(one.weight for one in findings)
    return tuple((weight, counts[weight]) for weight in HEAVIEST if counts[weight])


def _turn(code: str) -> int:
    if code in _HURTS:
        return -1
    return len(_TURN) if code == _CUSTOM else _TURN.get(code.partition(".")[0], len(_TURN))


def _later(one: ShortFinding) -> bool:
    """What is not known of the load waits for what is not known of the train: a ring's mass turns little."""
    return one.weight == "unknown" and one.code not in _OPEN and one.code.partition(".")[0] in LOAD_CHECKS


def _left_open(one: ShortFinding) -> bool:
    return one.code in _OPEN or one.code.endswith(".fault")


def answer_of(findings: Sequence[ShortFinding]) -> Answer | None:
    """How a rig with these findings stands; None where nothing was judged yet."""
    if not findings:
        return None
    counts = dict(counts_of(findings))
    # What is left open comes before all that is no stop.
    stops = (one for one in findings if one.weight == "stop")
    first = in_order([*stops] or [*filter(_left_open, findings)] or findings)[0]
    unknown = "unknown" in counts
    check, _, case = first.code.partition(".")
    lead = plain(said(f"answer.{first.weight}", of=check, case=case, unknown=unknown))
    if first.weight == "sound":
        return Answer("sound", lead, None, None, 0)
    remedy = first.remedies[0] if first.remedies else None
    return Answer(first.weight, lead, first, remedy, counts[first.weight] - 1)


def stop_of(findings: Sequence[ShortFinding]) -> ShortFinding | None:
    """The first of the findings that stop a rig, None where none does."""
    answer = answer_of(findings)
    return answer.first if answer is not None and answer.weight == "stop" else None


def write_answer(answer: Answer | None, units: UnitSystem) -> str:
    """The answer as one piece of text, for who hears it; "" where nothing was judged yet."""
    if answer is None:
        return ""
    told = [answer.lead]
    if answer.first is not None:
        told.append(write_phrase(answer.first.phrase, units))
    if answer.remedy is not None:
        told.append(write_phrase(answer.remedy.phrase, units))
    return " ".join(told)
