"""A tube that focuses by moving its primary: what this train's back distance makes of its focal length."""

from __future__ import annotations

from server.domain.checks.case import Case, amount, input_of, literal, rule_input, say, worked_input
from server.domain.checks.mirrors import mirrors_of
from server.domain.findings import Figure, Finding, Input
from server.optics.two_mirror import good_range_mm, moved_back

FORMULA = (
    "1/p' = 1/p - 1/f2; m = 1 + p'/f2; f' = m f1, p' the way from the secondary to the focus; quarter "
    "wave at "
    "the best focus: W040 = one wave"
)
SOURCE = (
    "Gaussian optics of two mirrors; third-order spherical aberration of a conic mirror at finite "
    "conjugates: "
    "Schroeder, Astronomical Optics, chapters 5 and 6 (from memory). The secondary is taken as a sphere and "
    "the maker's own back distance as the best: assumed, no source."
)
SHOWN_MM = 0.5
"""A focus that stays this near its stated place changes nothing that a sentence shows."""


def judge_primary(case: Case, move_mm: float) -> tuple[Finding, ...]:
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
    amounts = {
        "further": amount(abs(further), "length", 1),
        "focal": amount(moved.focal_mm, "length", 0),
        "stated": amount(mirrors.focal_mm, "length", 0),
    }
    way = "further back than" if further > 0 else "nearer the mirror than"
    sentence = (
        literal(f"{place.name} focuses by its primary: ")
        + f"with the focus {{further}} {way} its stated place it works at {{focal}} in place of {{stated}}."
    )
    weight, code = "sound", "reach.primary"
    inputs: list[Input] = [
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
            amounts["nearest"] = amount(nearest, "length", 0)
            amounts["furthest"] = amount(furthest, "length", 0)
            sentence += (
                " From {nearest} to {furthest} it keeps its stars within a quarter wave; beyond that they "
                "grow "
                "by spherical aberration."
            )
    return (
        Finding(
            code=code,
            weight=weight,
            title="Focus",
            phrase=say(sentence, **amounts),
            figure=Figure(label="working focal length", amount=amounts["focal"]),
            inputs=tuple(inputs),
            formula=FORMULA,
            source=SOURCE,
            place=place.key,
        ),
    )
