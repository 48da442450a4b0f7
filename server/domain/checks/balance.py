"""Does the loaded tube balance where the saddle clamps it, and do the weights at hand balance it all?"""

from __future__ import annotations

from server.domain.checks.counterweights import judge_bar
from server.domain.checks.payload import mass_inputs
from server.domain.findings import Amount, Figure, Finding, Input, Remedy
from server.domain.load.bodies import work_balance
from server.domain.load.sheet import BalanceSheet, two_digits
from server.domain.measure import Measure
from server.domain.missing import lacks
from server.domain.parts import CataloguedPart, OpticalTube, PlateAndRings
from server.domain.reference import Missing
from server.domain.workings.case import COMMON_PRACTICE, Case, amount, listed, literal, say, unknown
from server.domain.workings.loads import loads_of

STATICS = "sum of mass x distance = 0 about the axis (statics)"
ALONG = "centre of gravity = sum of mass x place / sum of masses; torque = mass x g x distance from the clamp"
ASIDE = (
    "off the axis = sum of mass x distance at the tube's side / sum of masses; torque = mass x g x distance"
)
SOURCE = f"Statics: {STATICS}. Parts of the train are taken to balance at their middle: assumed."
CLOSE_MM = 5.0
"""Nearer than this to the clamp's middle counts as balanced. A choice of ours, no source."""
DOUBT_MM = 20.0
"""A measured balance point that is farther than this from the worked one is doubted. A choice of ours, no
source."""
UNBALANCED = "An axis that does not balance swings as soon as a clutch is loosened: hold the tube."


def check_balance(case: Case) -> tuple[Finding, ...]:
    """Judge balance along the dovetail, across the tube, and about the polar axis.

    Silent until the plan of the load says anything of it: balance point, clamp, height, place on the tube.
    """
    plan = case.rig.load
    if not plan.spots and plan.balance_mm is plan.clamp_mm is plan.tube_above_saddle_mm is None:
        return ()
    sheet = work_balance(case)
    found: list[Finding] = []
    if sheet.missing:
        words = literal(f"Not known yet: enter {listed(sheet.missing)}.")
        title = "Balance along the tube"
        found.append(unknown("balance.along_unknown", title, words, sheet.missing, source=SOURCE))
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


def _centre_inputs(case: Case, sheet: BalanceSheet, centre_mm: float) -> list[Input]:
    """The balance point, and what the worked one comes from where that is used or compared."""
    inputs = [Input(label="balance point", amount=amount(centre_mm, "length", 1), basis=_basis(sheet))]
    if sheet.centre_basis == "measured" and sheet.worked_mm is None:
        return inputs
    if sheet.centre_basis == "measured":
        inputs.append(
            Input(
                label="the same by the places of the parts",
                amount=amount(sheet.worked_mm or 0.0, "length", 1),
                basis="worked out",
            )
        )
    inputs += [
        Input(label=f"place of {body.name}", amount=amount(body.along_mm, "length", 1), basis=body.basis)
        for body in sheet.bodies
    ]
    return [*inputs, *mass_inputs(loads_of(case))]


def _doubt(sheet: BalanceSheet) -> tuple[str, dict[str, Amount], tuple[Remedy, ...]]:
    """Where a measured balance point is far from the worked one: a sentence, its amounts, what to do."""
    if sheet.centre_basis != "measured" or sheet.centre_mm is None or sheet.worked_mm is None:
        return "", {}, ()
    if abs(sheet.centre_mm - sheet.worked_mm) <= DOUBT_MM:
        return "", {}, ()
    amounts = {
        "worked": amount(sheet.worked_mm, "length", 0),
        "apart": amount(abs(sheet.centre_mm - sheet.worked_mm), "length", 0),
    }
    return (
        " By the places of its parts it would balance {worked} from its front, {apart} from what was "
        "measured: one of the two is wrong.",
        amounts,
        (
            Remedy(
                phrase=say(
                    "Measure the balance point again, from the front of the tube and with everything on it, "
                    "or mend the masses and places."
                )
            ),
        ),
    )


def _along(case: Case, sheet: BalanceSheet, centre_mm: float, clamp_mm: float, off_mm: float) -> Finding:
    amounts = {
        "centre": amount(centre_mm, "length", 0),
        "off": amount(abs(off_mm), "length", 0),
    }
    where = "behind" if off_mm > 0 else "before"
    sentence = f"The loaded tube balances {{centre}} from its front ({sheet.centre_basis}), "
    inputs = _centre_inputs(case, sheet, centre_mm)
    inputs.insert(
        1,
        Input(
            label="middle of the clamp",
            amount=amount(clamp_mm, "length", 1),
            basis="typed",
            of="the plan of the load",
        ),
    )
    near = abs(off_mm) <= CLOSE_MM
    weight, code = ("sound", "balance.along") if near else ("watch", "balance.along_off")
    remedies: tuple[Remedy, ...] = ()
    if near:
        sentence += "where the saddle clamps it."
    else:
        sentence += f"{{off}} {where} the middle of the clamp. {UNBALANCED}"
        way = "forwards" if off_mm > 0 else "backwards"
        slide = f"Slide the tube {{off}} {way} in the saddle."
        item, plate = _plate(case)
        if item is not None and plate is not None:
            inputs.append(
                Input(
                    label="plate's length",
                    amount=amount(plate.nominal, "length", 0),
                    basis=item.part.basis_of(plate),
                    of=item.name,
                )
            )
            amounts["plate"] = amount(plate.nominal, "length", 0)
            rings = f"Slide the tube {{off}} {way} in its rings, or move the plate under them."
            if abs(off_mm) > plate.nominal:
                code, slide = "balance.plate_short", rings
                sentence += " The plate is only {plate} long: the saddle cannot follow."
            elif abs(off_mm) > plate.nominal / 2:
                code = "balance.plate_short"
                sentence += (
                    " That is more than half of the plate's {plate}: see that the saddle still holds it with "
                    "its whole length."
                )
                slide = f"{slide} Or: {rings[0].lower()}{rings[1:]}"
        remedies = (Remedy(phrase=say(slide, off=amounts["off"])),)
    said, more, again = _doubt(sheet)
    if said:
        weight, code = "watch", "balance.doubt" if near else code
    return Finding(
        code=code,
        weight=weight,
        title="Balance along the tube",
        phrase=say(sentence + said, **amounts, **more),
        figure=Figure(label="off the clamp", amount=amounts["off"]),
        remedies=(*again, *remedies),
        inputs=tuple(inputs),
        formula=ALONG,
        source=SOURCE
        + f" Balanced within {CLOSE_MM:g} mm, doubted beyond {DOUBT_MM:g} mm: a choice of ours, no source.",
    )


