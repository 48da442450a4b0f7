"""The night's energy: what each device takes, what the battery gives, and what the leads lose."""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.load.plan import Cable
from server.domain.load.sheet import Consumer, Lead, OpenLead, PowerSheet
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
from server.mechanics.cables import (
    area_of_gauge_mm2,
    drop_v,
    fuse_to_ask_about_a,
    gauge_for,
    longest_mm,
    lost_w,
)
from server.sky.night import night_hours

USUAL_V = 12.0
"""What most devices of the trade run at (common practice, no source)."""
HIGHEST_V = 60.0
"""Nothing of the trade runs straight at more: a supply of a higher voltage is named by its mains side, and
what it feeds is taken to run at the usual voltage (common practice, no source)."""
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
    """Work out the night's energy, without a source what the devices take of it.

    Raises ValueError for figures out of every range.
    """
    sources = sources_of(rig)
    parts = [item.part for item, _ in sources if isinstance(item.part, PowerSource)]
    missing: list[str] = []
    uncounted: list[str] = []
    hours, hours_words = _hours(rig, missing)
    source_v = nominal(parts[0].voltage_v) if parts else None
    if source_v is not None and source_v > HIGHEST_V:
        source_v = None
    consumers, taken_none = _consumers(rig, source_v, hours, uncounted)
    uncounted = list(dict.fromkeys(uncounted))
    missing += uncounted
    watts = sum(one.mean_a * one.voltage_v for one in consumers) / (rig.load.supply_share or 1.0)
    given = _given(rig, sources, watts, missing) if parts else None
    leads, open_leads = _leads(rig, consumers)
    usable = None if given is None else given.usable_wh
    need = None if hours is None else sum(one.energy_wh or 0.0 for one in consumers)
    short = None if need is None or usable is None or need <= usable else need - usable
    mains = any(part.chemistry == "mains" for part in parts)
    return PowerSheet(
        source=" and ".join(f"{count} x {item.name}" if count > 1 else item.name for item, count in sources),
        chemistry="mains" if mains else (parts[0].chemistry or "") if parts else "",
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
        leads=leads,
        taken_none=taken_none,
        missing=tuple(missing),
        uncounted=tuple(uncounted),
        open_leads=open_leads,
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


def _consumers(
    rig: Rig, source_v: float | None, hours: float | None, uncounted: list[str]
) -> tuple[tuple[Consumer, ...], tuple[str, ...]]:
    """What takes current, and the names of what was taken to take none, nobody having said."""
    items = [(item, 1) for place in (*rig.train, *rig.branch) for item in (place.item,)]
    items += [(gear.item, gear.quantity) for gear in rig.gear]
    found: list[Consumer] = []
    taken_none: list[str] = []
    for item, quantity in items:
        taken = _taken(rig, item, uncounted)
        if taken is None:
            if isinstance(item.part, Accessory | TiltAdjuster) and not _driven(item):
                taken_none.append(item.name)
            continue
        assumed = taken.assumed
        own = nominal(getattr(item.part, "voltage_v", None))
        at = own or source_v or USUAL_V
        if own is None:
            runs = "the source's voltage" if source_v else f"{USUAL_V:g} V"
            assumed = (assumed + "; " if assumed else "") + f"runs at {runs}"
        share = rig.load.supply_share or 1.0
        mean_a, peak_a = taken.mean * quantity, taken.peak * quantity
        energy = None if hours is None else mean_a * at * hours / share
        found.append(Consumer(item.id, item.name, at, mean_a, peak_a, energy, assumed, taken.peak_unknown))
    return tuple(found), tuple(dict.fromkeys(taken_none))


def _driven(item: CataloguedPart) -> bool:
    """Whether a part that may draw current or not is one that does: any figure of its power is given."""
    figures = ("current_a", "current_idle_a", "duty_share", "voltage_v", "voltage_least_v")
    return any(getattr(item.part, name, None) is not None for name in figures)


@dataclass(frozen=True)
class _Current:
    """What one device takes, A; what was assumed; which figure of its peak is missing, "" for none."""

    mean: float
    peak: float
    assumed: str = ""
    peak_unknown: str = ""


def _taken(rig: Rig, item: CataloguedPart, missing: list[str]) -> _Current | None:
    """What a device takes; None for what takes none or is not known, which `missing` then names.

    Cameras, mounts, wheels, focusers and rotators are asked for their current, a drawer of one place is not;
    accessories and tilt adjusters, most of which draw none, only where a figure of their power is given.
    """
    part = item.part
    if isinstance(part, BaseCamera):
        return _of_camera(rig, item, part, missing)
    if isinstance(part, Mount):
        on, peak = nominal(part.current_a), nominal(part.current_peak_a)
        if on is not None:
            unknown = "current while slewing" if peak is None else ""
            return _Current(on, on if peak is None else max(on, peak), "", unknown)
        if peak is not None:
            return _Current(peak, peak, "as if it slewed all night")
        missing.append(f"the current of {item.name}")
    if isinstance(part, Accessory):
        on = nominal(part.current_a)
        if on is not None:
            share, idle = nominal(part.duty_share), nominal(part.current_idle_a) or 0.0
            if share is None:
                return _Current(on, on, "on all night")
            return _Current(mean_current_a(on, idle, share), max(on, idle))
        if _driven(item):
            missing.append(f"the current of {item.name}")
    if isinstance(part, FilterWheel | Focuser | Rotator | TiltAdjuster):
        on = nominal(part.current_a)
        if on is not None:
            return _Current(on, on, "as if it moved all night")
        drawer = isinstance(part, FilterWheel) and part.positions == 1
        if not drawer and not isinstance(part, TiltAdjuster):
            missing.append(f"the current of {item.name} (0 where nothing drives it)")
    return None


def _of_camera(rig: Rig, item: CataloguedPart, part: BaseCamera, missing: list[str]) -> _Current | None:
    """A camera: by the cooling that is asked of it, else at full cooling."""
    idle, full = nominal(part.current_idle_a), nominal(part.current_cooling_a)
    most, asked = nominal(part.cooling_k), rig.load.cooling_k
    if full is None:
        if idle is None:
            missing.append(f"the current of {item.name}")
            return None
        if most:
            # It can be cooled, and what that takes is not known: counted so far as it is.
            missing.append(f"the current at full cooling of {item.name}")
            return _Current(idle, idle, "without its cooling", "current at full cooling")
        return _Current(idle, idle)
    if idle is not None and most and asked is not None:
        between = cooling_current_a(idle, full, asked, most)
        return _Current(between, max(idle, full), "between idle and full by the cooling asked")
    return _Current(full, full, "at full cooling all night")


def _leads(rig: Rig, consumers: tuple[Consumer, ...]) -> tuple[tuple[Lead, ...], tuple[OpenLead, ...]]:
    """The planned leads that can be judged, and what to enter for the others."""
    items = [*(gear.item for gear in rig.gear), *(at.item for at in (*rig.train, *rig.branch))]
    found: list[Lead] = []
    left: list[OpenLead] = []
    for cable in rig.load.cables:
        item = next((item for item in items if item.id == cable.part_id), None)
        one = next((one for one in consumers if one.part_id == cable.part_id), None)
        if item is None:
            asked = "whose lead it is: a planned lead's device has left the rig"
        elif cable.gauge_awg is None and cable.area_mm2 is None:
            asked = f"the gauge or cross-section of the lead of {item.name}"
        elif one is None:
            asked = f"the current of {item.name}"
        elif one.peak_unknown:
            asked = f"the {one.peak_unknown} of {item.name}"
        else:
            found.append(_lead(cable, one, nominal(getattr(item.part, "voltage_least_v", None))))
            continue
        left.append(OpenLead(cable.part_id, "" if item is None else item.name, asked))
    return tuple(found), tuple(left)


def _lead(cable: Cable, one: Consumer, least_v: float | None) -> Lead:
    area = cable.area_mm2 or area_of_gauge_mm2(cable.gauge_awg or 0)
    words = f"{area:g} mm²" if cable.area_mm2 is not None else f"{cable.gauge_awg} AWG"
    lost = drop_v(cable.length_mm, area, one.peak_a)
    arrives = one.voltage_v - lost
    allowed = LOST_SHARE * one.voltage_v
    if least_v is not None:
        allowed = min(allowed, max(0.0, one.voltage_v - least_v))
    bad = lost > LOST_SHARE * one.voltage_v or (least_v is not None and arrives < least_v)
    return Lead(
        part_id=one.part_id,
        name=one.name,
        words=f"{words}, {cable.length_mm / 1000.0:g} m",
        drop_v=lost,
        arrives_v=arrives,
        least_v=least_v,
        fuse_a=fuse_to_ask_about_a(one.peak_a),
        better_awg=gauge_for(cable.length_mm, one.peak_a, allowed) if bad and allowed > 0.0 else None,
        longest_mm=longest_mm(area, one.peak_a, allowed),
        lost_w=lost_w(cable.length_mm, area, one.peak_a),
        allowed_v=allowed,
        peak_a=one.peak_a,
        length_mm=cable.length_mm,
        area_mm2=area,
        assumed=one.assumed,
    )
