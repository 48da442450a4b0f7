"""Do the weights at hand balance the load about the polar axis, and if not, what would?"""

from __future__ import annotations

import math

from server.domain.checks.payload import mass_inputs
from server.domain.findings import Amount, Figure, Weight
from server.domain.load.sheet import BalanceSheet, BarAnswer
from server.domain.measure import Measure, nominal
from server.domain.missing import wants
from server.domain.parts import CataloguedPart, Counterweight, Mount
from server.domain.said import Said, said
from server.domain.verdicts import Advice, Given, Verdict
from server.domain.workings.case import (
    Case,
    amount,
    input_of,
    not_known,
    worked_input,
)
from server.domain.workings.loads import loads_of


def judge_bar(case: Case, sheet: BalanceSheet, bar: BarAnswer) -> Verdict:
    """The finding of the counterweights: how they balance the load, or what would."""
    if bar.missing:
        return not_known("balance.bar_unknown", bar.missing, said("enter", missing=bar.missing))
    arm_mm, end_mm = sheet.moment_arm_mm or 0.0, bar.bar_end_mm or 0.0
    arm = amount(arm_mm, "length", 0)
    inputs: list[Given] = [
        worked_input("the load's distance from the polar axis", arm_mm, "length", 0),
        *_bar_inputs(case, bar),
    ]
    inputs += [
        Given(
            said("bar.height_of", name=body.name),
            amount(body.above_mm, "length", 0),
            "typed" if body.aside_mm == 0.0 else "assumed",
            "the plan of the load" if body.aside_mm == 0.0 else "the tube's axis, though it is at its side",
        )
        for body in sheet.bodies
        if body.above_mm is not None
    ]
    inputs += mass_inputs(loads_of(case))
    if bar.weights:
        return _balanced(bar, arm, tuple(inputs))
    if not bar.complete and bar.short_kg is None and not bar.over_kg_mm:
        return Verdict(
            code="balance.bar_unknown",
            weight="unknown",
            says=(said("bar.not_all"), said("bar.leave_out"), *bar.notes),
            inputs=tuple(inputs),
            missing=(wants("fewer_weights"),),
            working="bar",
        )
    figure = Figure(label="the load's distance from the axis", amount=arm)
    why = bar.outcome or said("bar.between")
    remedies = _own(bar)
    if bar.short_kg is not None and not bar.over_kg_mm:
        short = amount(bar.short_kg, "mass", 1 if bar.short_kg >= 0.05 else 3)
        why = said("bar.missing", short=short)
        figure = Figure(label="missing at the bar's end", amount=short)
        end = amount(end_mm, "length", 0)
        remedies.append(Advice((said("bar.add", full=_is_full(case, bar), short=short, end=end),)))
        if not any(isinstance(gear.item.part, Counterweight) for gear in case.rig.gear):
            remedies += _single(bar)
    elif bar.over_kg_mm > 0.0:
        why = said("bar.too_much")
        remedies += _single(bar)
        if bar.single_kg is not None:
            most = amount(bar.single_kg[1], "mass", 2)
            figure = Figure(label="would balance next to the axis", amount=most)
    elif bar.bar_over_kg_mm is None:
        remedies += _single(bar) or [Advice((said("bar.another"),))]
    remedies += _other_bar(bar, not remedies)
    if bar.owned:
        why = said("bar.owned_would", owned=bar.owned)
    if bar.longer_mm is not None:
        # Rounded up: a bar that is a little too short balances nothing.
        longer = amount(math.ceil(bar.longer_mm - 1e-6), "length", 0)
        remedies.append(Advice((said("bar.lengthen", sure=bar.complete, longer=longer),)))
    return Verdict(
        code="balance.no_weight",
        weight="stop",
        says=(why, said("bar.swings", arm=arm), *bar.notes),
        figure=figure,
        remedies=tuple(remedies),
        inputs=tuple(inputs),
        missing=bar.fits,
        working="bar",
    )


