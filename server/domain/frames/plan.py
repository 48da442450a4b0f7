"""Which frames to take before they are asked for."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.frames.measured import Light
from server.domain.missing import lacks, lacks_sensor
from server.domain.said import Missing
from server.domain.stars.focusing import Motor, work_focusing
from server.domain.stars.telescope import lacking_for_stars, telescope_of
from server.domain.workings.case import Case

DISC_PX = 4.0
"""The defocused star's disc in pixels: large enough to tell, small enough to stay a star (measured on
simulated frames).
"""


@dataclass(frozen=True)
class FramePlan:
    """Two positions of the focuser, to be visited out, in, in, out, so that a creeping focus cancels.

    Attributes:
        light: the beam at the sensor and its pixels; None while not known. missing: what to enter for it.
        away_um: from best focus to either side, at the sensor.
        motor: the focus motor that the rig has, None without a known step; step_um: of one step at the
            sensor.
        steps: `away_um` in its steps, whole.
        zone_um: to either side of best focus, within which a star does not suffer.
        no_obstruction: the obstruction is not known and taken as none.
        spacing_mm, asked_mm: from the corrector's shoulder to the sensor, as the train adds up and as asked.
        sensor_px: of the camera.
    """

    light: Light | None = None
    missing: tuple[Missing, ...] = ()
    away_um: float | None = None
    motor: Motor | None = None
    step_um: float | None = None
    steps: int | None = None
    zone_um: float | None = None
    no_obstruction: tuple[Missing, ...] = ()
    spacing_mm: float | None = None
    asked_mm: float | None = None
    sensor_px: tuple[int, int] | None = None


def plan_frames(case: Case) -> FramePlan:
    """The frames that a rig's tilt and field are measured by. Raises OutOfRangeError for figures beyond
    formulas.
    """
    spacing, camera = case.spacing, case.train.camera
    distances = (None, None) if spacing is None or spacing.free else (spacing.actual_mm, spacing.asked_mm)
    sensor = None
    if camera is not None and camera.part.width_px and camera.part.height_px:
        sensor = (int(camera.part.width_px), int(camera.part.height_px))
    telescope = None if lacking_for_stars(case) else telescope_of(case)
    if telescope is None:
        missing = lacking_for_stars(case) or (
            (lacks(case.train.tube, "focal_length_mm"),) if case.train.tube else ()
        )
        if camera is not None and camera.part.sensor_mm is None:
            missing = (*missing, lacks_sensor(camera))
        return FramePlan(missing=missing, spacing_mm=distances[0], asked_mm=distances[1], sensor_px=sensor)
    rules = case.rig.rules
    focusing = work_focusing(case, telescope, rules.seeing_arcsec, rules.guiding_arcsec)
    light = Light(
        focal_ratio=telescope.ratio,
        obstruction=telescope.obstruction,
        pixel_um=telescope.pixel_um,
        wave_nm=sum(nm for nm, _ in telescope.band) / len(telescope.band),
    )
    away = DISC_PX * light.focal_ratio * light.pixel_um
    motor = min(focusing.motors, key=lambda one: one.step_mm, default=None)
    step = None if motor is None else 1000.0 * motor.step_mm
    return FramePlan(
        light=light,
        away_um=away,
        motor=motor,
        step_um=step,
        steps=None if step is None else max(1, round(away / step)),
        zone_um=1000.0 * focusing.zone_mm,
        no_obstruction=telescope.missing_obstruction,
        spacing_mm=distances[0],
        asked_mm=distances[1],
        sensor_px=sensor,
    )
