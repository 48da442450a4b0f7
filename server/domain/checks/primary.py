"""A tube that focuses by moving its primary: what this train's back distance makes of its focal length."""

from __future__ import annotations

from server.domain.findings import Figure, Weight
from server.domain.said import said
from server.domain.verdicts import Given, Verdict
from server.domain.workings.case import Case, amount, input_of, rule_input, worked_input
from server.domain.workings.mirrors import mirrors_of
from server.optics.two_mirror import good_range_mm, moved_back

SHOWN_MM = 0.5
"""A focus that stays this near its stated place changes nothing that a sentence shows."""


def judge_primary(case: Case, move_mm: float) -> tuple[Verdict, ...]:
    """Return the working focal length of a tube whose primary brings the focus to this train.

    move_mm: how far the train would have to be drawn out to stand at the stated focus; the focus is brought
    the other way. Silent for other tubes and where a figure of the mirrors is unknown.
    """
    place = case.train.tube
    assert place is not None
    tube = place.part
    mirrors = mirrors_of(tube)
    further = -move_mm
    if mirrors is None or abs(further) < SHOWN_MM:
        return ()
    moved = moved_back(mirrors, further)
    focal = amount(moved.focal_mm, "length", 0)
    says = [
        said(
            "reach.primary",
            tube=place,
            back=further > 0,
            further=amount(abs(further), "length", 1),
            focal=focal,
            stated=amount(mirrors.focal_mm, "length", 0),
        )
    ]
    weight: Weight = "sound"
    code = "reach.primary"
    inputs: list[Given] = [
        input_of("primary's focal ratio", place.item, tube.primary_focal_ratio, "ratio"),
        input_of("mirror separation", place.item, tube.mirror_separation_mm, "length", 0),
        input_of("focal length", place.item, tube.focal_length_mm, "length", 0),
        worked_input("focus further back by", further, "length", 1),
        worked_input("the secondary's magnification then", moved.magnification, "times", 3),
    ]
    if tube.aperture_mm is not None:
        nearest, furthest = good_range_mm(
            mirrors, tube.aperture_mm.nominal, 0.0, case.rig.rules.wavelength_nm
        )
        inputs += [
            rule_input(case, "wavelength_nm", "wavelength", "wavelength"),
            worked_input("free of a quarter wave from", nearest, "length", 0),
            worked_input("free of a quarter wave to", furthest, "length", 0),
        ]
        if not nearest <= further <= furthest:
            weight, code = "watch", "reach.primary_far"
            says.append(
                said(
                    code,
                    nearest=amount(nearest, "length", 0),
                    furthest=amount(furthest, "length", 0),
                )
            )
    return (
        Verdict(
            code=code,
            weight=weight,
            says=tuple(says),
            figure=Figure(label="working focal length", amount=focal),
            inputs=tuple(inputs),
            place=place.key,
            working="reach.primary",
        ),
    )
