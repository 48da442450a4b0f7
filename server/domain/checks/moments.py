"""What the load's mass alone does not say: arm, torque and moments of inertia."""

from __future__ import annotations

from dataclasses import replace

from server.domain.findings import Amount, AmountDimension
from server.domain.guarded import worked_or_none
from server.domain.load.bodies import bodies_of, work_balance
from server.domain.load.sheet import BalanceSheet, two_digits
from server.domain.missing import lacks, wants
from server.domain.parts import Mount
from server.domain.said import Missing, Said, said
from server.domain.verdicts import Given, Later, Verdict
from server.domain.workings.case import Case, amount


def with_moments(case: Case, found: Verdict) -> Verdict:
    """A finding of the load with the load's arm, torque and inertia where they are known.

    What is not known of them stands in the working with what to enter. They never change the verdict.
    """
    sheet = worked_or_none(said("work.balance"), lambda: work_balance(case))
    if sheet is None:  # The check of the balance says why.
        return found
    return replace(
        found,
        says=(*found.says, *_told(sheet)),
        inputs=Later(lambda: (*found.inputs, *_inputs(case, sheet))),
        working="payload.moments",
    )


def _told(sheet: BalanceSheet) -> tuple[Said, ...]:
    found: list[Said] = []
    if sheet.moment_arm_mm is not None:
        found.append(said("payload.arm", arm=amount(sheet.moment_arm_mm, "length", 0)))
    if sheet.imbalance_nm is not None and sheet.off_mm is not None:
        off, torque = amount(abs(sheet.off_mm), "length", 0), _two(abs(sheet.imbalance_nm), "torque")
        found.append(said("payload.clamped_off", off_balance=off, torque=torque))
    about: list[Said] = []
    for name, value in (
        ("inertia_declination", sheet.inertia_declination),
        ("inertia_polar", sheet.inertia_polar),
    ):
        if value is not None:
            about.append(said(f"payload.{name}", **{name: _two(value, "inertia")}))
    if about:
        found.append(said("payload.inertia", about=about))
    return (*found, said("payload.no_verdict")) if found else ()


def _inputs(case: Case, sheet: BalanceSheet) -> tuple[Given, ...]:
    places = list(bodies_of(case)[1])
    height = _height(case)
    above = [
        wants("above_saddle", name=body.name)
        for body in sheet.bodies
        if body.above_mm is None and body.basis == "typed"
    ]
    if case.rig.load.tube_above_saddle_mm is None:
        above.insert(0, wants("tube_above"))
    clamp = [] if sheet.clamp_mm is not None else [wants("clamp_middle")]
    balance = [] if sheet.centre_mm is not None else places
    bar = [] if sheet.bar is None else list(sheet.bar.missing)
    no_bar = sheet.bar is not None and not sheet.bar.weights
    arm = [*height, *above, *places]
    polar = [*places, *height, *above, *bar, *([wants("counterweights")] if no_bar else [])]
    return (
        _input("the load's centre from the polar axis", sheet.moment_arm_mm, arm, "length"),
        _input("torque about declination as it is clamped", sheet.imbalance_nm, [*balance, *clamp], "torque"),
        _input("moment of inertia about declination", sheet.inertia_declination, places, "inertia"),
        _input("moment of inertia about the polar axis, at most", sheet.inertia_polar, polar, "inertia"),
    )


def _height(case: Case) -> list[Missing]:
    """What to enter for the saddle's distance from the polar axis."""
    mount = case.rig.mount
    if mount is None or not isinstance(mount.part, Mount):
        return [wants("mount")]
    if mount.part.saddle_height_mm is None:
        return [lacks(mount, "saddle_height_mm", "saddle_height")]
    return []


def _two(value: float, dimension: AmountDimension) -> Amount:
    """A figure with the digits that places known to a centimetre leave it."""
    return amount(value, dimension, two_digits(value))


def _input(label: str, value: float | None, missing: list[Missing], dimension: AmountDimension) -> Given:
    if value is not None:
        shown = amount(value, "length", 0) if dimension == "length" else _two(abs(value), dimension)
        return Given(label, shown, "worked out")
    missing = list(dict.fromkeys(missing)) or [wants("masses_riding")]
    return Given(label, None, "", note=said("input.enter", missing=missing))
