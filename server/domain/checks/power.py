"""Does the battery last the night, and does enough voltage arrive?"""

from __future__ import annotations

import math

from server.domain.checks.case import COMMON_PRACTICE, Case, amount, listed, literal, say, unknown
from server.domain.findings import Amount, Finding, Input, Remedy
from server.domain.load.power import LOST_SHARE, work_power
from server.domain.load.sheet import Consumer, Lead, PowerSheet

FORMULA = (
    "need = sum of mean current x voltage x hours / converter; given = capacity x voltage x usable share x "
    "cold share x drain share (lead only: Peukert)"
)
SOURCE = (
    "Charge and energy; the night by the Sun's hour angle (The Astronomical Almanac, low precision, from "
    "memory). "
    f"Usable and cold shares of a battery: {COMMON_PRACTICE}"
)
LEAD_FORMULA = (
    "drop = 2 x resistivity x length / area x peak current; heat = drop x current; longest = length x what "
    "may be lost / drop"
)
LEAD_SOURCE = (
    "Ohm's law; wire sizes ASTM B258, copper by the International Annealed Copper Standard; a lead that "
    "loses a "
    f"twentieth at most: {COMMON_PRACTICE}"
)
ELECTRIC = (
    "Fuse the battery at its own terminal; what a wire may carry is for its maker or a licensed "
    "electrician, by the "
    "local code."
)
SHORTEST_MM = 100.0
"""Nobody shortens a lead below this: then the battery has to come nearer. A choice of ours, no source."""
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
    found = [_lead(one) for one in sheet.leads]
    if sheet.open_leads:
        asked_for = tuple(dict.fromkeys(one.missing for one in sheet.open_leads))
        words = literal(f"Not known yet: enter {listed(asked_for)}.")
        found.append(unknown("power.lead_unknown", "Lead", words, asked_for, source=LEAD_SOURCE))
    if asked and not sheet.source and (sheet.consumers or sheet.uncounted):
        found.insert(0, _without_source(case, sheet))
    elif asked and sheet.source and sheet.chemistry != "mains":
        found.insert(0, _energy(case, sheet))
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
    return (
        Input(label="the night", amount=None, basis="worked out" if hours else "", text=_hours(hours, sheet)),
        *(
            Input(
                label=f"mean of {one.name}",
                amount=None,
                basis="assumed" if one.assumed else "typed",
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
            text="none: nothing is lost" if share is None else f"{share:.0%}",
        ),
    )


def _energy(case: Case, sheet: PowerSheet) -> Finding:
    name = literal(sheet.source)
    missing = sheet.missing
    need, usable, hours = sheet.need_wh, sheet.usable_wh, sheet.hours
    at_least, at_most = ("at least ", "at most ") if sheet.uncounted else ("", "")
    inputs = (
        *_taken_inputs(case, sheet),
        Input(
            label=f"energy of {sheet.source}",
            amount=None,
            basis="" if usable is None else "assumed" if sheet.given_assumed else "worked out",
            text=sheet.given_words or "not known",
        ),
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
            sentence += f" That leaves {at_most}{left:.0%}: an old or colder battery ends before dawn."
            remedies = (Remedy(phrase=say("Take a second battery, or heat less.")),)
        else:
            weight, code = ("unknown", "power.part_unknown") if missing else ("sound", "power.sound")
            sentence += f" That leaves {at_most}{left:.0%}."
    return Finding(
        code=code,
        weight=weight,
        title="Power",
        phrase=say(f"{sentence}{_asked(sheet)} {ELECTRIC}"),
        remedies=remedies,
        inputs=inputs,
        formula=FORMULA,
        source=SOURCE,
        missing=missing,
    )


def _taken(one: Consumer) -> str:
    said = f"{one.mean_a:.2g} A at {one.voltage_v:g} V"
    return f"{said} ({one.assumed})" if one.assumed else said


def _hours(hours: float | None, sheet: PowerSheet) -> str:
    return "not known" if hours is None else f"{hours:.1f} hours {sheet.hours_words}"


def _lead(lead: Lead) -> Finding:
    name = literal(f"{lead.name} ({lead.words})")
    sentence = f"The lead of {name} loses {lead.drop_v:.2f} V at the peak: {lead.arrives_v:.2f} V arrive."
    amounts: dict[str, Amount] = {}
    remedies: tuple[Remedy, ...] = ()
    if lead.least_v is not None and lead.arrives_v < lead.least_v:
        weight, code = "stop", "power.lead_starves"
        sentence += f" It needs {lead.least_v:g} V."
    elif lead.drop_v > LOST_SHARE * (lead.arrives_v + lead.drop_v):
        weight, code = "watch", "power.lead_thin"
        sentence += f" That is more than {LOST_SHARE:.0%}."
    else:
        weight, code = "sound", "power.lead_sound"
    if lead.longest_mm is not None and lead.longest_mm >= SHORTEST_MM:
        # Rounded down: a lead that is a little too long loses too much.
        amounts["longest"] = amount(math.floor(lead.longest_mm / 10.0) * 10.0, "length", 0)
    if weight != "sound":
        shorter = "shorten it to {longest} at most" if amounts else "bring the battery much nearer"
        better = f"Take {lead.better_awg} AWG or thicker, or {shorter}."
        if lead.better_awg is None:
            better = f"{shorter[0].upper()}{shorter[1:]}."
        if lead.allowed_v <= 0.0:
            better = "No lead is short enough: it needs a source of a higher voltage."
        remedies = (Remedy(phrase=say(better, **amounts)),)
    elif amounts:
        sentence += " Of this wire it may be {longest} long at most."
    if lead.fuse_a is not None:
        sentence += f" Ask its maker or an electrician about a fuse of {lead.fuse_a:g} A."
    return Finding(
        code=code,
        weight=weight,
        title="Lead",
        phrase=say(f"{sentence} {ELECTRIC}", **amounts),
        remedies=remedies,
        inputs=_lead_inputs(lead),
        formula=LEAD_FORMULA,
        source=LEAD_SOURCE,
    )


def _lead_inputs(lead: Lead) -> tuple[Input, ...]:
    volts = lead.arrives_v + lead.drop_v
    least = "" if lead.least_v is None else f", and {lead.least_v:g} V must arrive"
    longest = "any length" if lead.longest_mm is None else ""
    return (
        Input(
            label=f"peak of {lead.name}",
            amount=None,
            basis="assumed" if lead.assumed else "typed",
            text=f"{lead.peak_a:.2g} A at {volts:g} V" + (f" ({lead.assumed})" if lead.assumed else ""),
        ),
        Input(
            label="length, one way",
            amount=amount(lead.length_mm, "length", 0),
            basis="typed",
            of="the plan of the load",
        ),
        Input(
            label="copper", amount=None, basis="worked out", text=f"{lead.area_mm2:.3g} mm² of cross-section"
        ),
        Input(
            label="temperature of the copper",
            amount=None,
            basis="assumed",
            text="20 °C; in the cold it loses less, a tenth at -5 °C",
        ),
        Input(
            label="may be lost",
            amount=None,
            basis="worked out",
            text=f"{lead.allowed_v:.2f} V: {LOST_SHARE:.0%} at most{least}",
        ),
        Input(
            label="longest of this wire, one way",
            amount=None if longest else amount(lead.longest_mm or 0.0, "length", 0),
            basis="worked out",
            text=longest,
        ),
        Input(label="lost as heat at the peak", amount=None, basis="worked out", text=f"{lead.lost_w:.2g} W"),
    )
