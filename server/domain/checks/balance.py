"""Does the loaded tube balance where the saddle clamps it, and do the weights at hand balance it all?"""

from __future__ import annotations

import math

from server.domain.checks.case import (
    COMMON_PRACTICE,
    Case,
    amount,
    input_of,
    listed,
    literal,
    say,
    worked_input,
)
from server.domain.checks.payload import loads_of, mass_inputs
from server.domain.findings import Amount, Figure, Finding, Input, Remedy
from server.domain.load.bar import LOOSE, MORE, NOT_ALL, TAKEN, slack_mm
from server.domain.load.bodies import work_balance
from server.domain.load.sheet import BalanceSheet, BarAnswer
from server.domain.measure import Measure, nominal
from server.domain.parts import CataloguedPart, Counterweight, Mount

STATICS = "sum of mass x distance = 0 about the axis (statics)"
ALONG = "centre of gravity = sum of mass x place / sum of masses; torque = mass x g x distance from the clamp"
BAR = "load x its distance from the polar axis = bar x its middle + sum of weights x their places"
SOURCE = f"Statics: {STATICS}. Parts of the train are taken to balance at their middle: assumed."
CLOSE_MM = 5.0
"""Nearer than this to the clamp's middle counts as balanced. A choice of ours, no source."""
UNBALANCED = (
    "An unbalanced axis swings as soon as a clutch is loosened: hold the tube, and put the weights on before "
    "it."
)


def check_balance(case: Case) -> tuple[Finding, ...]:
    """Judge balance along the dovetail and about the polar axis.

    Silent until the plan of the load says anything of it: balance point, clamp, height, place on the tube.
    """
    plan = case.rig.load
    if not plan.spots and plan.balance_mm is plan.clamp_mm is plan.tube_above_saddle_mm is None:
        return ()
    sheet = work_balance(case)
    found: list[Finding] = []
    if sheet.missing or sheet.centre_mm is None:
        found += (
            [_unknown("balance.along_unknown", "Balance along the tube", sheet.missing)]
            if sheet.missing
            else []
        )
    elif sheet.off_mm is not None and sheet.clamp_mm is not None:
        found.append(_along(case, sheet, sheet.centre_mm, sheet.clamp_mm, sheet.off_mm))
    if sheet.bar is not None and plan.tube_above_saddle_mm is not None:
        found.append(_about(case, sheet, sheet.bar))
    return tuple(found)


def _unknown(code: str, title: str, missing: tuple[str, ...]) -> Finding:
    return Finding(
        code=code,
        weight="unknown",
        title=title,
        phrase=say(literal(f"Not known yet: enter {listed(missing)}.")),
        source=SOURCE,
        missing=missing,
    )


def _along(case: Case, sheet: BalanceSheet, centre_mm: float, clamp_mm: float, off_mm: float) -> Finding:
    amounts = {
        "centre": amount(centre_mm, "length", 0),
        "off": amount(abs(off_mm), "length", 0),
    }
    where = "behind" if off_mm > 0 else "before"
    sentence = f"The loaded tube balances {{centre}} from its front ({sheet.centre_basis}), "
    inputs: list[Input] = [
        Input(label="balance point", amount=amount(centre_mm, "length", 1), basis=_basis(sheet)),
        Input(
            label="middle of the clamp",
            amount=amount(clamp_mm, "length", 1),
            basis="typed",
            of="the plan of the load",
        ),
    ]
    if sheet.centre_basis != "measured":
        inputs += [
            Input(label=f"place of {body.name}", amount=amount(body.along_mm, "length", 1), basis=body.basis)
            for body in sheet.bodies
        ]
        inputs += mass_inputs(loads_of(case))
    near = abs(off_mm) <= CLOSE_MM
    remedies: tuple[Remedy, ...] = ()
    if near:
        sentence += "where the saddle clamps it."
    else:
        sentence += f"{{off}} {where} the middle of the clamp. {UNBALANCED}"
        way = "forwards" if off_mm > 0 else "backwards"
        remedies = (Remedy(phrase=say(f"Slide the tube {{off}} {way} in the saddle.", off=amounts["off"])),)
    return Finding(
        code="balance.along" if near else "balance.along_off",
        weight="sound" if near else "watch",
        title="Balance along the tube",
        phrase=say(sentence, **amounts),
        figure=Figure(label="off the clamp", amount=amounts["off"]),
        remedies=remedies,
        inputs=tuple(inputs),
        formula=ALONG,
        source=SOURCE + f" Balanced within {CLOSE_MM:g} mm: {COMMON_PRACTICE}",
    )


