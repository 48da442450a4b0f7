"""Do the weights at hand balance the load about the polar axis, and if not, what would?"""

from __future__ import annotations

import math

from server.domain.checks.payload import mass_inputs
from server.domain.findings import Amount, Figure, Finding, Input, Remedy
from server.domain.load.bar import LOOSE, MORE, NOT_ALL, TAKEN, slack_mm
from server.domain.load.sheet import BalanceSheet, BarAnswer
from server.domain.measure import Measure, nominal
from server.domain.parts import CataloguedPart, Counterweight, Mount
from server.domain.workings.case import (
    COMMON_PRACTICE,
    Case,
    amount,
    input_of,
    listed,
    literal,
    say,
    unknown,
    worked_input,
)
from server.domain.workings.loads import loads_of

BAR = (
    "load x its distance from the polar axis = bar x its middle + what rides on it x its place + sum of "
    "weights x their places; one weight alone = what is left / its place"
)
SOURCE = (
    "Statics: sum of mass x distance = 0 about the axis. A bar is taken to be an even rod. "
    f"Hold the tube whenever a clutch is loosened: {COMMON_PRACTICE}"
)
UNBALANCED = (
    "An axis that does not balance swings as soon as a clutch is loosened: leave the tube off until it does."
)


def judge_bar(case: Case, sheet: BalanceSheet, bar: BarAnswer) -> Finding:
    """The finding of the counterweights: how they balance the load, or what would."""
    title = "Counterweights"
    if bar.missing:
        words = literal(f"Not known yet: enter {listed(bar.missing)}.")
        return unknown("balance.bar_unknown", title, words, bar.missing, source=SOURCE)
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
            basis="typed" if body.aside_mm == 0.0 else "assumed",
            of="the plan of the load"
            if body.aside_mm == 0.0
            else "the tube's axis, though it is at its side",
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
    figure = Figure(label="the load's distance from the axis", amount=amounts["arm"])
    why = literal(bar.sentence)
    remedies += _own(bar)
    if bar.short_kg is not None and not bar.over_kg_mm:
        amounts["short"] = amount(bar.short_kg, "mass", 1 if bar.short_kg >= 0.05 else 3)
        why = "No counterweight at hand balances the load: {short} is missing at the bar's end."
        figure = Figure(label="missing at the bar's end", amount=amounts["short"])
        add = "Add a weight of more than {short}"
        if _is_full(case, bar):
            add = "The bar is full: put a weight that is heavier by more than {short} in another's place"
        remedies.append(
            Remedy(
                phrase=say(
                    f"{add}: that much would do at {{end}} from the axis, and a weight's middle sits nearer.",
                    short=amounts["short"],
                    end=amount(end_mm, "length", 0),
                )
            )
        )
        if not any(isinstance(gear.item.part, Counterweight) for gear in case.rig.gear):
            remedies += _single(bar)
    elif bar.over_kg_mm > 0.0:
        why = "No counterweight at hand balances the load: the lightest is too much even next to the axis."
        remedies += _single(bar)
        if bar.single_kg is not None:
            figure = Figure(
                label="would balance next to the axis", amount=amount(bar.single_kg[1], "mass", 2)
            )
    elif bar.bar_over_kg_mm is None:
        remedies += _single(bar) or [
            Remedy(
                phrase=say("Get a weight of another mass, between those that are too little and too much.")
            )
        ]
    remedies += _other_bar(bar, not remedies)
    if bar.owned:
        why = (
            f"The weights beside the rig do not balance the load; with {literal(listed(bar.owned))} of your "
        )
        why += "shelf they would."
    sentence = f"{why} {UNBALANCED}"
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


def _own(bar: BarAnswer) -> list[Remedy]:
    """Weights on the shelf, which cost nothing."""
    if not bar.owned:
        return []
    it = "it" if len(bar.owned) == 1 else "them"
    return [Remedy(phrase=say(literal(f"You own {listed(bar.owned)}: put {it} beside the rig.")))]


def _single(bar: BarAnswer) -> list[Remedy]:
    """One weight that would do alone: its mass from end to end of the bar, and a place for one of them."""
    if bar.single_kg is None or bar.asked_kg_mm is None:
        return []
    # Rounded inwards: a weight that is a little too heavy or too light balances nothing.
    least_kg, most_kg = bar.single_kg
    least_kg = math.ceil(least_kg * 100.0 - 1e-6) / 100.0
    most_kg = math.floor(most_kg * 100.0 + 1e-6) / 100.0
    if least_kg > most_kg:
        return []
    # In the middle of the bar's room it can be slid either way.
    place_mm = ((bar.bar_start_mm or 0.0) + (bar.bar_end_mm or 0.0)) / 2
    thick = " (its thickness not counted)"
    if bar.single_thick_mm > 0.0:
        thick = ", taken to be as thick as the thinnest at hand,"
    return [
        Remedy(
            phrase=say(
                f"Get a weight of {{most}} at most{thick} and {{least}} at least: by itself {{middle}} "
                "balances the load with its middle at {place} from the axis, a heavier one nearer, a lighter "
                "one farther out.",
                most=amount(most_kg, "mass", 2),
                least=amount(least_kg, "mass", 2),
                middle=amount(bar.asked_kg_mm / place_mm, "mass", 2),
                place=amount(place_mm, "length", 0),
            )
        )
    ]


def _other_bar(bar: BarAnswer, first: bool) -> list[Remedy]:
    """A shorter or a lighter bar, where that helps."""
    ways, amounts = [], {}
    if bar.shorter_mm is not None:
        # Rounded down: a bar that is a little too long is too heavy.
        amounts["shorter"] = amount(math.floor(bar.shorter_mm), "length", 0)
        ways.append("a bar of the same rod, {shorter} long at most")
    if bar.lighter_bar_kg is not None and bar.lighter_bar_kg >= 0.01:
        amounts["bar"] = amount(math.floor(bar.lighter_bar_kg * 100.0) / 100.0, "mass", 2)
        ways.append("one of this length and {bar} at most")
    if not ways:
        return []
    words = " or ".join(ways)
    if bar.bar_over_kg_mm is not None:
        return [Remedy(phrase=say(f"Use {words}: at that it balances the load by itself.", **amounts))]
    use = "Use" if first else "Or use"
    return [
        Remedy(
            phrase=say(
                f"{use} {words}, if its maker allows it: the lightest weight next to the axis then balances "
                "the load.",
                **amounts,
            )
        )
    ]


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
    found += [
        Input(
            label=f"place of {one.name} on the bar, {one.mass_kg:g} kg",
            amount=amount(one.at_mm, "length", 0),
            basis="typed",
            of="the plan of the load",
        )
        for one in bar.riders
    ]
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
