"""Does the sensor sit at the back focus that the corrector asks for?"""

from __future__ import annotations

from server.domain.checks.case import (
    Case,
    amount,
    input_of,
    listed,
    literal,
    rule_input,
    say,
    unknown,
    worked_input,
)
from server.domain.checks.worked import Spacing
from server.domain.connections import mate, opposite
from server.domain.findings import Action, Figure, Finding, Input, Phrase, Remedy
from server.domain.parts import Corrector, Shim
from server.domain.train import Place
from server.optics.focus import depth_of_focus_mm
from server.optics.tolerance import Spread, root_sum_square, worst_case

FORMULA = (
    "error = reference + sum of lengths + flange distance - (back focus + sum of t (n - 1) / n over the "
    "glass); worst case = sum of tolerances; likely = root of the sum of their squares; "
    "depth of focus = 2 lambda N^2"
)
SOURCE = (
    "Plane-parallel plate: Smith, Modern Optical Engineering (from memory). Likely error: JCGM 100:2008, "
    "5.1.2. Quarter-wave depth of focus: Born & Wolf, Principles of Optics, sec. 8.8 (from memory)."
)
STOP_AT_WINDOWS = 2.0
"""Beyond twice the window the corners are lost rather than touched (a choice of ours, no source)."""


def check_spacing(case: Case) -> tuple[Finding, ...]:
    """Compare the distance from the reference shoulder to the sensor with what the corrector asks for."""
    spacing = case.spacing
    if spacing is None:
        return ()
    corrector = spacing.corrector.item
    asked = spacing.asked_mm
    if asked is None:
        part = corrector.part
        assert isinstance(part, Corrector)
        what = f"the back focus that {corrector.name} asks for"
        why = ""
        if part.back_focus_table:
            what = f"the back focus of {corrector.name} at this tube's focal length"
            why = " Its table does not reach this tube, and nothing is guessed beyond it."
        return (
            unknown(
                "spacing.asked",
                "Spacing",
                literal(f"Not known yet: enter {what}.{why}"),
                (what,),
                source=SOURCE,
            ),
        )
    if spacing.actual_mm is None or spacing.error_mm is None:
        sentence = (
            literal(f"{corrector.name} asks for ")
            + "{asked}"
            + literal(f". Not known yet: enter {listed(spacing.missing)}.")
        )
        return (
            Finding(
                code="spacing.unknown",
                weight="unknown",
                title="Spacing",
                phrase=say(sentence, asked=amount(asked, "length", 2)),
                inputs=_inputs(spacing),
                formula=FORMULA,
                source=SOURCE,
                missing=spacing.missing,
            ),
        )
    return (_judged(case, spacing, asked, spacing.actual_mm, spacing.error_mm),)


def window_of(case: Case, corrector: Corrector) -> tuple[float, float, str]:
    """How far too short and too long the sensor may sit (mm, both positive), and whose figure that is."""
    figure = corrector.back_focus_mm
    if (
        figure is not None
        and not corrector.back_focus_table
        and figure.plus is not None
        and figure.minus is not None
    ):
        return figure.minus, figure.plus, "corrector"
    return case.rig.rules.spacing_mm, case.rig.rules.spacing_mm, "rules"


def _judged(case: Case, spacing: Spacing, asked: float, actual: float, error: float) -> Finding:
    corrector = spacing.corrector.part
    assert isinstance(corrector, Corrector)
    short, long, whose = window_of(case, corrector)
    spreads = [
        Spread(length.measure.plus or 0.0, length.measure.minus or 0.0)
        for length in spacing.lengths
        if length.measure.plus or length.measure.minus
    ]
    worst, likely = worst_case(spreads), root_sum_square(spreads)
    side = long if error > 0 else short
    # The window's own edge belongs to it; a nanometre of float rounding must not turn a verdict.
    inside = -short - 1e-9 <= error <= long + 1e-9
    may_leave = not (-short - 1e-9 <= error - worst.minus_mm and error + worst.plus_mm <= long + 1e-9)
    missing = spacing.glass_missing
    amounts = {
        "error": amount(abs(error), "length", 2),
        "actual": amount(actual, "length", 2),
        "asked": amount(asked, "length", 2),
        "window": amount(side, "length", 2),
        "worst": amount(max(worst.plus_mm, worst.minus_mm), "length", 2),
    }
    name = literal(spacing.corrector.name)
    # Half of the last digit that a sentence shows: below it the error reads as nothing.
    placed = f"{{error}} too far {'behind' if error > 0 else 'before'} where {name} asks for it"
    if abs(error) < 0.005:
        placed = f"where {name} asks for it"
    sentence = f"The sensor sits {placed}: {{actual}} of {{asked}}."
    remedies: list[Remedy] = []
    if inside and may_leave:
        weight, code = "watch", "spacing.may_leave"
        sentence += (
            " That is within {window}, but the parts' tolerances may carry it out by up to {worst}: "
            "measure the finished train."
        )
    elif inside and missing:
        weight, code = "unknown", "spacing.glass_unknown"
    elif inside:
        weight, code = "sound", "spacing.sound"
        sentence += " That is within the {window} allowed."
    else:
        over = abs(error) > STOP_AT_WINDOWS * side + 1e-9
        weight, code = ("stop" if over else "watch"), ("spacing.long" if error > 0 else "spacing.short")
        sentence += " {window} is allowed." if side else " No error is allowed."
        remedies = _remedies(spacing, error, short, long)
    if missing:
        sentence += literal(f" Glass is not wholly known yet: enter {listed(missing)}.")
        if spacing.glass_unsure_mm:
            amounts["unsure"] = amount(spacing.glass_unsure_mm, "length", 2)
            sentence += " It may ask for {unsure} more."
    focus_inputs: tuple[Input, ...] = ()
    if case.optics.focal_ratio is not None:
        depth = depth_of_focus_mm(case.optics.focal_ratio, case.rig.rules.wavelength_nm)
        amounts["depth"] = amount(depth, "small_length")
        if abs(error) >= 0.005:
            amounts["times"] = amount(abs(error) / depth, "count", 1)
            sentence += (
                " The error is {times} times the depth of focus of {depth}; refocusing takes out the middle, "
                "not the corners."
            )
        focus_inputs = (
            worked_input("focal ratio at the sensor", case.optics.focal_ratio, "ratio"),
            rule_input("wavelength", case.rig.rules.wavelength_nm, "wavelength"),
            worked_input("depth of focus, to either side", depth, "small_length"),
        )
    tolerance_inputs = (
        (
            worked_input("tolerances, worst case", max(worst.plus_mm, worst.minus_mm), "length", 2),
            worked_input("tolerances, likely", max(likely.plus_mm, likely.minus_mm), "length", 2),
        )
        if spreads
        else (Input(label="tolerances of the lengths", amount=None, basis="typed", text="none entered"),)
    )
    window_input = (
        input_of("back focus tolerance", spacing.corrector.item, corrector.back_focus_mm, "length")
        if whose == "corrector"
        else rule_input("spacing allowed (common practice, no source)", side, "length")
    )
    if whose == "corrector":
        window_input = window_input.model_copy(update={"amount": amount(side, "length", 2)})
    return Finding(
        code=code,
        weight=weight,
        title="Spacing",
        phrase=Phrase(template=sentence, amounts=amounts),
        figure=Figure(
            label="sensor behind its place",
            amount=amount(error, "length", 2),
            uncertainty=max(worst.plus_mm, worst.minus_mm) if spreads else None,
        ),
        remedies=tuple(remedies),
        inputs=(*_inputs(spacing), window_input, *tolerance_inputs, *focus_inputs),
        formula=FORMULA,
        source=SOURCE,
        missing=missing,
    )


