"""The off-axis guider's branch: is the guide sensor in focus with the main one, and will it find a star?"""

from __future__ import annotations

from math import pi

from server.domain.checks.case import (
    COMMON_PRACTICE,
    Case,
    amount,
    input_of,
    listed,
    literal,
    rule_input,
    say,
    unknown,
    worked_input,
)
from server.domain.checks.prism import before_the_corrector, guider_in, prism_place_mm
from server.domain.checks.worked import glass_in
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.measure import Measure
from server.domain.parts import BaseCamera, CataloguedPart, GuideCamera, OffAxisGuider
from server.domain.train import Place
from server.optics.focus import depth_of_focus_mm
from server.optics.glass import N_BK7_INDEX, plate_shift_mm
from server.optics.imaging import pixel_scale_arcsec
from server.sky import guide_stars

FORMULA = (
    "prism to guide sensor = side path + guide camera's flange distance; prism to sensor = its place in the "
    "train less the shift by glass behind it"
)
SOURCE = (
    "Lengths along the folded axis; plane-parallel plate: Smith, Modern Optical Engineering (from memory)."
)
STAR_FORMULA = (
    "field = w h / f^2; signal / noise = S t / sqrt(S t + n ((B + D) t + R^2)), solved for the star; "
    "chance = "
    "1 - exp(-stars per square degree x field)"
)
STAR_SOURCE = (
    "CCD equation: Howell, Handbook of CCD Astronomy, ch. 4 (from memory). Star counts: Tycho-2 (2000) and "
    "UCAC4 (2013), by galactic latitude as counted in the Gaia catalogue to magnitude 10; good to 40 % "
    "either "
    f"way, real fields clump. Two seconds, a ratio of 10, sky of 20 magnitudes: {COMMON_PRACTICE}"
)
PLAY_MM = 2.0
"""What a helical or sliding side port usually makes good (common practice, no source)."""
EXPOSURE_S, WANTED_RATIO, SKY_MAGNITUDE = 2.0, 10.0, 20.0
"""A usual guide exposure, the least signal over noise, and a suburban sky (common practice, no source)."""
USUAL_READ_NOISE_E, USUAL_EFFICIENCY = 3.0, 0.6
"""Where the guide camera's own are not entered (assumed)."""
LOSSES = 0.7
"""Air, optics and prism pass about this much (assumed, no source)."""
FAINTEST, BRIGHTEST = 16.0, 8.0
"""The counts hold between these magnitudes."""
LIKELY, UNLIKELY = 0.9, 0.5
COARSEST = 8.0
"""Guide pixels coarser than so many of the main ones guide badly (common practice, no source)."""


def check_guider(case: Case) -> tuple[Finding, ...]:
    """Judge the guide camera behind an off-axis guider; silent without such a guider and a camera."""
    place = guider_in(case)
    if place is None or case.train.camera is None:
        return ()
    part = place.part
    assert isinstance(part, OffAxisGuider)
    if before_the_corrector(case, place):
        return (_before(case, place),)
    guide = next((g.item for g in case.rig.gear if isinstance(g.item.part, GuideCamera)), None)
    if guide is None:
        what = "a guide camera beside the train"
        sentence = literal(f"What {place.name} gives to guide on is not known yet: add {what}.")
        return (unknown("guider.camera", "Guider", sentence, (what,), source=SOURCE, place=place.key),)
    return (_focus(case, place, part, guide), *_stars(case, place, guide))


def _before(case: Case, place: Place) -> Finding:
    corrector = case.train.corrector
    assert corrector is not None
    return Finding(
        code="guider.before",
        weight="watch",
        title="Guider",
        phrase=say(
            literal(
                f"The prism of {place.name} stands before {corrector.name}: the guide camera sees the field "
                "without the corrector, comes to focus elsewhere than the main one, and the prism's "
                "shadow is "
                "not worked out here."
            )
        ),
        remedies=(Remedy(phrase=say(literal(f"Put {place.name} behind {corrector.name}."))),),
        source=COMMON_PRACTICE,
        formula="the guider belongs behind the last corrector",
        place=place.key,
    )


