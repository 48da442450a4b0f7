"""The prism of an off-axis guider: how far in it may reach before it shades the sensor, and on which side."""

from __future__ import annotations

from server.domain.findings import Figure
from server.domain.missing import lacks, wants
from server.domain.parts import OffAxisGuider
from server.domain.said import said
from server.domain.train import Place
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    worked_input,
)
from server.domain.workings.prism import EDGE_MM, guider_in, prism_of
from server.optics.beam import Beam


def judge_prism(
    case: Case, beam: Beam, width_mm: float, height_mm: float, side_light: float
) -> tuple[Verdict, ...]:
    """Return whether the prism of the train's guider can be set so that it does not shade the sensor.

    side_light: the share of light that reaches the middle of the long side, past the prism and all else.
    """
    place = guider_in(case)
    if place is None:
        return ()
    found = prism_of(case, beam, width_mm, height_mm)
    if found is None:
        return (_unknown(place),)
    part = found.part
    assert part.reach_to_mm is not None
    assert part.prism_mm is not None
    amounts = {
        "long": amount(found.need_long_mm, "length", 1),
        "short": amount(found.need_short_mm, "length", 1),
        "out": amount(part.reach_to_mm.nominal, "length", 1),
        "lost": amount(1.0 - side_light, "fraction"),
        "by": amount(found.need_long_mm - part.reach_to_mm.nominal, "length", 1),
    }
    remedies: list[Advice] = []
    inwards = part.reach_from_mm
    code = "beam.prism_set"
    if found.shades:
        code = "beam.prism"
        if found.need_short_mm <= part.reach_to_mm.nominal:
            remedies.append(Advice((said("beam.prism_turn", short=amounts["short"]),)))
        remedies.append(Advice((said("beam.prism_out", long=amounts["long"]),)))
    elif inwards is not None and inwards.nominal >= found.need_long_mm - EDGE_MM:
        code = "beam.prism_clear"
    says = [said(code, guider=place, **amounts)]
    if code == "beam.prism_set" and inwards is not None:
        says.append(said("beam.prism_in", inwards=amount(inwards.nominal, "length", 1)))
    inputs: list[Given] = [
        input_of("prism", place.item, part.prism_mm, "length"),
        input_of("prism behind the sky-side shoulder", place.item, part.prism_at_mm, "length"),
        input_of("edge from the axis, furthest out", place.item, part.reach_to_mm, "length"),
        worked_input("its sky-side face before the sensor, in air", found.far_mm, "length", 1),
        worked_input("its camera-side face before the sensor, in air", found.near_mm, "length", 1),
        worked_input("edge from the axis that shades nothing, long side", found.need_long_mm, "length", 2),
        worked_input("the same, short side", found.need_short_mm, "length", 2),
        worked_input("focal ratio at the sensor", beam.focal_ratio, "ratio"),
    ]
    return (
        Verdict(
            code=code,
            weight="watch" if found.shades else "sound",
            says=tuple(says),
            figure=Figure(label="prism's edge from the axis, at least", amount=amounts["long"]),
            remedies=tuple(remedies),
            inputs=tuple(inputs),
            place=place.key,
            working="beam.prism",
        ),
    )


def _unknown(place: Place[OffAxisGuider]) -> Verdict:
    part = place.part
    missing = [
        lacks(place, field)
        for field, measure in (
            ("prism_mm", part.prism_mm),
            ("prism_at_mm", part.prism_at_mm),
            ("reach_to_mm", part.reach_to_mm),
        )
        if measure is None or (field == "prism_mm" and measure.nominal <= 0)
    ] or [wants("behind_prism")]
    return not_known("beam.prism_unknown", tuple(missing), place=place.key, working="beam.prism")
