"""What the stars of a rig say in sentences: each with its figure, its working and its source."""

from __future__ import annotations

import numpy as np

from server.domain.findings import Amount, Figure, Finding, Input, Remedy
from server.domain.stars.cause import Cause, causes_at
from server.domain.stars.collimating import judge_collimation
from server.domain.stars.field import StarField
from server.domain.stars.focusing import judge_focusing, work_focusing
from server.domain.workings.case import COMMON_PRACTICE, Case, amount, listed, literal, say, worked_input

GROWTH_PX = 2.0
"""A corner star that has grown by more is seen at a glance (a choice of ours, no source)."""
WAVE_SOURCE = (
    "Fraunhofer diffraction by the pupil (Goodman, Introduction to Fourier Optics, from memory); "
    "third-order field "
    "of the tube's kind (Schroeder, Astronomical Optics; Welford, Aberrations of Optical Systems, from "
    "memory); "
    "long exposure through Kolmogorov's air (Fried, J. Opt. Soc. Am. 56, 1372, 1966)."
)
WAVE_FORMULA = (
    "star = |transform of pupil x exp(2 pi i W / lambda)|^2, folded with exp(-3.4419 (lambda nu / "
    "r0)^(5/3)) and the "
    "guiding's wander; W = defocus rho^2 + coma rho^2 (h rho) + astigmatism + curvature h^2 rho^2"
)


def findings_of(case: Case, field: StarField) -> tuple[Finding, ...]:
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


def _corners(field: StarField) -> Finding:
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
    if growth is None:
        sentence = (
            f"The star at the {worst.name} is so large that its picture does not hold four fifths of it: "
            f"{lead.words} draws it out."
        )
        weight, code = "stop", "stars.corners_lost"
    elif growth > GROWTH_PX:
        sentence = (
            "Four fifths of a star's light lie within {centre} pixels at the centre and {corner} at the "
            f"{worst.name}: {{growth}} more, by {lead.words}."
        )
        weight, code = "watch", "stars.corners"
    else:
        even = "{growth} pixels" if growth >= 0.05 else "less than a tenth of a pixel"
        sentence = (
            "Four fifths of a star's light lie within {centre} pixels at the centre and {corner} at the "
            f"{worst.name}: the field is even to {even}"
        )
        sentence += ", if the correction is perfect." if telescope.perfect else "."
        weight, code = "sound", "stars.even"
    missing = telescope.missing
    if telescope.perfect:
        spots = tuple(f"the maker's spot sizes of {one}" for one in telescope.perfect)
        sentence += literal(
            f" What {listed(telescope.perfect)} does to the stars by itself is left out: there is no formula "
            "for it."
        )
        missing += spots
    if missing:
        sentence += literal(f" Not known yet: enter {listed(missing)}.")
        if weight == "sound":
            weight, code = "unknown", "stars.even_unknown"
    remedies = _remedies(field, lead, amounts) if weight in ("stop", "watch") else ()
    return Finding(
        code=code,
        weight=weight,
        title="Corners",
        phrase=say(sentence, **amounts),
        figure=None
        if growth is None or weight == "unknown"
        else Figure(label="growth in pixels", amount=amounts["growth"]),
        remedies=remedies,
        inputs=(
            *(
                worked_input(
                    f"{one.words} at the {worst.name}, RMS radius", one.rms_um / 1000.0, "small_length"
                )
                for one in causes
            ),
            worked_input("eccentricity there, all in", shape.eccentricity, "times", 2),
            worked_input("direction of its long axis", shape.direction_deg, "angle", 0),
            worked_input(
                "full width there, the tube alone", worst.alone_numbers.fwhm_um / 1000.0, "small_length"
            ),
            worked_input("full width there, all in", worst.seen_numbers.fwhm_um / 1000.0, "small_length"),
            *(Input(label=one, amount=None, basis="assumed", text="taken so") for one in telescope.assumed),
        ),
        formula=WAVE_FORMULA,
        source=WAVE_SOURCE,
        missing=missing,
    )


