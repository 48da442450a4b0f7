"""What the drawtube's sag does to the focus in the corners of the sensor."""

from __future__ import annotations

from server.domain.findings import Figure
from server.domain.load.bodies import sag_of
from server.domain.missing import lacks, lacks_sensor, wants
from server.domain.parts import BaseCamera
from server.domain.said import said
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    rule_input,
    sensor_inputs,
    worked_input,
)
from server.optics.tilt import tilt_in_focus

MOST_ARCMIN = 600.0
"""The widest tilt that server.optics.tilt takes; far beyond it nothing is in focus anyway."""


def check_sag(case: Case) -> tuple[Verdict, ...]:
    """Hold the corner's defocus under the drawtube's sag against the depth of focus.

    Silent where the tube's sag per N m is not entered or nothing hangs behind it.
    """
    tube = case.train.tube
    if tube is None or tube.part.drawtube_sag_arcmin is None:
        return ()
    if not case.train.after(tube):
        return ()
    sag_arcmin, lacking = sag_of(case)
    missing = list(lacking)
    camera, ratio = case.train.camera, case.optics.focal_ratio
    size = None if camera is None or not isinstance(camera.part, BaseCamera) else camera.part.sensor_mm
    if camera is None:
        missing.append(wants("camera_in_train"))
    elif size is None:
        missing.append(lacks_sensor(camera, "pixels_and_size"))
    if ratio is None:
        missing.append(lacks(tube, "aperture_mm", "aperture_and_focal"))
    if sag_arcmin is None or size is None or ratio is None or camera is None:
        return (not_known("sag.unknown", tuple(missing)),)
    sag_arcmin = abs(sag_arcmin)
    rules = case.rig.rules
    focus = tilt_in_focus(min(sag_arcmin, MOST_ARCMIN), size[0], size[1], ratio, rules.wavelength_nm)
    code = "sag.sound" if focus.within else "sag.beyond"
    corner = amount(focus.corner_um / 1000.0, "small_length")
    out: tuple[Given, ...] = ()
    if case.rig.load.drawtube_out_mm is not None:
        racked = amount(case.rig.load.drawtube_out_mm, "length", 1)
        out = (Given(label="drawtube racked out", amount=racked, basis="typed", of="the plan of the load"),)
    return (
        Verdict(
            code=code,
            weight="sound" if focus.within else "watch",
            says=(
                said(
                    code,
                    tube=tube,
                    sag=amount(sag_arcmin, "count", 1),
                    corner=corner,
                    depth=amount(focus.allowed_um / 1000.0, "small_length"),
                ),
            ),
            figure=Figure(label="corner from focus", amount=corner),
            remedies=() if focus.within else (Advice((said("sag.less"),)),),
            inputs=Later(
                lambda: (
                    input_of("sag, arcminutes per N m", tube.item, tube.part.drawtube_sag_arcmin, "count", 2),
                    *out,
                    worked_input("sag, arcminutes", sag_arcmin, "count", 2),
                    *sensor_inputs(camera.item),
                    worked_input("focal ratio at the sensor", ratio, "ratio"),
                    rule_input(case, "wavelength_nm", "wavelength", "wavelength"),
                )
            ),
        ),
    )
