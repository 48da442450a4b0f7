"""Is each corrector meant for a tube of this design and focal ratio?"""

from __future__ import annotations

from server.domain.findings import Amount, Weight
from server.domain.measure import Measure
from server.domain.missing import lacks
from server.domain.parts import CataloguedPart, Corrector, OpticalTube
from server.domain.said import Missing, Said, said
from server.domain.train import Place
from server.domain.verdicts import Given, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    worked_input,
)
from server.domain.workings.worked import figures_of
from server.optics.imaging import effective_focal_ratio

ROUNDED_RATIO = 0.05
"""Focal ratios are quoted to a tenth: half of that may turn no verdict (a choice of ours, no source)."""


def check_suits(case: Case) -> tuple[Verdict, ...]:
    """Compare what each corrector says it is meant for with the tube before it.

    Silent for a corrector that names neither designs nor ratios: it asks for nothing that could be missed.
    """
    if case.train.tube is None:
        return ()
    before = case.train.index_of(case.train.tube)
    return tuple(
        _judged(case, place, place.part)
        for index, place in enumerate(case.train)
        if index > before and isinstance(place.part, Corrector) and _asks(place.part)
    )


def _asks(part: Corrector) -> bool:
    return bool(part.for_designs or part.fastest_ratio or part.slowest_ratio)


def _judged(case: Case, place: Place, part: Corrector) -> Verdict:
    assert case.train.tube is not None
    tube = case.train.tube.item
    missing: list[Missing] = []
    faults: list[Said] = []
    gets: dict[str, Amount] = {}
    inputs: list[Given] = []
    if part.for_designs:
        meant = said("designs", designs=[said("design", design=one) for one in part.for_designs])
        inputs.append(Given("meant for", None, part.basis, place.name, meant))
        if tube.part.design is None:
            missing.append(lacks(tube, "design"))
        else:
            design = said("design", design=tube.part.design)
            inputs.append(Given("design", None, tube.part.basis, tube.name, design))
            if tube.part.design not in part.for_designs:
                faults.append(said("suits.design", corrector=place, tube=tube, meant=meant, design=design))
    if part.fastest_ratio is not None or part.slowest_ratio is not None:
        ratio, lacking = _ratio_before(case, place, tube)
        missing += lacking
        inputs += [
            input_of(label, place.item, measure, "ratio")
            for label, measure in (
                ("fastest focal ratio meant for", part.fastest_ratio),
                ("slowest focal ratio meant for", part.slowest_ratio),
            )
            if measure is not None
        ]
        if ratio is not None:
            inputs.append(worked_input("focal ratio that it gets", ratio, "ratio"))
            gets["ratio"] = amount(ratio, "ratio")
            fastest, slowest = part.fastest_ratio, part.slowest_ratio
            if fastest is not None and ratio < fastest.nominal - ROUNDED_RATIO:
                faults.append(_ratio_fault("suits.fast", place, fastest, ratio))
            elif slowest is not None and ratio > slowest.nominal + ROUNDED_RATIO:
                faults.append(_ratio_fault("suits.slow", place, slowest, ratio))
    code = faults[0].key if faults else "suits.unknown" if missing else "suits.sound"
    weight: Weight = "watch" if faults else "unknown" if missing else "sound"
    says = faults or [said(code, corrector=place, tube=tube, **gets)]
    if missing:
        says.append(said("enter", missing=missing))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        inputs=tuple(inputs),
        place=place.key,
        missing=tuple(missing),
    )


def _ratio_fault(key: str, corrector: Place, limit: Measure, ratio: float) -> Said:
    gets = amount(ratio, "ratio")
    return said(key, corrector=corrector, limit=amount(limit.nominal, "ratio"), ratio=gets)


def _ratio_before(
    case: Case, place: Place, tube: CataloguedPart[OpticalTube]
) -> tuple[float | None, list[Missing]]:
    """The focal ratio of the light that reaches a corrector, and what to enter where it is not known."""
    stated, aperture, lacking = figures_of(tube)
    missing = list(lacking)
    # A tube that focuses by its primary gives what that makes of its focal length.
    focal = case.optics.tube_focal_mm or stated
    factor = 1.0
    for earlier in case.train.places[: case.train.index_of(place)]:
        if isinstance(earlier.part, Corrector):
            if earlier.part.factor is None:
                missing.append(lacks(earlier, "factor"))
            else:
                factor *= earlier.part.factor.nominal
    if missing or focal is None or aperture is None:
        return None, missing
    return effective_focal_ratio(focal, aperture, factor), []
