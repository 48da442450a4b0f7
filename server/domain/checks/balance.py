"""Does the loaded tube balance where the saddle clamps it, and do the weights at hand balance it all?"""

from __future__ import annotations

from server.domain.checks.counterweights import judge_bar
from server.domain.checks.payload import mass_inputs
from server.domain.findings import Figure, Weight
from server.domain.load.bodies import work_balance
from server.domain.load.sheet import BalanceSheet, two_digits
from server.domain.measure import Measure
from server.domain.missing import lacks, wants
from server.domain.parts import CataloguedPart, PlateAndRings
from server.domain.said import Said, said
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import Case, amount, not_known
from server.domain.workings.loads import loads_of

CLOSE_MM = 5.0
"""Nearer than this to the clamp's middle counts as balanced. A choice of ours, no source."""
DOUBT_MM = 20.0
"""A measured balance point that is farther than this from the worked one is doubted. A choice of ours, no
source."""


def check_balance(case: Case) -> tuple[Verdict, ...]:
    """Judge balance along the dovetail, across the tube, and about the polar axis.

    Silent until the plan of the load says anything of it: balance point, clamp, height, place on the tube.
    """
    plan = case.rig.load
    if not plan.spots and plan.balance_mm is plan.clamp_mm is plan.tube_above_saddle_mm is None:
        return ()
    sheet = work_balance(case)
    found: list[Verdict] = []
    if sheet.missing:
        says = said("enter", missing=sheet.missing)
        found.append(not_known("balance.along_unknown", sheet.missing, says))
    elif sheet.centre_mm is not None:
        if sheet.off_mm is not None and sheet.clamp_mm is not None:
            found.append(_along(case, sheet, sheet.centre_mm, sheet.clamp_mm, sheet.off_mm))
        else:
            found.append(_where(case, sheet, sheet.centre_mm))
    if sheet.aside_kg is not None:
        found.append(_across(case, sheet, sheet.aside_kg))
    if sheet.bar is not None:
        found.append(judge_bar(case, sheet, sheet.bar))
    return tuple(found)


def _centre_inputs(case: Case, sheet: BalanceSheet, centre_mm: float) -> list[Given]:
    """The balance point, and what the worked one comes from where that is used or compared."""
    inputs: list[Given] = [
        Given(label="balance point", amount=amount(centre_mm, "length", 1), basis=_basis(sheet))
    ]
    if sheet.centre_basis == "measured" and sheet.worked_mm is None:
        return inputs
    if sheet.centre_basis == "measured":
        inputs.append(
            Given(
                label="the same by the places of the parts",
                amount=amount(sheet.worked_mm or 0.0, "length", 1),
                basis="worked out",
            )
        )
    inputs += [
        Given(said("balance.place_of", name=body.name), amount(body.along_mm, "length", 1), body.basis)
        for body in sheet.bodies
    ]
    return [*inputs, *mass_inputs(loads_of(case))]


def _doubt(sheet: BalanceSheet) -> Said | None:
    """Where a measured balance point is far from the worked one."""
    if sheet.centre_basis != "measured" or sheet.centre_mm is None or sheet.worked_mm is None:
        return None
    apart_mm = abs(sheet.centre_mm - sheet.worked_mm)
    if apart_mm <= DOUBT_MM:
        return None
    worked = amount(sheet.worked_mm, "length", 0)
    return said("balance.doubt", worked=worked, apart=amount(apart_mm, "length", 0))


