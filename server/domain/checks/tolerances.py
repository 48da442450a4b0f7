"""What the parts' tolerances do: the chance that the finished train fits, the shims for it, and tilt."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal
from zlib import crc32

from server.domain.checks.spacing import window_of
from server.domain.findings import Figure, Weight
from server.domain.measure import Basis, Measure
from server.domain.parts import CataloguedPart, TiltAdjuster
from server.domain.said import said
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    rule_input,
    worked_input,
)
from server.domain.workings.worked import Spacing
from server.frozen import frozen
from server.optics.tilt import summed_tilt, tilt_in_focus
from server.optics.tolerance import Spread, root_sum_square, worst_case
from server.out_of_range import OutOfRangeError

TRIALS = 3000
"""Trains made at random: the chance is then good to a hundredth (standard error below 0.01)."""
SURE = 0.95
"""The chance that counts as sure (common practice, no source)."""
SHIM_STEPS_MM = (0.1, 0.2, 0.5)
"""Shims as they are sold (common practice, no source)."""


@frozen
class Varying:
    """A length with a tolerance, and what it is of."""

    label: str
    item: CataloguedPart
    measure: Measure
    spread: Spread
    basis: Basis
    sign: Literal[1, -1]


@dataclass(frozen=True)
class Odds:
    """What the draws say of a train.

    off_mm: the errors of the finished trains at 2.5 and 97.5 % of them; chance: inside the window; shims_mm:
    what makes it sure, () where it is, None where no shims do; share: of the variance.
    """

    off_mm: tuple[float, ...]
    chance: float
    standard_error: float
    shims_mm: tuple[float, ...] | None
    share: tuple[float, ...]


@dataclass(frozen=True)
class Band:
    """Everything that the tolerance bar shows: mm from the asked place, positive too far."""

    error_mm: float
    short_mm: float
    long_mm: float
    worst: Spread
    likely: Spread
    varying: tuple[Varying, ...]
    exact: tuple[str, ...]
    odds: Odds


def check_tolerances(case: Case) -> tuple[Verdict, ...]:
    """Return the chance that the train falls inside the corrector's window, and the tilt of the sensor."""
    band = band_of(case)
    # A train far outside its window is the spacing's to speak of; no tolerance brings it in.
    hopeless = band is not None and band.odds.chance == 0.0 and not band.odds.shims_mm
    return (*(() if band is None or hopeless else (_chance(case, band),)), *_tilt(case))


def band_of(case: Case) -> Band | None:
    """The tolerances of a train against its window; None without a known error or without any tolerance."""
    return case.rig.once(Band, lambda: _band_of(case))


def _band_of(case: Case) -> Band | None:
    spacing = case.spacing
    if spacing is None or spacing.error_mm is None or spacing.free:
        return None
    corrector = spacing.corrector.part
    varying, exact = _lengths(spacing)
    if not varying:
        return None
    short, long, _ = window_of(case, corrector)
    spreads = [v.spread if v.sign > 0 else v.spread.subtracted() for v in varying]
    error = spacing.error_mm
    odds = _odds(
        tuple((v.spread, v.basis, v.sign) for v in varying),
        round(-short - error, 9),
        round(long - error, 9),
    )
    moved = Odds(
        tuple(off + error for off in odds.off_mm), odds.chance, odds.standard_error, odds.shims_mm, odds.share
    )
    return Band(
        error, short, long, worst_case(spreads), root_sum_square(spreads), tuple(varying), tuple(exact), moved
    )


def _lengths(spacing: Spacing) -> tuple[list[Varying], list[str]]:
    """Every length with a tolerance, and the names of those without one."""
    corrector = spacing.corrector.part
    added = [(length.label, length.place.item, length.measure) for length in spacing.lengths]
    if spacing.reference_mm and corrector.reference_mm is not None:
        added.append(("reference shoulder", spacing.corrector.item, corrector.reference_mm))
    found: list[Varying] = []
    exact: list[str] = []
    for label, item, measure in added:
        if measure.plus or measure.minus:
            spread = Spread(measure.plus or 0.0, measure.minus or 0.0)
            found.append(Varying(label, item, measure, spread, item.part.basis_of(measure), 1))
        elif measure.plus is None and measure.minus is None:
            exact.append(item.name)
    for glass in spacing.glass:
        measure = glass.thickness
        if measure.plus or measure.minus:
            share = glass.shift_per_mm
            spread = Spread((measure.plus or 0.0) * share, (measure.minus or 0.0) * share)
            basis = glass.item.part.basis_of(measure)
            found.append(Varying("shift by its glass", glass.item, measure, spread, basis, -1))
    return found, exact


@lru_cache(64)
def _odds(lengths: tuple[tuple[Spread, Basis, Literal[1, -1]], ...], low_mm: float, high_mm: float) -> Odds:
    """Draws a few thousand trains. The seed is of the content: the same train has the same chance always."""
    from server.optics.draws import Length, chance_inside, make_trains, shims_needed

    trains = make_trains([Length(*one) for one in lengths], seed=crc32(repr(lengths).encode()), trials=TRIALS)
    chance = chance_inside(trains, low_mm, high_mm)
    shims: tuple[float, ...] | None = ()
    if chance.value < SURE:
        needed = shims_needed(trains, low_mm, high_mm, SURE, steps_mm=SHIM_STEPS_MM)
        shims = None if needed is None else needed.thicknesses_mm
    off_mm = trains.off_mm
    at = [off_mm[round(p * (TRIALS - 1))] for p in (0.025, 0.975)]
    return Odds(tuple(float(one) for one in at), chance.value, chance.standard_error, shims, trains.share)


