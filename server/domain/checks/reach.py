"""Without a corrector: can the focuser bring the sensor to the focus?"""

from __future__ import annotations

from server.domain.checks.case import Case, amount, input_of, listed, literal, say, unknown, worked_input
from server.domain.checks.worked import Glass, Length, glass_bound_mm, glass_in, lengths_of
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.parts import Focuser, OpticalTube
from server.optics.reach import focuser_reach
from server.optics.tolerance import Spread, worst_case

FORMULA = (
    "move = back focus + sum of t (n - 1) / n over the glass - train length; "
    "left inwards = travel in + move; left outwards = travel out - move"
)
SOURCE = "Lengths along the axis; plane-parallel plate: Smith, Modern Optical Engineering (from memory)."
EDGE_MM = 1e-9
"""A picometre of float rounding must not turn a verdict."""
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
    name = tube_place.name
    out_mm, missing_out = _travel_out(case, tube)
    missing = list(missing_lengths)
    if tube.back_focus_mm is None:
        missing.append(f"how far behind {name} its focal plane lies")
    if tube.focuser_in_mm is None:
        missing.append(f"the travel inwards of {name}")
    missing.extend(missing_out)
    if tube.back_focus_mm is None:
        sentence = literal(f"Whether this train comes to focus is not known yet: enter {listed(missing)}.")
        return (unknown("reach.unknown", "Focus", sentence, tuple(missing), source=SOURCE),)
    glass, unsure, glass_missing = glass_in(behind)
    length = sum(item.measure.nominal for item in lengths)
    shift = sum(plate.shift_mm for plate in glass)
    in_mm = None if tube.focuser_in_mm is None else tube.focuser_in_mm.nominal
    # What is not known cannot help where the known part of the train is too long already: a length only adds
    # to it. Only glass that is not wholly known can, and it is bounded.
    reach = focuser_reach(tube.back_focus_mm.nominal, in_mm or 0.0, out_mm or 0.0, length, shift)
    inwards = None if in_mm is None else reach.margin_in_mm
    outwards = None if out_mm is None or missing_lengths else reach.margin_out_mm
    slack = worst_case(
        [Spread(m.plus or 0.0, m.minus or 0.0) for m in (*(i.measure for i in lengths), tube.back_focus_mm)]
    )
    tolerance = max(slack.plus_mm, slack.minus_mm)
    amounts = {"move": amount(abs(reach.move_mm), "length", 1)}
    remedies: tuple[Remedy, ...] = ()
    tight: float | None = None
    if inwards is not None and inwards < -EDGE_MM and inwards + glass_bound_mm(behind) < 0:
        tight = inwards
        weight, code = "stop", "reach.inwards"
        amounts["short"] = amount(-inwards, "length", 1)
        sentence = (
            "The sensor cannot be brought to focus: the drawtube would have to go {short} further in than "
            "it can."
        )
        remedies = (
            Remedy(
                phrase=say("Take at least {short} out of the train behind the tube.", short=amounts["short"])
            ),
        )
    elif outwards is not None and outwards < -EDGE_MM:
        tight = outwards
        weight, code = "stop", "reach.outwards"
        amounts["short"] = amount(-outwards, "length", 1)
        sentence = (
            "The sensor cannot be brought to focus: the drawtube would have to come {short} further out than "
            "it can."
        )
        remedies = (Remedy(phrase=say("Add at least {short} behind the tube.", short=amounts["short"])),)
    elif missing or inwards is None or outwards is None:
        weight, code = "unknown", "reach.unknown"
        sentence = "Whether this train comes to focus is not known yet."
        if not missing_lengths:
            way = "outwards" if reach.move_mm > 0 else "inwards"
            sentence += f" For focus the drawtube goes {{move}} {way} from its stated place."
    elif inwards < -EDGE_MM:
        tight = inwards
        weight, code = "unknown", "reach.glass_unknown"
        amounts["short"] = amount(-inwards, "length", 1)
        sentence = "Without more glass the drawtube would have to go {short} further in than it can."
    else:
        tight = min(inwards, outwards)
        amounts["inwards"] = amount(max(0.0, inwards), "length", 1)
        amounts["outwards"] = amount(max(0.0, outwards), "length", 1)
        sentence = "The sensor comes to focus with {inwards} of travel left inwards and {outwards} outwards."
        weight, code = "sound", "reach.sound"
        if tight < max(LITTLE_MM, tolerance + unsure):
            weight, code = "watch", "reach.tight"
            sentence += " That is little: temperature, tolerances or a thicker filter may use it up."
        elif glass_missing:
            weight, code = "unknown", "reach.glass_unknown"
    if weight == "stop" and -(tight or 0.0) <= tolerance:
        weight = "watch"
        sentence += " The tolerances are as large as that: try it before you change anything."
    missing.extend(glass_missing)
    if missing:
        sentence += literal(f" Not known yet: enter {listed(missing)}.")
    return (
        Finding(
            code=code,
            weight=weight,
            title="Focus",
            phrase=say(sentence, **amounts),
            figure=None
            if tight is None
            else Figure(
                label="travel left",
                amount=amount(tight, "length", 1),
                uncertainty=tolerance + unsure or None,
            ),
            remedies=remedies,
            inputs=_inputs(case, tube, lengths, glass),
            formula=FORMULA,
            source=SOURCE,
            missing=tuple(missing),
        ),
    )


def _inputs(
    case: Case, tube: OpticalTube, lengths: tuple[Length, ...], glass: tuple[Glass, ...]
) -> tuple[Input, ...]:
    assert case.train.tube is not None
    item = case.train.tube.item
    inputs = [
        input_of(label, item, measure, "length")
        for label, measure in (
            ("focal plane behind the camera-side connection", tube.back_focus_mm),
            ("travel inwards", tube.focuser_in_mm),
            ("travel outwards", tube.focuser_out_mm),
        )
        if measure is not None
    ]
    inputs += [
        input_of("travel of an added focuser", place.item, place.part.travel_mm, "length")
        for place in case.train.focusers
        if isinstance(place.part, Focuser) and place.part.travel_mm is not None
    ]
    for plate in glass:
        index = f"index {plate.index:g}" + (" (assumed)" if plate.index_assumed else "")
        inputs.append(input_of(f"glass, {index}", plate.item, plate.thickness, "length"))
        inputs.append(worked_input(f"shift by {plate.name}", plate.shift_mm, "length", 3))
    inputs += [input_of(i.label, i.place.item, i.measure, "length", 2) for i in lengths]
    return tuple(inputs)


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
