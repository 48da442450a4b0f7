"""Rigs' stars side by side, as their template sees them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import ClassVar

from server.domain.fields import FieldSpec
from server.domain.findings import Amount
from server.domain.measure import Money
from server.domain.observer import UnitSystem
from server.domain.parts import CataloguedPart, Corrector
from server.flow.draw_stars import StarView
from server.flow.protocols import RigLine
from server.rim.phrasebook.tell import asked_of, plain
from server.rim.star_wishes import WISH_SPECS
from server.rim.wording import write_amount, write_money
from server.web.stars.page import (
    ALWAYS_ASSUMED,
    SHOWN,
    DrawnStar,
    Shown,
    assumed_of,
    drawn_star,
    facts_of,
    side_px,
    white_of,
)

SKY = ("seeing_arcsec", "guiding_arcsec")
"""The wishes that a comparison has: one sky for all its rigs."""


@dataclass(frozen=True)
class Compared:
    """One rig of the comparison: the middle's star and the widest corner's, its facts in
    `ComparePage.rows`, and what is assumed of it.
    """

    rig_id: int
    name: str
    centre: DrawnStar | None
    corner: DrawnStar | None
    values: tuple[str, ...]
    trouble: str
    assumed: tuple[str, ...]


@dataclass(frozen=True)
class ComparePage:
    """Two to four rigs side by side.

    Attributes:
        rigs: all of the observer; chosen the numbers of those that are meant.
        trouble: why nothing is compared, "" where something is.
        rows: what the values of each are; side how wide each picture is.
        sky: the fields of the sky that all of them are drawn under, as `typed`, with `errors`.
    """

    template: ClassVar[str] = "stars/compare.html"

    sky: tuple[FieldSpec, ...]
    typed: Mapping[str, str]
    errors: Mapping[str, str]

    rigs: tuple[RigLine, ...]
    chosen: tuple[int, ...]
    trouble: str
    compared: tuple[Compared, ...]
    rows: tuple[str, ...]
    side: str
    shown: Shown
    stretched: bool
    modes: tuple[tuple[Shown, str], ...] = SHOWN
    always: tuple[str, ...] = ALWAYS_ASSUMED


ROWS = (
    "focal length and ratio",
    "scale",
    "light",
    "air and guiding",
    "light lost to obstruction, vanes and clips",
    "a refractor that gathers as much",
    "light in the spikes",
    "growth from the centre to the corner",
    "blur of the corner that a compromise focus removes",
    "full width at the centre, all in",
    "full width at the corner, all in",
    "four fifths of the light at the centre",
    "four fifths of the light at the corner",
    "Strehl ratio at the centre",
    "Strehl ratio at the corner",
    "eccentricity at the corner",
    "price of the tube",
    "price of the corrector",
    "price of both",
    "mass of the tube",
    "mass of the corrector",
    "mass of both",
)


def _bought(view: StarView) -> tuple[CataloguedPart, tuple[CataloguedPart, ...]]:
    """The tube and all correctors of a rig whose stars are drawn."""
    assert view.telescope is not None
    correctors = tuple(place.item for place in view.rig.train if isinstance(place.part, Corrector))
    return view.telescope.tube, correctors


def _summed(
    what: str, tube: CataloguedPart, correctors: tuple[CataloguedPart, ...], said: Callable[..., str]
) -> tuple[str, str, str]:
    """Cells for the tube, its correctors and all of them; `said` writes a sum, "" where one is unknown."""

    def cell(items: tuple[CataloguedPart, ...]) -> str:
        lacking = [one.name for one in items if not said(one)]
        if lacking:
            return "not known yet: enter " + " and ".join(f"the {what} of {name}" for name in lacking)
        return said(*items)

    return cell((tube,)), cell(correctors) if correctors else "no corrector", cell((tube, *correctors))


def _prices(view: StarView) -> tuple[str, str, str]:
    def said(*items: CataloguedPart) -> str:
        prices = [one.part.price for one in items if one.part.price is not None]
        if len(prices) < len(items):
            return ""
        if len({price.currency for price in prices}) > 1:
            return "in two currencies: not added"
        return write_money(Money(hundredths=sum(p.hundredths for p in prices), currency=prices[0].currency))

    return _summed("price", *_bought(view), said)


def _masses(view: StarView, units: UnitSystem) -> tuple[str, str, str]:
    def said(*items: CataloguedPart) -> str:
        masses = [one.part.mass_kg.nominal for one in items if one.part.mass_kg is not None]
        if len(masses) < len(items):
            return ""
        return write_amount(Amount(value=sum(masses), dimension="mass"), units)

    return _summed("mass", *_bought(view), said)


def compare_page(
    rigs: tuple[RigLine, ...],
    chosen: tuple[int, ...],
    views: tuple[tuple[int, StarView], ...],
    trouble: str,
    typed: Mapping[str, str],
    errors: Mapping[str, str],
    shown: Shown,
    stretched: bool,
    units: UnitSystem,
) -> ComparePage:
    """Build the comparison: every star at one scale on the sky, brightness against each rig's own centre."""
    fields = [view.field for _, view in views if view.field is not None]
    side_arcsec = max(
        (side_px([f], shown) * f.telescope.pixel_um / f.telescope.um_per_arcsec for f in fields), default=0.0
    )
    found = []
    for rig_id, view in views:
        field = view.field
        if field is None:
            why = (
                plain(view.trouble)
                if view.trouble
                else "Not known yet: enter " + "; ".join(asked_of(view.lacking)) + "."
            )
            found.append(Compared(rig_id, view.rig.name, None, None, (), why, ()))
            continue
        side_um = side_arcsec * field.telescope.um_per_arcsec
        white = white_of(field, shown)
        centre, corner = (
            drawn_star(star, field, shown, stretched, side_um, white, units)
            for star in (field.centre, field.worst)
        )
        as_if = f"(as if {' and '.join(part.name for part in field.telescope.perfect)} were perfect)"
        values = (
            *(value for _, value in facts_of(field, units)),
            centre.cells[1],
            corner.cells[1],
            centre.cells[3],
            corner.cells[3],
            centre.cells[5].replace("*", as_if),
            corner.cells[5].replace("*", as_if),
            corner.cells[6],
            *_prices(view),
            *_masses(view, units),
        )
        assumed = (
            *assumed_of(field.telescope),
            *(f"Not known yet: enter {one}." for one in field.telescope.missing),
        )
        found.append(Compared(rig_id, view.rig.name, centre, corner, values, "", assumed))
    return ComparePage(
        sky=tuple(spec for spec in WISH_SPECS if spec.name in SKY),
        typed=typed,
        errors=errors,
        rigs=rigs,
        chosen=chosen,
        trouble=trouble,
        compared=tuple(found),
        rows=ROWS,
        side=f"Each picture is {side_arcsec:.0f} arcsec wide." if fields else "",
        shown=shown,
        stretched=stretched,
    )
