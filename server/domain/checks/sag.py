"""What the drawtube's sag does to the focus in the corners of the sensor."""

from __future__ import annotations

from server.domain.checks.case import (
    Case,
    amount,
    input_of,
    listed,
    literal,
    rule_input,
    say,
    sensor_inputs,
    unknown,
    worked_input,
)
from server.domain.findings import Figure, Finding, Input, Remedy
from server.domain.load.bodies import sag_of
from server.domain.missing import lacks, lacks_sensor
from server.domain.parts import BaseCamera
from server.optics.tilt import tilt_in_focus

FORMULA = (
    "sag = softness x sum of mass x g x arm; corner from focus = half the diagonal x tan(sag); depth of "
    "focus = 2 lambda N^2 to either side"
)
SOURCE = (
    "Statics, drawtube level, and trigonometry; quarter-wave depth of focus: Born & Wolf, Principles of "
    "Optics, sec. 8.8 (from memory). The softness is the user's or the maker's figure. Not looked at: a "
    "corrector that tilts with the sensor, the bending of the parts behind the drawtube."
)
MOST_ARCMIN = 600.0
"""The widest tilt that server.optics.tilt takes; far beyond it nothing is in focus anyway."""


def check_sag(case: Case) -> tuple[Finding, ...]:
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
        missing.append("a camera in the train")
    elif size is None:
        missing.append(lacks_sensor(camera, "pixels and pixel size"))
    if ratio is None:
        missing.append(lacks(tube, "aperture_mm", "aperture and focal length"))
    if sag_arcmin is None or size is None or ratio is None or camera is None:
        sentence = f"What the drawtube's sag does is not known yet: enter {literal(listed(missing))}."
        return (unknown("sag.unknown", "Sag", sentence, tuple(missing), source=SOURCE),)
    sag_arcmin = abs(sag_arcmin)
    rules = case.rig.rules
    focus = tilt_in_focus(min(sag_arcmin, MOST_ARCMIN), size[0], size[1], ratio, rules.wavelength_nm)
    amounts = {
        "sag": amount(sag_arcmin, "count", 1),
        "corner": amount(focus.corner_um / 1000.0, "small_length"),
        "depth": amount(focus.allowed_um / 1000.0, "small_length"),
    }
    name = literal(tube.name)
    remedies: tuple[Remedy, ...] = ()
    start = f"With the drawtube of {name} level, what hangs on it tilts it by {{sag}} arcminutes: a corner "
    if focus.within:
        weight, code = "sound", "sag.sound"
        sentence = start + "stands {corner} from focus, within the depth of focus of {depth}."
    else:
        weight, code = "watch", "sag.beyond"
        sentence = (
            start + "stands {corner} from focus and the opposite one as far the other way, beyond the depth "
            "of focus of {depth}. It turns with the sky: squaring the sensor at one height does not cure it."
        )
        remedies = (
            Remedy(
                phrase=say(
                    "Hang less on the drawtube or hang it nearer, rack it out less, or use a stiffer focuser."
                )
            ),
        )
    out: tuple[Input, ...] = ()
    if case.rig.load.drawtube_out_mm is not None:
        racked = amount(case.rig.load.drawtube_out_mm, "length", 1)
        out = (Input(label="drawtube racked out", amount=racked, basis="typed", of="the plan of the load"),)
    return (
        Finding(
            code=code,
            weight=weight,
            title="Sag",
            phrase=say(sentence, **amounts),
            figure=Figure(label="corner from focus", amount=amounts["corner"]),
            remedies=remedies,
            inputs=(
                input_of("sag, arcminutes per N m", tube.item, tube.part.drawtube_sag_arcmin, "count", 2),
                *out,
                worked_input("sag, arcminutes", sag_arcmin, "count", 2),
                *sensor_inputs(camera.item),
                worked_input("focal ratio at the sensor", ratio, "ratio"),
                rule_input(case, "wavelength_nm", "wavelength", "wavelength"),
            ),
            formula=FORMULA,
            source=SOURCE,
        ),
    )
