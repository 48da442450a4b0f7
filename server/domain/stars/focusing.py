"""How finely a rig must be focused, whether its motor can, and for how long a focus holds in the cold."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.findings import Amount, Figure, Weight
from server.domain.measure import nominal
from server.domain.missing import lacks
from server.domain.parts import CataloguedPart, Focuser, OpticalTube
from server.domain.said import Missing, Said, said
from server.domain.stars.telescope import Telescope
from server.domain.train import Place
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    rule_input,
    worked_input,
)
from server.domain.workings.drift import drift_over, magnified_behind
from server.domain.workings.mirrors import TWO_MIRRORS
from server.optics.focus import depth_of_focus_mm
from server.optics.focus_zone import motor_steps, refocus_hours, seeing_depth_mm
from server.optics.seeing import expected_fwhm_arcsec

NIGHT_HOURS = 8.0
"""The night over which the rules' fall of temperature is spread, where the owner names no length of it
(common practice, no source).
"""
GROWTH = 0.1
"""By this share of its width a star may grow before it counts as out of focus (common practice, no
source).
"""
STEPS_LEAST = 2.0
"""Steps that a motor should find within the zone of focus (common practice, no source)."""
HOURS_LEAST = 0.5
"""A focus that holds for less eats up the night (a choice of ours, no source)."""


@dataclass(frozen=True)
class Motor:
    """A focus motor.

    Attributes:
        item: the part.
        step_mm: how far one step moves the focus at the sensor.
        steps: how many of them the zone of focus holds, from one end to the other.
    """

    item: CataloguedPart
    step_mm: float
    steps: float


@dataclass(frozen=True)
class Focusing:
    """How a rig is focused. Lengths mm, at the sensor, to either side of the focus.

    Attributes:
        wave_mm, air_mm: the depth by the wave, and until the star in this air has grown by `GROWTH`.
        star_arcsec: that star's width in focus: air, diffraction, guiding and pixel.
        motors: those whose step is known.
        drift_mm_per_k: how far the focus moves out (away from the sky) for each degree that the air cools;
            None while unknown.
        hours: for how long a focus holds; infinite where it does not move, None while not known.
        fall_k, night_hours: the fall of temperature and the night it is spread over.
        odd: the tube is of a material that no table here knows.
        inputs, missing: of the working, and what to enter.
    """

    wave_mm: float
    air_mm: float
    star_arcsec: float
    motors: tuple[Motor, ...]
    drift_mm_per_k: float | None
    hours: float | None
    fall_k: float
    night_hours: float
    odd: bool
    inputs: tuple[Given, ...]
    missing: tuple[Missing, ...]

    @property
    def zone_mm(self) -> float:
        """The smaller of the two depths."""
        return min(self.wave_mm, self.air_mm)

    @property
    def coarse(self) -> tuple[Motor, ...]:
        """The motors that step over the zone of focus."""
        return tuple(motor for motor in self.motors if motor.steps < STEPS_LEAST)

    @property
    def lasts(self) -> bool:
        """Whether one focus holds the whole night."""
        return self.hours is not None and self.hours >= self.night_hours

    @property
    def short(self) -> bool:
        """Whether a focus holds for so short a time that it eats up the night."""
        return self.hours is not None and not self.lasts and self.hours < HOURS_LEAST


def work_focusing(case: Case, telescope: Telescope, seeing_arcsec: float, guiding_arcsec: float) -> Focusing:
    """Work out zone, steps and drift in an air. Raises ValueError for figures that no formula holds for."""
    place = case.train.tube
    assert place is not None
    tube = place.part
    mean_nm = sum(nm for nm, _ in telescope.band) / len(telescope.band)
    star = expected_fwhm_arcsec(
        seeing_arcsec,
        telescope.aperture_mm,
        mean_nm,
        telescope.pixel_um / telescope.um_per_arcsec,
        telescope.obstruction,
        guiding_arcsec,
    )
    wave = depth_of_focus_mm(telescope.ratio, mean_nm)
    air = seeing_depth_mm(telescope.ratio, star * telescope.um_per_arcsec, GROWTH, telescope.obstruction)
    zone = min(wave, air)
    inputs: list[Given] = [
        worked_input("focal ratio at the sensor", telescope.ratio, "ratio"),
        worked_input("wavelength, middle of the band", mean_nm, "wavelength", 0),
        worked_input("linear obstruction", telescope.obstruction, "fraction"),
        worked_input("width of the star in focus: air, diffraction, guiding and pixel", star, "arcsec", 2),
    ]
    motors = []
    for one, step in _steps(case, place, tube):
        magnified = magnified_behind(case, one)
        if magnified is None:
            continue
        motors.append(Motor(one.item, step / 1000.0 * magnified, motor_steps(zone, step * magnified)))
        moves = amount(step / 1000.0, "small_length")
        inputs.append(Given(said("stars.step", motor=one), moves, "worked out"))
        inputs.append(worked_input("  the same at the sensor", step / 1000.0 * magnified, "small_length"))
    fall, typed = case.rig.rules.night_fall_k, case.rig.load.night_hours
    night = NIGHT_HOURS if typed is None else typed
    drift = drift_over(case, 1.0)
    assert drift is not None
    hours = None
    if drift.sensor_mm is not None:
        hours = refocus_hours(zone, drift.sensor_mm, fall / night)
        inputs += [
            *drift.inputs,
            worked_input("drift for each K, of the bare tube", drift.mm or 0.0, "small_length"),
            worked_input("  the same at the sensor", drift.sensor_mm, "small_length"),
            rule_input(case, "night_fall_k", "the night's fall of temperature, K", "count"),
            Given(
                label="the night's length, hours, over which it falls evenly",
                amount=amount(night, "count", 1),
                basis="assumed" if typed is None else "typed",
            ),
            Given(
                "change of the lenses or mirrors themselves in the cold",
                None,
                "assumed",
                note=said("stars.cold_glass"),
            ),
        ]
    missing = list(telescope.missing_scale)
    if fall > 0.0 and not drift.odd:
        missing += drift.missing
        if drift.mm is not None and tube.design not in TWO_MIRRORS and tube.tube_length_mm is None:
            missing.append(lacks(place, "tube_length_mm", "tube_length_as_focal"))
    return Focusing(
        wave,
        air,
        star,
        tuple(motors),
        drift.sensor_mm,
        hours,
        fall,
        night,
        drift.odd,
        tuple(inputs),
        tuple(missing),
    )


def judge_focusing(focusing: Focusing) -> Verdict:
    """Say the zone, the motors' steps in it, and when to refocus."""
    zone = amount(focusing.zone_mm, "small_length")
    says = [
        said(
            "stars.zone",
            zone=zone,
            by_wave=focusing.wave_mm <= focusing.air_mm,
            wave=amount(focusing.wave_mm, "small_length"),
            air=amount(focusing.air_mm, "small_length"),
            growth=amount(GROWTH, "fraction"),
            star=amount(focusing.star_arcsec, "arcsec", 1),
        ),
        *_on_motors(focusing),
        *_on_the_night(focusing),
    ]
    weight: Weight = "sound"
    code = "stars.focus"
    if focusing.coarse:
        weight, code = "watch", "stars.focus_coarse"
    elif focusing.short:
        weight, code = "watch", "stars.focus_short"
    elif focusing.missing:
        weight, code = "unknown", "stars.focus_unknown"
    elif focusing.odd and focusing.fall_k > 0.0:
        # Nothing can be entered that would tell it: no "not known yet", and nothing to call sound.
        weight, code = "watch", "stars.focus_unjudged"
    if focusing.missing:
        says.append(said("enter", missing=focusing.missing))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=Figure(label="zone of focus, to either side", amount=zone),
        remedies=_remedies(focusing),
        inputs=focusing.inputs,
        missing=focusing.missing,
        working="stars.focus",
    )


