"""Without a corrector: can the focuser bring the sensor to the focus?"""

from __future__ import annotations

from server.domain.checks.case import Case, amount, input_of, listed, literal, say, unknown, worked_input
from server.domain.checks.worked import glass_in, lengths_of
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.parts import Focuser, OpticalTube
from server.optics.reach import focuser_reach
from server.optics.tolerance import Spread, worst_case

FORMULA = (
    "move = back focus + sum of t (n - 1) / n over the glass - train length; "
    "left inwards = travel in + move; left outwards = travel out - move"
)
SOURCE = "Lengths along the axis; plane-parallel plate: Smith, Modern Optical Engineering (from memory)."
LITTLE_MM = 2.0
"""Less travel than this left is a watch: temperature or a thicker filter may use it up (a choice of ours)."""


def check_reach(case: Case) -> tuple[Finding, ...]:
    """Compare the train's length behind the tube with the focuser's travel; silent where a corrector stands.

    A focuser that was added to the train adds its travel outwards: its own length counts fully racked in.
    """
    train, tube_place = case.train, case.train.tube
    if tube_place is None or train.camera is None or train.corrector is not None:
        return ()
    tube = tube_place.part
    assert isinstance(tube, OpticalTube)
    behind = train.after(tube_place)
    lengths, missing_lengths = lengths_of(behind)
    missing = list(missing_lengths)
    name = tube_place.name
    out_mm, added_missing = _travel_out(case, tube)
    if tube.back_focus_mm is None:
        missing.append(f"how far behind {name} its focal plane lies")
    if tube.focuser_in_mm is None:
        missing.append(f"the travel inwards of {name}")
    if out_mm is None:
        missing.extend(added_missing)
    if missing or tube.back_focus_mm is None or tube.focuser_in_mm is None or out_mm is None:
        sentence = literal(f"Whether this train comes to focus is not known yet: enter {listed(missing)}.")
        return (unknown("reach.unknown", "Focus", sentence, tuple(missing), source=SOURCE),)
    glass, unsure, glass_missing = glass_in(behind)
    length = sum(item.measure.nominal for item in lengths)
    shift = sum(plate.shift_mm for plate in glass)
    reach = focuser_reach(tube.back_focus_mm.nominal, tube.focuser_in_mm.nominal, out_mm, length, shift)
    spreads = [
        Spread(m.plus or 0.0, m.minus or 0.0) for m in (*(i.measure for i in lengths), tube.back_focus_mm)
    ]
    slack = worst_case(spreads)
    unsure_by = max(slack.plus_mm, slack.minus_mm) + unsure
    tight = min(reach.margin_in_mm, reach.margin_out_mm)
    amounts = {
        "move": amount(abs(reach.move_mm), "length", 1),
        "inwards": amount(reach.margin_in_mm, "length", 1),
        "outwards": amount(reach.margin_out_mm, "length", 1),
        "short": amount(-tight, "length", 1),
    }
    remedies: tuple[Remedy, ...] = ()
    if reach.margin_in_mm < 0:
        weight, code = "stop", "reach.inwards"
        sentence = (
            "The sensor cannot be brought to focus: the drawtube would have to go {short} further in than "
            "it can."
        )
        remedies = (
            Remedy(
                phrase=say("Take at least {short} out of the train behind the tube.", short=amounts["short"])
            ),
        )
    elif reach.margin_out_mm < 0:
        weight, code = "stop", "reach.outwards"
        sentence = (
            "The sensor cannot be brought to focus: the drawtube would have to come {short} further out than "
            "it can."
        )
        remedies = (Remedy(phrase=say("Add at least {short} behind the tube.", short=amounts["short"])),)
    else:
        sentence = "The sensor comes to focus with {inwards} of travel left inwards and {outwards} outwards."
        weight, code = "sound", "reach.sound"
        if tight < max(LITTLE_MM, unsure_by):
            weight, code = "watch", "reach.tight"
            sentence += " That is little: temperature, tolerances or a thicker filter may use it up."
    if glass_missing:
        sentence += literal(f" Glass is not wholly known yet: enter {listed(glass_missing)}.")
        if weight == "sound":
            weight, code = "unknown", "reach.glass_unknown"
    inputs: list[Input] = [
        input_of(
            "focal plane behind the camera-side connection", tube_place.item, tube.back_focus_mm, "length"
        ),
        input_of("travel inwards", tube_place.item, tube.focuser_in_mm, "length"),
        worked_input("travel outwards, with focusers added", out_mm, "length"),
    ]
    inputs += [worked_input(f"shift by {plate.name}", plate.shift_mm, "length", 3) for plate in glass]
    inputs += [input_of(i.label, i.place.item, i.measure, "length", 2) for i in lengths]
    return (
        Finding(
            code=code,
            weight=weight,
            title="Focus",
            phrase=say(sentence, **amounts),
            figure=Figure(
                label="travel left", amount=amount(tight, "length", 1), uncertainty=unsure_by or None
            ),
            remedies=remedies,
            inputs=tuple(inputs),
            formula=FORMULA,
            source=SOURCE,
            missing=glass_missing,
        ),
    )


def _travel_out(case: Case, tube: OpticalTube) -> tuple[float | None, list[str]]:
    assert case.train.tube is not None
    total = None if tube.focuser_out_mm is None else tube.focuser_out_mm.nominal
    missing = [] if total is not None else [f"the travel outwards of {case.train.tube.name}"]
    for place in case.train.focusers:
        part = place.part
        assert isinstance(part, Focuser)
        if part.travel_mm is None:
            missing.append(f"the travel of {place.name}")
            total = None
        elif total is not None:
            total += part.travel_mm.nominal
    return total, missing
