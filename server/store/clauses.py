"""What was done to a rig, as its states keep it: a clause's key with its facts, as JSON.

It is written in the units that its reader has chosen by then. What begins otherwise is text of an older day.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from server.domain.findings import Amount
from server.domain.said import Fact, Named, Quantity, Said, Words

_BEGINS = '{"said":'


def write_done(done: Words) -> str:
    """A clause as JSON; text as it is."""
    if isinstance(done, str):
        return done
    return json.dumps(_written(done), ensure_ascii=False, separators=(",", ":"))


def read_done(text: str | None) -> Words:
    """What `write_done` has written; "" for nothing."""
    if not text or not text.startswith(_BEGINS):
        return text or ""
    # What a hand or another version has written otherwise costs its words, never the rig.
    try:
        clause = _read(json.loads(text))
        hash(clause)
    except (ValueError, TypeError, AttributeError):
        return ""
    return clause if isinstance(clause, Said) else ""


def _written(fact: Fact) -> Any:
    match fact:
        case Said():
            return {"said": fact.key, "facts": {name: _written(one) for name, one in fact.facts}}
        case Named():
            return {"part": fact.part_id, "name": fact.name}
        case Amount():
            return {"amount": fact.value, "dimension": fact.dimension, "digits": fact.digits}
        case Quantity():
            return {"quantity": fact.value, "unit": fact.unit, "digits": fact.digits, "figures": fact.figures}
        case tuple():
            return [_written(one) for one in fact]
    return fact


def _read(kept: Any) -> Any:
    match kept:
        case {"said": key, "facts": facts}:
            return Said(key, tuple((name, _read(one)) for name, one in facts.items()))
        case {"part": part_id, "name": name}:
            return Named(part_id, name)
        case {"amount": value, "dimension": dimension, "digits": digits}:
            return Amount(value=value, dimension=dimension, digits=digits)
        case {"quantity": value, "unit": unit, "digits": digits, "figures": figures}:
            return Quantity(value, unit, digits, figures)
        case list():
            return tuple(_read(one) for one in kept)
    return kept


def words_renumbered(text: str, numbers: Mapping[int, int]) -> str:
    """A clause as `clauses` writes it, with its parts under other numbers."""

    def walk(kept: Any) -> Any:
        match kept:
            case {"part": int(number), "name": _}:
                return kept | {"part": numbers.get(number, number)}
            case dict():
                return {name: walk(one) for name, one in kept.items()}
            case list():
                return [walk(one) for one in kept]
        return kept

    if not text.startswith("{"):
        return text
    return json.dumps(walk(json.loads(text)), ensure_ascii=False, separators=(",", ":"))
