"""The stars in the sensor's corners: how far the tube's field blurs them, without drawing them."""

from __future__ import annotations

from server.domain.findings import Figure, Weight
from server.domain.said import said
from server.domain.stars.cause import causes_at
from server.domain.stars.field import corner_spot_um, standing_of
from server.domain.stars.telescope import Telescope, telescope_of
from server.domain.stars.wishes import StarWishes
from server.domain.verdicts import Advice, Later, Verdict
from server.domain.workings.case import Case, amount, rule_input, worked_input

PIXELS = 2.0
USUAL = StarWishes()


def check_corners(case: Case) -> tuple[Verdict, ...]:
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
    missing = (*telescope.missing, *telescope.spots_wanted)
    weight: Weight = "watch"
    code = "corners.blurred"
    if blur_um <= limit_um:
        # A blur to which nothing but what is missing would add is no result.
        weight, code = ("unknown", "corners.unknown") if missing else ("sound", "corners.sound")
    says = [said(code, cause=None if telescope.spots else cause.says, missing=missing, **amounts)]
    if missing and weight == "watch":
        says.append(said("corners.more", missing=missing))
    return (
        Verdict(
            code=code,
            weight=weight,
            says=tuple(says),
            figure=None
            if weight == "unknown"
            else Figure(label="blur in the corner", amount=amounts["blur"], at_least=bool(missing)),
            remedies=_remedies(telescope, cause.name) if weight == "watch" and not telescope.spots else (),
            inputs=Later(
                lambda: (
                    worked_input("image height of the corner", telescope.corner_mm, "length", 2),
                    worked_input("focal ratio at the sensor", telescope.ratio, "ratio"),
                    rule_input(case, "seeing_arcsec", "seeing", "arcsec"),
                    *telescope.taken,
                )
            ),
            missing=missing,
        ),
    )


def _remedies(telescope: Telescope, cause: str) -> tuple[Advice, ...]:
    if cause == "spacing":
        return (Advice((said("corners.to_back_focus", elsewhere=False),)),)
    if telescope.corrector is not None:
        return ()
    if cause == "coma" and telescope.part.design == "newtonian":
        return (Advice((said("corners.coma_corrector"),)),)
    if cause in ("curvature", "astigmatism"):
        return (Advice((said("corners.flattener"),)),)
    return ()
