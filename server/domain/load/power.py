"""The night's energy: what each device takes, what the battery gives, and what the leads lose."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.load.sheet import Consumer, Lead, PowerSheet
from server.domain.measure import nominal
from server.domain.parts import (
    Accessory,
    BaseCamera,
    CataloguedPart,
    FilterWheel,
    Focuser,
    Mount,
    PowerSource,
    Rotator,
    TiltAdjuster,
)
from server.domain.rig import Rig
from server.mechanics.batteries import USABLE, cooling_current_a, drain_share, mean_current_a, usable_wh
from server.mechanics.cables import area_of_gauge_mm2, drop_v, fuse_to_ask_about_a, gauge_for
from server.sky.night import night_hours

USUAL_V = 12.0
"""What most devices of the trade run at (common practice, no source)."""
WARM_C = 20.0
LOST_SHARE = 0.05
"""A lead that loses more of the voltage is too thin or too long (common practice, no source)."""


@dataclass(frozen=True)
class Given:
    """What the sources give together, Wh; how that comes about; the nominal charge of the first sort, Ah."""

    usable_wh: float
    words: str
    assumed: bool
    first_ah: float
    first_wh: float


def sources_of(rig: Rig) -> tuple[tuple[CataloguedPart, int], ...]:
    """The batteries and supplies beside the train, each with how many of it there are."""
    return tuple((gear.item, gear.quantity) for gear in rig.gear if isinstance(gear.item.part, PowerSource))


def work_power(rig: Rig) -> PowerSheet:
    """Work out the night's energy. Raises ValueError for figures out of every range."""
    sources = sources_of(rig)
    if not sources:
        return PowerSheet()
    first = sources[0][0].part
    assert isinstance(first, PowerSource)
    missing: list[str] = []
    hours, hours_words = _hours(rig, missing)
    volts = nominal(first.voltage_v) or USUAL_V
    consumers = _consumers(rig, volts, hours, missing)
    watts = sum(one.mean_a * one.voltage_v for one in consumers) / (rig.load.supply_share or 1.0)
    given = _given(rig, sources, watts, missing)
    usable = None if given is None else given.usable_wh
    need = None if hours is None else sum(one.energy_wh or 0.0 for one in consumers)
    short = None if need is None or usable is None or need <= usable else need - usable
    mains = any(isinstance(i.part, PowerSource) and i.part.chemistry == "mains" for i, _ in sources)
    return PowerSheet(
        source=" and ".join(f"{count} x {item.name}" if count > 1 else item.name for item, count in sources),
        chemistry="mains" if mains else first.chemistry or "",
        hours=hours,
        hours_words=hours_words,
        consumers=consumers,
        need_wh=need,
        usable_wh=usable,
        given_words="" if given is None else given.words,
        given_assumed=given is not None and given.assumed,
        more_ah=short / given.first_wh * given.first_ah
        if short is not None and given is not None and given.first_wh > 0.0
        else None,
        lasts_h=None if usable is None or watts <= 0.0 else usable / watts,
        leads=_leads(rig, {one.part_id: one for one in consumers}),
        missing=tuple(missing),
    )


def _hours(rig: Rig, missing: list[str]) -> tuple[float | None, str]:
    load = rig.load
    if load.night_hours is not None:
        return load.night_hours, "as you say"
    if load.latitude_deg is None or load.night is None:
        missing.append("the site's latitude and the night's date, or the night's length")
        return None, ""
    found = night_hours(load.latitude_deg, load.night, "sunset")
    if found <= 0.0:
        missing.append("the night's length: the Sun does not set there on that date")
        return None, ""
    return found, f"from sunset to sunrise on {load.night:%d %B %Y}"


def _given(
    rig: Rig, sources: tuple[tuple[CataloguedPart, int], ...], watts: float, missing: list[str]
) -> Given | None:
    """What all sources give together; None on mains, or while a figure of one is missing."""
    parts = [(item, count, item.part) for item, count in sources if isinstance(item.part, PowerSource)]
    if any(part.chemistry == "mains" for _, _, part in parts):
        return None
    lacking = [
        f"the {words} of {item.name}"
        for item, _, part in parts
        for words, value in (
            ("chemistry", part.chemistry),
            ("nominal voltage", part.voltage_v),
            ("capacity", part.capacity_ah),
        )
        if value is None
    ]
    missing += lacking
    if lacking:
        return None
    low, total_wh, told, assumed = rig.load.low_c, 0.0, [], rig.load.low_c is None
    first_ah = first_wh = 0.0
    together = sum(count * (nominal(part.capacity_ah) or 0.0) for _, count, part in parts)
    for number, (_, count, part) in enumerate(parts):
        chemistry, volts, charge = part.chemistry, nominal(part.voltage_v), nominal(part.capacity_ah)
        assert chemistry is not None
        assert volts is not None
        assert charge is not None
        own = nominal(part.usable_share)
        share = USABLE[chemistry] if own is None else own
        assumed = assumed or own is None
        # Each battery is taken to bear its part of the current by its charge.
        current_a = watts / volts * charge / together if together > 0.0 else 0.0
        drain = drain_share(chemistry, charge, current_a) if charge > 0.0 else 1.0
        one_wh = usable_wh(charge, volts, share, chemistry, WARM_C if low is None else low) * drain
        total_wh += count * one_wh
        faster = f", {drain:.0%} for a drain faster than 20 hours" if drain < 1.0 else ""
        told.append(f"{count} x {charge:g} Ah x {volts:g} V, {share:.0%} of it used{faster}")
        if number == 0:
            first_ah, first_wh = charge, one_wh
    at = f"at {WARM_C:g} °C, as nobody gave the lowest temperature" if low is None else f"at {low:g} °C"
    return Given(total_wh, f"{'; '.join(told)}; {at}", assumed, first_ah, first_wh)


