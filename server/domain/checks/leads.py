"""Does enough voltage arrive through a lead, and is its wire thick enough for its current?"""

from __future__ import annotations

import math

from server.domain.findings import Amount, Finding, Input, Remedy
from server.domain.load.leads import HARDLY_SHARE, LOST_SHARE
from server.domain.load.sheet import Lead, PowerSheet
from server.domain.measure import percent
from server.domain.workings.case import COMMON_PRACTICE, Case, amount, listed, literal, say
from server.mechanics.cables import ABOVE_PEAK, DENSITY_A_MM2

LEAD_FORMULA = (
    "drop = 2 x resistivity x length / area x peak current; arrives = voltage - drop; heat = drop x current; "
    "density = current / area; longest = length x what may be lost / drop"
)
LEAD_SOURCE = (
    "Ohm's law; wire sizes ASTM B258, copper by the International Annealed Copper Standard; blade fuses ISO "
    f"8820-3 (from memory). A lead that loses a twentieth at most, {DENSITY_A_MM2:g} A/mm² in small flexible "
    "leads, the voltage of a battery at the end of its discharge, and nine tenths of its voltage for a "
    f"device whose lowest nobody gave: {COMMON_PRACTICE}"
)
ELECTRIC = (
    "Fuse the battery at its own terminal; what a wire may carry is for its maker or a licensed "
    "electrician, by the local code."
)
SHORTEST_MM = 100.0
"""Nobody shortens a lead below this: then the battery has to come nearer. A choice of ours, no source."""


def judge_lead(lead: Lead) -> Finding:
    """The finding of one lead: a stop where its device starves or will hardly run, a watch for a thin one."""
    name = literal(lead.name)
    called = f"The lead of {name} ({literal(lead.words)}, {{length}})"
    sentence = f"{called} loses {lead.drop_v:.2f} V at the peak: {lead.arrives_v:.2f} V arrive"
    if lead.arrives_v <= 0.0:
        sentence = f"{called} would lose all of its {lead.source_v:g} V at the peak: nothing arrives"
    elif lead.end_v < lead.source_v:
        at_end_v = max(0.0, lead.at_end_v)
        sentence += f", and {at_end_v:.2f} V at the end of the battery's discharge (assumed)"
    sentence += "."
    lowest = (f"the lowest voltage of {lead.name}",)
    asked: tuple[str, ...] = ()
    hardly_v = HARDLY_SHARE * lead.device_v
    hot, unguarded = lead.peak_a > lead.borne_a, lead.fuse_a is None
    weight = "watch"
    if lead.least_v is not None and lead.at_end_v < lead.least_v:
        weight, code = "stop", "power.lead_starves"
        sentence += f" It needs {lead.least_v:g} V."
    elif lead.least_v is None and lead.arrives_v < hardly_v:
        weight, code, asked = "stop", "power.lead_hardly_runs", lowest
        sentence += (
            f" With less than {percent(HARDLY_SHARE)} of its {lead.device_v:g} V it will hardly run "
            f"(assumed): enter {literal(lowest[0])}."
        )
    elif hot:
        code = "power.lead_hot"
    elif lead.drop_v > LOST_SHARE * lead.device_v:
        code = "power.lead_thin"
    elif unguarded:
        code = "power.lead_unguarded"
    elif lead.least_v is None and lead.at_end_v < hardly_v:
        code, asked = "power.lead_at_end", lowest
        sentence += (
            f" At the end that is less than {percent(HARDLY_SHARE)} of its {lead.device_v:g} V, and it may "
            f"stop before dawn: enter {literal(lowest[0])}."
        )
    elif lead.end_missing:
        weight, code, asked = "unknown", "power.lead_end_unknown", (lead.end_missing,)
        sentence += (
            " What arrives at the end of the battery's discharge is not known yet: enter "
            f"{literal(lead.end_missing)}."
        )
    else:
        weight, code = "sound", "power.lead_sound"
        sentence = f"This loses little. {sentence}"
    if lead.drop_v > LOST_SHARE * lead.device_v:
        sentence += f" That is more than {percent(LOST_SHARE)} lost."
    if hot:
        sentence += (
            f" Its {_rough(lead.peak_a)} A are {_rough(lead.density_a_mm2)} A/mm² of copper, and small "
            f"flexible leads are taken to bear {DENSITY_A_MM2:g} (common practice): the wire may overheat."
        )
    amounts: dict[str, Amount] = {}
    if lead.longest_mm is not None and lead.longest_mm >= SHORTEST_MM:
        # Rounded down: a lead that is a little too long loses too much.
        amounts["longest"] = amount(math.floor(lead.longest_mm / 100.0) * 100.0, "way")
    remedies: tuple[Remedy, ...] = ()
    if weight in ("stop", "watch"):
        remedies = (Remedy(phrase=say(_better(lead, code, hot or unguarded, bool(amounts)), **amounts)),)
    elif amounts:
        sentence += " Of this wire it may be {longest} long at most."
    return Finding(
        code=code,
        weight=weight,
        title="Lead",
        phrase=say(f"{sentence} {_fuse(lead)} {ELECTRIC}", length=amount(lead.length_mm, "way"), **amounts),
        remedies=remedies,
        inputs=_inputs(lead),
        formula=LEAD_FORMULA,
        source=LEAD_SOURCE,
        missing=asked,
    )


def _rough(value: float) -> str:
    """Two digits of a figure, all of them where it has more before the point."""
    return f"{value:.2g}" if value < 99.5 else f"{value:.0f}"


