"""A guide scope: is its scale fine enough for the imaging one and for the guiding that is asked for?"""

from __future__ import annotations

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
from server.domain.findings import Figure, Finding, Remedy
from server.domain.missing import lacks
from server.domain.parts import BaseCamera, CataloguedPart, GuideCamera, GuideScope, is_a
from server.optics.imaging import pixel_scale_arcsec
from server.sky.guide_stars import CENTROID_PX, centroid_arcsec, focal_for_centroid_mm

FORMULA = "scale = 206 264.806 x pixel / f; least error = a tenth of a pixel x scale"
SOURCE = (
    "A star's middle to a tenth of a pixel, guide pixels of at most five main ones' width: "
    f"{COMMON_PRACTICE[0].lower()}{COMMON_PRACTICE[1:]} What bends between the two tubes is not looked at."
)
COARSEST = 5.0
"""Guide pixels coarser than so many main ones leave wander that shows (common practice, no source)."""


def check_guide_scope(case: Case) -> tuple[Finding, ...]:
    """Judge a guide scope with its camera; silent without both and for a camera behind an off-axis guider."""
    scope = next((g.item for g in case.rig.gear if is_a(g.item, GuideScope)), None)
    guide, main = case.rig.guide_camera, case.train.camera
    if scope is None or guide is None or main is None or case.rig.branch:
        return ()
    part, watching = scope.part, guide.part
    missing = [
        lacks(item, field, what)
        for field, what, item, figure in (
            ("focal_length_mm", "the focal length", scope, part.focal_length_mm),
            ("pixel_um", "the pixel size", guide, watching.pixel_um),
        )
        if figure is None or figure.nominal <= 0.0
    ]
    if missing or part.focal_length_mm is None or watching.pixel_um is None:
        sentence = literal(f"How finely {guide.name} guides is not known yet: enter {listed(missing)}.")
        return (unknown("guide_scope.unknown", "Guide scope", sentence, tuple(missing), source=SOURCE),)
    return (_judged(case, scope, guide, part.focal_length_mm.nominal, watching.pixel_um.nominal),)


def _judged(
    case: Case,
    scope: CataloguedPart[GuideScope],
    guide: CataloguedPart[GuideCamera],
    focal: float,
    pixel: float,
) -> Finding:
    error = centroid_arcsec(pixel, focal)
    scale, wanted = error / CENTROID_PX, case.rig.rules.guiding_arcsec
    amounts = {
        "scale": amount(scale, "scale"),
        "error": amount(error, "arcsec", 1),
        "wanted": amount(wanted, "arcsec", 1),
    }
    sentence = literal(f"{guide.name} behind {scope.name} sees ") + "{scale}"
    main = _main_scale(case)
    if main is not None:
        amounts["ratio"] = amount(scale / main, "times", 1)
        sentence += ", {ratio} what the main pixels do"
    sentence += "; it finds a star's middle to {error}"
    remedies: tuple[Remedy, ...] = ()
    weight, code = "sound", "guide_scope.sound"
    floor, ratio = wanted > 0.0 and error > wanted, main is not None and scale > COARSEST * main
    if floor or ratio:
        weight, code = "watch", "guide_scope.coarse"
        needed = focal_for_centroid_mm(pixel, wanted) if floor else 0.0
        if main is not None and ratio:
            needed = max(needed, focal * scale / (COARSEST * main))
        sentence += (
            ", coarser than the {wanted} of guiding that this rig counts on."
            if floor
            else ". That is coarse for these main pixels: what it cannot see wanders in the picture."
        )
        remedies = (
            Remedy(
                phrase=say(
                    "Take a guide scope of {focal} or more, finer pixels, or an off-axis guider.",
                    focal=amount(needed, "length", 0),
                )
            ),
        )
    else:
        sentence += ", within the {wanted} of guiding that this rig counts on." if wanted else "."
    return Finding(
        code=code,
        weight=weight,
        title="Guide scope",
        phrase=say(sentence, **amounts),
        figure=Figure(label="guide scale", amount=amounts["scale"]),
        remedies=remedies,
        inputs=(
            input_of("focal length", scope, scope.part.focal_length_mm, "length"),
            input_of("pixel size", guide, guide.part.pixel_um, "pixel"),
            rule_input(case, "guiding_arcsec", "guiding, RMS", "arcsec"),
            worked_input("star's middle found to", error, "arcsec", 2),
        ),
        formula=FORMULA,
        source=SOURCE,
    )


def _main_scale(case: Case) -> float | None:
    camera, focal = case.train.camera, case.optics.focal_length_mm
    if camera is None or focal is None or not isinstance(camera.part, BaseCamera):
        return None
    pixel = camera.part.pixel_um
    return None if pixel is None or pixel.nominal <= 0.0 else pixel_scale_arcsec(pixel.nominal, focal)
