"""The prism of an off-axis guider: how far in it may reach before it shades the sensor, and on which side."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.checks.case import (
    Case,
    amount,
    input_of,
    not_known,
    worked_input,
)
from server.domain.checks.in_beam import beam_ratio, glass_in
from server.domain.findings import Figure, Input
from server.domain.missing import Missing, lacks
from server.domain.parts import OffAxisGuider
from server.domain.said import said
from server.domain.train import Place, holds
from server.domain.verdicts import Advice, Verdict
from server.optics.beam import Beam
from server.optics.openings import Rectangle, prism, prism_reach_mm

LONG_SIDE_DEG, SHORT_SIDE_DEG = 90.0, 0.0
"""Seen from the axis the long side of a sensor that is wider than high lies at 90 degrees."""
EDGE_MM = 1e-9


@dataclass(frozen=True)
class Prism:
    """A guider's prism, its place known.

    far_mm, near_mm: its two faces, mm before the sensor in air. need_long_mm, need_short_mm: how near the
    axis its edge may come at the long and at the short side. edge_mm: where it is taken to stand, at the side
    of `side_deg`.
    """

    place: Place[OffAxisGuider]
    part: OffAxisGuider
    size_mm: float
    far_mm: float
    near_mm: float
    need_long_mm: float
    need_short_mm: float
    edge_mm: float
    side_deg: float
    shades: bool

    @property
    def in_the_beam(self) -> tuple[Rectangle, ...]:
        """What it blocks, nothing where it can be set outside the light."""
        if not self.shades:
            return ()
        return tuple(
            prism(x, self.side_deg, self.edge_mm, self.size_mm, self.size_mm)
            for x in dict.fromkeys((self.far_mm, self.near_mm))
        )


def guider_in(case: Case) -> Place[OffAxisGuider] | None:
    """The first off-axis guider of the train."""
    return next((p for p in case.train if holds(p, OffAxisGuider)), None)


def before_the_corrector(case: Case, place: Place) -> bool:
    """Whether a place stands before the last corrector."""
    corrector = case.train.corrector
    return corrector is not None and case.train.index_of(place) < case.train.index_of(corrector)


def prism_place_mm(case: Case, place: Place[OffAxisGuider]) -> float | None:
    """The prism's middle before the sensor, mm, mechanically; None while unknown."""
    part = place.part
    shoulders = case.train.shoulders[case.train.index_of(place)]
    if part.prism_at_mm is None or shoulders.sky_mm is None or shoulders.camera_mm is None:
        return None
    if place.flipped:
        return shoulders.camera_mm + part.prism_at_mm.nominal
    return shoulders.sky_mm - part.prism_at_mm.nominal


def prism_of(case: Case, beam: Beam, width_mm: float, height_mm: float) -> Prism | None:
    """The prism as it stands in the beam, as far out as it has to be and can; None while unknown."""
    place = guider_in(case)
    if place is None:
        return None
    part = place.part
    middle = prism_place_mm(case, place)
    if middle is None or part.prism_mm is None or part.reach_to_mm is None or part.prism_mm.nominal <= 0:
        return None
    size = part.prism_mm.nominal
    shift = sum(glass.shift_mm for glass in glass_in(case.train.after(place), beam_ratio(case.train))[0])
    far, near = (max(0.0, middle + side * size / 2.0 - shift) for side in (1.0, -1.0))
    sides = (LONG_SIDE_DEG, SHORT_SIDE_DEG) if width_mm >= height_mm else (SHORT_SIDE_DEG, LONG_SIDE_DEG)
    need = [
        max(prism_reach_mm(beam, width_mm, height_mm, x, side, size) for x in (far, near)) for side in sides
    ]
    out = part.reach_to_mm.nominal
    shades = out < need[0] - EDGE_MM
    edge = out if shades else max(need[0], 0.0 if part.reach_from_mm is None else part.reach_from_mm.nominal)
    return Prism(place, part, size, far, near, need[0], need[1], edge, sides[0], shades)


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
    inputs: list[Input] = [
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
        lacks(place, field, what)
        for field, what, measure in (
            ("prism_mm", "the prism's size", part.prism_mm),
            ("prism_at_mm", "where the prism sits", part.prism_at_mm),
            ("reach_to_mm", "how far out the prism can be drawn", part.reach_to_mm),
        )
        if measure is None or (field == "prism_mm" and measure.nominal <= 0)
    ] or [Missing("the lengths between the prism and the sensor")]
    return not_known("beam.prism_unknown", tuple(missing), place=place.key, working="beam.prism")
