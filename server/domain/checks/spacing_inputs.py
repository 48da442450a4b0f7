"""What went into the judgement of the spacing, each figure with where it came from."""

from __future__ import annotations

from dataclasses import replace

from server.domain.parts import OpticalTube
from server.domain.said import said
from server.domain.verdicts import Given
from server.domain.workings.case import Case, amount, input_of, rule_input, worked_input
from server.domain.workings.worked import Spacing
from server.optics.tolerance import Spread


def inputs_of(case: Case, spacing: Spacing) -> tuple[Given, ...]:
    """What is asked for, the glass that adds to it, and every known length."""
    corrector = spacing.corrector.part
    found: list[Given] = []
    tube = case.optics.tube
    if corrector.back_focus_table and tube is not None and isinstance(tube.part, OpticalTube):
        found.append(
            input_of("focal length, for the corrector's table", tube, tube.part.focal_length_mm, "length")
        )
    if spacing.asked_air_mm is not None:
        label = "back focus in air" + (", from its table" if corrector.back_focus_table else "")
        found.append(
            Given(
                label=label,
                amount=amount(spacing.asked_air_mm, "length", 2),
                basis=corrector.basis_of(None if corrector.back_focus_table else corrector.back_focus_mm),
                of=spacing.corrector.name,
            )
        )
    for glass in spacing.glass:
        found.append(input_of(glass.index_says, glass.item, glass.thickness, "length"))
        found.append(worked_input(glass.shift_says, glass.shift_mm, "length", 3))
    if spacing.reference_mm:
        found.append(input_of("reference shoulder", spacing.corrector.item, corrector.reference_mm, "length"))
    found.extend(
        input_of(length.label, length.place.item, length.measure, "length", 2) for length in spacing.lengths
    )
    return tuple(found)


def window_input(case: Case, spacing: Spacing, side: float, whose: str) -> Given:
    """How far off the sensor may sit, with whose figure that is."""
    if whose != "corrector":
        return rule_input(case, "spacing_mm", "spacing allowed (common practice, no source)", "length")
    corrector = spacing.corrector.part
    given = input_of("back focus tolerance", spacing.corrector.item, corrector.back_focus_mm, "length")
    return replace(given, amount=amount(side, "length", 2))


def tolerance_inputs(spreads: list[Spread], worst: Spread, likely: Spread) -> tuple[Given, ...]:
    """The sums of the tolerances, or that none were entered."""
    if not spreads:
        return (
            Given(label="tolerances of the lengths", amount=None, basis="", note=said("input.none_entered")),
        )
    return (
        worked_input("tolerances, worst case", max(worst.plus_mm, worst.minus_mm), "length", 2),
        worked_input("tolerances, likely", max(likely.plus_mm, likely.minus_mm), "length", 2),
    )
