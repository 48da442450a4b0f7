"""Focal length and field behind the corrector, stars against pixels, focal ratio against pixels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from server.domain.findings import Figure, Weight
from server.domain.guarded import Failed, worked
from server.domain.measure import nominal
from server.domain.missing import lacks, lacks_sensor
from server.domain.parts import Camera, OpticalTube
from server.domain.said import Missing, Quantity, said
from server.domain.train import Place
from server.domain.verdicts import Given, Later, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    rule_input,
    sensor_inputs,
    told,
    worked_input,
)
from server.domain.workings.worked import figures_of
from server.optics.diffraction import diffraction_fwhm_arcsec
from server.optics.imaging import (
    field_of_view_deg,
    nyquist_pixel_um,
    pixel_rule_focal_ratio,
    pixel_scale_arcsec,
    samples_per_width,
)
from server.optics.seeing import EXPECTED_FWHM_RELATIVE_ERROR, expected_fwhm_arcsec

OUT_OF_THE_ORDINARY = 4.0
"""So many times beyond a rule of thumb nobody images without a reason (a choice of ours, no source)."""
FACTOR_SHOWN = 0.002
"""A factor that has changed by less changes no figure that a sentence shows."""


def check_sampling(case: Case) -> tuple[Verdict, ...]:
    """Return the field, the sampling against seeing and diffraction, and the focal ratio against pixels."""
    camera = case.train.camera
    if camera is None or case.train.tube is None:
        return ()
    part = camera.part
    missing = list(case.optics.missing)
    if part.pixel_um is None:
        missing.append(lacks(camera, "pixel_um"))
    focal = case.optics.focal_length_mm
    if focal is None or part.pixel_um is None:
        return (not_known("sampling.unknown", tuple(missing)),)
    ratio = case.optics.focal_ratio
    # Figures beyond one formula's range leave the other findings standing.
    return (
        _guarded(lambda: _field(case, part, focal)),
        _guarded(lambda: _stars(case, part, focal)),
        *(() if ratio is None else (_guarded(lambda: _pixel_rule(case, part, ratio)),)),
    )


def _guarded(work: Callable[[], Verdict]) -> Verdict:
    found = worked(said("work.check", title=said("title.sampling")), work)
    return told("sampling", found) if isinstance(found, Failed) else found


def _optics_inputs(case: Case) -> list[Given]:
    tube = case.optics.tube
    assert tube is not None
    inputs = [
        input_of("focal length", tube, tube.part.focal_length_mm, "length"),
        input_of("aperture", tube, tube.part.aperture_mm, "length"),
    ]
    inputs += [input_of("factor", item, item.part.factor, "times") for item in case.optics.correctors]
    optics, spacing = case.optics, case.spacing
    moved = _moved_mm(case)
    if moved is not None:
        inputs.append(worked_input("focal length with the primary moved to this focus", moved, "length", 0))
    elif optics.primary_missing and optics.tube_focal_mm is not None:
        inputs.append(
            Given(
                label="focal length with the primary moved to this focus: the stated one",
                amount=amount(optics.tube_focal_mm, "length", 0),
                basis="assumed",
                of=tube.name,
            )
        )
    if spacing is not None and spacing.air_mm is not None and optics.factor is not None and optics.correctors:
        inputs.append(worked_input("reference shoulder to sensor, in air", spacing.air_mm, "length", 2))
        inputs.append(worked_input("factor of all correctors, there", optics.factor, "times", 4))
    return inputs


def _moved_mm(case: Case) -> float | None:
    """The tube's focal length, mm, where moving its primary to this focus changes what a sentence shows."""
    tube, focal = case.optics.tube, case.optics.tube_focal_mm
    if tube is None or focal is None:
        return None
    stated = nominal(tube.part.focal_length_mm)
    return focal if stated is not None and abs(focal - stated) > FACTOR_SHOWN * stated else None


def _field(case: Case, camera: Camera, focal: float) -> Verdict:
    ratio, size = case.optics.focal_ratio, camera.sensor_mm
    facts: dict[str, Any] = {"focal": amount(focal, "length", 0), "factor": None, "width": None}
    facts["ratio"] = None if ratio is None else amount(ratio, "ratio")
    missing: tuple[Missing, ...] = ()
    figure = None
    inputs = _optics_inputs(case)
    factor, stated = case.optics.factor, case.optics.stated_factor
    moved = factor is not None and stated is not None and abs(factor - stated) > FACTOR_SHOWN * stated
    if moved and factor is not None and stated is not None:
        facts |= {"factor": amount(factor, "times", 3), "stated": amount(stated, "times", 3)}
    facts["primary"] = _moved_mm(case) is not None
    facts["primary_missing"] = () if facts["primary"] else case.optics.primary_missing
    if size is None:
        assert case.train.camera is not None
        missing = (lacks_sensor(case.train.camera, "pixels"),)
    else:
        width, height = (field_of_view_deg(side, focal) for side in size)
        facts |= {"width": amount(width, "angle", 2), "height": amount(height, "angle", 2)}
        figure = Figure(label="field, long side", amount=amount(max(width, height), "angle", 2))
        assert case.train.camera is not None
        inputs += sensor_inputs(case.train.camera.item)
    return Verdict(
        code="sampling.field",
        weight="unknown" if missing else "sound",
        says=(said("sampling.field", missing=missing, **facts),),
        figure=figure,
        inputs=tuple(inputs),
        missing=missing,
    )


