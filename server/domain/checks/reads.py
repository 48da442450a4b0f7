"""What the checks, the stars and the load read of parts and ask for.

It is recorded while they read: `python -m tests.reads` writes the file, and a test says when it is stale.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from server.domain.parts.optical import DESIGNS

FILE = Path(__file__).with_name("reads.json")


@dataclass(frozen=True)
class Readers:
    """Who reads one field of a kind: names of checks in the registry's order, "stars", "load".

    Attributes:
        asked: who asks for it where it is not known, or says nothing then.
        read: who takes it where it is there, and does without.
        of: of a tube, the designs of which it is asked; empty for all.
    """

    asked: tuple[str, ...] = ()
    read: tuple[str, ...] = ()
    of: tuple[str, ...] = ()

    def asked_of(self, design: str | None) -> tuple[str, ...]:
        """Who asks for it of a tube of this design; of one that says none, what most are asked for."""
        asked = design in self.of if design else 2 * len(self.of) > len(DESIGNS)
        return self.asked if asked or not self.of else ()


def readers_of(kind: str) -> Mapping[str, Readers]:
    """The fields of a kind that somebody reads."""
    return _all().get(kind, {})


@cache
def fields_asked(reader: str) -> int:
    """For how many fields of all kinds a check asks: the fewer, the more it is about each."""
    return sum(reader in one.asked for fields in _all().values() for one in fields.values())


@cache
def _all() -> dict[str, dict[str, Readers]]:
    return {
        kind: {
            name: Readers(**{key: tuple(names) for key, names in said.items()})
            for name, said in fields.items()
        }
        for kind, fields in json.loads(FILE.read_text(encoding="utf-8")).items()
    }
