"""Are the filters of one wheel parfocal: does changing them move the focus by more than its depth?"""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.findings import Figure, Weight
from server.domain.measure import Measure
from server.domain.missing import lacks
from server.domain.parts import CataloguedPart, Filter, is_a
from server.domain.said import Quantity, said
from server.domain.train import Place
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import Case, amount, input_of, not_known, rule_input, worked_input
from server.optics.focus import depth_of_focus_mm
from server.optics.glass import N_BK7_INDEX, plate_shift_mm

EDGE_MM = 1e-9
"""A picometre of float rounding must not turn a verdict."""


@dataclass(frozen=True)
class _Plate:
    item: CataloguedPart
    thickness: Measure
    index: Measure | None
    shift_mm: float
    unsure_mm: float


def check_parfocal(case: Case) -> tuple[Verdict, ...]:
    """Return one finding for each wheel or drawer that holds two filters or more; silent without one."""
    ratio = case.optics.focal_ratio
    found = []
    for place in case.train:
        filters = list({i.id: i for i in place.inside if is_a(i, Filter)}.values())
        if len(filters) < 2:
            continue
        found.append(_judged(case, place, filters, ratio))
    return tuple(found)


def _plate(item: CataloguedPart[Filter], ratio: float) -> _Plate | None:
    part = item.part
    if part.thickness_mm is None:
        return None
    index = N_BK7_INDEX if part.refractive_index is None else part.refractive_index.nominal
    shift = plate_shift_mm(part.thickness_mm.nominal, index, ratio)
    slack = max(part.thickness_mm.plus or 0.0, part.thickness_mm.minus or 0.0)
    unsure = plate_shift_mm(slack, index, ratio)
    return _Plate(item, part.thickness_mm, part.refractive_index, shift, unsure)


def _judged(case: Case, place: Place, filters: list[CataloguedPart[Filter]], ratio: float | None) -> Verdict:
    lacking = [lacks(item, "thickness_mm") for item in filters if item.part.thickness_mm is None]
    missing = [*lacking, *(case.optics.missing if ratio is None else ())]
    plates = [] if ratio is None else [p for item in filters if (p := _plate(item, ratio)) is not None]
    if ratio is None or len(plates) < 2:
        says = said("parfocal.unknown", wheel=place, missing=missing)
        return not_known("parfocal.unknown", tuple(missing), says, place=place.key)
    thin, thick = min(plates, key=lambda p: p.shift_mm), max(plates, key=lambda p: p.shift_mm)
    offset = thick.shift_mm - thin.shift_mm
    unsure = thick.unsure_mm + thin.unsure_mm
    depth = depth_of_focus_mm(ratio, case.rig.rules.wavelength_nm)
    amounts = {
        "offset": amount(offset, "small_length"),
        "depth": amount(depth, "small_length"),
        "unsure": amount(unsure, "small_length"),
    }
    remedies: tuple[Advice, ...] = ()
    weight: Weight
    if offset > depth + EDGE_MM:
        weight, code = "watch", "parfocal.offset"
        told = [said(code, wheel=place, thick=thick.item, thin=thin.item, **amounts)]
        remedies = (Advice((said("parfocal.refocus", offset=amounts["offset"]),)),)
    else:
        weight, code = "sound", "parfocal.sound"
        told = [said(code, wheel=place, alike=offset <= EDGE_MM, **amounts)]
        if offset + unsure > depth + EDGE_MM:
            weight, code = "watch", "parfocal.may_offset"
            told.append(said(code, unsure=amounts["unsure"]))
    if lacking:
        told.append(said("enter", missing=lacking))
        if weight == "sound":
            weight, code = "unknown", "parfocal.part_unknown"
    inputs: list[Given] = [
        worked_input("focal ratio at the sensor", ratio, "ratio"),
        rule_input(case, "wavelength_nm", "wavelength", "wavelength"),
        worked_input("depth of focus, to either side", depth, "small_length"),
    ]
    for plate in plates:
        index = Quantity(N_BK7_INDEX if plate.index is None else plate.index.nominal, "")
        label = said("glass.index", index=index, assumed=plate.index is None)
        inputs.append(input_of(label, plate.item, plate.thickness, "length", 2))
        inputs.append(worked_input(said("parfocal.shift", filter=plate.item), plate.shift_mm, "length", 4))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(told),
        figure=Figure(
            label="offset between filters",
            amount=amount(offset, "small_length"),
            uncertainty=unsure or None,
        ),
        remedies=remedies,
        inputs=tuple(inputs),
        place=place.key,
        missing=tuple(lacking),
    )