def _focus(case: Case, place: Place, part: OffAxisGuider, guide: CataloguedPart) -> Finding:
    camera = guide.part
    assert isinstance(camera, BaseCamera)
    middle = prism_place_mm(case, place)
    missing: list[str] = []
    if part.side_path_mm is None:
        missing.append(f"the path from prism to side port of {place.name}")
    if camera.flange_mm is None:
        missing.append(f"the flange distance of {guide.name}")
    if part.prism_at_mm is None:
        missing.append(f"where the prism of {place.name} sits")
    elif middle is None:
        missing.append("the lengths between the prism and the sensor")
    behind = case.train.after(place)
    glass, _, lacking = glass_in(behind)
    if missing or middle is None or part.side_path_mm is None or camera.flange_mm is None:
        sentence = "Whether both cameras come to focus together is not known yet: " + literal(
            f"enter {listed(missing)}."
        )
        return unknown("guider.unknown", "Guider", sentence, tuple(missing), source=SOURCE, place=place.key)
    main = middle - sum(one.shift_mm for one in glass)
    side = part.side_path_mm.nominal + camera.flange_mm.nominal
    window = camera.window_thickness_mm
    if camera.flange_quoted == "mechanical" and window is not None:
        side -= plate_shift_mm(window.nominal, N_BK7_INDEX)
    error = side - main
    amounts = {
        "side": amount(side, "length", 1),
        "main": amount(main, "length", 1),
        "error": amount(abs(error), "length", 1),
        "play": amount(PLAY_MM, "length", 1),
    }
    remedies: tuple[Remedy, ...] = ()
    name = literal(guide.name)
    if abs(error) <= PLAY_MM:
        weight, code = "sound", "guider.sound"
        sentence = (
            f"{name} comes to focus with the main camera: {{side}} from the prism against {{main}}, "
            f"within the "
            "{play} that a side port usually makes good."
        )
        depth = _depth(case)
        if depth is not None and abs(error) > depth:
            sentence += " Set it by {error} and lock it."
    elif error < 0:
        weight, code = "watch", "guider.short"
        sentence = (
            f"{name} sits {{error}} too close to the prism: {{side}} against {{main}} to the main sensor. "
            f"Both "
            "cannot be in focus."
        )
        remedies = (
            Remedy(phrase=say("Put {error} of rings between side port and guide camera.", **amounts)),
        )
    else:
        weight, code = "stop", "guider.long"
        sentence = (
            f"{name} sits {{error}} too far from the prism even without a ring: {{side}} against {{main}} "
            f"to the "
            "main sensor. Both cannot be in focus."
        )
        remedies = (
            Remedy(
                phrase=say(
                    literal(f"Move {place.name} ")
                    + "{error} further from the sensor within the train, or use a guide camera that goes "
                    "deeper "
                    "into the side port.",
                    **amounts,
                )
            ),
        )
    if lacking:
        sentence += literal(f" Not known yet: enter {listed(lacking)}.")
        if weight == "sound":
            weight, code = "unknown", "guider.part_unknown"
    spread = [part.side_path_mm, camera.flange_mm]
    inputs = (
        input_of("prism behind the sky-side shoulder", place.item, part.prism_at_mm, "length", 1),
        worked_input("prism to sensor, as a ruler has it", middle, "length", 2),
        *(worked_input(f"shift by {one.name}", one.shift_mm, "length", 3) for one in glass),
        input_of("prism to side port", place.item, part.side_path_mm, "length", 1),
        input_of("flange distance", guide, camera.flange_mm, "length", 1),
    )
    return Finding(
        code=code,
        weight=weight,
        title="Guider",
        phrase=say(sentence, **amounts),
        figure=Figure(
            label="guide sensor behind its focus",
            amount=amount(error, "length", 1),
            uncertainty=sum(max(m.plus or 0.0, m.minus or 0.0) for m in spread) or None,
        ),
        remedies=remedies,
        inputs=inputs,
        formula=FORMULA,
        source=SOURCE,
        place=place.key,
        missing=lacking,
    )


def _depth(case: Case) -> float | None:
    ratio = case.optics.focal_ratio
    try:
        return None if ratio is None else depth_of_focus_mm(ratio, case.rig.rules.wavelength_nm)
    except ValueError:
        return None


