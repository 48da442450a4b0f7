"""What the stars of a rig say in sentences: each with its figure, its working and its source."""

from __future__ import annotations

import math

import numpy as np

from server.domain.checks.case import COMMON_PRACTICE, Case, amount, listed, literal, say, worked_input
from server.domain.checks.drift import drift_of
from server.domain.findings import Amount, Figure, Finding, Input, Remedy
from server.domain.measure import nominal
from server.domain.parts import Focuser
from server.domain.stars.cause import Cause, causes_at
from server.domain.stars.field import StarField
from server.optics.focus import blur_tolerance_mm, depth_of_focus_mm

NIGHT_HOURS = 8.0
"""The night over which the rules' fall of temperature is spread (common practice, no source)."""
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
    found = [_corners(field), _obstruction(field), _spikes(field), _focus(case, field), _collimation(field)]
    return tuple(one for one in found if one is not None)


def _um(value: float, digits: int = 0) -> Amount:
    return amount(value / 1000.0, "small_length", digits if digits else None)


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
        sentence = (
            "Four fifths of a star's light lie within {centre} pixels at the centre and {corner} at the "
            f"{worst.name}: the field is even to {{growth}} pixels."
        )
        weight, code = "sound", "stars.even"
    if telescope.missing:
        sentence += literal(f" Not known yet: enter {listed(telescope.missing)}.")
        weight = "unknown" if weight == "sound" else weight
    remedies = _remedies(field, lead, amounts) if weight in ("stop", "watch") else ()
    return Finding(
        code=code,
        weight=weight,
        title="Corners",
        phrase=say(sentence, **amounts),
        figure=Figure(label="growth in pixels", amount=amounts["growth"]),
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
        missing=telescope.missing,
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


def _focus(case: Case, field: StarField) -> Finding:
    telescope = field.telescope
    mean_nm = float(np.mean([nm for nm, _ in telescope.band]))
    wave = depth_of_focus_mm(telescope.ratio, mean_nm)
    pixel = blur_tolerance_mm(telescope.ratio, telescope.pixel_um)
    sky_um = field.seeing_arcsec * telescope.um_per_arcsec
    # A tenth more in width: the blur's square is a fifth of the star's; a disc's width at half height is its
    # own.
    seen = blur_tolerance_mm(telescope.ratio, math.sqrt(0.21) * math.hypot(sky_um, telescope.pixel_um))
    steps = [
        (item, step)
        for item, step in (
            (telescope.tube, nominal(telescope.part.focuser_step_um)),
            *((p.item, nominal(p.part.step_um)) for p in case.train if isinstance(p.part, Focuser)),
        )
        if step
    ]
    amounts = {
        "wave": amount(wave, "small_length"),
        "pixel": amount(pixel, "small_length"),
        "seen": amount(seen, "small_length"),
    }
    sentence = (
        "The focus holds within {wave} to either side by the wave, {pixel} until the blur is a pixel, and "
        "{seen} until "
        "this air's star grows by a tenth."
    )
    weight, code, missing = "sound", "stars.focus", []
    inputs: list[Input] = []
    for item, step in steps:
        count = 2.0 * wave * 1000.0 / step
        amounts["steps"] = amount(count, "count", 1)
        inputs.append(worked_input(f"one step of {item.name}", step / 1000.0, "small_length"))
        sentence += literal(f" {item.name}") + " makes {steps} steps within the wave's zone."
        if count < 2.0:
            weight, code = "watch", "stars.focus_coarse"
            sentence += " That is coarse: two at least are wanted."
    drift = drift_of(case)
    if drift is not None and drift.mm is not None and case.rig.rules.night_fall_k > 0.0:
        hours = NIGHT_HOURS * wave / abs(drift.mm) if drift.mm else math.inf
        amounts["drift"] = amount(abs(drift.mm) / case.rig.rules.night_fall_k, "small_length")
        inputs += [*drift.inputs, worked_input("drift over the night", drift.mm, "small_length")]
        if hours < NIGHT_HOURS:
            amounts["minutes"] = amount(hours * 60.0, "count", 0)
            sentence += (
                " The tube's focus moves by {drift} for each degree: in a night that cools evenly refocus "
                "every "
                "{minutes} minutes."
            )
        else:
            sentence += " The tube's focus moves by {drift} for each degree: one focus holds the night."
    elif drift is not None and drift.missing:
        missing = list(drift.missing)
        sentence += literal(f" How often to refocus is not known yet: enter {listed(missing)}.")
    return Finding(
        code=code,
        weight=weight,
        title="Focus",
        phrase=say(sentence, **amounts),
        figure=Figure(label="depth of focus, to either side", amount=amounts["wave"]),
        inputs=(
            worked_input("focal ratio at the sensor", telescope.ratio, "ratio"),
            worked_input("wavelength, middle of the band", mean_nm, "wavelength", 0),
            *inputs,
        ),
        formula="depth = 2 lambda N^2; blur = defocus / N; the night's fall spread evenly over eight hours",
        source="Quarter-wave depth of focus: Born & Wolf, Principles of Optics, sec. 8.8 (from memory).",
        missing=tuple(missing),
    )


def _collimation(field: StarField) -> Finding | None:
    telescope = field.telescope
    mean_um = float(np.mean([nm for nm, _ in telescope.band])) / 1000.0
    # Coma of W leaves a Strehl ratio of 0.8 where its RMS, W / sqrt(72), is a fourteenth of a wave.
    allowed_um = mean_um / 14.0 * math.sqrt(72.0)
    if telescope.part.design == "newtonian":
        per_mm = abs(telescope.bare.coma_um_per_mm) * telescope.axis_moves
        what = "the axis off the sensor's middle"
        if telescope.corrector is not None:
            per_mm = abs(telescope.bare.coma_um_per_mm) * telescope.axis_moves
            what = "the primary's axis off the corrector's"
    elif telescope.coma_per_mm > 0.0:
        per_mm, what = telescope.coma_per_mm, "the secondary off the axis"
    else:
        return None
    allowed = allowed_um / per_mm
    tail_px = 6.0 * telescope.ratio * per_mm / telescope.pixel_um
    amounts = {"allowed": amount(allowed, "length", 1), "tail": amount(tail_px, "count", 1)}
    return Finding(
        code="stars.collimation",
        weight="sound" if allowed > 1.0 else "watch",
        title="Collimation",
        phrase=say(
            f"With {what} by {{allowed}} coma costs a fifth of the star's peak; each mm draws a tail of "
            f"{{tail}} "
            "pixels into every star.",
            **amounts,
        ),
        figure=Figure(label="error for a Strehl ratio of 0.8", amount=amounts["allowed"]),
        inputs=(
            worked_input(
                "tail for each mm, the whole comet", 6.0 * telescope.ratio * per_mm / 1000.0, "small_length"
            ),
        ),
        formula="RMS of coma = W131 / sqrt(72), a fourteenth of a wave; tail = 6 N W131",
        source=(
            "Marechal's criterion (Born & Wolf, sec. 9.3, from memory); third-order coma of the tube's kind."
        ),
    )
