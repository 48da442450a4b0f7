"""Does enough voltage arrive through a lead, and is its wire thick enough for its current?"""

from __future__ import annotations

import math
from dataclasses import replace

from server.domain.cautions import WIRED
from server.domain.findings import Amount, Weight
from server.domain.load.leads import HARDLY_SHARE, LOST_SHARE
from server.domain.load.sheet import Lead, PowerSheet
from server.domain.said import Missing, Named, Quantity, Said, percent_of, said
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import Case, amount, not_known
from server.mechanics.cables import ABOVE_PEAK, DENSITY_A_MM2

SHORTEST_MM = 100.0
"""Nobody shortens a lead below this: then the battery has to come nearer. A choice of ours, no source."""


def judge_lead(lead: Lead) -> Verdict:
    """The verdict on one lead: a stop where its device starves or will hardly run, a watch for a thin one."""
    at_end_v = max(0.0, lead.at_end_v) if lead.arrives_v > 0.0 and lead.end_v < lead.source_v else None
    lowest = Missing(
        said("lacks.voltage_least_v", part=Named(lead.part_id, lead.name)), lead.part_id, "voltage_least_v"
    )
    hardly = {
        "share": percent_of(HARDLY_SHARE),
        "volts": Quantity(lead.device_v, "V"),
        "missing": lowest,
    }
    loses = said(
        "lead.loses",
        name=lead.name,
        wire=lead.wire,
        length=amount(lead.length_mm, "way"),
        nothing=lead.arrives_v <= 0.0,
        source=Quantity(lead.source_v, "V"),
        drop=Quantity(lead.drop_v, "V", 2),
        arrives=Quantity(lead.arrives_v, "V", 2),
        at_end=None if at_end_v is None else Quantity(at_end_v, "V", 2),
        little=False,
    )
    says = [loses]
    asked: tuple[Missing, ...] = ()
    hardly_v = HARDLY_SHARE * lead.device_v
    hot, unguarded = lead.peak_a > lead.borne_a, lead.fuse_a is None
    weight: Weight = "watch"
    if lead.least_v is not None and lead.at_end_v < lead.least_v:
        weight, code = "stop", "power.lead_starves"
        says.append(said(code, least=Quantity(lead.least_v, "V")))
    elif lead.least_v is None and lead.arrives_v < hardly_v:
        weight, code, asked = "stop", "power.lead_hardly_runs", (lowest,)
        says.append(said(code, **hardly))
    elif hot:
        code = "power.lead_hot"
    elif lead.drop_v > LOST_SHARE * lead.device_v:
        code = "power.lead_thin"
    elif unguarded:
        code = "power.lead_unguarded"
    elif lead.least_v is None and lead.at_end_v < hardly_v:
        code, asked = "power.lead_at_end", (lowest,)
        says.append(said(code, **hardly))
    elif lead.end_missing:
        weight, code, asked = "unknown", "power.lead_end_unknown", (lead.end_missing,)
        says.append(said(code, missing=lead.end_missing))
    else:
        weight, code = "sound", "power.lead_sound"
        says = [Said(loses.key, tuple((k, True if k == "little" else v) for k, v in loses.facts))]
    if lead.drop_v > LOST_SHARE * lead.device_v:
        says.append(said("lead.lost", share=percent_of(LOST_SHARE)))
    if hot:
        density, bears = _rough(lead.density_a_mm2, "A/mm²"), Quantity(DENSITY_A_MM2, "")
        says.append(said("power.lead_hot", peak=_rough(lead.peak_a, "A"), density=density, bears=bears))
    longest = None
    if lead.longest_mm is not None and lead.longest_mm >= SHORTEST_MM:
        # Rounded down: a lead that is a little too long loses too much.
        longest = amount(math.floor(lead.longest_mm / 100.0) * 100.0, "way")
    remedies: tuple[Advice, ...] = ()
    if weight in ("stop", "watch"):
        remedies = (Advice((_better(lead, code, hot or unguarded, longest),)),)
    elif longest is not None:
        says.append(said("lead.longest", longest=longest))
    return Verdict(
        code=code,
        weight=weight,
        says=(*says, _fuse(lead), *map(said, WIRED)),
        remedies=remedies,
        inputs=Later(_inputs, lead),
        missing=asked,
        working="power.lead",
    )


def _rough(value: float, unit: str) -> Quantity:
    """Two digits of a figure, all of them where it has more before the point."""
    return Quantity(value, unit, figures=2) if value < 99.5 else Quantity(value, unit, 0)