def _on_motors(focusing: Focusing) -> list[Said]:
    if not focusing.motors:
        return [said("stars.no_motor")]
    return [
        said(
            "stars.motor",
            motor=motor.item,
            steps=amount(motor.steps, "count", 1),
            coarse=motor.steps < STEPS_LEAST,
        )
        for motor in focusing.motors
    ]


def _on_the_night(focusing: Focusing) -> list[Said]:
    """What is said of drift and refocusing; nothing where only something missing stands in its way."""
    if focusing.fall_k <= 0.0:
        return [said("stars.no_cooling")]
    if focusing.odd and focusing.drift_mm_per_k is None:
        return [said("stars.odd")]
    if focusing.drift_mm_per_k is None or focusing.hours is None:
        return []
    facts: dict[str, Amount | str] = {
        "drift": amount(abs(focusing.drift_mm_per_k), "small_length"),
        "fall": amount(focusing.fall_k, "count", 1),
        "night": amount(focusing.night_hours, "count", 1),
        "holds": "night" if focusing.lasts else "minutes" if focusing.hours < 2.0 else "hours",
    }
    if facts["holds"] == "minutes":
        facts["minutes"] = amount(focusing.hours * 60.0, "count", 0)
    elif facts["holds"] == "hours":
        facts["hours"] = amount(focusing.hours, "count", 1)
    return [said("stars.night", **facts)]


def _remedies(focusing: Focusing) -> tuple[Advice, ...]:
    found = []
    if focusing.coarse:
        found.append(said("stars.gear_down"))
    if focusing.short and focusing.drift_mm_per_k:
        kelvin = amount(focusing.zone_mm / abs(focusing.drift_mm_per_k), "count", 1)
        found.append(said("stars.follow", kelvin=kelvin))
    if focusing.odd and focusing.drift_mm_per_k is None and focusing.fall_k > 0.0:
        found.append(said("stars.note"))
    return tuple(Advice((one,)) for one in found)


def _steps(case: Case, place: Place, tube: OpticalTube) -> list[tuple[Place, float]]:
    found = [(place, nominal(tube.focuser_step_um))]
    found += [(one, nominal(one.part.step_um)) for one in case.train if isinstance(one.part, Focuser)]
    return [(one, step) for one, step in found if step]
