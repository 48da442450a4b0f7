"""Does the battery last the night, and does enough voltage arrive?"""

from __future__ import annotations

import math

from server.domain.cautions import WIRED, cautions_of_source
from server.domain.checks.leads import judge_lead, open_leads
from server.domain.findings import Weight
from server.domain.load.power import sources_of, work_power
from server.domain.load.sheet import Consumer, PowerSheet
from server.domain.missing import wants
from server.domain.parts import PowerSource
from server.domain.said import Quantity, Said, percent_of, said
from server.domain.verdicts import Advice, Given, Later, Verdict
from server.domain.workings.case import Case

LITTLE_LEFT = 0.2
"""Less than this left at dawn is a watch (common practice, no source)."""


def check_power(case: Case) -> tuple[Verdict, ...]:
    """Judge the night's energy and the planned leads; silent where nothing is said of the night, and for a
    rig that neither has a source nor anything that takes current.
    """
    load = case.rig.load
    # A place alone, such as that of the rig's usual site, says nothing of a night yet.
    asked = load.night_hours is not None or load.night is not None
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


def _without_source(case: Case, sheet: PowerSheet) -> Verdict:
    """A night that somebody plans without saying what feeds it."""
    return Verdict(
        code="power.no_source",
        weight="unknown",
        says=(said("power.no_source"), *_night(sheet), *_asked(sheet), *map(said, WIRED)),
        inputs=Later(_taken_inputs, case, sheet),
        missing=(wants("source"), *sheet.missing),
    )


def _on_mains(case: Case, sheet: PowerSheet) -> Verdict:
    """A mains supply alone: no battery to run empty."""
    feeds = said("power.mains", mains=sheet.mains)
    return Verdict(
        code="power.mains",
        weight="sound",
        says=(feeds, *_night(sheet), *_peak(sheet, mains=True), *_care(case)),
        inputs=Later(_taken_inputs, case, sheet),
    )


def _night(sheet: PowerSheet) -> tuple[Said, ...]:
    """What the night takes; empty where that is not known."""
    if sheet.need_wh is None or sheet.hours is None or not sheet.consumers:
        return ()
    need, hours = Quantity(sheet.need_wh, "Wh", 0), Quantity(sheet.hours, "", 1)
    return (said("power.night", mains=bool(sheet.mains), least=sheet.uncounted, need=need, hours=hours),)


def _peak(sheet: PowerSheet, *, mains: bool) -> tuple[Said, ...]:
    """What all devices take at once; empty where nothing takes current."""
    if not sheet.peak_a:
        return ()
    peak, at = Quantity(sheet.peak_a, "A", 1), Quantity(sheet.peak_at_v, "V")
    return (said("power.peaks", least=sheet.peak_at_least, peak=peak, at=at, mains=mains),)


def _asked(sheet: PowerSheet) -> tuple[Said, ...]:
    """What to enter; empty where nothing is missing."""
    others = tuple(words for words in sheet.missing if words not in sheet.uncounted)
    found = [said("enter", missing=others)] if others else []
    if sheet.uncounted:
        found.append(said("not_counted", missing=sheet.uncounted))
    return tuple(found)


def _care(case: Case) -> tuple[Said, ...]:
    """What each battery and supply is never shown without."""
    parts = (item.part for item, _ in sources_of(case.rig))
    notes = [note for part in parts if isinstance(part, PowerSource) for note in cautions_of_source(part)]
    return tuple(dict.fromkeys(one for note in notes for one in note.says))


def _taken_inputs(case: Case, sheet: PowerSheet) -> tuple[Given, ...]:
    """The night, what each device takes of it, and what was taken to take nothing."""
    share = case.rig.load.supply_share
    hours = sheet.hours
    basis = "" if hours is None else "typed" if case.rig.load.night_hours is not None else "worked out"
    night = None if hours is None else said("night", hours=Quantity(hours, "", 1), by=sheet.hours_by)
    converted = [one.name for one in sheet.consumers if one.converted]
    kept = said("power.converter", share=None if share is None else percent_of(share), converted=converted)
    return (
        Given("the night", None, basis, note=night),
        *(
            Given(
                said("power.mean_of", name=one.name),
                None,
                "assumed" if one.assumed else one.basis,
                note=_taken(one),
            )
            for one in sheet.consumers
        ),
        *(
            Given(said("text", text=name), None, "assumed", note=said("power.takes_none"))
            for name in sheet.taken_none
        ),
        Given("efficiency of a converter", None, "assumed" if share is None else "typed", note=kept),
    )


