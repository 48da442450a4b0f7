"""A guide scope: is its scale fine enough for the imaging one and for the guiding that is asked for?"""

from __future__ import annotations

from server.domain.findings import Figure
from server.domain.missing import lacks
from server.domain.parts import BaseCamera, CataloguedPart, GuideCamera, GuideScope, is_a
from server.domain.said import said
from server.domain.verdicts import Advice, Later, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    rule_input,
    worked_input,
)
from server.optics.imaging import pixel_scale_arcsec
from server.sky.guide_stars import CENTROID_PX, centroid_arcsec, focal_for_centroid_mm

COARSEST = 5.0
"""Guide pixels coarser than so many main ones leave wander that shows (common practice, no source)."""


def check_guide_scope(case: Case) -> tuple[Verdict, ...]:
    """Judge a guide scope with its camera; silent without both and for a camera behind an off-axis guider."""
    scope = next((g.item for g in case.rig.gear if is_a(g.item, GuideScope)), None)
    guide, main = case.rig.guide_camera, case.train.camera
    if scope is None or guide is None or main is None or case.rig.branch:
        return ()
    part, watching = scope.part, guide.part
    missing = [
        lacks(item, field)
        for field, item, figure in (
            ("focal_length_mm", scope, part.focal_length_mm),
            ("pixel_um", guide, watching.pixel_um),
        )
        if figure is None or figure.nominal <= 0.0
    ]
    if missing or part.focal_length_mm is None or watching.pixel_um is None:
        says = said("guide_scope.unknown", camera=guide, missing=missing)
        return (not_known("guide_scope.unknown", tuple(missing), says),)
    return (_judged(case, scope, guide, part.focal_length_mm.nominal, watching.pixel_um.nominal),)


def _judged(
    case: Case,
    scope: CataloguedPart[GuideScope],
    guide: CataloguedPart[GuideCamera],
    focal: float,
    pixel: float,
) -> Verdict:
    error = centroid_arcsec(pixel, focal)
    scale, wanted = error / CENTROID_PX, case.rig.rules.guiding_arcsec
    amounts = {
        "scale": amount(scale, "scale"),
        "error": amount(error, "arcsec", 1),
        "wanted": amount(wanted, "arcsec", 1),
    }
    main = _main_scale(case)
    floor, coarse = wanted > 0.0 and error > wanted, main is not None and scale > COARSEST * main
    watch = floor or coarse
    facts = {
        "ratio": None if main is None else amount(scale / main, "times", 1),
        "asked": wanted > 0.0,
        "beyond": "wanted" if floor else "pixels" if coarse else "no",
    }
    remedies: tuple[Advice, ...] = ()
    if watch:
        needed = focal_for_centroid_mm(pixel, wanted) if floor else 0.0
        if main is not None and coarse:
            needed = max(needed, focal * scale / (COARSEST * main))
        remedies = (Advice((said("guide_scope.longer", focal=amount(needed, "length", 0)),)),)
    return Verdict(
        code="guide_scope.coarse" if watch else "guide_scope.sound",
        weight="watch" if watch else "sound",
        says=(said("guide_scope.sees", camera=guide, scope=scope, **facts, **amounts),),
        figure=Figure(label="guide scale", amount=amounts["scale"]),
        remedies=remedies,
        inputs=Later(
            lambda: (
                input_of("focal length", scope, scope.part.focal_length_mm, "length"),
                input_of("pixel size", guide, guide.part.pixel_um, "pixel"),
                rule_input(case, "guiding_arcsec", "guiding, RMS", "arcsec"),
                worked_input("star's middle found to", error, "arcsec", 2),
            )
        ),
    )


def _main_scale(case: Case) -> float | None:
    camera, focal = case.train.camera, case.optics.focal_length_mm
    if camera is None or focal is None or not isinstance(camera.part, BaseCamera):
        return None
    pixel = camera.part.pixel_um
    return None if pixel is None or pixel.nominal <= 0.0 else pixel_scale_arcsec(pixel.nominal, focal)
