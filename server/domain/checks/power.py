"""Does the battery last the night, and does enough voltage arrive?"""

from __future__ import annotations

import math

from server.domain.checks.case import COMMON_PRACTICE, Case, listed, literal, say
from server.domain.findings import Finding, Input, Remedy
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
LEAD_FORMULA = "drop = 2 x resistivity x length / area x peak current"
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
LITTLE_LEFT = 0.2
"""Less than this left at dawn is a watch (common practice, no source)."""


def check_power(case: Case) -> tuple[Finding, ...]:
    """Judge the night's energy and the planned leads; silent without a source or where nothing is said of
    the night.
    """
    load = case.rig.load
    asked = load.night_hours is not None or load.latitude_deg is not None or load.night is not None
    if not asked and not load.cables:
        return ()
    sheet = work_power(case.rig)
    if not sheet.source:
        return ()
    found = [_lead(one) for one in sheet.leads]
    if asked and sheet.chemistry != "mains":
        found.insert(0, _energy(sheet))
    return tuple(found)


def _energy(sheet: PowerSheet) -> Finding:
    name = literal(sheet.source)
    missing = sheet.missing
    need, usable, hours = sheet.need_wh, sheet.usable_wh, sheet.hours
    inputs = (
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
        sentence = f"The night takes {need:.0f} Wh over {hours:.1f} hours; {name} gives {usable:.0f} Wh."
        left = 1.0 - need / usable if usable > 0.0 else -1.0
        if left < 0.0:
            weight, code = "stop", "power.runs_out"
            sentence += f" It is empty after {sheet.lasts_h or 0.0:.1f} hours."
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
            sentence += f" That leaves {left:.0%}: an old or colder battery ends before dawn."
            remedies = (Remedy(phrase=say("Take a second battery, or heat less.")),)
        else:
            weight, code = ("unknown", "power.part_unknown") if missing else ("sound", "power.sound")
            sentence += f" That leaves {left:.0%}."
    if missing:
        sentence += literal(f" Not known yet: enter {listed(missing)}.")
    return Finding(
        code=code,
        weight=weight,
        title="Power",
        phrase=say(f"{sentence} {ELECTRIC}"),
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
    sentence = f"The lead of {name} loses {lead.drop_v:.2f} V at the peak: {lead.arrives_v:.1f} V arrive."
    remedies: tuple[Remedy, ...] = ()
    if lead.least_v is not None and lead.arrives_v < lead.least_v:
        weight, code = "stop", "power.lead_starves"
        sentence += f" It needs {lead.least_v:g} V."
    elif lead.drop_v > LOST_SHARE * (lead.arrives_v + lead.drop_v):
        weight, code = "watch", "power.lead_thin"
        sentence += f" That is more than {LOST_SHARE:.0%}."
    else:
        weight, code = "sound", "power.lead_sound"
    if weight != "sound":
        better = f"{lead.better_awg} AWG or thicker" if lead.better_awg is not None else "a much shorter lead"
        remedies = (Remedy(phrase=say(f"Take {better}, or bring the battery nearer.")),)
    if lead.fuse_a is not None:
        sentence += f" Ask its maker or an electrician about a fuse of {lead.fuse_a:g} A."
    return Finding(
        code=code,
        weight=weight,
        title="Lead",
        phrase=say(f"{sentence} {ELECTRIC}"),
        remedies=remedies,
        formula=LEAD_FORMULA,
        source=LEAD_SOURCE,
    )
