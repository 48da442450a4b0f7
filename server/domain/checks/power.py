"""Does the battery last the night, and does enough voltage arrive?"""

from __future__ import annotations

import math

from server.domain.checks.leads import ELECTRIC, judge_lead, open_leads
from server.domain.findings import Finding, Input, Remedy
from server.domain.load.power import sources_of, work_power
from server.domain.load.sheet import Consumer, PowerSheet
from server.domain.measure import percent
from server.domain.parts import PowerSource
from server.domain.workings.case import COMMON_PRACTICE, Case, listed, literal, say

FORMULA = (
    "need = sum of mean current x voltage x hours, / converter where fed through it; given = capacity x "
    "voltage x usable share x cold share x drain share (lead only: Peukert)"
)
SOURCE = (
    "Charge and energy; the night by the Sun's hour angle (The Astronomical Almanac, low precision, from "
    "memory). "
    f"Usable and cold shares of a battery: {COMMON_PRACTICE}"
)
MAINS = (
    "Mains at a damp site needs residual-current protection and gear made for the wet: follow the local "
    "electrical code, and leave fixed wiring to a licensed electrician."
)
"""Common practice, no source."""
LITTLE_LEFT = 0.2
"""Less than this left at dawn is a watch (common practice, no source)."""


def check_power(case: Case) -> tuple[Finding, ...]:
    """Judge the night's energy and the planned leads; silent where nothing is said of the night, and for a
    rig that neither has a source nor anything that takes current.
    """
    load = case.rig.load
    asked = load.night_hours is not None or load.latitude_deg is not None or load.night is not None
    if not asked and not load.cables:
        return ()
    sheet = work_power(case.rig)
    found = [judge_lead(one) for one in sheet.leads]
    if sheet.open_leads:
        found.append(open_leads(case, sheet))
    if asked and not sheet.source and (sheet.consumers or sheet.uncounted):
        found.insert(0, _without_source(case, sheet))
    elif asked and sheet.batteries:
        found.insert(0, _energy(case, sheet))
    elif asked and sheet.mains:
        found.insert(0, _on_mains(case, sheet))
    return tuple(found)


def _without_source(case: Case, sheet: PowerSheet) -> Finding:
    """A night that somebody plans without saying what feeds it."""
    missing = ("a battery or a supply, beside the train", *sheet.missing)
    at_least = "at least " if sheet.uncounted else ""
    sentence = "What feeds the rig is not known yet: add a battery or a supply, beside the train."
    if sheet.need_wh is not None and sheet.hours is not None and sheet.consumers:
        sentence += f" The night takes {at_least}{sheet.need_wh:.0f} Wh over {sheet.hours:.1f} hours."
    return Finding(
        code="power.no_source",
        weight="unknown",
        title="Power",
        phrase=say(f"{sentence}{_asked(sheet)} {ELECTRIC}"),
        inputs=_taken_inputs(case, sheet),
        formula=FORMULA,
        source=SOURCE,
        missing=missing,
    )


def _on_mains(case: Case, sheet: PowerSheet) -> Finding:
    """A mains supply alone: no battery to run empty."""
    sentence = literal(f"{sheet.mains} feeds the rig: the night is not limited by a battery.")
    if sheet.need_wh is not None and sheet.hours is not None and sheet.consumers:
        at_least = "at least " if sheet.uncounted else ""
        sentence += f" It takes {at_least}{sheet.need_wh:.0f} Wh over {sheet.hours:.1f} hours."
    return Finding(
        code="power.mains",
        weight="sound",
        title="Power",
        phrase=say(f"{sentence}{_peak(sheet, 'the most that the supply gives')} {MAINS}"),
        inputs=_taken_inputs(case, sheet),
        formula=FORMULA,
        source=SOURCE,
    )


def _peak(sheet: PowerSheet, against: str) -> str:
    """What all devices take at once, with a space before it; empty where nothing takes current."""
    if not sheet.peak_a:
        return ""
    at_least = "at least " if sheet.peak_at_least else ""
    return (
        f" All devices at their peaks take {at_least}{sheet.peak_a:.1f} A together, at {sheet.peak_at_v:g} "
        f"V: compare that with {against}, which is not in the catalogue."
    )


def _asked(sheet: PowerSheet) -> str:
    """What to enter, with a space before it; empty where nothing is missing."""
    others = tuple(words for words in sheet.missing if words not in sheet.uncounted)
    said = literal(f" Not known yet: enter {listed(others)}.") if others else ""
    if sheet.uncounted:
        said += literal(f" Not counted, not known yet: enter {listed(sheet.uncounted)}.")
    return said


