"""The off-axis guider: is a star there, and lit? Whether it is in focus is `guide_branch`'s question."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from server.domain.findings import Figure, Weight
from server.domain.measure import Measure
from server.domain.missing import lacks_sensor
from server.domain.parts import Camera, CataloguedPart, GuideCamera, GuideScope
from server.domain.said import Said, said
from server.domain.train import Place
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    rule_input,
    worked_input,
)
from server.domain.workings.lit import lights_of, share_alone
from server.domain.workings.prism import before_the_corrector, guider_in
from server.optics.imaging import pixel_scale_arcsec
from server.sky import guide_stars

EXPOSURE_S, WANTED_RATIO, SKY_MAGNITUDE = 2.0, 10.0, 20.0
"""A usual guide exposure, the least signal over noise, and a suburban sky (common practice, no source)."""
USUAL_READ_NOISE_E, USUAL_EFFICIENCY = 3.0, 0.6
"""Where the guide camera's own are not entered (assumed)."""
LOSSES = 0.7
"""Air, optics and prism pass about this much (assumed, no source)."""
FAINTEST, BRIGHTEST = 16.0, 8.0
"""The counts hold between these magnitudes."""
LIKELY, UNLIKELY = 0.9, 0.5
SHOWN = 0.95
"""A smaller loss is of no matter to a guide star."""
DARKEST = 0.01
DIM = 0.5
"""A guide star that the tube lights with less of its light is three quarters of a magnitude fainter."""
COARSEST = 8.0
"""Guide pixels coarser than so many of the main ones guide badly (common practice, no source)."""


def check_guider(case: Case) -> tuple[Verdict, ...]:
    """Judge the guide camera behind an off-axis guider; silent without such a guider and a camera."""
    place = guider_in(case)
    if place is None or case.train.camera is None:
        return ()
    if before_the_corrector(case, place):
        return (_before(case, place),)
    guide = case.rig.guide_camera
    if guide is None:
        # That one is wanted is said where its focus is judged.
        return ()
    if not case.rig.branch and any(isinstance(g.item.part, GuideScope) for g in case.rig.gear):
        return ()  # It looks through the guide scope.
    return _stars(case, place, guide)


def _lit(case: Case, place: Place) -> tuple[tuple[float, float], Said | None, float] | None:
    """The least and most of its light that a star in the middle of the prism gets, what takes most of it, and
    how far from the middle of the image it would fall, mm; None while that is not known.
    """
    found: list[tuple[float, Said | None, float]] = []
    for lit in lights_of(case):
        prism = lit.prism
        middle = 0.0 if prism is None else abs(lit.beam.middle(prism.far_mm))
        if prism is None or middle <= 0.0:
            return None
        height = (prism.edge_mm + prism.size_mm / 2.0) / middle
        # What stands behind the prism is not in its star's way.
        before = [
            (share_alone(one, at, lit.beam, height), one.says)
            for one, at in zip(lit.openings, lit.at_mm, strict=True)
            if at > prism.far_mm and one.place.key != place.key
        ]
        light, cuts = min(before, key=lambda one: one[0], default=(1.0, None))
        found.append((light, cuts, height))
    if not found:
        return None
    worst = min(found, key=lambda one: (one[0], one[2]))
    return (worst[0], max(one[0] for one in found)), worst[1], worst[2]


def _before(case: Case, place: Place) -> Verdict:
    corrector = case.train.corrector
    assert corrector is not None
    both = {"guider": place, "corrector": corrector}
    return Verdict(
        code="guider.before",
        weight="watch",
        says=(said("guider.before", **both),),
        remedies=(Advice((said("guider.put_behind", **both),)),),
        place=place.key,
    )


@dataclass(frozen=True)
class _Watch:
    """What the guide camera sees of the sky beside the prism, and the chance of a star there.

    Attributes:
        focal_mm, size_mm, scale: focal length behind all glass, the sensor's sides, arcsec a pixel.
        noise, noise_basis: its read noise, electrons, and where that is from.
        lit: see `_lit`; light: the share of the star's light that is counted.
        faintest: the faintest star that it follows, magnitudes.
        chance: that one of them is on the sensor.
    """

    focal_mm: float
    size_mm: tuple[float, float]
    scale: float
    noise: float
    noise_basis: str
    lit: tuple[tuple[float, float], Said | None, float] | None
    light: float
    faintest: float
    chance: guide_stars.StarChance


