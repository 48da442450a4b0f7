"""How exactly a tube must be collimated: what an error costs, and what the star bears."""

from __future__ import annotations

import math

from server.domain.findings import Figure, Weight
from server.domain.missing import lacks
from server.domain.said import said
from server.domain.stars.field import StarField
from server.domain.stars.telescope import TWO_MIRROR_DESIGNS, taken
from server.domain.verdicts import Advice, Verdict
from server.domain.workings.case import amount, not_known, worked_input
from server.optics.collimation import allowed_decentre_mm, allowed_tilt_arcmin, coma_of_strehl_um, comet_um

STREHL = 0.8
"""The star's peak that an error of collimation may leave (Marechal's criterion; Born & Wolf, sec. 9.3, from
memory).
"""
DELICATE_MM = 1.0
"""An axis that may be out by less wants a look before every night (a choice of ours, no source)."""
_OF_MIRRORS = ("stars.taken.back", "stars.taken.spheres")


def judge_collimation(field: StarField) -> Verdict | None:
    """Say how far out of collimation the tube may be; None for one that its owner does not collimate."""
    telescope, wishes = field.telescope, field.wishes
    newtonian = telescope.part.design == "newtonian"
    if not newtonian and telescope.part.design not in TWO_MIRROR_DESIGNS:
        return None
    if telescope.misaligned is None:
        lacking = lacks(telescope.tube, "primary_focal_ratio")
        return not_known("stars.collimation_unknown", (lacking,))
    mean_nm = sum(nm for nm, _ in telescope.band) / len(telescope.band)
    coma = coma_of_strehl_um(STREHL, mean_nm, telescope.obstruction)
    allowed = allowed_decentre_mm(coma, telescope.misaligned)
    tilt = allowed_tilt_arcmin(coma, telescope.misaligned)
    tail_um = comet_um(telescope.misaligned.per_mm, telescope.ratio)
    off = "secondary" if not newtonian else "sensor" if telescope.corrector is None else "corrector"
    amounts = {
        "strehl": amount(STREHL, "fraction"),
        "tail": amount(tail_um / telescope.pixel_um, "count", 1),
        "step": amount(1.0, "length"),
    }
    shift = None
    if math.isfinite(allowed):
        shift = amount(allowed, "length", 1 if allowed >= 1.0 else 2)
    turn = amount(tilt, "count", 1) if math.isfinite(tilt) else None
    says = [said("stars.collimation", off=off, allowed=shift, tilt=turn, **amounts)]
    weight: Weight = "watch" if allowed <= DELICATE_MM else "sound"
    code = "stars.collimation"
    if wishes.collimation_mm > allowed:
        weight, code = "watch", "stars.collimation_out"
        says.append(said(code, out=amount(wishes.collimation_mm, "length", 1)))
    missing = telescope.missing_obstruction
    if missing:
        says.append(said("enter", missing=missing))
        weight = "unknown" if weight == "sound" else weight
    assumed = [said("stars.taken.one")]
    if off == "corrector":
        assumed.append(said("stars.taken.even"))
    assumed += [one for one in telescope.assumed if one.key in _OF_MIRRORS]
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=None
        if shift is None
        else Figure(label=f"error for a Strehl ratio of {STREHL:g}", amount=shift),
        remedies=(Advice((said("stars.look_again"),)),) if weight == "watch" else (),
        inputs=(
            worked_input("wavelength, middle of the band", mean_nm, "wavelength", 0),
            worked_input("linear obstruction", telescope.obstruction, "fraction"),
            worked_input("coma for that peak, of wave at the aperture's edge", coma / 1000.0, "small_length"),
            worked_input("tail for each mm, the whole comet", tail_um / 1000.0, "small_length"),
            *map(taken, assumed),
        ),
        missing=missing,
        working="stars.collimation",
    )
