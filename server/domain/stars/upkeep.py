"""What each kind of tube asks of its owner: collimation, and the cautions. Common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.said import Said, said


@dataclass(frozen=True)
class Upkeep:
    """Of one kind of tube: the name of its words in the phrasebook, and the cautions that it asks for."""

    kind: str
    minds: tuple[str, ...]

    @property
    def what(self) -> Said:
        """What is collimated."""
        return said(f"upkeep.{self.kind}.what")

    @property
    def delicate(self) -> Said:
        """How exact and how often."""
        return said(f"upkeep.{self.kind}.delicate")

    @property
    def field(self) -> Said:
        """Whether its owner can do it outside."""
        return said(f"upkeep.{self.kind}.field")

    @property
    def cautions(self) -> tuple[Said, ...]:
        """What to mind."""
        return tuple(said(f"upkeep.{one}") for one in self.minds)


UPKEEP = {
    "achromat": Upkeep("refractor", ("open_up", "sun")),
    "apochromat": Upkeep("refractor", ("open_up", "sun")),
    "newtonian": Upkeep("newtonian", ("laser", "level", "sun")),
    "schmidt_cassegrain": Upkeep("schmidt_cassegrain", ("screws", "open_up", "sun")),
    "maksutov": Upkeep("maksutov", ("open_up", "sun")),
    "ritchey_chretien": Upkeep("ritchey_chretien", ("laser", "mark", "sun")),
    "classical_cassegrain": Upkeep("classical_cassegrain", ("laser", "mark", "sun")),
    "dall_kirkham": Upkeep("dall_kirkham", ("laser", "open_up", "sun")),
    "astrograph": Upkeep("astrograph", ("open_up", "sun")),
    "camera_lens": Upkeep("camera_lens", ("open_up", "sun")),
}
"""By a tube's design."""


def upkeep_of(design: str | None) -> Upkeep | None:
    """What a design asks for; None where the design is not known."""
    return None if design is None else UPKEEP.get(design)
