"""Narrow bands in a fast beam: what the slant of its rays leaves of the line."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.findings import Amount, Figure
from server.domain.measure import nominal
from server.domain.missing import lacks
from server.domain.parts import CataloguedPart, Filter
from server.domain.said import said
from server.domain.train import Place
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    worked_input,
)
from server.optics.narrow_band import USUAL_INDEX, edge_shift_nm, left_flat, left_gaussian, mean_shift_nm

NARROW_NM = 30.0
"""A wider band holds its line in any beam (a choice of ours, no source)."""
LITTLE = 0.02
MUCH = 0.2
"""Of the line lost whatever the band's shape: then it is worth another filter (a choice of ours, no
source).
"""


@dataclass(frozen=True)
class _Band:
    """One narrow filter in its beam, nm: least and most of the line that is left by the band's shape."""

    place: Place
    item: CataloguedPart
    part: Filter
    ratio: float
    index: float
    line_nm: float
    width_nm: float
    shift_nm: float
    need_nm: float
    least: float
    most: float


def check_bands(case: Case) -> tuple[Verdict, ...]:
    """Judge the narrow filter that loses most of its line; silent without one, and while the beam's ratio is
    unknown, which others ask for.
    """
    filters = {
        item.id: (place, item, item.part)
        for place in case.train
        for item in ((place.item,) if isinstance(place.part, Filter) else place.inside)
        if isinstance(item.part, Filter) and _is_narrow(item.part)
    }
    if not filters or case.traced is None:
        return ()
    bands, missing = [], []
    for place, item, part in filters.values():
        lacking = [
            lacks(item, field)
            for field, figure in (
                ("band_centre_nm", part.band_centre_nm),
                ("band_width_nm", part.band_width_nm),
            )
            if figure is None
        ]
        missing += lacking
        if not lacking:
            bands.append(_band(case, place, item, part))
    if not bands:
        return (not_known("bands.unknown", tuple(missing)),)
    return (_judged(case, min(bands, key=lambda one: (one.most, one.least)), len(bands) > 1),)


def _is_narrow(part: Filter) -> bool:
    width = nominal(part.band_width_nm)
    if part.broadband or part.solar:
        return False
    return part.broadband is False if width is None else 0.0 < width <= NARROW_NM


def _ratio_at(case: Case, place: Place) -> float:
    """The focal ratio of the beam where a filter stands; before the last corrector it is another."""
    assert case.traced is not None
    beam, corrector = case.traced.beam, case.train.corrector
    before = corrector is not None and case.train.index_of(place) < case.train.index_of(corrector)
    stretch = beam.stretches[-1 if before else 0]
    return 0.5 / abs(stretch.half_per_mm)


def _band(case: Case, place: Place, item: CataloguedPart, part: Filter) -> _Band:
    assert case.traced is not None
    assert part.band_centre_nm is not None
    assert part.band_width_nm is not None
    ratio, eps = _ratio_at(case, place), case.traced.beam.obstruction
    line, width = part.band_centre_nm.nominal, part.band_width_nm.nominal
    index = nominal(part.effective_index) or USUAL_INDEX
    edge, made = edge_shift_nm(line, ratio, index), nominal(part.made_for_ratio)
    centre = 0.0 if made is None else mean_shift_nm(edge_shift_nm(line, made, index))
    left = [shape(width, edge, eps, centre) for shape in (left_gaussian, left_flat)]
    return _Band(
        place,
        item,
        part,
        ratio,
        index,
        line,
        width,
        mean_shift_nm(edge, eps) - centre,
        2.0 * edge,
        min(left),
        max(left),
    )


def _judged(case: Case, band: _Band, others: bool) -> Verdict:
    lost = [1.0 - band.most, 1.0 - band.least]
    made = band.part.made_for_ratio
    amounts = {
        "ratio": amount(band.ratio, "ratio"),
        "shift": amount(abs(band.shift_nm), "wavelength", 1),
        "least": amount(lost[0], "fraction"),
        "most": amount(lost[1], "fraction"),
        "need": amount(band.need_nm, "wavelength", 1),
        "half": amount(band.need_nm / 2.0, "wavelength", 1),
    }
    much = lost[0] >= MUCH
    code = "bands.sound" if lost[1] < LITTLE else "bands.lost" if much else "bands.some"
    facts = {"blue": band.shift_nm >= 0.0, "same": lost[1] - lost[0] < 0.01, "others": others}
    usual = Given(
        label="effective index of its layers",
        amount=amount(band.index, "count", 2),
        basis="assumed",
        of=band.item.name,
    )
    index = band.part.effective_index
    return Verdict(
        code=code,
        weight="watch" if much else "sound",
        says=(said(code, filter=band.item, **facts, **amounts),),
        figure=Figure(
            label="light of the line lost",
            amount=amount(sum(lost) / 2.0, "fraction"),
            uncertainty=(lost[1] - lost[0]) / 2.0 or None,
        ),
        remedies=(_remedy(band, amounts),) if much else (),
        inputs=Later(
            lambda: (
                worked_input("focal ratio at the filter", band.ratio, "ratio"),
                _obstruction(case),
                input_of("band centre", band.item, band.part.band_centre_nm, "wavelength"),
                input_of("band width", band.item, band.part.band_width_nm, "wavelength"),
                usual if index is None else input_of(usual.label, band.item, index, "count", 2),
                *(() if made is None else (input_of("made for", band.item, made, "ratio"),)),
                worked_input("mean shift against the line", band.shift_nm, "wavelength", 2),
                worked_input(
                    "line left, band shaped like a bell or with steep sides: least", band.least, "fraction"
                ),
                worked_input("the same, most", band.most, "fraction"),
                worked_input("band that this ratio needs", band.need_nm, "wavelength", 1),
                worked_input("the same of a filter made for it", band.need_nm / 2.0, "wavelength", 1),
            )
        ),
        place=band.place.key,
    )


def _remedy(band: _Band, amounts: dict[str, Amount]) -> Advice:
    if band.shift_nm < 0.0:
        return Advice((said("bands.not_so_fast"),))
    return Advice((said("bands.use", wide=band.width_nm >= band.need_nm / 2.0, **amounts),))


def _obstruction(case: Case) -> Given:
    assert case.traced is not None
    basis = "assumed" if case.optics.obstruction is None else "worked out"
    return Given(
        label="central obstruction", amount=amount(case.traced.beam.obstruction, "fraction"), basis=basis
    )