def _along(case: Case, sheet: BalanceSheet, centre_mm: float, clamp_mm: float, off_mm: float) -> Verdict:
    off = amount(abs(off_mm), "length", 0)
    inputs = _centre_inputs(case, sheet, centre_mm)
    clamp = amount(clamp_mm, "length", 1)
    inputs.insert(1, Given("middle of the clamp", clamp, "typed", "the plan of the load"))
    near = abs(off_mm) <= CLOSE_MM
    weight: Weight
    weight, code = ("sound", "balance.along") if near else ("watch", "balance.along_off")
    centre = amount(centre_mm, "length", 0)
    facts = {"behind": off_mm > 0, "measured": sheet.centre_basis == "measured"}
    says = [said(code, centre=centre, off=off, **facts)]
    remedies: list[Advice] = []
    if not near:
        item, plate = _plate(case)
        slide = "saddle"
        if item is not None and plate is not None:
            long = amount(plate.nominal, "length", 0)
            inputs.append(Given("plate's length", long, item.part.basis_of(plate), item.name))
            if abs(off_mm) > plate.nominal / 2:
                code = "balance.plate_short"
                slide = "rings" if abs(off_mm) > plate.nominal else "both"
                says.append(said(code, whole=slide == "rings", plate=long))
        remedies.append(Advice((said("balance.slide", forwards=off_mm > 0, off=off, how=slide),)))
    doubt = _doubt(sheet)
    if doubt is not None:
        weight, code = "watch", "balance.doubt" if near else code
        says.append(doubt)
        remedies.insert(0, Advice((said("balance.measure_again"),)))
    return Verdict(
        code=code,
        weight=weight,
        says=tuple(says),
        figure=Figure(label="off the clamp", amount=off),
        remedies=tuple(remedies),
        inputs=tuple(inputs),
        working="balance.clamped",
    )


def _plate(case: Case) -> tuple[CataloguedPart | None, Measure | None]:
    """The plate that the saddle clamps, and its length; None where there is none or nobody gave it."""
    for gear in case.rig.gear:
        if isinstance(gear.item.part, PlateAndRings) and gear.item.part.plate_length_mm is not None:
            return gear.item, gear.item.part.plate_length_mm
    return None, None


def _where(case: Case, sheet: BalanceSheet, centre_mm: float) -> Verdict:
    """Nobody has said where the saddle clamps: where it has to."""
    centre, doubt = amount(centre_mm, "length", 0), _doubt(sheet)
    says = said("balance.clamp_at", centre=centre, measured=sheet.centre_basis == "measured")
    return Verdict(
        code="balance.clamp_at" if doubt is None else "balance.doubt",
        weight="unknown" if doubt is None else "watch",
        says=(says,) if doubt is None else (says, doubt),
        figure=Figure(label="balance point from the front", amount=centre),
        remedies=() if doubt is None else (Advice((said("balance.measure_again"),)),),
        inputs=tuple(_centre_inputs(case, sheet, centre_mm)),
        missing=(wants("clamp"),),
        working="balance.along",
    )


def _across(case: Case, sheet: BalanceSheet, aside_kg: float) -> Verdict:
    """A train at the tube's side: the third direction, which no slide along the dovetail balances."""
    tube = case.train.tube
    turn = said("balance.turn_tube")
    if sheet.aside_mm is None or sheet.aside_nm is None:
        what = wants("tube_width") if tube is None else lacks(tube, "outer_diameter_mm")
        unsaid = said("balance.across_unknown", tube=tube, missing=what)
        return not_known("balance.across_unknown", (what,), unsaid, turn, working="balance.along")
    aside = amount(sheet.aside_mm, "length", 0)
    near = sheet.aside_mm <= CLOSE_MM
    inputs: list[Given] = [
        Given(said("balance.from_axis", name=body.name), amount(body.aside_mm or 0.0, "length", 0), "assumed")
        for body in sheet.bodies
        if body.aside_mm != 0.0
    ]
    wide = None if tube is None else tube.part.outer_diameter_mm
    inputs.append(
        Given(
            said("balance.half_width", tube=tube),
            None if wide is None else amount(wide.nominal / 2, "length", 0),
            "assumed" if wide is None or tube is None else tube.part.basis_of(wide),
            note=sheet.aside_by,
        )
    )
    torque = amount(sheet.aside_nm, "torque", two_digits(sheet.aside_nm))
    return Verdict(
        code="balance.across" if near else "balance.across_off",
        weight="sound" if near else "watch",
        says=(said("balance.across", kg=amount(aside_kg, "mass", 1), aside=aside, torque=torque),),
        figure=Figure(label="off the tube's axis", amount=aside),
        remedies=() if near else (Advice((turn,)),),
        inputs=Later(lambda: (*inputs, *mass_inputs(loads_of(case)))),
        working="balance.across",
    )


def _basis(sheet: BalanceSheet) -> str:
    return "measured" if sheet.centre_basis == "measured" else "worked out"
