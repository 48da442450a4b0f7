"""A camera lens keeps its infinity setting: is the train behind it as long as its flange asks?"""

from __future__ import annotations

from server.domain.checks.case import Case, amount, input_of, listed, literal, say, unknown, worked_input
from server.domain.checks.in_beam import (
    GLASS_FORMULA,
    GLASS_SOURCE,
    beam_ratio,
    glass_bound_mm,
    glass_in,
    lengths_of,
)
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.measure import nominal
from server.domain.missing import lacks
from server.optics.focus import depth_of_focus_mm

FORMULA = f"error = lengths behind the lens - (flange distance + sum of shifts by glass); {GLASS_FORMULA}"
SOURCE = (
    f"Lengths along the axis. {GLASS_SOURCE} A lens focused at infinity has its focal plane at its flange "
    f"distance; "
    "beyond that its ring goes a little further (common practice, no source)."
)


def judge_lens(case: Case) -> tuple[Finding, ...]:
    """Return whether a lens reaches infinity on this train, by its own tolerance and the ring's way
    beyond.
    """
    place, camera = case.train.tube, case.train.camera
    assert place is not None
    assert camera is not None
    tube = place.part
    behind = case.train.after(place)
    lengths, missing = lengths_of(behind)
    if tube.back_focus_mm is None:
        missing = (lacks(place, "back_focus_mm", "how far behind {} its focal plane lies"), *missing)
    if missing or tube.back_focus_mm is None:
        sentence = literal(
            f"Whether {place.name} reaches infinity is not known yet: enter {listed(missing)}."
        )
        return (unknown("reach.unknown", "Focus", sentence, missing, source=SOURCE),)
    ratio = beam_ratio(case.train)
    glass, unsure, glass_missing = glass_in(behind, ratio)
    flange = tube.back_focus_mm
    asked = flange.nominal + sum(plate.shift_mm for plate in glass)
    stands = sum(one.measure.nominal for one in lengths)
    error = stands - asked
    beyond = nominal(tube.focuser_in_mm)
    depth = 0.0 if ratio is None else depth_of_focus_mm(ratio, case.rig.rules.wavelength_nm)
    short, long = max(flange.minus or 0.0, depth), max(flange.plus or 0.0, beyond or 0.0, depth)
    amounts = {
        "error": amount(abs(error), "length", 2),
        "long": amount(long, "length", 2),
        "stands": amount(stands, "length", 2),
        "asked": amount(asked, "length", 2),
    }
    name = literal(place.name)
    remedies: tuple[Remedy, ...] = ()
    lacking = list(glass_missing)
    if error > long:
        # Glass that is not wholly known asks for more length: it may take back what is too long.
        sure = error - unsure - glass_bound_mm(behind, ratio) > long
        said = flange.plus is not None or beyond is not None
        weight, code = ("stop" if sure and said else "unknown"), "reach.lens_long"
        does = "does" if weight == "stop" else "may"
        sentence = f"{name} {does} not reach infinity: the camera sits {{error}} too far."
        if not said:
            lacking.append(
                f"how far past infinity {place.name} focuses, or the tolerance of its flange distance"
            )
        remedies = (Remedy(phrase=say("Shorten the adapter by {error}.", error=amounts["error"])),)
    elif error < -short:
        weight, code = "watch", "reach.lens_short"
        sentence = (
            f"{name} reaches infinity before the mark on its ring: the camera sits {{error}} too near. "
            f"Sharp corners "
            "of a fast lens want the length right."
        )
        remedies = (Remedy(phrase=say("Lengthen the adapter by {error}.", error=amounts["error"])),)
    else:
        weight, code = ("unknown" if lacking else "sound"), "reach.lens"
        sentence = f"{name} keeps its infinity: the camera sits at {{stands}}, {{asked}} is asked for."
    if lacking:
        sentence += literal(f" Not known yet: enter {listed(lacking)}.")
    inputs: list[Input] = [input_of("flange distance of the lens", place.item, flange, "length", 2)]
    inputs += [input_of(one.label, one.place.item, one.measure, "length", 2) for one in lengths]
    inputs += [worked_input(plate.shift_words, plate.shift_mm, "length", 3) for plate in glass]
    inputs.append(worked_input("depth of focus, to either side", depth, "small_length"))
    return (
        Finding(
            code=code,
            weight=weight,
            title="Focus",
            phrase=say(sentence, **amounts),
            figure=Figure(label="camera too far", amount=amount(error, "length", 2)),
            remedies=remedies,
            inputs=tuple(inputs),
            formula=FORMULA,
            source=SOURCE,
            missing=tuple(lacking),
        ),
    )