def _stars(case: Case, place: Place, guide: CataloguedPart) -> tuple[Finding, ...]:
    camera = guide.part
    assert isinstance(camera, GuideCamera)
    optics, rules = case.optics, case.rig.rules
    focal, aperture, size = optics.focal_length_mm, optics.aperture_mm, camera.sensor_mm
    missing = list(optics.missing)
    if size is None:
        missing.append(f"sensor pixels and pixel size of {guide.name}")
    if missing or focal is None or aperture is None or size is None or camera.pixel_um is None:
        sentence = literal(f"What {guide.name} can guide on is not known yet: enter {listed(missing)}.")
        return (
            unknown(
                "guider.stars_unknown",
                "Guide stars",
                sentence,
                tuple(missing),
                source=STAR_SOURCE,
                place=place.key,
            ),
        )
    scale = pixel_scale_arcsec(camera.pixel_um.nominal, focal)
    noise, noise_said = _read_noise(camera)
    peak = camera.quantum_efficiency
    efficiency = USUAL_EFFICIENCY if peak is None else peak.nominal
    # The star's light is taken from a disc as wide as twice the seeing, one pixel at least.
    pixels = max(1.0, pi * (rules.seeing_arcsec / scale) ** 2)
    watching = guide_stars.GuideCamera(
        aperture, optics.obstruction or 0.0, efficiency * LOSSES, scale, noise, _dark(camera), pixels
    )
    faintest = guide_stars.faintest_magnitude(watching, SKY_MAGNITUDE, EXPOSURE_S, WANTED_RATIO)
    counted = min(FAINTEST, faintest)
    field = guide_stars.field_square_degrees(size[0], size[1], focal)
    if counted < BRIGHTEST:
        density = 0.0
    else:
        density = guide_stars.stars_per_square_degree(counted, rules.galactic_latitude_deg)
    chance = guide_stars.chance_of_a_star(density, min(field, 40_000.0))
    ratio = _against_main(case, scale)
    amounts = {
        "width": amount(_arcmin(size[0], focal), "count", 1),
        "height": amount(_arcmin(size[1], focal), "count", 1),
        "scale": amount(scale, "scale"),
        "faintest": amount(faintest, "count", 1),
        "latitude": amount(rules.galactic_latitude_deg, "angle", 0),
        "chance": amount(chance.chance, "fraction"),
        "low": amount(chance.low, "fraction"),
        "high": amount(chance.high, "fraction"),
    }
    sentence = (
        literal(f"{guide.name} sees ")
        + "{width} by {height} arcminutes at {scale} and stars to about magnitude {faintest}; at "
        "{latitude} from "
        "the Milky Way the chance of one where it happens to look is {chance}"
    )
    sentence += "." if chance.low > 0.995 else " ({low} to {high})."
    remedies: tuple[Remedy, ...] = ()
    weight, code = "sound", "guider.stars"
    if chance.chance < LIKELY:
        weight, code = "watch", "guider.few_stars"
        sentence += (
            " Expect to turn the guider for a star."
            if chance.chance >= UNLIKELY
            else " Expect to search for one."
        )
        remedies = (
            Remedy(
                phrase=say(
                    "Expose longer, plan the angle of the guider for a star before the night, or use a "
                    "larger "
                    "guide sensor."
                )
            ),
        )
    if ratio is not None:
        amounts["ratio"] = amount(ratio, "times", 1)
        sentence += " Its pixels see {ratio} what the main ones do."
        if ratio > COARSEST:
            weight = "watch"
            code = "guider.coarse" if code == "guider.stars" else code
            sentence += " That is coarse for guiding."
    inputs: list[Input] = [
        worked_input("focal length behind all glass", focal, "length", 0),
        input_of("pixel size", guide, camera.pixel_um, "pixel"),
        worked_input("guide sensor, width", size[0], "length", 2),
        worked_input("guide sensor, height", size[1], "length", 2),
        Input(
            label="read noise, electrons", amount=amount(noise, "count", 1), basis=noise_said, of=guide.name
        ),
        _efficiency_input(guide, peak),
        Input(label="air, optics and prism pass", amount=amount(LOSSES, "fraction"), basis="assumed"),
        Input(label="exposure, s", amount=amount(EXPOSURE_S, "count", 0), basis="assumed"),
        Input(label="signal over noise asked for", amount=amount(WANTED_RATIO, "count", 0), basis="assumed"),
        Input(label="sky, magnitudes", amount=amount(SKY_MAGNITUDE, "count", 0), basis="assumed"),
        rule_input("seeing, full width", rules.seeing_arcsec, "arcsec"),
        rule_input("galactic latitude", rules.galactic_latitude_deg, "angle"),
        worked_input("stars to be expected on the sensor", chance.expected, "count", 2),
    ]
    return (
        Finding(
            code=code,
            weight=weight,
            title="Guide stars",
            phrase=say(sentence, **amounts),
            figure=Figure(
                label="chance of a guide star",
                amount=amounts["chance"],
                uncertainty=max(chance.high - chance.chance, chance.chance - chance.low) or None,
            ),
            remedies=remedies,
            inputs=tuple(inputs),
            formula=STAR_FORMULA,
            source=STAR_SOURCE,
            place=place.key,
        ),
    )


def _arcmin(side_mm: float, focal_mm: float) -> float:
    return side_mm / focal_mm * 180.0 * 60.0 / pi


def _read_noise(camera: GuideCamera) -> tuple[float, str]:
    if not camera.gains:
        return USUAL_READ_NOISE_E, "assumed"
    return min(row.read_noise_e for row in camera.gains), camera.basis


def _dark(camera: GuideCamera) -> float:
    """Dark current at the warmest temperature entered: guide cameras are rarely cooled; 0 where none is."""
    rows = camera.dark_current
    return max(rows, key=lambda row: row.temperature_c).dark_e_s if rows else 0.0


def _efficiency_input(guide: CataloguedPart, peak: Measure | None) -> Input:
    if peak is not None:
        return input_of("quantum efficiency", guide, peak, "fraction")
    return Input(
        label="quantum efficiency",
        amount=amount(USUAL_EFFICIENCY, "fraction"),
        basis="assumed",
        of=guide.name,
    )


def _against_main(case: Case, scale: float) -> float | None:
    camera = case.train.camera
    focal = case.optics.focal_length_mm
    if camera is None or focal is None or not isinstance(camera.part, BaseCamera):
        return None
    pixel = camera.part.pixel_um
    return None if pixel is None else scale / pixel_scale_arcsec(pixel.nominal, focal)
