"""A candidate's stars in the centre and in the widest corner, as the Scout's pages draw them."""

from __future__ import annotations

from server.domain.guarded import worked_or_none
from server.domain.observer import Observer
from server.domain.rig import Rig
from server.domain.said import said
from server.domain.stars.field import StarField, work_stars
from server.domain.stars.telescope import telescope_of
from server.domain.stars.wishes import StarWishes
from server.domain.workings.case import Case
from server.web.stars.page import DrawnStar, drawn_star, white_of


def stars_of(rig: Rig, seeing: float | None) -> StarField | None:
    """The stars of a rig in some seeing, arcsec; None where figures are missing."""
    case = Case(rig)
    telescope = worked_or_none(said("work.stars"), lambda: telescope_of(case))
    if telescope is None:
        return None
    wishes = StarWishes(seeing_arcsec=seeing)
    return worked_or_none(said("work.stars"), lambda: work_stars(case, telescope, wishes))


def white_arcsec2(stars: StarField) -> float:
    """The brightest of the centre, as light for each square arcsecond."""
    return white_of(stars, "seen") * stars.telescope.um_per_arcsec**2


def drawn_pair(
    stars: StarField | None, side_arcsec: float, white: float, reader: Observer
) -> tuple[DrawnStar | None, DrawnStar | None]:
    """The stars of centre and widest corner, `side_arcsec` of the sky wide, `white` (light for each square
    arcsecond) drawn white; no corner that would look perfect without what nobody has said of it.
    """
    if stars is None:
        return None, None
    scale = stars.telescope.um_per_arcsec
    side_um, white_um2 = side_arcsec * scale, white / scale**2
    centre, corner = (
        drawn_star(star, stars, "seen", True, side_um, white_um2, reader.units)
        for star in (stars.centre, stars.worst)
    )
    return centre, None if stars.telescope.perfect or stars.telescope.missing else corner