def _fuse(lead: Lead) -> Said:
    """The fuse to ask about, never above what the wire is taken to bear."""
    if lead.fuse_a is None:
        return said("lead.no_fuse", borne=Quantity(lead.borne_a, "A", figures=2))
    spare = lead.fuse_a < ABOVE_PEAK * lead.peak_a
    return said("lead.fuse", fuse=Quantity(lead.fuse_a, "A"), little_spare=spare)


def _better(lead: Lead, code: str, too_thin: bool, longest: Amount | None) -> Said:
    """What to do about a lead."""
    if lead.allowed_v <= 0.0:
        return said("lead.none_short_enough")
    if code == "power.lead_at_end":
        return said("lead.no_lower")
    gauge = lead.better_awg
    if not too_thin:
        return said("lead.thicker_or_shorter", gauge=gauge, longest=longest)
    # A shorter wire of the same thickness is as hot.
    if gauge is not None:
        return said("lead.thicker", gauge=gauge)
    return said("lead.several", nearer=lead.drop_v > lead.allowed_v)


def open_leads(case: Case, sheet: PowerSheet) -> Verdict:
    """The planned leads that cannot be judged yet, with what is known of them."""
    asked_for = tuple(dict.fromkeys(one.missing for one in sheet.open_leads))
    names = {one.part_id: one.name for one in sheet.open_leads}
    inputs: list[Given] = []
    for cable in case.rig.load.cables:
        if cable.part_id not in names:
            continue
        of = names[cable.part_id] or "a device that has left the rig"
        known = cable.area_mm2 is not None or cable.gauge_awg is not None
        wire = None
        if known:
            area = None if cable.area_mm2 is None else Quantity(cable.area_mm2, "mm²")
            wire = said("lead.wire", area=area, gauge=cable.gauge_awg, several=False)
        inputs += [
            Given("length, one way", amount(cable.length_mm, "length", 0), "typed", of),
            Given("wire", None, "typed" if known else "", of, wire),
        ]
    return not_known(
        "power.lead_unknown",
        asked_for,
        said("enter", missing=asked_for),
        working="power.lead",
        inputs=tuple(inputs),
    )


def _inputs(lead: Lead) -> tuple[Given, ...]:
    plan, volts = "the plan of the load", Quantity(lead.device_v, "V")
    hardly = said("lead.least_unknown", share=percent_of(HARDLY_SHARE), volts=volts)
    least = Given("the lowest voltage that it bears", None, "assumed", lead.name, hardly)
    if lead.least_v is not None:
        known = said("quantity", value=Quantity(lead.least_v, "V"))
        least = replace(least, basis=lead.least_basis, note=known)
    peak = said(
        "lead.peak",
        peak=Quantity(lead.peak_a, "A", figures=2),
        several=lead.pieces > 1,
        pieces=lead.pieces,
        assumed=lead.assumed,
    )
    begins = said(
        "lead.begins",
        source=Quantity(lead.source_v, "V"),
        end=Quantity(lead.end_v, "V", figures=4),
        by=lead.end_by,
    )
    density = said(
        "lead.density",
        density=Quantity(lead.density_a_mm2, "A/mm²", figures=2),
        bears=Quantity(DENSITY_A_MM2, ""),
        borne=Quantity(lead.borne_a, "A", figures=2),
    )
    lost = said(
        "lead.may_be_lost",
        allowed=Quantity(lead.allowed_v, "V", 2),
        share=percent_of(LOST_SHARE),
        volts=volts,
    )
    heat = None if lead.arrives_v <= 0.0 else Quantity(lead.lost_w, "W", figures=3)
    longest = None if lead.longest_mm is None else amount(lead.longest_mm, "way")
    typed = dict(lead.wire.facts)["area"] is not None
    copper = said("lead.copper", area=Quantity(lead.area_mm2, "mm²", figures=3))
    return (
        Given(said("power.peak_of", name=lead.name), None, lead.peak_basis, lead.name, peak),
        Given("voltage where the lead begins", None, "assumed", note=begins),
        least,
        Given("length, one way", amount(lead.length_mm, "length", 0), "typed", plan),
        Given("copper", None, "typed" if typed else "worked out", plan, copper),
        Given("current for each mm² of copper", None, "worked out", note=density),
        Given(
            "fuse above the peak", None, "assumed", note=said("lead.above", times=Quantity(ABOVE_PEAK, ""))
        ),
        Given("temperature of the copper", None, "assumed", note=said("lead.warm")),
        Given("may be lost", None, "worked out", note=lost),
        Given(
            "longest of this wire, one way",
            longest,
            "worked out",
            note=said("lead.any_length") if longest is None else None,
        ),
        Given("lost as heat at the peak", None, "worked out", note=said("lead.heat", heat=heat)),
    )
