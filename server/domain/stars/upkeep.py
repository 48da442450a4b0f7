"""What each kind of tube asks of its owner: collimation, and the cautions. Common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.said import Said, said


@dataclass(frozen=True)
class Upkeep:
    """Of one kind of tube: the name of its words in the phrasebook, and the clauses of what to mind."""

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
        return tuple(map(said, self.minds))


_SUN = ("upkeep.cap", "caution.sun.optics")
_LASER = ("caution.laser.eye", "caution.laser.out")
UPKEEP = {
    "achromat": Upkeep("refractor", ("upkeep.open_up", *_SUN)),
    "apochromat": Upkeep("refractor", ("upkeep.open_up", *_SUN)),
    "newtonian": Upkeep("newtonian", (*_LASER, "upkeep.level", *_SUN)),
    "schmidt_cassegrain": Upkeep("schmidt_cassegrain", ("upkeep.screws", "upkeep.open_up", *_SUN)),
    "maksutov": Upkeep("maksutov", ("upkeep.open_up", *_SUN)),
    "ritchey_chretien": Upkeep("ritchey_chretien", (*_LASER, "upkeep.mark", *_SUN)),
    "classical_cassegrain": Upkeep("classical_cassegrain", (*_LASER, "upkeep.mark", *_SUN)),
    "dall_kirkham": Upkeep("dall_kirkham", (*_LASER, "upkeep.open_up", *_SUN)),
    "astrograph": Upkeep("astrograph", ("upkeep.open_up", *_SUN)),
    "camera_lens": Upkeep("camera_lens", ("upkeep.open_up", *_SUN)),
}
"""By a tube's design."""


def upkeep_of(design: str | None) -> Upkeep | None:
    """What a design asks for; None where the design is not known."""
    return None if design is None else UPKEEP.get(design)