def _fuse(lead: Lead) -> str:
    """The fuse to ask about, never above what the wire is taken to bear."""
    if lead.fuse_a is None:
        return (
            "No usual fuse both carries its peak and is at or below what this wire is taken to bear "
            f"({lead.borne_a:.2g} A)."
        )
    spare = ""
    if lead.fuse_a < ABOVE_PEAK * lead.peak_a:
        spare = ", which carries the peak with less than the usual quarter to spare"
    return (
        f"Fit the fuse for the thinnest wire after it: if that is this one, ask its maker or an electrician "
        f"about {lead.fuse_a:g} A{spare}."
    )


def _better(lead: Lead, code: str, too_thin: bool, may_shorten: bool) -> str:
    """What to do about a lead, with its longest length as an amount."""
    holds = "a source of a higher voltage, or a converter that holds its voltage"
    if lead.allowed_v <= 0.0:
        return f"No lead is short enough: it needs {holds}."
    if code == "power.lead_at_end":
        return f"Where its lowest voltage is no lower than that, give it {holds}."
    shorter = "shorten it to {longest} at most" if may_shorten else "bring the battery much nearer"
    if not too_thin:
        if lead.better_awg is None:
            return f"{shorter[0].upper()}{shorter[1:]}."
        return f"Take {lead.better_awg} AWG or thicker, or {shorter}."
    # A shorter wire of the same thickness is as hot.
    if lead.better_awg is not None:
        return f"Take {lead.better_awg} AWG or thicker; a shorter lead of this wire is as hot."
    nearer = ", and bring the battery much nearer" if lead.drop_v > lead.allowed_v else ""
    return f"Take a thicker wire, or several leads, as its maker or an electrician says{nearer}."


def open_leads(case: Case, sheet: PowerSheet) -> Finding:
    """The planned leads that cannot be judged yet, with what is known of them."""
    asked_for = tuple(dict.fromkeys(one.missing for one in sheet.open_leads))
    names = {one.part_id: one.name for one in sheet.open_leads}
    inputs: list[Input] = []
    for cable in case.rig.load.cables:
        if cable.part_id not in names:
            continue
        of = names[cable.part_id] or "a device that has left the rig"
        wire = "not known"
        if cable.area_mm2 is not None:
            wire = f"{cable.area_mm2:g} mm²"
        elif cable.gauge_awg is not None:
            wire = f"{cable.gauge_awg} AWG"
        inputs += [
            Input(label="length, one way", amount=amount(cable.length_mm, "length", 0), basis="typed", of=of),
            Input(label="wire", amount=None, basis="" if wire == "not known" else "typed", of=of, text=wire),
        ]
    return Finding(
        code="power.lead_unknown",
        weight="unknown",
        title="Lead",
        phrase=say(literal(f"Not known yet: enter {listed(asked_for)}.")),
        inputs=tuple(inputs),
        formula=LEAD_FORMULA,
        source=LEAD_SOURCE,
        missing=asked_for,
    )


def _heat(lead: Lead) -> str:
    """What becomes heat, where the peak can flow at all."""
    if lead.arrives_v <= 0.0:
        return "the peak cannot flow"
    return f"{lead.lost_w:.3g} W"


def _inputs(lead: Lead) -> tuple[Input, ...]:
    longest = "any length" if lead.longest_mm is None else ""
    least = Input(
        label="the lowest voltage that it bears",
        amount=None,
        basis="assumed",
        of=lead.name,
        text=f"not known: taken to be {percent(HARDLY_SHARE)} of {lead.device_v:g} V",
    )
    if lead.least_v is not None:
        least = least.model_copy(update={"basis": lead.least_basis, "text": f"{lead.least_v:g} V"})
    pieces = f", {lead.pieces} pieces together" if lead.pieces > 1 else ""
    return (
        Input(
            label=f"peak of {lead.name}",
            amount=None,
            basis=lead.peak_basis,
            of=lead.name,
            text=f"{lead.peak_a:.2g} A{pieces}" + (f" ({lead.assumed})" if lead.assumed else ""),
        ),
        Input(
            label="voltage where the lead begins",
            amount=None,
            basis="assumed",
            text=f"{lead.source_v:g} V; at the end {lead.end_v:.4g} V ({lead.end_words})",
        ),
        least,
        Input(
            label="length, one way",
            amount=amount(lead.length_mm, "length", 0),
            basis="typed",
            of="the plan of the load",
        ),
        Input(
            label="copper",
            amount=None,
            basis="typed" if "mm²" in lead.words else "worked out",
            of="the plan of the load",
            text=f"{lead.area_mm2:.3g} mm² of cross-section",
        ),
        Input(
            label="current for each mm² of copper",
            amount=None,
            basis="worked out",
            text=f"{lead.density_a_mm2:.2g} A/mm²; {DENSITY_A_MM2:g} are taken to be borne: "
            f"{lead.borne_a:.2g} A",
        ),
        Input(
            label="fuse above the peak", amount=None, basis="assumed", text=f"{ABOVE_PEAK:g} times at least"
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
            text=f"{lead.allowed_v:.2f} V: {percent(LOST_SHARE)} of {lead.device_v:g} V at most, and what it "
            "bears must arrive",
        ),
        Input(
            label="longest of this wire, one way",
            amount=None if longest else amount(lead.longest_mm or 0.0, "way"),
            basis="worked out",
            text=longest,
        ),
        Input(label="lost as heat at the peak", amount=None, basis="worked out", text=_heat(lead)),
    )