def _stars(case: Case, camera: Camera, focal: float) -> Verdict:
    assert camera.pixel_um is not None
    assert case.train.camera is not None
    rules = case.rig.rules
    scale = pixel_scale_arcsec(camera.pixel_um.nominal, focal)
    fine, coarse = rules.seeing_arcsec / rules.pixels_most, rules.seeing_arcsec / rules.pixels_least
    weight: Weight
    amounts = {
        "scale": amount(scale, "scale"),
        "seeing": amount(rules.seeing_arcsec, "arcsec"),
        "fine": amount(fine, "scale"),
        "coarse": amount(coarse, "scale"),
    }
    inputs: list[Given] = [*_optics_inputs(case)]
    inputs.append(input_of("pixel size", case.train.camera.item, camera.pixel_um, "pixel"))
    inputs += [
        rule_input(case, "seeing_arcsec", "seeing, full width", "arcsec"),
        rule_input(case, "pixels_least", "pixels across the seeing, at least", "count", 2),
        rule_input(case, "pixels_most", "pixels across the seeing, at most", "count", 2),
    ]
    missing: list[Missing] = []
    aperture, obstruction = case.optics.aperture_mm, case.optics.obstruction
    tube = case.train.tube
    assert tube is not None
    if aperture is None:
        missing += figures_of(tube.item)[2]
    else:
        if obstruction is None:
            missing.append(lacks(tube, "obstruction_mm"))
        star = expected_fwhm_arcsec(
            rules.seeing_arcsec, aperture, rules.wavelength_nm, scale, obstruction or 0.0
        )
        diffraction = diffraction_fwhm_arcsec(aperture, rules.wavelength_nm, obstruction or 0.0)
        amounts |= {
            "star": amount(star, "arcsec", 1),
            "pixels": amount(samples_per_width(star, scale), "count", 1),
            "diffraction": amount(diffraction, "arcsec"),
        }
        inputs += [
            _obstruction_input(tube, obstruction),
            rule_input(case, "wavelength_nm", "wavelength", "wavelength"),
            worked_input("width by diffraction alone", diffraction, "arcsec", 2),
            Given(
                "width of the star in the picture",
                amount(star, "arcsec", 2),
                "worked out",
                note=said("sampling.good_to", error=Quantity(100 * EXPECTED_FWHM_RELATIVE_ERROR, "%", 1)),
            ),
        ]
    air = aperture is not None
    says = [said("sampling.sees" if air else "sampling.sees_bare", **amounts)]
    if scale > coarse * (1 + 1e-9):
        # A short lens is coarse by its nature.
        weight, code = _beyond(case, "pixels_least", odd=False), "sampling.coarse"
    elif scale < fine * (1 - 1e-9):
        weight, code = _beyond(case, "pixels_most", odd=scale * OUT_OF_THE_ORDINARY < fine), "sampling.fine"
    else:
        weight, code = "sound", "sampling.sound"
    says.append(said(code, fine=amounts["fine"], coarse=amounts["coarse"]))
    if missing:
        says.append(said("sampling.enter", missing=missing, without=air))
        weight = "unknown" if weight == "sound" else weight
    if air and amounts["diffraction"].value > rules.seeing_arcsec:
        says.append(said("sampling.aperture_limits", diffraction=amounts["diffraction"]))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=Figure(label="scale", amount=amount(scale, "scale")),
        inputs=tuple(inputs),
        missing=tuple(missing),
    )


def _beyond(case: Case, rule: str, *, odd: bool) -> Weight:
    """The weight of what lies beyond a rule: a watch where its owner typed it, or where it is out of the
    ordinary.
    """
    return "watch" if odd or not case.rig.rules.is_delivered(rule) else "sound"


def _obstruction_input(tube: Place[OpticalTube], linear: float | None) -> Given:
    """The linear obstruction, with what it was taken from."""
    part = tube.part
    measure = part.obstruction_share if part.obstruction_mm is None else part.obstruction_mm
    label = "central obstruction, linear share"
    if measure is None:
        why = said("sampling.no_obstruction", refractor=linear == 0)
        return Given(label, amount(0.0, "fraction"), "assumed", tube.name, why)
    given = input_of(label, tube.item, measure, "fraction")
    return given if linear is None else replace(given, amount=amount(linear, "fraction"))


def _pixel_rule(case: Case, camera: Camera, ratio: float) -> Verdict:
    assert camera.pixel_um is not None
    stands = case.train.camera
    assert stands is not None
    limit = pixel_rule_focal_ratio(camera.pixel_um.nominal, case.rig.rules.ratio_per_um)
    nyquist = nyquist_pixel_um(ratio, case.rig.rules.wavelength_nm)
    amounts = {
        "ratio": amount(ratio, "ratio"),
        "limit": amount(limit, "ratio"),
        "pixel": amount(camera.pixel_um.nominal, "pixel"),
        "nyquist": amount(nyquist, "pixel", 2),
    }
    slow = ratio > limit * (1 + 1e-9)
    code = "sampling.slow" if slow else "sampling.ratio"
    return Verdict(
        code=code,
        weight=_beyond(case, "ratio_per_um", odd=ratio > OUT_OF_THE_ORDINARY * limit) if slow else "sound",
        says=(said(code, **amounts), said("sampling.finest", nyquist=amounts["nyquist"])),
        figure=Figure(label="focal ratio", amount=amounts["ratio"]),
        inputs=Later(
            lambda: (
                *_optics_inputs(case),
                input_of("pixel size", stands.item, camera.pixel_um, "pixel"),
                rule_input(case, "ratio_per_um", "focal ratio per micrometre of pixel", "times"),
                rule_input(case, "wavelength_nm", "wavelength", "wavelength"),
            )
        ),
    )