def _basis(sheet: BalanceSheet) -> str:
    return "measured" if sheet.centre_basis == "measured" else "worked out"


def _about(case: Case, sheet: BalanceSheet, bar: BarAnswer) -> Finding:
    title = "Counterweights"
    if bar.missing:
        return _unknown("balance.bar_unknown", title, bar.missing)
    arm_mm, end_mm = sheet.moment_arm_mm or 0.0, bar.bar_end_mm or 0.0
    amounts = {"arm": amount(arm_mm, "length", 0)}
    inputs = [
        worked_input("the load's distance from the polar axis", arm_mm, "length", 0),
        *_bar_inputs(case, bar),
    ]
    inputs += [
        Input(
            label=f"height of {body.name} above the saddle",
            amount=amount(body.above_mm, "length", 0),
            basis="typed",
            of="the plan of the load",
        )
        for body in sheet.bodies
        if body.above_mm is not None
    ]
    inputs += mass_inputs(loads_of(case))
    notes, note_amounts = _notes(case, bar)
    amounts |= note_amounts
    remedies: list[Remedy] = []
    if bar.weights:
        told = []
        for number, weight in enumerate(bar.weights):
            amounts[f"at_{number}"] = amount(weight.at_mm, "length", 0)
            told.append(f"{literal(weight.name)} at {{at_{number}}}")
        middles = "its middle) balances" if len(told) == 1 else "their middles) balance"
        code, weighs = ("balance.bar_loose", "watch") if bar.loose else ("balance.bar", "sound")
        if bar.uncounted:
            code, weighs = "balance.bar_more", "watch"
        if bar.fits:
            code, weighs = "balance.bar_fit_unknown", "unknown"
        return Finding(
            code=code,
            weight=weighs,
            title=title,
            phrase=say(
                f"{listed(told)} from the polar axis ({middles} the load, whose centre lies {{arm}} from it."
                + ("" if bar.complete else f" {NOT_ALL} Fewer may do.")
                + notes,
                **amounts,
            ),
            figure=Figure(label="outermost weight", amount=amounts[f"at_{len(told) - 1}"]),
            inputs=tuple(inputs),
            formula=BAR,
            source=SOURCE,
            missing=bar.fits,
        )
    if not bar.complete and bar.short_kg is None and not bar.over_kg_mm:
        fewer = ("fewer sorts of counterweights: those that you would take",)
        return Finding(
            code="balance.bar_unknown",
            weight="unknown",
            title=title,
            phrase=say(f"{literal(bar.sentence)} Leave some of them out of the rig."),
            inputs=tuple(inputs),
            formula=BAR,
            source=SOURCE,
            missing=fewer,
        )
    sentence = literal(bar.sentence) + f" {UNBALANCED}"
    figure = Figure(label="the load's distance from the axis", amount=amounts["arm"])
    if bar.short_kg is not None and not bar.over_kg_mm:
        amounts |= {"short": amount(bar.short_kg, "mass", 1), "end": amount(end_mm, "length", 0)}
        sentence = (
            f"No counterweight at hand balances the load: {{short}} is missing at the bar's end. {UNBALANCED}"
        )
        figure = Figure(label="missing at the bar's end", amount=amounts["short"])
        add = "Add a weight of more than {short}"
        if _is_full(case, bar):
            add = "The bar is full: put a weight that is heavier by more than {short} in another's place"
        remedies.append(
            Remedy(
                phrase=say(
                    f"{add}: that much would do at {{end}} from the axis, and a weight's middle sits nearer.",
                    short=amounts["short"],
                    end=amounts["end"],
                )
            )
        )
    elif bar.lighter_kg is not None:
        amounts["lighter"] = amount(bar.lighter_kg, "mass", 2)
        sentence = (
            "No counterweight at hand balances the load: the lightest is too much even next to the axis. "
            + UNBALANCED
        )
        figure = Figure(label="would balance next to the axis", amount=amounts["lighter"])
        remedies.append(
            Remedy(
                phrase=say(
                    "Get a weight of {lighter} or a little less, taken to be as thick as the thinnest at "
                    "hand, or a shorter bar.",
                    lighter=amounts["lighter"],
                )
            )
        )
    elif bar.bar_over_kg_mm is not None:
        remedies.append(Remedy(phrase=say("Take the bar off, or use a shorter or lighter one.")))
    else:
        remedies.append(
            Remedy(
                phrase=say("Get a weight of another mass, between those that are too little and too much.")
            )
        )
    if bar.longer_mm is not None:
        # Rounded up: a bar that is a little too short balances nothing.
        least = "" if bar.complete else " or less"
        remedies.append(
            Remedy(
                phrase=say(
                    f"Or lengthen the bar by {{longer}}{least} for the weights at hand, if its maker allows "
                    "it.",
                    longer=amount(math.ceil(bar.longer_mm - 1e-6), "length", 0),
                )
            )
        )
    return Finding(
        code="balance.no_weight",
        weight="stop",
        title=title,
        phrase=say(sentence + notes, **amounts),
        figure=figure,
        remedies=tuple(remedies),
        inputs=tuple(inputs),
        formula=BAR,
        source=SOURCE,
        missing=bar.fits,
    )


