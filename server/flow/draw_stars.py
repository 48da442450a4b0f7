"""Draw the stars of a rig: the pictures, their numbers and what they say, for one set of wishes."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.guarded import Failed, worked
from server.domain.missing import wants
from server.domain.rig import Rig
from server.domain.said import Missing, Said, said
from server.domain.stars.field import StarField, work_stars
from server.domain.stars.telescope import Telescope, lacking_for_stars, telescope_of
from server.domain.stars.upkeep import Upkeep, upkeep_of
from server.domain.stars.wishes import StarWishes
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case

LEAST_COMPARED, MOST_COMPARED = 2, 4


@dataclass(frozen=True)
class StarView:
    """The answer.

    Attributes:
        lacking: what to enter before a star can be drawn; then the rest is None or empty.
        trouble: why figures that are there cannot be drawn.
    """

    rig: Rig
    wishes: StarWishes
    lacking: tuple[Missing, ...] = ()
    trouble: Said | None = None
    telescope: Telescope | None = None
    field: StarField | None = None
    findings: tuple[Verdict, ...] = ()
    upkeep: Upkeep | None = None


def draw_stars(rig: Rig, wishes: StarWishes) -> StarView:
    """Return the stars of a rig. Raises nothing for a rig that says too little: the view says what is
    missing.
    """
    # The pictures bring numpy: only who asks for stars waits for it.
    from server.domain.stars.findings import findings_of

    case = Case(rig)
    lacking = lacking_for_stars(case)
    if lacking:
        return StarView(rig, wishes, lacking)

    def drawn() -> StarView:
        telescope = telescope_of(case)
        if telescope is None:
            return StarView(rig, wishes, (wants("tube_focal"),))
        field = work_stars(case, telescope, wishes)
        found, upkeep = findings_of(case, field), upkeep_of(telescope.part.design)
        return StarView(rig, wishes, (), None, telescope, field, found, upkeep)

    view = worked(said("work.stars"), drawn)
    return StarView(rig, wishes, trouble=view.why) if isinstance(view, Failed) else view