def _stars(case: Case, place: Place, guide: CataloguedPart[GuideCamera]) -> tuple[Verdict, ...]:
    """The chance of a guide star, how coarse the guide pixels are, and the light that the tube leaves it."""
    missing = list(case.optics.missing)
    if guide.part.sensor_mm is None:
        missing.append(lacks_sensor(guide))
    watch = None if missing else _watch(case, place, guide.part)
    if watch is None:
        says = said("guider.stars_unknown", camera=guide, missing=missing)
        return (not_known("guider.stars_unknown", tuple(missing), says, place=place.key),)
    chance, lit = watch.chance, watch.lit
    assert case.train.camera is not None
    ratio = _against_main(case.train.camera, watch)
    amounts = {
        "width": amount(_arcmin(watch.size_mm[0], watch.focal_mm), "count", 1),
        "height": amount(_arcmin(watch.size_mm[1], watch.focal_mm), "count", 1),
        "scale": amount(watch.scale, "scale"),
        "faintest": amount(watch.faintest, "count", 1),
        "latitude": amount(case.rig.rules.galactic_latitude_deg, "angle", 0),
        "chance": amount(chance.chance, "fraction"),
        "low": amount(chance.low, "fraction"),
        "high": amount(chance.high, "fraction"),
    }
    told = [said("guider.stars", camera=guide, sure=chance.low > 0.995, **amounts)]
    remedies: tuple[Advice, ...] = ()
    weight: Weight = "sound"
    code = "guider.stars"
    if chance.chance < LIKELY:
        weight, code = "watch", "guider.few_stars"
        told.append(said(code, turn=chance.chance >= UNLIKELY))
        remedies = (Advice((said("guider.longer"),)),)
    if ratio is not None:
        coarse = ratio > COARSEST
        told.append(said("guider.coarse", coarse=coarse, ratio=amount(ratio, "times", 1)))
        if coarse:
            weight = "watch"
            code = "guider.coarse" if code == "guider.stars" else code
    if lit is not None and lit[1] is not None and lit[0][1] < SHOWN:
        dark, bright = amount(lit[0][0], "fraction"), amount(lit[0][1], "fraction")
        same = lit[0][1] - lit[0][0] < 0.01
        told.append(said("guider.dim", cuts=lit[1], same=same, dark=dark, light=bright))
        if lit[0][1] < DIM:
            weight, code = "watch", "guider.dim"
            remedies = (Advice((said("guider.wider", cuts=lit[1]),)), *remedies)
    return (
        Verdict(
            code=code,
            weight=weight,
            says=tuple(told),
            figure=Figure(
                label="chance of a guide star",
                amount=amounts["chance"],
                uncertainty=max(chance.high - chance.chance, chance.chance - chance.low) or None,
            ),
            remedies=remedies,
            inputs=Later(_inputs, case, guide, watch),
            place=place.key,
        ),
    )


def _watch(case: Case, place: Place, camera: GuideCamera) -> _Watch | None:
    """What it sees; None where a figure that this needs is not known."""
    optics, rules = case.optics, case.rig.rules
    focal, aperture, size = optics.focal_length_mm, optics.aperture_mm, camera.sensor_mm
    if focal is None or aperture is None or size is None or camera.pixel_um is None:
        return None
    scale = pixel_scale_arcsec(camera.pixel_um.nominal, focal)
    noise, noise_basis = _read_noise(camera)
    peak = camera.quantum_efficiency
    efficiency = USUAL_EFFICIENCY if peak is None else peak.nominal
    # The star's light is taken from a disc as wide as twice the seeing, one pixel at least.
    pixels = max(1.0, pi * (rules.seeing_arcsec / scale) ** 2)
    lit = _lit(case, place)
    light = 1.0 if lit is None else max(DARKEST, sum(lit[0]) / 2.0)
    watching = guide_stars.GuideCamera(
        aperture, optics.obstruction or 0.0, efficiency * LOSSES * light, scale, noise, _dark(camera), pixels
    )
    faintest = guide_stars.faintest_magnitude(watching, SKY_MAGNITUDE, EXPOSURE_S, WANTED_RATIO)
    counted = min(FAINTEST, faintest)
    field = guide_stars.field_square_degrees(size[0], size[1], focal)
    density, error = 0.0, (1.0, 1.0)
    if counted >= BRIGHTEST:
        density = guide_stars.stars_per_square_degree(counted, rules.galactic_latitude_deg)
        error = guide_stars.count_error(counted, rules.galactic_latitude_deg)
    chance = guide_stars.chance_of_a_star(density, min(field, 40_000.0), error)
    return _Watch(focal, size, scale, noise, noise_basis, lit, light, faintest, chance)


def _inputs(case: Case, guide: CataloguedPart[GuideCamera], watch: _Watch) -> tuple[Given, ...]:
    noise, lit = amount(watch.noise, "count", 1), watch.lit
    return (
        worked_input("focal length behind all glass", watch.focal_mm, "length", 0),
        input_of("pixel size", guide, guide.part.pixel_um, "pixel"),
        worked_input("guide sensor, width", watch.size_mm[0], "length", 2),
        worked_input("guide sensor, height", watch.size_mm[1], "length", 2),
        Given(label="read noise, electrons", amount=noise, basis=watch.noise_basis, of=guide.name),
        _efficiency_input(guide, guide.part.quantum_efficiency),
        *(() if lit is None else (worked_input("guide star off the image's middle", lit[2], "length", 1),)),
        worked_input("light that the train lets through to it", watch.light, "fraction"),
        Given(label="air, optics and prism pass", amount=amount(LOSSES, "fraction"), basis="assumed"),
        Given(label="exposure, s", amount=amount(EXPOSURE_S, "count", 0), basis="assumed"),
        Given(label="signal over noise asked for", amount=amount(WANTED_RATIO, "count", 0), basis="assumed"),
        Given(label="sky, magnitudes", amount=amount(SKY_MAGNITUDE, "count", 0), basis="assumed"),
        rule_input(case, "seeing_arcsec", "seeing, full width", "arcsec"),
        rule_input(case, "galactic_latitude_deg", "galactic latitude", "angle"),
        worked_input("stars to be expected on the sensor", watch.chance.expected, "count", 2),
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


def _efficiency_input(guide: CataloguedPart, peak: Measure | None) -> Given:
    if peak is not None:
        return input_of("quantum efficiency", guide, peak, "fraction")
    return Given(
        label="quantum efficiency",
        amount=amount(USUAL_EFFICIENCY, "fraction"),
        basis="assumed",
        of=guide.name,
    )


def _against_main(camera: Place[Camera], watch: _Watch) -> float | None:
    pixel = camera.part.pixel_um
    return None if pixel is None else watch.scale / pixel_scale_arcsec(pixel.nominal, watch.focal_mm)