def _energy(case: Case, sheet: PowerSheet) -> Verdict:
    missing = sheet.missing
    need, usable, hours = sheet.need_wh, sheet.usable_wh, sheet.hours
    bound = {"bound": bool(sheet.uncounted)}
    inputs = (
        *_taken_inputs(case, sheet),
        Given(
            said("power.energy_of", batteries=sheet.batteries),
            None,
            "" if usable is None else "assumed" if sheet.given_assumed else "worked out",
            note=sheet.given_by,
        ),
        *_battery_inputs(case),
        *_peak_inputs(sheet),
    )
    remedies: tuple[Advice, ...] = ()
    weight: Weight
    weight, code = "unknown", "power.unknown"
    if need is None or usable is None or hours is None:
        says = [said(code, batteries=sheet.batteries)]
    else:
        facts = {"need": Quantity(need, "Wh", 0), "hours": Quantity(hours, "", 1)}
        gives = Quantity(usable, "Wh", 0)
        says = [said("power.takes", batteries=sheet.batteries, gives=gives, **facts, **bound)]
        left = 1.0 - need / usable if usable > 0.0 else -1.0
        if left < 0.0:
            weight, code = "stop", "power.runs_out"
            says.append(said(code, lasts=Quantity(sheet.lasts_h or 0.0, "", 1), **bound))
            more = None if sheet.more_ah is None else Quantity(math.ceil(sheet.more_ah), "Ah", 0)
            bring = said("power.bring", short=Quantity(need - usable, "usable Wh", 0), more=more)
            remedies = (Advice((bring,)),)
        else:
            says.append(said("power.leaves", left=percent_of(left), little=left < LITTLE_LEFT, **bound))
            weight, code = ("unknown", "power.part_unknown") if missing else ("sound", "power.sound")
            if left < LITTLE_LEFT:
                weight, code = "watch", "power.little"
                remedies = (Advice((said("power.second"),)),)
    if sheet.mains:
        says.append(said("power.mains_beside", mains=sheet.mains))
    says += [*_peak(sheet, mains=False), *_asked(sheet), *dict.fromkeys((*_care(case), *map(said, WIRED)))]
    return Verdict(
        code=code, weight=weight, says=tuple(says), remedies=remedies, inputs=inputs, missing=missing
    )


def _battery_inputs(case: Case) -> list[Given]:
    """What each battery's maker or owner says of it, with where that is from."""
    found: list[Given] = []
    for item, _ in sources_of(case.rig):
        part = item.part
        if not isinstance(part, PowerSource) or part.chemistry == "mains":
            continue
        for label, figure, unit, times in (
            ("capacity", part.capacity_ah, "Ah", 1.0),
            ("nominal voltage", part.voltage_v, "V", 1.0),
            ("usable share", part.usable_share, "%", 100.0),
        ):
            if figure is not None:
                value = Quantity(figure.nominal * times, unit, 0 if unit == "%" else None)
                note = said("quantity", value=value)
                found.append(Given(label, None, part.basis_of(figure), item.name, note))
    return found


def _peak_inputs(sheet: PowerSheet) -> list[Given]:
    """What adds up to the peak of all."""
    return [
        Given(
            said("power.peak_of", name=one.name),
            None,
            one.peak_basis,
            note=said(
                "power.peak",
                peak=Quantity(one.peak_a, "A", figures=2),
                at=Quantity(one.voltage_v, "V"),
                unknown=one.peak_unknown,
            ),
        )
        for one in sheet.consumers
    ]


def _taken(one: Consumer) -> Said:
    return said(
        "power.taken",
        mean=Quantity(one.mean_a, "A", figures=2),
        at=Quantity(one.voltage_v, "V"),
        several=one.quantity > 1,
        count=one.quantity,
        fed=one.fed,
        assumed=one.assumed,
    )