def _taken_inputs(case: Case, sheet: PowerSheet) -> tuple[Input, ...]:
    """The night, what each device takes of it, and what was taken to take nothing."""
    share = case.rig.load.supply_share
    hours = sheet.hours
    night = "" if hours is None else "typed" if case.rig.load.night_hours is not None else "worked out"
    converted = listed([one.name for one in sheet.consumers if one.converted])
    return (
        Input(label="the night", amount=None, basis=night, text=_hours(hours, sheet)),
        *(
            Input(
                label=f"mean of {one.name}",
                amount=None,
                basis="assumed" if one.assumed else one.basis,
                text=_taken(one),
            )
            for one in sheet.consumers
        ),
        *(
            Input(label=name, amount=None, basis="assumed", text="no current given: taken to draw none")
            for name in sheet.taken_none
        ),
        Input(
            label="efficiency of a converter",
            amount=None,
            basis="assumed" if share is None else "typed",
            text="none: nothing is lost"
            if share is None
            else f"{percent(share)}, which counts for {converted or 'nothing: all is fed straight'}",
        ),
    )


def _energy(case: Case, sheet: PowerSheet) -> Finding:
    name = literal(sheet.batteries)
    missing = sheet.missing
    need, usable, hours = sheet.need_wh, sheet.usable_wh, sheet.hours
    at_least, at_most = ("at least ", "at most ") if sheet.uncounted else ("", "")
    inputs = (
        *_taken_inputs(case, sheet),
        Input(
            label=f"energy of {sheet.batteries}",
            amount=None,
            basis="" if usable is None else "assumed" if sheet.given_assumed else "worked out",
            text=sheet.given_words or "not known",
        ),
        *_battery_inputs(case),
        *_peak_inputs(sheet),
    )
    remedies: tuple[Remedy, ...] = ()
    weight, code = "unknown", "power.unknown"
    if need is None or usable is None or hours is None:
        sentence = f"Whether {name} lasts the night is not known yet."
    else:
        sentence = (
            f"The night takes {at_least}{need:.0f} Wh over {hours:.1f} hours; {name} gives {usable:.0f} Wh."
        )
        left = 1.0 - need / usable if usable > 0.0 else -1.0
        if left < 0.0:
            weight, code = "stop", "power.runs_out"
            sentence += f" It is empty after {at_most}{sheet.lasts_h or 0.0:.1f} hours."
            nominal = (
                "" if sheet.more_ah is None else f" ({math.ceil(sheet.more_ah)} Ah more of the same kind)"
            )
            remedies = (
                Remedy(
                    phrase=say(
                        f"Bring {need - usable:.0f} usable Wh more{nominal}, heat less, or cool the camera "
                        "less."
                    )
                ),
            )
        elif left < LITTLE_LEFT:
            weight, code = "watch", "power.little"
            sentence += f" That leaves {at_most}{percent(left)}: an old or colder battery ends before dawn."
            remedies = (Remedy(phrase=say("Take a second battery, or heat less.")),)
        else:
            weight, code = ("unknown", "power.part_unknown") if missing else ("sound", "power.sound")
            sentence += f" That leaves {at_most}{percent(left)}."
    if sheet.mains:
        sentence += literal(f" {sheet.mains} is a mains supply and not counted: the battery is judged alone.")
    sentence += _peak(sheet, "the battery's own fuse and its most current")
    cautions = f"{ELECTRIC} {MAINS}" if sheet.mains else ELECTRIC
    return Finding(
        code=code,
        weight=weight,
        title="Power",
        phrase=say(f"{sentence}{_asked(sheet)} {cautions}"),
        remedies=remedies,
        inputs=inputs,
        formula=FORMULA,
        source=SOURCE,
        missing=missing,
    )


def _battery_inputs(case: Case) -> list[Input]:
    """What each battery's maker or owner says of it, with where that is from."""
    found: list[Input] = []
    for item, _ in sources_of(case.rig):
        part = item.part
        if not isinstance(part, PowerSource) or part.chemistry == "mains":
            continue
        for label, figure, form in (
            ("capacity", part.capacity_ah, "{:g} Ah"),
            ("nominal voltage", part.voltage_v, "{:g} V"),
            ("usable share", part.usable_share, "{:.0%}"),
        ):
            if figure is not None:
                text = form.format(figure.nominal)
                found.append(
                    Input(label=label, amount=None, basis=part.basis_of(figure), of=item.name, text=text)
                )
    return found


def _peak_inputs(sheet: PowerSheet) -> list[Input]:
    """What adds up to the peak of all."""
    return [
        Input(
            label=f"peak of {one.name}",
            amount=None,
            basis=one.peak_basis,
            text=f"{one.peak_a:.2g} A at {one.voltage_v:g} V"
            + (f": not its whole peak, the {one.peak_unknown} is not known" if one.peak_unknown else ""),
        )
        for one in sheet.consumers
    ]


def _taken(one: Consumer) -> str:
    said = f"{one.mean_a:.2g} A at {one.voltage_v:g} V"
    if one.quantity > 1:
        said += f", all {one.quantity} of them"
    if one.fed:
        said += f", {one.fed}"
    return f"{said} ({one.assumed})" if one.assumed else said


def _hours(hours: float | None, sheet: PowerSheet) -> str:
    return "not known" if hours is None else f"{hours:.1f} hours {sheet.hours_words}"
