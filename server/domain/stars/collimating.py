"""How exactly a tube must be collimated: what an error costs, and what the star bears."""

from __future__ import annotations

import math

from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.stars.field import StarField
from server.domain.stars.telescope import TWO_MIRROR_DESIGNS
from server.domain.workings.case import amount, listed, literal, say, worked_input
from server.optics.collimation import allowed_decentre_mm, allowed_tilt_arcmin, coma_of_strehl_um, comet_um

STREHL = 0.8
"""The star's peak that an error of collimation may leave (Marechal's criterion; Born & Wolf, sec. 9.3, from
memory).
"""
DELICATE_MM = 1.0
"""An axis that may be out by less wants a look before every night (a choice of ours, no source)."""
FORMULA = (
    "Strehl = exp(-(2 pi s)^2), s the RMS of coma W131 over the ring of the aperture, in waves; allowed = "
    "W131 / (W131 for each mm, or arcminute); tail = 6 N W131"
)
SOURCE = (
    "Coma balanced by tilt over a ring: Mahajan, J. Opt. Soc. Am. 71, 75 (1981); Marechal's criterion (Born "
    "& Wolf, Principles of Optics, sec. 9.3); third-order coma of the tube's kind (Schroeder, Astronomical "
    "Optics, ch. 6; all from memory)."
)


def judge_collimation(field: StarField) -> Finding | None:
    """Say how far out of collimation the tube may be; None for one that its owner does not collimate."""
    telescope, wishes = field.telescope, field.wishes
    newtonian = telescope.part.design == "newtonian"
    if not newtonian and telescope.part.design not in TWO_MIRROR_DESIGNS:
        return None
    if telescope.misaligned is None:
        words = (f"the primary's focal ratio of {telescope.tube.name}",)
        return Finding(
            code="stars.collimation_unknown",
            weight="unknown",
            title="Collimation",
            phrase=say(literal(f"How exactly it must be collimated is not known yet: enter {words[0]}.")),
            missing=words,
            source=SOURCE,
        )
    mean_nm = sum(nm for nm, _ in telescope.band) / len(telescope.band)
    coma = coma_of_strehl_um(STREHL, mean_nm, telescope.obstruction)
    allowed = allowed_decentre_mm(coma, telescope.misaligned)
    tilt = allowed_tilt_arcmin(coma, telescope.misaligned)
    tail_um = comet_um(telescope.misaligned.per_mm, telescope.ratio)
    if newtonian:
        what, turned = "the primary's axis off the sensor's middle", "the primary"
        if telescope.corrector is not None:
            what = "the primary's axis off the corrector's"
    else:
        what, turned = "the secondary off the axis", "the secondary"
    amounts = {
        "strehl": amount(STREHL, "fraction"),
        "tail": amount(tail_um / telescope.pixel_um, "count", 1),
    }
    bounds = []
    if math.isfinite(allowed):
        amounts["allowed"] = amount(allowed, "length", 1 if allowed >= 1.0 else 2)
        bounds.append(f"{what} by {{allowed}}")
    if math.isfinite(tilt):
        amounts["tilt"] = amount(tilt, "count", 1)
        bounds.append(f"{turned} tilted by {{tilt}} arcminutes")
    sentence = f"With {' or '.join(bounds)}, coma leaves {{strehl}} of a star's peak"
    sentence += "; each mm draws a tail of {tail} pixels into every star." if tail_um > 0.0 else "."
    delicate = allowed <= DELICATE_MM
    out = wishes.collimation_mm
    weight, code = ("watch", "stars.collimation") if delicate else ("sound", "stars.collimation")
    if out > allowed:
        weight, code = "watch", "stars.collimation_out"
        amounts["out"] = amount(out, "length", 1)
        sentence += " It is asked for out by {out}: more than that."
    missing = tuple(one for one in telescope.missing_scale if "obstruction" in one)
    if missing:
        sentence += literal(f" Not known yet: enter {listed(missing)}.")
        weight = "unknown" if weight == "sound" else weight
    remedies: tuple[Remedy, ...] = ()
    if weight == "watch":
        remedy = (
            "Collimate, and look at it again before every night: on a star in the middle of the field, a "
            "little out of focus, whose rings must lie about one middle."
        )
        remedies = (Remedy(phrase=say(remedy)),)
    assumed = [_taken("either the shift or the tilt is there, not both")]
    if newtonian and telescope.corrector is not None:
        assumed.append(
            _taken("the corrector takes away what grows from its own axis, and leaves what is even")
        )
    assumed += [_taken(one) for one in telescope.assumed if "mirrors" in one]
    return Finding(
        code=code,
        weight=weight,
        title="Collimation",
        phrase=say(sentence, **amounts),
        figure=Figure(label=f"error for a Strehl ratio of {STREHL:g}", amount=amounts["allowed"])
        if "allowed" in amounts
        else None,
        remedies=remedies,
        inputs=(
            worked_input("wavelength, middle of the band", mean_nm, "wavelength", 0),
            worked_input("linear obstruction", telescope.obstruction, "fraction"),
            worked_input("coma for that peak, of wave at the aperture's edge", coma / 1000.0, "small_length"),
            worked_input("tail for each mm, the whole comet", tail_um / 1000.0, "small_length"),
            *assumed,
        ),
        formula=FORMULA,
        source=SOURCE,
        missing=missing,
    )


def _taken(words: str) -> Input:
    return Input(label=words, amount=None, basis="assumed", text="taken so")
