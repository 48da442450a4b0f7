"""A Newtonian's diagonal: what it lights fully, and the circle that keeps seven tenths."""

from __future__ import annotations

from functools import lru_cache

from server.domain.findings import Figure
from server.domain.said import said
from server.domain.verdicts import Verdict
from server.domain.workings.case import Case, amount, input_of, worked_input
from server.domain.workings.lit import Lit
from server.optics.beam import Beam
from server.optics.diagonal import circle_of_share_mm, diagonal_opening, fully_lit_mm
from server.optics.openings import Oval

SHARE = 0.7
MOST_MM = 200.0


def judge_diagonal(case: Case, lit: Lit) -> tuple[Verdict, ...]:
    """Return the circles that a Newtonian's diagonal lights; silent where its figures are not entered.

    What it takes of the corners counts in the light cone, and is judged there.
    """
    place = case.train.tube
    one = next((o for o in lit.openings if o.offset_mm is not None), None)
    if place is None or one is None or one.offset_mm is None:
        return ()
    tube = place.part
    if tube.aperture_mm is None or tube.diagonal_to_focus_mm is None or case.optics.tube_focal_mm is None:
        return ()
    away = tube.diagonal_to_focus_mm.nominal
    full = fully_lit_mm(
        tube.aperture_mm.nominal, case.optics.tube_focal_mm, one.diameter_mm, away, one.offset_mm
    )
    factor = case.optics.factor or 1.0
    opening = diagonal_opening(one.far_mm, one.diameter_mm, one.offset_mm, 1.0)
    amounts = {
        "full": amount(full * factor, "length", 0),
        "most": amount(_circle(lit.beam, opening), "length", 0),
    }
    return (
        Verdict(
            code="beam.diagonal",
            weight="sound",
            says=(said("beam.diagonal", lights=full > 0.0, **amounts),),
            figure=Figure(label="circle of 70 % light", amount=amounts["most"]),
            inputs=(
                input_of("minor axis", place.item, tube.secondary_mm, "length", 1),
                input_of("diagonal to focus", place.item, tube.diagonal_to_focus_mm, "length", 0),
                input_of("its offset", place.item, tube.diagonal_offset_mm, "length", 1),
                worked_input("focal length of the tube", case.optics.tube_focal_mm, "length", 0),
                worked_input("factor behind it", factor, "times", 3),
            ),
            place=place.key,
        ),
    )


@lru_cache(32)
def _circle(beam: Beam, opening: Oval) -> float:
    return circle_of_share_mm(beam, opening, SHARE, MOST_MM)