def _consumers(rig: Rig, volts: float, hours: float | None, missing: list[str]) -> tuple[Consumer, ...]:
    items = [(item, 1) for place in (*rig.train, *rig.branch) for item in (place.item,)]
    items += [(gear.item, gear.quantity) for gear in rig.gear]
    found = []
    for item, quantity in items:
        taken = _taken(rig, item, missing)
        if taken is None:
            continue
        mean, peak, assumed = taken
        own = getattr(item.part, "voltage_v", None)
        at = volts if own is None else own.nominal
        if own is None:
            assumed = (assumed + "; " if assumed else "") + "runs at the source's voltage"
        share = rig.load.supply_share or 1.0
        energy = None if hours is None else mean * quantity * at * hours / share
        found.append(Consumer(item.id, item.name, at, mean * quantity, peak * quantity, energy, assumed))
    return tuple(found)


def _taken(rig: Rig, item: CataloguedPart, missing: list[str]) -> tuple[float, float, str] | None:
    """Mean and peak current, A, and what was assumed; None for what takes none or is not known."""
    part = item.part
    if isinstance(part, BaseCamera):
        idle, full = nominal(part.current_idle_a), nominal(part.current_cooling_a)
        if idle is None and full is None:
            missing.append(f"the current of {item.name}")
            return None
        low = full if idle is None else idle
        high = idle if full is None else full
        assert low is not None
        assert high is not None
        most, asked = nominal(part.cooling_k), rig.load.cooling_k
        if most and asked is not None:
            return (
                cooling_current_a(low, high, asked, most),
                high,
                "between idle and full by the cooling asked",
            )
        return high, high, "at full cooling all night" if full is not None else ""
    if isinstance(part, Mount):
        on, peak = nominal(part.current_a), nominal(part.current_peak_a)
        if on is None and peak is None:
            missing.append(f"the current of {item.name}")
            return None
        mean = peak if on is None else on
        assert mean is not None
        return mean, mean if peak is None else peak, ""
    if isinstance(part, Accessory):
        on = nominal(part.current_a)
        if on is None:
            return None
        share = nominal(part.duty_share)
        idle = nominal(part.current_idle_a) or 0.0
        if share is None:
            return on, on, "on all night"
        return mean_current_a(on, idle, share), on, ""
    if isinstance(part, FilterWheel | Focuser | Rotator | TiltAdjuster):
        on = nominal(getattr(part, "current_a", None))
        return None if on is None else (on, on, "as if it moved all night")
    return None


def _leads(rig: Rig, consumers: dict[int, Consumer]) -> tuple[Lead, ...]:
    found = []
    for cable in rig.load.cables:
        one = consumers.get(cable.part_id)
        if one is None or (cable.gauge_awg is None and cable.area_mm2 is None):
            continue
        area = cable.area_mm2 or area_of_gauge_mm2(cable.gauge_awg or 0)
        words = f"{cable.gauge_awg} AWG" if cable.gauge_awg is not None else f"{area:g} mm²"
        lost = drop_v(cable.length_mm, area, one.peak_a)
        items = [*(gear.item for gear in rig.gear), *(at.item for at in (*rig.train, *rig.branch))]
        part = next((item.part for item in items if item.id == one.part_id), None)
        least = nominal(getattr(part, "voltage_least_v", None))
        arrives = one.voltage_v - lost
        bad = lost > LOST_SHARE * one.voltage_v or (least is not None and arrives < least)
        allowed = LOST_SHARE * one.voltage_v
        if least is not None:
            allowed = min(allowed, max(0.0, one.voltage_v - least))
        found.append(
            Lead(
                one.part_id,
                one.name,
                f"{words}, {cable.length_mm / 1000.0:g} m",
                lost,
                arrives,
                least,
                fuse_to_ask_about_a(one.peak_a),
                gauge_for(cable.length_mm, one.peak_a, allowed) if bad and allowed > 0.0 else None,
            )
        )
    return tuple(found)
