"""What was changed on a part, by whom, and what makes two parts look like one entered twice."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from server.domain.changes import FieldChange, field_changes
from server.domain.parts import Part

Act = Literal["changed", "merged"]

_PIECES = re.compile(r"[0-9]+(?:[.,][0-9]+)*|[^\W\d_]+")


@dataclass(frozen=True)
class PartChange:
    """One change of a part, or a double that was merged into it.

    Attributes:
        of_id: the number of what was changed; another than the part's where that was a double, merged since.
        by_id, by: who did it, None and "" where they have left.
        was, became: what it said before and after; of a merger, what the double said and what stayed.
    """

    of_id: int
    act: Act
    at: datetime
    by_id: int | None
    by: str
    was: Part
    became: Part

    @property
    def fields(self) -> tuple[FieldChange, ...]:
        """The fields that differ."""
        return field_changes(self.was, self.became)


def folded(name: str) -> str:
    """A name without what people write in different ways: letter case, spaces, dashes, the sign between two
    numbers. Numbers stay apart. "" where nothing is left.
    """
    plain = unicodedata.normalize("NFKC", name).casefold().replace("×", "x")
    told = ""
    for piece in _PIECES.findall(plain):
        apart = told[-1:].isdigit() and piece[0].isdigit()
        told += (" " if apart else "") + piece.replace(",", ".")
    return told
