"""The stars in the sensor's corners: how far the tube's field blurs them, without drawing them."""

from __future__ import annotations

from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.stars.cause import causes_at
from server.domain.stars.field import corner_spot_um, standing_of
from server.domain.stars.telescope import Telescope, telescope_of
from server.domain.stars.wishes import StarWishes
from server.domain.workings.case import (
    COMMON_PRACTICE,
    Case,
    amount,
    listed,
    literal,
    rule_input,
    say,
    worked_input,
)

FORMULA = (
    "RMS of -2 N dW/d(x, y) over the aperture, W = curvature h^2 rho^2 + astigmatism h^2 + coma h; twice "
    "that "
    "against the larger of the seeing's width and two pixels"
)
SOURCE = (
    "Third-order field of the tube's kind (Schroeder, Astronomical Optics; Welford, Aberrations of Optical "
    "Systems, "
    f"from memory), or the maker's spot sizes. Where a blur is seen: a choice of ours. {COMMON_PRACTICE}"
)
PIXELS = 2.0
USUAL = StarWishes()


def check_corners(case: Case) -> tuple[Finding, ...]:
    """Compare the corner's blur with the air's and the pixels'; silent while no star could be drawn."""
    telescope = telescope_of(case)
    if telescope is None:
        return ()
    terms = telescope.spaced(None)
    standing, _ = standing_of(telescope, terms, USUAL)
    blur_um = 2.0 * corner_spot_um(telescope, terms, standing)
    sky_um = case.rig.rules.seeing_arcsec * telescope.um_per_arcsec
    limit_um = max(sky_um, PIXELS * telescope.pixel_um)
    amounts = {
        "blur": amount(blur_um / 1000.0, "small_length"),
        "pixels": amount(blur_um / telescope.pixel_um, "count", 1),
        "sky": amount(sky_um / 1000.0, "small_length"),
    }
    cause = causes_at(terms, standing, telescope.sensor_mm[0] / 2.0, telescope.sensor_mm[1] / 2.0, telescope)[
        0
    ]
    remedies: tuple[Remedy, ...] = ()
    if blur_um > limit_um:
        weight, code = "watch", "corners.blurred"
        by = "" if telescope.spots else f" by {cause.words}"
        sentence = (
            f"The corner's stars are blurred{by} over {{blur}} (RMS diameter), {{pixels}} pixels; the air "
            f"draws {{sky}}."
        )
        if not telescope.spots:
            remedies = _remedies(telescope, cause.name)
    else:
        weight, code = "sound", "corners.sound"
        sentence = (
            "The corner's stars are blurred over {blur} (RMS diameter), {pixels} pixels: within what the "
            "air and the "
            "pixels draw."
        )
    missing = (*telescope.missing, *telescope.spots_wanted)
    if missing and weight == "sound":
        # A blur to which nothing but what is missing would add is no result.
        weight, code = "unknown", "corners.unknown"
        sentence = literal(
            f"How sharp the stars in the corners are is not known yet: enter {listed(missing)}."
        )
    elif missing:
        sentence += literal(f" There may be more of it: {listed(missing)} would tell.")
    return (
        Finding(
            code=code,
            weight=weight,
            title="Corner stars",
            phrase=say(sentence, **amounts),
            figure=None
            if weight == "unknown"
            else Figure(label="blur in the corner", amount=amounts["blur"], at_least=bool(missing)),
            remedies=remedies,
            inputs=(
                worked_input("image height of the corner", telescope.corner_mm, "length", 2),
                worked_input("focal ratio at the sensor", telescope.ratio, "ratio"),
                rule_input(case, "seeing_arcsec", "seeing", "arcsec"),
                *(
                    Input(label=one, amount=None, basis="assumed", text="taken so")
                    for one in telescope.assumed
                ),
            ),
            formula=FORMULA,
            source=SOURCE,
            missing=missing,
        ),
    )


def _remedies(telescope: Telescope, cause: str) -> tuple[Remedy, ...]:
    if cause == "spacing":
        return (Remedy(phrase=say("Bring the sensor to the corrector's back focus: see Spacing.")),)
    if telescope.corrector is not None:
        return ()
    if cause == "coma" and telescope.part.design == "newtonian":
        return (Remedy(phrase=say("Put a coma corrector for this focal ratio in.")),)
    if cause in ("curvature", "astigmatism"):
        return (Remedy(phrase=say("Put a flattener, or a reducer that flattens, behind the tube.")),)
    return ()