def _inputs(spacing: Spacing) -> tuple[Input, ...]:
    corrector = spacing.corrector.part
    assert isinstance(corrector, Corrector)
    found: list[Input] = []
    if spacing.asked_air_mm is not None:
        label = "back focus in air" + (", from its table" if corrector.back_focus_table else "")
        found.append(
            Input(
                label=label,
                amount=amount(spacing.asked_air_mm, "length", 2),
                basis=corrector.basis_of(None if corrector.back_focus_table else corrector.back_focus_mm),
                of=spacing.corrector.name,
            )
        )
    for glass in spacing.glass:
        index = f"index {glass.index:g}" + (" (assumed)" if glass.index_assumed else "")
        found.append(input_of(f"glass, {index}", glass.item, glass.thickness, "length"))
        found.append(worked_input(f"shift by {glass.name}", glass.shift_mm, "length", 3))
    if spacing.reference_mm:
        found.append(input_of("reference shoulder", spacing.corrector.item, corrector.reference_mm, "length"))
    found.extend(
        input_of(length.label, length.place.item, length.measure, "length", 2) for length in spacing.lengths
    )
    return tuple(found)


def _remedies(spacing: Spacing, error: float, short: float, long: float) -> list[Remedy]:
    """One part taken out or one adjustable part set that brings the sensor inside the window; best first."""
    found: list[tuple[float, Remedy]] = []
    for length in spacing.lengths:
        place = length.place
        left = error - length.measure.nominal
        if error > 0 and -short <= left <= long and _may_come_out(spacing, place):
            phrase = say(
                literal(f"Take out {place.name} ") + "({length}): {left} would be left.",
                length=amount(length.measure.nominal, "length", 2),
                left=amount(left, "length", 2),
            )
            action = Action(verb="remove", words=f"Take out {place.name}", place=place.key)
            found.append((abs(left), Remedy(phrase=phrase, action=action)))
        longest = place.adjustable_to_mm
        if longest is not None:
            wanted = round(length.measure.nominal - error, 2)
            shortest = getattr(place.part, "length_mm").nominal  # noqa: B009 - only adjustable parts come here
            if shortest <= wanted <= longest:
                phrase = say(
                    literal(f"Set {place.name} to ") + "{length}.", length=amount(wanted, "length", 2)
                )
                action = Action(
                    verb="set_length", words=f"Set {place.name}", place=place.key, length_mm=wanted
                )
                found.append((0.0, Remedy(phrase=phrase, action=action)))
    if not found:
        words = (
            "Take {change} out between corrector and camera."
            if error > 0
            else "Add {change} between corrector and camera."
        )
        return [Remedy(phrase=say(words, change=amount(abs(error), "length", 2)))]
    return [remedy for _, remedy in sorted(found, key=lambda pair: pair[0])[:3]]


def _may_come_out(spacing: Spacing, place: Place) -> bool:
    """Whether the train still closes without this part: a shim, or one whose neighbours mate."""
    if place is spacing.camera or place.part.kind not in ("spacer_ring", "shim", "adapter"):
        return False
    if isinstance(place.part, Shim):
        return True
    upper, lower = place.sky_connection, place.camera_connection
    if upper is None or lower is None:
        return False
    # The neighbours are this part's counterparts: they mate with each other if its two ends do.
    return mate(opposite(upper), opposite(lower)).holds