def _plate(case: Case) -> tuple[CataloguedPart | None, Measure | None]:
    """The plate that the saddle clamps, and its length; None where there is none or nobody gave it."""
    for gear in case.rig.gear:
        if isinstance(gear.item.part, PlateAndRings) and gear.item.part.plate_length_mm is not None:
            return gear.item, gear.item.part.plate_length_mm
    return None, None


def _where(case: Case, sheet: BalanceSheet, centre_mm: float) -> Finding:
    """Nobody has said where the saddle clamps: where it has to."""
    amounts = {"centre": amount(centre_mm, "length", 0)}
    said, more, again = _doubt(sheet)
    missing = ("where the saddle clamps: its middle from the front of the tube",)
    return Finding(
        code="balance.doubt" if said else "balance.clamp_at",
        weight="watch" if said else "unknown",
        title="Balance along the tube",
        phrase=say(
            "Clamp the dovetail so that the balance point lies over the middle of the saddle: {centre} from "
            f"the front of the tube ({sheet.centre_basis}). Then enter where the saddle clamps.{said}",
            **amounts,
            **more,
        ),
        figure=Figure(label="balance point from the front", amount=amounts["centre"]),
        remedies=again,
        inputs=tuple(_centre_inputs(case, sheet, centre_mm)),
        formula=ALONG,
        source=SOURCE,
        missing=missing,
    )


def _across(case: Case, sheet: BalanceSheet, aside_kg: float) -> Finding:
    """A train at the tube's side: the third direction, which no slide along the dovetail balances."""
    title = "Balance across the tube"
    tube = case.train.tube
    name = "the tube" if tube is None else tube.name
    turn = (
        "Turn the tube in its rings so that the camera lies straight above the saddle or opposite to it, in "
        "one plane with the dovetail and the counterweight bar, or hang as much on the other side."
    )
    if sheet.aside_mm is None or sheet.aside_nm is None:
        words = "the outer diameter"
        what = Missing(f"{words} of {name}") if tube is None else lacks(tube, "outer_diameter_mm", words)
        return Finding(
            code="balance.across_unknown",
            weight="unknown",
            title=title,
            phrase=say(
                literal(f"How far the camera hangs off the axis of {name} is not known yet: enter {what}. ")
                + turn
            ),
            source=SOURCE,
            missing=(what,),
        )
    amounts = {
        "kg": amount(aside_kg, "mass", 1),
        "aside": amount(sheet.aside_mm, "length", 0),
        "torque": amount(sheet.aside_nm, "count", two_digits(sheet.aside_nm)),
    }
    near = sheet.aside_mm <= CLOSE_MM
    inputs = [
        Input(
            label=f"{body.name} from the tube's axis",
            amount=amount(body.aside_mm or 0.0, "length", 0),
            basis="assumed",
            text="",
        )
        for body in sheet.bodies
        if body.aside_mm != 0.0
    ]
    wide = None
    if tube is not None and isinstance(tube.part, OpticalTube):
        wide = tube.part.outer_diameter_mm
    inputs.append(
        Input(
            label=f"half width of {name}",
            amount=None if wide is None else amount(wide.nominal / 2, "length", 0),
            basis="assumed" if wide is None or tube is None else tube.part.basis_of(wide),
            text=sheet.aside_words,
        )
    )
    return Finding(
        code="balance.across" if near else "balance.across_off",
        weight="sound" if near else "watch",
        title=title,
        phrase=say(
            "{kg} hang at the side of the tube: the load's centre lies {aside} off the tube's axis, and no "
            "slide along the dovetail balances their {torque} N m about it. The places and the "
            "counterweights above count them on the axis (assumed).",
            **amounts,
        ),
        figure=Figure(label="off the tube's axis", amount=amounts["aside"]),
        remedies=() if near else (Remedy(phrase=say(turn)),),
        inputs=(*inputs, *mass_inputs(loads_of(case))),
        formula=ASIDE,
        source=SOURCE + f" Turning the tube in its rings: {COMMON_PRACTICE}",
    )


def _basis(sheet: BalanceSheet) -> str:
    return "measured" if sheet.centre_basis == "measured" else "worked out"
