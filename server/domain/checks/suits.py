"""Is each corrector meant for a tube of this design and focal ratio?"""

from __future__ import annotations

from server.domain.checks.case import (
    COMMON_PRACTICE,
    Case,
    amount,
    input_of,
    listed,
    literal,
    say,
    worked_input,
)
from server.domain.checks.worked import figures_of
from server.domain.findings import Amount, Finding, Input
from server.domain.missing import lacks
from server.domain.parts import CataloguedPart, Corrector, OpticalTube
from server.domain.parts.optical import DESIGNS
from server.domain.train import Place
from server.optics.imaging import effective_focal_ratio

FORMULA = "N = f / D, times the factors of correctors before this one; fastest <= N <= slowest"
SOURCE = f"The corrector's own data. That a corrector is only as good as its tube is like: {COMMON_PRACTICE}"
ROUNDED_RATIO = 0.05
"""Focal ratios are quoted to a tenth: half of that may turn no verdict (a choice of ours, no source)."""

_DESIGN_WORDS = dict(DESIGNS)


def check_suits(case: Case) -> tuple[Finding, ...]:
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


def _judged(case: Case, place: Place, part: Corrector) -> Finding:
    assert case.train.tube is not None
    tube = case.train.tube.item
    name, tube_name = literal(place.name), literal(tube.name)
    amounts: dict[str, Amount] = {}
    missing: list[str] = []
    faults: list[str] = []
    codes: list[str] = []
    inputs: list[Input] = []
    if part.for_designs:
        meant = listed([_DESIGN_WORDS[one] for one in part.for_designs])
        inputs.append(
            Input(label="meant for", amount=None, basis=part.basis, of=place.name, text=meant),
        )
        if tube.part.design is None:
            missing.append(lacks(tube, "design", "the design"))
        else:
            words = _DESIGN_WORDS[tube.part.design]
            inputs.append(
                Input(label="design", amount=None, basis=tube.part.basis, of=tube.name, text=words),
            )
            if tube.part.design not in part.for_designs:
                codes.append("suits.design")
                faults.append(
                    f"{name} is meant for another design ({literal(meant)}) than {tube_name} is of "
                    f"({literal(words)}): the stars off the middle may come out worse than without it."
                )
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
            amounts["ratio"] = amount(ratio, "ratio")
            fastest, slowest = part.fastest_ratio, part.slowest_ratio
            if fastest is not None and ratio < fastest.nominal - ROUNDED_RATIO:
                codes.append("suits.fast")
                amounts["fastest"] = amount(fastest.nominal, "ratio")
                faults.append(
                    f"{name} is meant for {{fastest}} or slower and gets {{ratio}}: "
                    "the steep outer rays may not be corrected."
                )
            elif slowest is not None and ratio > slowest.nominal + ROUNDED_RATIO:
                codes.append("suits.slow")
                amounts["slowest"] = amount(slowest.nominal, "ratio")
                faults.append(
                    f"{name} is meant for {{slowest}} or faster and gets {{ratio}}: "
                    "what it corrects may not be what this tube needs."
                )
    weight, code = ("watch", codes[0]) if codes else ("sound", "suits.sound")
    sentence = " ".join(faults) or f"{name} is meant for a tube like {tube_name}."
    if missing:
        if not codes:
            weight, code = "unknown", "suits.unknown"
            sentence = f"Whether {name} is meant for {tube_name} is not wholly known yet."
        sentence += literal(f" Not known yet: enter {listed(missing)}.")
    return Finding(
        code=code,
        weight=weight,
        title="Corrector",
        phrase=say(sentence, **amounts),
        inputs=tuple(inputs),
        formula=FORMULA,
        source=SOURCE,
        place=place.key,
        missing=tuple(missing),
    )


def _ratio_before(
    case: Case, place: Place, tube: CataloguedPart[OpticalTube]
) -> tuple[float | None, list[str]]:
    """The focal ratio of the light that reaches a corrector, and what to enter where it is not known."""
    stated, aperture, lacking = figures_of(tube)
    missing = list(lacking)
    # A tube that focuses by its primary gives what that makes of its focal length.
    focal = case.optics.tube_focal_mm or stated
    factor = 1.0
    for earlier in case.train.places[: case.train.index_of(place)]:
        if isinstance(earlier.part, Corrector):
            if earlier.part.factor is None:
                missing.append(lacks(earlier, "factor", "the factor"))
            else:
                factor *= earlier.part.factor.nominal
    if missing or focal is None or aperture is None:
        return None, missing
    return effective_focal_ratio(focal, aperture, factor), []
