"""What a change turned: findings that came, or went without one in their place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

from server.domain.changes import Standing, standings_of, turned_standings
from server.domain.findings import WEIGHT_WORDS, ShortFinding
from server.rim.phrasebook.forms import listed


@dataclass(frozen=True)
class Turned:
    """Findings that came or turned, and those that went."""

    came: tuple[Standing, ...] = ()
    went: tuple[Standing, ...] = ()

    @classmethod
    def since(cls, stood: tuple[Standing, ...], findings: Sequence[ShortFinding]) -> Self:
        """What differs from how the findings stood."""
        return cls(*turned_standings(stood, standings_of(findings)))

    def holds(self, finding: ShortFinding) -> bool:
        """Whether a finding is one that turned: came, or holds now where it did not."""
        if finding.weight == "sound":
            return any(one.title == finding.title and one.place == finding.place for one in self.went)
        return bool(self.came) and standings_of((finding,))[0] in self.came

    def words(self) -> str:
        """What turned, in a sentence or two."""
        said = []
        for weight in ("stop", "watch", "unknown"):
            titles = dict.fromkeys(one.title for one in self.came if one.weight == weight)
            if titles:
                said.append(f"{WEIGHT_WORDS[weight]}: {listed(tuple(titles))}.")
        # A joint that is mended while another breaks is not told as both.
        new = {one.title for one in self.came}
        gone = tuple(dict.fromkeys(one.title for one in self.went if one.title not in new))
        if gone:
            said.append(f"No longer: {listed(gone)}.")
        return " ".join(said) or "What is found stays the same."


NOTHING_TURNED = Turned()