def _balanced(bar: BarAnswer, arm: Amount, inputs: tuple[Given, ...]) -> Verdict:
    """The weights at hand balance the load: where each hangs, and how surely it slides on and holds."""
    weight: Weight
    code, weight = ("balance.bar_loose", "watch") if bar.loose else ("balance.bar", "sound")
    if bar.uncounted:
        code, weight = "balance.bar_more", "watch"
    if bar.fits:
        code, weight = "balance.bar_fit_unknown", "unknown"
    at = [amount(one.at_mm, "length", 0) for one in bar.weights]
    hung = [said("bar.hung", weight=one.name, at=there) for one, there in zip(bar.weights, at, strict=True)]
    says = said("bar.hang", hung=hung, arm=arm, complete=bar.complete)
    return Verdict(
        code=code,
        weight=weight,
        says=(says, *bar.notes),
        figure=Figure(label="outermost weight", amount=at[-1]),
        inputs=inputs,
        missing=bar.fits,
        working="bar",
    )


def _own(bar: BarAnswer) -> list[Advice]:
    """Weights on the shelf, which cost nothing."""
    if not bar.owned:
        return []
    return [Advice((said("bar.own", owned=bar.owned),))]


def _single(bar: BarAnswer) -> list[Advice]:
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
    return [
        Advice(
            (
                said(
                    "bar.single",
                    thick=bar.single_thick_mm > 0.0,
                    most=amount(most_kg, "mass", 2),
                    least=amount(least_kg, "mass", 2),
                    middle=amount(bar.asked_kg_mm / place_mm, "mass", 2),
                    place=amount(place_mm, "length", 0),
                ),
            )
        )
    ]


def _other_bar(bar: BarAnswer, first: bool) -> list[Advice]:
    """A shorter or a lighter bar, where that helps."""
    ways: list[Said] = []
    if bar.shorter_mm is not None:
        # Rounded down: a bar that is a little too long is too heavy.
        shorter = amount(math.floor(bar.shorter_mm), "length", 0)
        ways.append(said("bar.same_rod", shorter=shorter))
    if bar.lighter_bar_kg is not None and bar.lighter_bar_kg >= 0.01:
        lighter = amount(math.floor(bar.lighter_bar_kg * 100.0) / 100.0, "mass", 2)
        ways.append(said("bar.lighter", bar=lighter))
    if not ways:
        return []
    words = said("bar.or", one=ways[0], other=ways[-1] if len(ways) > 1 else None)
    if bar.bar_over_kg_mm is not None:
        return [Advice((said("bar.use_by_itself", words=words),))]
    return [Advice((said("bar.use_other", first=first, words=words),))]


def _is_full(case: Case, bar: BarAnswer) -> bool:
    """Whether the weights at hand that slide on leave no room on the bar."""
    thick_mm = sum(
        gear.quantity * (nominal(gear.item.part.thickness_mm) or 0.0)
        for gear in case.rig.gear
        if isinstance(gear.item.part, Counterweight) and gear.item.name not in bar.narrow
    )
    return thick_mm >= (bar.bar_end_mm or 0.0) - (bar.bar_start_mm or 0.0)


def _bar_inputs(case: Case, bar: BarAnswer) -> list[Given]:
    item = case.rig.mount
    if item is None or not isinstance(item.part, Mount):
        return []
    hung = {weight.part_id for weight in bar.weights}
    found: list[Given] = []
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
    for one in bar.riders:
        mass, at = amount(one.mass_kg, "mass", 2), amount(one.at_mm, "length", 0)
        found += [
            Given(said("bar.rider_mass", name=one.name), mass, "typed", one.name),
            Given(said("bar.rider", name=one.name), at, "typed", "the plan of the load"),
        ]
    return [
        *found,
        input_of("saddle above the polar axis", item, item.part.saddle_height_mm, "length"),
        input_of("bar begins at", item, item.part.bar_start_mm, "length"),
        input_of("bar's length", item, item.part.bar_length_mm, "length"),
        input_of("bar's mass", item, item.part.bar_mass_kg, "mass", 2),
    ]


def _fit_input(label: str, item: CataloguedPart, figure: Measure | None) -> Given:
    """A bore or a bar's diameter; where it is not known, a weight is taken to slide on, and that is shown."""
    if figure is None:
        return Given(label, None, "assumed", item.name, said("bar.taken_to_slide"))
    return input_of(label, item, figure, "length")
