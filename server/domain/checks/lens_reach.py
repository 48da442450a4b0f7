"""A camera lens keeps its infinity setting: is the train behind it as long as its flange asks?"""

from __future__ import annotations

from server.domain.findings import Figure, Weight
from server.domain.measure import nominal
from server.domain.missing import lacks, wants
from server.domain.said import said
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import Case, amount, input_of, not_known, worked_input
from server.domain.workings.in_beam import (
    beam_ratio,
    glass_bound_mm,
    glass_in,
    lengths_of,
)
from server.optics.focus import depth_of_focus_mm


def judge_lens(case: Case) -> tuple[Verdict, ...]:
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
        missing = (lacks(place, "back_focus_mm", "focal_plane"), *missing)
    if missing or tube.back_focus_mm is None:
        says = said("reach.lens_unknown", lens=place, missing=missing)
        return (not_known("reach.unknown", missing, says, working="reach.lens"),)
    ratio = beam_ratio(case.train)
    glass, _, glass_missing = glass_in(behind, ratio)
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
    remedies: tuple[Advice, ...] = ()
    weight: Weight
    lacking = list(glass_missing)
    if error > long:
        # Glass that is not wholly known asks for more length: it may take back what is too long.
        sure = error - glass_bound_mm(behind, ratio) > long
        stated = flange.plus is not None or beyond is not None
        weight, code = ("stop" if sure and stated else "unknown"), "reach.lens_long"
        if not stated:
            lacking.append(wants("past_infinity", lens=place))
        remedies = (Advice((said("reach.lens_shorten", error=amounts["error"]),)),)
    elif error < -short:
        weight, code = "watch", "reach.lens_short"
        remedies = (Advice((said("reach.lens_lengthen", error=amounts["error"]),)),)
    else:
        weight, code = ("unknown" if lacking else "sound"), "reach.lens"
    says = said(code, lens=place, sure=weight == "stop", **amounts)
    inputs: list[Given] = [input_of("flange distance of the lens", place.item, flange, "length", 2)]
    inputs += [input_of(one.label, one.place.item, one.measure, "length", 2) for one in lengths]
    inputs += [worked_input(plate.shift_says, plate.shift_mm, "length", 3) for plate in glass]
    inputs.append(worked_input("depth of focus, to either side", depth, "small_length"))
    return (
        Verdict(
            code=code,
            weight=weight,
            says=(says, said("enter", missing=lacking)) if lacking else (says,),
            figure=Figure(label="camera too far", amount=amount(error, "length", 2)),
            remedies=remedies,
            inputs=tuple(inputs),
            missing=tuple(lacking),
            working="reach.lens",
        ),
    )
