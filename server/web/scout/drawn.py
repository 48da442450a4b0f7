"""A candidate's stars in the centre and in the widest corner, as the Scout's pages draw them."""

from __future__ import annotations

from server.domain.guarded import worked_or_none
from server.domain.observer import Observer
from server.domain.rig import Rig
from server.domain.said import said
from server.domain.stars.field import PlaceStar, StarField, work_stars
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


def drawn_centre(
    stars: StarField | None, side_arcsec: float, white: float, reader: Observer
) -> DrawnStar | None:
    """The star of the centre, `side_arcsec` of the sky wide, `white` (light for each square arcsecond) drawn
    white; None for none.
    """
    return None if stars is None else _drawn(stars.centre, stars, side_arcsec, white, reader)


def drawn_corner(
    stars: StarField | None, side_arcsec: float, white: float, reader: Observer
) -> DrawnStar | None:
    """That of the widest corner likewise; none that would look perfect without what nobody has said."""
    if stars is None or stars.telescope.perfect or stars.telescope.missing:
        return None
    return _drawn(stars.worst, stars, side_arcsec, white, reader)


def _drawn(
    star: PlaceStar, stars: StarField, side_arcsec: float, white: float, reader: Observer
) -> DrawnStar:
    scale = stars.telescope.um_per_arcsec
    return drawn_star(star, stars, "seen", True, side_arcsec * scale, white / scale**2, reader.units)
