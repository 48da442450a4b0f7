"""What the stars of a rig say in sentences: each with its figure, its working and its source."""

from __future__ import annotations

import numpy as np

from server.domain.findings import Amount, Figure, Weight
from server.domain.missing import lacks
from server.domain.said import Said, said
from server.domain.stars.cause import Cause, causes_at
from server.domain.stars.collimating import judge_collimation
from server.domain.stars.field import StarField
from server.domain.stars.focusing import judge_focusing, work_focusing
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import Case, amount, not_known, worked_input

SHOWN_PX = 0.05
"""A growth by less is none to be told in tenths of a pixel."""
GROWTH_PX = 2.0
"""A corner star that has grown by more is seen at a glance (a choice of ours, no source)."""


def findings_of(case: Case, field: StarField) -> tuple[Verdict, ...]:
    """All sentences, the corners first."""
    focusing = work_focusing(case, field.telescope, field.seeing_arcsec, field.guiding_arcsec)
    found = (
        _corners(field),
        _obstruction(field),
        _spikes(field),
        judge_focusing(focusing),
        judge_collimation(field),
    )
    return tuple(one for one in found if one is not None)


def _corners(field: StarField) -> Verdict:
    telescope, worst, centre = field.telescope, field.worst, field.centre
    growth = field.growth_px
    causes = causes_at(field.terms, field.standing, worst.x_mm, worst.y_mm, telescope, worst.wave.blur_um)
    lead = causes[0]
    shape = worst.seen_numbers.shape
    amounts = {
        "centre": amount((centre.seen_numbers.d80_um or 0.0) / telescope.pixel_um, "count", 1),
        "corner": amount((worst.seen_numbers.d80_um or 0.0) / telescope.pixel_um, "count", 1),
        "growth": amount(growth or 0.0, "count", 1),
        "long": amount(shape.eccentricity, "times", 2),
        "share": amount(max(0.0, field.best.share_removed), "fraction"),
    }
    weight: Weight = "sound"
    code = "stars.even"
    if growth is None:
        weight, code = "stop", "stars.corners_lost"
    elif growth > GROWTH_PX:
        weight, code = "watch", "stars.corners"
    perfect = telescope.perfect
    seen = growth is not None and growth >= SHOWN_PX
    says = [said(code, place=worst.place, cause=lead.says, seen=seen, perfect=perfect, **amounts)]
    missing = (*telescope.missing, *telescope.spots_wanted)
    if perfect:
        says.append(said("stars.left_out", perfect=perfect))
    if missing:
        says.append(said("enter", missing=missing))
        if weight == "sound":
            weight, code = "unknown", "stars.even_unknown"
    remedies = _remedies(field, lead, amounts["share"]) if weight in ("stop", "watch") else ()
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=None
        if growth is None or weight == "unknown"
        else Figure(label="growth in pixels", amount=amounts["growth"]),
        remedies=remedies,
        inputs=(
            *(
                Given(
                    said("stars.cause", cause=one.says, place=worst.place),
                    amount(one.rms_um / 1000.0, "small_length"),
                    "worked out",
                )
                for one in causes
            ),
            worked_input("eccentricity there, all in", shape.eccentricity, "times", 2),
            worked_input("direction of its long axis", shape.direction_deg, "angle", 0),
            worked_input(
                "full width there, the tube alone", worst.alone_numbers.fwhm_um / 1000.0, "small_length"
            ),
            worked_input("full width there, all in", worst.seen_numbers.fwhm_um / 1000.0, "small_length"),
            *telescope.taken,
        ),
        missing=missing,
        working="stars.corners",
    )


def _remedies(field: StarField, lead: Cause, share: Amount) -> tuple[Advice, ...]:
    telescope = field.telescope
    found: list[Said] = []
    if lead.name == "coma" and telescope.corrector is None and telescope.part.design == "newtonian":
        found.append(said("corners.coma_corrector"))
    elif lead.name == "coma" and field.wishes.collimation_mm > 0.0:
        found.append(said("stars.collimate"))
    elif lead.name in ("curvature", "astigmatism") and telescope.corrector is None:
        found.append(said("corners.flattener"))
        if field.best.share_removed > 0.02 and field.wishes.focus_at == "axis":
            found.append(said("stars.compromise", share=share))
    elif lead.name == "spacing":
        found.append(said("corners.to_back_focus", elsewhere=True))
    elif lead.name == "tilt":
        found.append(said("stars.square"))
    elif lead.name == "focus":
        found.append(said("stars.refocus"))
    return tuple(Advice((one,)) for one in found)


def _obstruction(field: StarField) -> Verdict | None:
    telescope, lost = field.telescope, field.lost
    if telescope.obstruction <= 0.0 and lost.clear > 0.999:
        return None
    cutoff = 1e6 / (np.mean([nm for nm, _ in telescope.band]) * telescope.ratio)
    at = cutoff / 4.0
    with_it = float(np.interp(at, field.contrast.per_mm, field.contrast.along_x))
    without = float(np.interp(at, field.unobstructed.per_mm, field.unobstructed.along_x))
    amounts = {
        "lost": amount(1.0 - lost.clear, "fraction"),
        "equal": amount(lost.equal_aperture_mm, "length", 0),
        "share": amount(telescope.obstruction, "fraction"),
        "with": amount(with_it, "fraction"),
        "without": amount(without, "fraction"),
    }
    return Verdict(
        code="stars.obstruction",
        weight="sound" if telescope.obstruction <= 0.35 else "watch",
        says=(said("stars.obstruction", **amounts),),
        figure=Figure(label="light lost", amount=amounts["lost"]),
        inputs=(
            worked_input("light lost to the obstruction", lost.obstruction, "fraction"),
            worked_input("to vanes", lost.vanes, "fraction"),
            worked_input("to clips", lost.clips, "fraction"),
            worked_input("to a mask", lost.mask, "fraction"),
        ),
    )


def _spikes(field: StarField) -> Verdict | None:
    vanes = field.telescope.part.spider_vanes
    if not vanes:
        return None
    thick = field.telescope.part.spider_thickness_mm
    if thick is None:
        missing = lacks(field.telescope.tube, "spider_thickness_mm")
        return not_known("stars.spikes_unknown", (missing,))
    mean_nm = float(np.mean([nm for nm, _ in field.telescope.band]))
    length_arcsec = mean_nm * 1e-6 / thick.nominal * 206264.806
    amounts = {
        "share": amount(field.spike_share, "fraction", 2),
        "length": amount(length_arcsec, "arcsec", 0),
        "count": amount(field.spike_count, "count"),
    }
    return Verdict(
        code="stars.spikes",
        weight="sound",
        says=(said("stars.spikes", vanes=vanes, **amounts),),
        figure=Figure(label="light in the spikes", amount=amounts["share"]),
        inputs=(worked_input("wavelength, middle of the band", mean_nm, "wavelength", 0),),
    )