def _is_full(case: Case, bar: BarAnswer) -> bool:
    """Whether the weights at hand that slide on leave no room on the bar."""
    thick_mm = sum(
        gear.quantity * (nominal(gear.item.part.thickness_mm) or 0.0)
        for gear in case.rig.gear
        if isinstance(gear.item.part, Counterweight) and gear.item.name not in bar.narrow
    )
    return thick_mm >= (bar.bar_end_mm or 0.0) - (bar.bar_start_mm or 0.0)


def _notes(case: Case, bar: BarAnswer) -> tuple[str, dict[str, Amount]]:
    """What is to be said of the weights' bores, each sentence with a space before it, and its amounts."""
    said, amounts = "", {}
    mount = case.rig.mount
    for number, gear in enumerate(case.rig.gear):
        slack = None
        if mount is not None and isinstance(mount.part, Mount):
            slack = slack_mm(mount.part, gear.item)
        if slack is not None and slack < 0.0 and gear.item.name in bar.narrow:
            amounts[f"narrow_{number}"] = amount(-slack, "length", 1)
            said += f" {literal(gear.item.name)} is left out: its bore is {{narrow_{number}}} narrower "
            said += "than the bar."
    if bar.loose:
        said += f" {LOOSE} {literal(listed(bar.loose))}."
    if bar.uncounted:
        said += f" {literal(MORE.format(listed(bar.uncounted)))}"
    if bar.fits:
        said += f" {TAKEN} {literal(listed(bar.fits))}."
    return said, amounts


def _bar_inputs(case: Case, bar: BarAnswer) -> list[Input]:
    item = case.rig.mount
    if item is None or not isinstance(item.part, Mount):
        return []
    hung = {weight.part_id for weight in bar.weights}
    found: list[Input] = []
    for gear in case.rig.gear:
        part = gear.item.part
        if isinstance(part, Counterweight) and (not hung or gear.item.id in hung):
            found += [
                input_of("mass of one", gear.item, part.mass_kg, "mass", 2),
                input_of("thickness", gear.item, part.thickness_mm, "length"),
                _fit_input("bore", gear.item, part.bore_mm),
            ]
    if found:
        found.append(_fit_input("bar's diameter", item, item.part.bar_diameter_mm))
    return [
        *found,
        input_of("saddle above the polar axis", item, item.part.saddle_height_mm, "length"),
        input_of("bar begins at", item, item.part.bar_start_mm, "length"),
        input_of("bar's length", item, item.part.bar_length_mm, "length"),
        input_of("bar's mass", item, item.part.bar_mass_kg, "mass", 2),
    ]


def _fit_input(label: str, item: CataloguedPart, figure: Measure | None) -> Input:
    """A bore or a bar's diameter; where it is not known, a weight is taken to slide on, and that is shown."""
    if figure is None:
        return Input(
            label=label, amount=None, basis="assumed", of=item.name, text="not known: taken to slide on"
        )
    return input_of(label, item, figure, "length")