def _chance(case: Case, band: Band) -> Verdict:
    spacing = case.spacing
    assert spacing is not None
    odds = band.odds
    first = max(range(len(odds.share)), key=odds.share.__getitem__)
    main = band.varying[first]
    amounts = {
        "chance": amount(odds.chance, "fraction"),
        "share": amount(odds.share[first], "fraction"),
        "worst": amount(max(band.worst.plus_mm, band.worst.minus_mm), "length", 2),
        "likely": amount(max(band.likely.plus_mm, band.likely.minus_mm), "length", 2),
        "from": amount(odds.off_mm[0], "length", 2),
        "to": amount(odds.off_mm[-1], "length", 2),
    }
    says = [said("tolerances.chance", corrector=spacing.corrector, **amounts)]
    if len(band.varying) > 1:
        says.append(said("tolerances.most", part=main.item, share=amounts["share"]))
    remedies: list[Advice] = []
    weight: Weight
    outside = not (-band.short_mm <= band.error_mm <= band.long_mm)
    if odds.chance >= SURE:
        weight, code = "sound", "tolerances.sound"
    else:
        weight, code = "watch", "tolerances.outside" if outside else "tolerances.may_leave"
        if odds.shims_mm:
            shims = [amount(thickness, "length", 2) for thickness in odds.shims_mm]
            remedies.append(Advice((said("tolerances.keep_shims", shims=shims),)))
        elif odds.shims_mm is None:
            remedies.append(Advice((said("tolerances.shorter_first"),)))
        remedies.append(Advice((said("tolerances.measure", part=main.item, share=amounts["share"]),)))
    if band.exact:
        some = list(dict.fromkeys(band.exact))
        few = [*some] if len(some) <= 3 else [*some[:2], said("more", count=len(some) - 2)]
        says.append(said("tolerances.exact", parts=few))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=Figure(
            label="chance inside the window",
            amount=amounts["chance"],
            uncertainty=2 * odds.standard_error or 3.0 / TRIALS,
        ),
        remedies=tuple(remedies),
        inputs=Later(_chance_inputs, band),
    )


def _chance_inputs(band: Band) -> list[Given]:
    odds = band.odds
    inputs: list[Given] = []
    for varying, share in zip(band.varying, odds.share, strict=True):
        inputs.append(input_of(varying.label, varying.item, varying.measure, "length", 2))
        inputs.append(worked_input("its share of the spread", share, "fraction"))
    inputs += [
        worked_input("error of the nominal train", band.error_mm, "length", 2),
        worked_input("window, too short by", band.short_mm, "length", 2),
        worked_input("window, too long by", band.long_mm, "length", 2),
        worked_input("tolerances, worst case", max(band.worst.plus_mm, band.worst.minus_mm), "length", 2),
        worked_input("tolerances, likely", max(band.likely.plus_mm, band.likely.minus_mm), "length", 2),
        worked_input("19 of 20 trains from", odds.off_mm[0], "length", 2),
        worked_input("19 of 20 trains to", odds.off_mm[-1], "length", 2),
        worked_input("trains drawn", TRIALS, "count", 0),
    ]
    return inputs


def _tilt(case: Case) -> tuple[Verdict, ...]:
    """The tilt of the sensor from joints that are not square, silent while a figure is unknown."""
    train, rules = case.train, case.rig.rules
    camera, ratio = train.camera, case.optics.focal_ratio
    if camera is None or ratio is None or rules.joint_arcmin == 0.0:
        return ()
    size = camera.part.sensor_mm
    first = train.corrector or train.tube
    if size is None or first is None:
        return ()
    behind = train.index_of(first)
    joints = [j for j in train.joints if train.index_of(j.upper) >= behind and j.mating.holds]
    if not joints:
        return ()
    tilt = summed_tilt([rules.joint_arcmin] * len(joints))
    try:
        likely = tilt_in_focus(min(tilt.likely_arcmin, 600.0), size[0], size[1], ratio, rules.wavelength_nm)
        worst = tilt_in_focus(min(tilt.worst_arcmin, 600.0), size[0], size[1], ratio, rules.wavelength_nm)
    except OutOfRangeError:
        return ()
    plate = bool(camera.part.tilt_plate) or any(isinstance(p.part, TiltAdjuster) for p in train)
    amounts = {
        "across": amount(likely.across_um / 1000.0, "small_length"),
        "corner": amount(likely.corner_um / 1000.0, "small_length"),
        "worst": amount(worst.corner_um / 1000.0, "small_length"),
        "depth": amount(likely.allowed_um / 1000.0, "small_length"),
    }
    code = "tolerances.tilt" if likely.within else "tolerances.tilted"
    says = [said(code, joints=len(joints), **amounts)]
    if likely.within and not worst.within:
        says.append(said("tolerances.one_way", worst=amounts["worst"]))
    remedies = () if likely.within else (Advice((said("tolerances.square", plate=plate),)),)
    return (
        Verdict(
            code=code,
            weight="sound" if likely.within else "watch",
            says=tuple(says),
            figure=Figure(label="corner from focus, likely", amount=amounts["corner"]),
            remedies=remedies,
            inputs=Later(
                lambda: (
                    rule_input(case, "joint_arcmin", "one joint out of square, arcminutes", "count"),
                    worked_input("joints behind the optics", len(joints), "count", 0),
                    worked_input("tilt, likely, arcminutes", tilt.likely_arcmin, "count", 1),
                    worked_input("tilt, worst, arcminutes", tilt.worst_arcmin, "count", 1),
                    worked_input("sensor width", size[0], "length", 2),
                    worked_input("sensor height", size[1], "length", 2),
                    worked_input("focal ratio at the sensor", ratio, "ratio"),
                    rule_input(case, "wavelength_nm", "wavelength", "wavelength"),
                )
            ),
        ),
    )