def _remedies(field: StarField, lead: Cause, amounts: dict[str, Amount]) -> tuple[Remedy, ...]:
    telescope = field.telescope
    found: list[Remedy] = []
    if lead.name == "coma" and telescope.corrector is None and telescope.part.design == "newtonian":
        found.append(Remedy(phrase=say("Put a coma corrector for this focal ratio in.")))
    elif lead.name == "coma" and field.wishes.collimation_mm > 0.0:
        found.append(Remedy(phrase=say("Collimate: the coma is in every star, the middle ones too.")))
    elif lead.name in ("curvature", "astigmatism") and telescope.corrector is None:
        found.append(Remedy(phrase=say("Put a flattener, or a reducer that flattens, behind the tube.")))
        if field.best.share_removed > 0.02 and field.wishes.focus_at == "axis":
            found.append(
                Remedy(phrase=say("A compromise focus takes {share} of the corner's blur away.", **amounts))
            )
    elif lead.name == "spacing":
        found.append(
            Remedy(phrase=say("Bring the sensor to the corrector's back focus: see Spacing on the bench."))
        )
    elif lead.name == "tilt":
        found.append(Remedy(phrase=say("Square the sensor: a tilt plate or adjuster, or a tighter joint.")))
    elif lead.name == "focus":
        found.append(Remedy(phrase=say("Focus: the sensor stands off the focus over the whole field.")))
    return tuple(found)


def _obstruction(field: StarField) -> Finding | None:
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
    return Finding(
        code="stars.obstruction",
        weight="sound" if telescope.obstruction <= 0.35 else "watch",
        title="Obstruction",
        phrase=say(
            "The obstruction ({share} of the aperture, linear), vanes and clips take {lost} of the light: "
            "a refractor "
            "of {equal} gathers as much, mirrors' and lenses' own losses aside. Of the contrast at a "
            "quarter of the "
            "finest detail {with} is left, and {without} without them.",
            **amounts,
        ),
        figure=Figure(label="light lost", amount=amounts["lost"]),
        inputs=(
            worked_input("light lost to the obstruction", lost.obstruction, "fraction"),
            worked_input("to vanes", lost.vanes, "fraction"),
            worked_input("to clips", lost.clips, "fraction"),
            worked_input("to a mask", lost.mask, "fraction"),
        ),
        formula=(
            "lost = obstruction^2 + area of vanes and clips over the whole; contrast = |transform of star|"
        ),
        source=(
            "Areas; O'Neill, J. Opt. Soc. Am. 46, 285 (1956). About 30 % is liked among reflectors: "
            f"{COMMON_PRACTICE}"
        ),
    )


def _spikes(field: StarField) -> Finding | None:
    vanes = field.telescope.part.spider_vanes
    if not vanes:
        return None
    thick = field.telescope.part.spider_thickness_mm
    if thick is None:
        words = f"the vane thickness of {field.telescope.tube.name}"
        return Finding(
            code="stars.spikes_unknown",
            weight="unknown",
            title="Spikes",
            phrase=say(literal(f"How bright its spikes are is not known yet: enter {words}.")),
            missing=(words,),
        )
    mean_nm = float(np.mean([nm for nm, _ in field.telescope.band]))
    length_arcsec = mean_nm * 1e-6 / thick.nominal * 206264.806
    amounts = {
        "share": amount(field.spike_share, "fraction", 2),
        "length": amount(length_arcsec, "arcsec", 0),
        "count": amount(field.spike_count, "count"),
    }
    if field.spike_count:
        sentence = (
            f"Its {vanes} vanes send {{share}} of every star's light into {{count}} spikes, which reach "
            f"{{length}} "
            "before their first gap. Thinner vanes make them fainter and longer."
        )
    else:
        sentence = (
            f"Its {vanes} curved vanes spread {{share}} of every star's light around it, out to some "
            f"{{length}}: no "
            "spikes, and a glow."
        )
    return Finding(
        code="stars.spikes",
        weight="sound",
        title="Spikes",
        phrase=say(sentence, **amounts),
        figure=Figure(label="light in the spikes", amount=amounts["share"]),
        inputs=(worked_input("wavelength, middle of the band", mean_nm, "wavelength", 0),),
        formula="share = q / (1 - q), q the vanes' part of the clear ring; first gap at lambda / width",
        source="Babinet's principle; diffraction at a slit (any text on Fourier optics, from memory).",
    )
