"""A rig's drawings for a page: the checks' figures and the reader's units put into the drawings' options."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from math import hypot

from markupsafe import Markup

from server.domain.checks.tolerances import Band, band_of
from server.domain.findings import Amount
from server.domain.guarded import worked_or_none
from server.domain.observer import UnitSystem
from server.domain.rig import Rig
from server.domain.said import said
from server.domain.workings.case import Case
from server.domain.workings.lit import FULL, Lit, light_of
from server.rim.wording import write_amount
from server.web.drawing import (
    SIZES,
    LimitMark,
    PrismMark,
    SectionOptions,
    Size,
    SpacingMark,
    light_map_svg,
    light_words,
    scale_of,
    section_figure,
    tolerance_bar_svg,
    tolerance_words,
)

BAR_LENGTHS_MM: dict[UnitSystem, tuple[float, ...]] = {
    "metric": SectionOptions.bar_lengths_mm,
    "imperial": tuple(inches * 25.4 for inches in (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)),
}
"""Lengths of a scale bar that are round in the reader's units. An inch is 25.4 mm exactly (international
yard and pound agreement, 1959)."""


BENCH_WIDTH, BENCH_SIDE = 880.0, 320.0
"""The bench's section leaves room for the run beside it; strip and legend stand within its width."""

SHEET_WIDTH, SHEET_SIDE = 1100.0, 320.0
"""A sheet's section is low, and its text is over 6 pt where it is printed over the width of an A4 page."""


@lru_cache(4096)
def _write_length(units: UnitSystem, length_mm: float) -> str:
    # A drawing says each length several times, and the next one says most of them again.
    return write_amount(Amount(value=length_mm, dimension="length", digits=1), units)


@dataclass(frozen=True)
class Pictures:
    """The bench's pictures; light and tolerances are empty where tube or camera is missing.

    `light_words` and `tolerance_words` say the same beside them, a sentence each.
    """

    section: Markup
    light: Markup
    tolerances: Markup
    light_words: tuple[str, ...] = ()
    tolerance_words: tuple[str, ...] = ()


def options_for(
    rig: Rig, units: UnitSystem, *, links: bool = True, id_prefix: str = "section"
) -> SectionOptions:
    """What a drawing of this rig needs to know besides the rig itself."""
    case = Case(rig)
    options = _options(case, _lit(case), _band(case), units)
    return replace(options, links=links, id_prefix=id_prefix)


def _options(case: Case, lit: Lit | None, band: Band | None, units: UnitSystem) -> SectionOptions:
    spacing = case.spacing
    mark = None
    if spacing is not None and spacing.asked_mm is not None:
        mark = SpacingMark(spacing.asked_mm, spacing.actual_mm)
    return SectionOptions(
        units=units,
        write_length=partial(_write_length, units),
        write_fine=partial(_write_hundredths, units),
        spacing=mark,
        limit=_limit_of(case, lit),
        prism=_prism_of(case, lit),
        band=band,
        bar_lengths_mm=BAR_LENGTHS_MM[units],
    )


def section_of(rig: Rig, units: UnitSystem, *, links: bool = True, id_prefix: str = "section") -> Markup:
    """The section along the axis, wide and narrow; the page's width chooses. `id_prefix` is unique."""
    # The drawing's writer escapes every text that it is given.
    return Markup(section_figure(rig, options=options_for(rig, units, links=links, id_prefix=id_prefix)))


def sheet_section(rig: Rig, units: UnitSystem, *, links: bool = True, id_prefix: str = "section") -> Markup:
    """As `section_of`, low enough to be printed over a page's width with all that the sheet says."""
    options = options_for(rig, units, links=links, id_prefix=id_prefix)
    return Markup(section_figure(rig, options=replace(options, width=SHEET_WIDTH, side=SHEET_SIDE)))


def sections_alike(rigs: Mapping[str, Rig], units: UnitSystem) -> tuple[Markup, ...]:
    """Sections of several rigs at one scale, by what begins each one's ids."""
    options = [
        replace(options_for(rig, units, links=False, id_prefix=prefix), width=SHEET_WIDTH, side=SHEET_SIDE)
        for prefix, rig in rigs.items()
    ]
    drawn = list(zip(rigs.values(), options, strict=True))
    # On a phone as well as on a wide page, so that either shows them alike.
    most = min(scale_of(rig, replace(one, narrow=narrow)) for rig, one in drawn for narrow in (False, True))
    return tuple(Markup(section_figure(rig, options=replace(one, most_scale=most))) for rig, one in drawn)


def pictures_of(rig: Rig, units: UnitSystem, sizes: tuple[Size, ...] = SIZES) -> Pictures:
    """The section, in these sizes, the light over the sensor and the tolerances, worked out together."""
    case = Case(rig)
    lit, band = _lit(case), _band(case)
    options = replace(_options(case, lit, band, units), width=BENCH_WIDTH, side=BENCH_SIDE, enlarged=False)
    section = Markup(section_figure(rig, options=options, sizes=sizes))
    if rig.train.tube is None or rig.train.camera is None:
        return Pictures(section, Markup(""), Markup(""))
    light, bar = light_map_svg(lit), tolerance_bar_svg(band, write=options.write_fine)
    return Pictures(
        section,
        Markup(light),
        Markup(bar),
        tuple(light_words(lit)),
        tuple(tolerance_words(band, options.write_fine)),
    )


@lru_cache(1024)
def _write_hundredths(units: UnitSystem, length_mm: float) -> str:
    return write_amount(Amount(value=length_mm, dimension="length", digits=2), units)


def _lit(case: Case) -> Lit | None:
    """The light, None where the light cone's own finding says why it cannot be worked out."""
    return worked_or_none(said("work.light"), lambda: light_of(case))


def _band(case: Case) -> Band | None:
    """The tolerances, None where their own finding says why they cannot be worked out."""
    return worked_or_none(said("work.tolerances"), lambda: band_of(case))


def _limit_of(case: Case, lit: Lit | None) -> LimitMark | None:
    """The opening that takes most of what the corners lose."""
    if lit is None:
        return None
    corner = lit.quarter.points["corner"]
    number, through = lit.quarter.limiting[corner], lit.quarter.through[corner]
    if through >= FULL or not 0 <= number < len(lit.openings):
        return None
    one = lit.openings[number]
    half = one.diameter_mm / 2.0
    if one.square:
        # Towards the corner a square opening's side is met later than straight across.
        half *= hypot(lit.width_mm, lit.height_mm) / max(lit.width_mm, lit.height_mm)
    place = one.place
    return LimitMark(place.key, case.train.index_of(place) + 1, lit.at_mm[number], half, 1.0 - through)


def _prism_of(case: Case, lit: Lit | None) -> PrismMark | None:
    """The guider's prism, and what the middle of the long side, where it stands, loses of its light."""
    if lit is None or lit.prism is None:
        return None
    prism, quarter = lit.prism, lit.quarter
    side = quarter.points["side" if lit.width_mm >= lit.height_mm else "end"]
    return PrismMark(
        key=prism.place.key,
        number=case.train.index_of(prism.place) + 1,
        far_mm=prism.far_mm,
        near_mm=prism.near_mm,
        edge_mm=prism.edge_mm,
        height_mm=min(lit.width_mm, lit.height_mm) / 2.0,
        shades=prism.shades,
        lost=1.0 - quarter.through[side],
        limits=quarter.limiting[side] >= len(lit.openings),
    )
