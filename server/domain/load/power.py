"""The night's energy: what each device takes, what the battery gives, and what the leads lose."""

from __future__ import annotations

from dataclasses import dataclass, replace

from server.domain.load.leads import is_fed_straight, work_leads
from server.domain.load.sheet import Consumer, PowerSheet
from server.domain.measure import nominal
from server.domain.missing import lacks, wants
from server.domain.parts import (
    CataloguedPart,
    PowerSource,
)
from server.domain.rig import Rig
from server.domain.said import Missing, Quantity, Said, percent_of, said
from server.domain.sky.when import SUNSET_DEG
from server.mechanics.batteries import (
    COLD,
    USABLE,
    cold_share,
    drain_share,
    usable_wh,
)

USUAL_V = 12.0
"""What most devices of the trade run at (common practice, no source)."""
HIGHEST_V = 60.0
"""Nothing of the trade runs straight at more: a supply of a higher voltage is named by its mains side, and
what it feeds is taken to run at the usual voltage (common practice, no source)."""
WARM_C = 20.0


@dataclass(frozen=True)
class Given:
    """What the sources give together, Wh; how that comes about; the nominal charge of the first sort, Ah."""

    usable_wh: float
    by: Said
    assumed: bool
    first_ah: float
    first_wh: float


def sources_of(rig: Rig) -> tuple[tuple[CataloguedPart, int], ...]:
    """The batteries and supplies beside the train, each with how many of it there are."""
    return tuple((gear.item, gear.quantity) for gear in rig.gear if isinstance(gear.item.part, PowerSource))


def work_power(rig: Rig) -> PowerSheet:
    """Work out the night's energy, without a source what the devices take of it.

    A mains supply beside batteries is not counted: they are judged as if it failed. Raises ValueError for
    figures out of every range.
    """
    sources = sources_of(rig)
    batteries = tuple((item, count) for item, count in sources if not _is_mains(item))
    mains = tuple((item, count) for item, count in sources if _is_mains(item))
    missing: list[Missing] = []
    uncounted: list[Missing] = []
    hours, hours_by = _hours(rig, missing)
    source_v = _source_voltage((*batteries, *mains))
    consumers, taken_none = _consumers(rig, source_v, uncounted)
    volts = [volts for item, _ in batteries if (volts := _voltage(item)) is not None]
    consumers = _fed(rig, consumers, volts or [source_v or USUAL_V], hours)
    uncounted = list(dict.fromkeys(uncounted))
    missing += uncounted
    if rig.load.supply_share is None:
        missing += _unfed(rig, consumers, known=len(volts) == len(batteries) > 0)
    watts = sum(one.mean_a * one.voltage_v / _share(rig, one) for one in consumers)
    peak_w = sum(one.peak_a * one.voltage_v / _share(rig, one) for one in consumers)
    given = _given(rig, batteries, watts, missing) if batteries else None
    leads, open_leads = work_leads(rig, consumers, tuple(item for item, _ in batteries))
    sheet = PowerSheet(
        source=_called(sources),
        batteries=_called(batteries),
        mains=_called(mains),
        peak_a=peak_w / (source_v or USUAL_V) if consumers else None,
        peak_at_v=source_v or USUAL_V,
        mean_w=watts if consumers else None,
        peak_at_least=bool(uncounted) or any(one.peak_unknown for one in consumers),
        hours=hours,
        hours_by=hours_by,
        consumers=consumers,
        need_wh=None if hours is None else sum(one.energy_wh or 0.0 for one in consumers),
        leads=leads,
        taken_none=taken_none,
        missing=tuple(missing),
        uncounted=tuple(uncounted),
        open_leads=open_leads,
    )
    return sheet if given is None else _with_given(sheet, given, watts)


def _with_given(sheet: PowerSheet, given: Given, watts: float) -> PowerSheet:
    """The sheet with what the batteries give, how long that lasts, and what charge is missing."""
    short = 0.0 if sheet.need_wh is None else sheet.need_wh - given.usable_wh
    return replace(
        sheet,
        usable_wh=given.usable_wh,
        given_by=given.by,
        given_assumed=given.assumed,
        more_ah=short / given.first_wh * given.first_ah if short > 0.0 and given.first_wh > 0.0 else None,
        lasts_h=given.usable_wh / watts if watts > 0.0 else None,
    )


def _called(sources: tuple[tuple[CataloguedPart, int], ...]) -> tuple[Said, ...]:
    return tuple(said("power.source", part=item, count=count, several=count > 1) for item, count in sources)


def _source_voltage(sources: tuple[tuple[CataloguedPart, int], ...]) -> float | None:
    """What the devices run at that name no voltage: that of the first source with a known one."""
    volts = next((volts for item, _ in sources if (volts := _voltage(item)) is not None), None)
    return None if volts is None or volts > HIGHEST_V else volts


def _is_mains(item: CataloguedPart) -> bool:
    return isinstance(item.part, PowerSource) and item.part.chemistry == "mains"


def _voltage(item: CataloguedPart) -> float | None:
    return nominal(item.part.voltage_v) if isinstance(item.part, PowerSource) else None


def _hours(rig: Rig, missing: list[Missing]) -> tuple[float | None, Said | None]:
    load = rig.load
    if load.night_hours is not None:
        return load.night_hours, said("night.typed")
    if load.latitude_deg is None or load.night is None:
        missing.append(wants("night" if load.latitude_deg is None else "night_date"))
        return None, None
    # Numpy and erfa, which the bench must not wait for before a night is asked for.
    from server.sky.darkness import nights
    from server.sky.ephemeris import Spot

    spot = Spot(load.latitude_deg, load.longitude_deg or 0.0)
    found = float(nights(spot, load.night, 1, SUNSET_DEG).hours[0])
    if found <= 0.0:
        missing.append(wants("night_length"))
        return None, None
    return found, said("night.of", date=f"{load.night:%d %B %Y}", greenwich=load.longitude_deg is None)


def _given(
    rig: Rig, sources: tuple[tuple[CataloguedPart, int], ...], watts: float, missing: list[Missing]
) -> Given | None:
    """What all batteries give together; None while a figure of one is missing."""
    parts = [(item, count, item.part) for item, count in sources if isinstance(item.part, PowerSource)]
    lacking = [
        lacks(item, field)
        for item, _, part in parts
        for field, value in (
            ("chemistry", part.chemistry),
            ("voltage_v", part.voltage_v),
            ("capacity_ah", part.capacity_ah),
        )
        if value is None
    ]
    missing += lacking
    if lacking:
        return None
    low, total_wh, told, assumed = rig.load.low_c, 0.0, [], rig.load.low_c is None
    first_ah = first_wh = 0.0
    together = sum(count * (nominal(part.capacity_ah) or 0.0) for _, count, part in parts)
    for number, (item, count, part) in enumerate(parts):
        chemistry, volts, charge = part.chemistry, nominal(part.voltage_v), nominal(part.capacity_ah)
        assert chemistry is not None
        assert volts is not None
        assert charge is not None
        own = nominal(part.usable_share)
        share = USABLE[chemistry] if own is None else own
        assumed = assumed or own is None
        if low is not None and chemistry != "mains" and low < COLD[chemistry][0][0]:
            missing.append(wants("cold_battery", part=item, at=Quantity(low, "°C")))
        # Each battery is taken to bear its part of the current by its charge.
        current_a = watts / volts * charge / together if together > 0.0 else 0.0
        drain = drain_share(chemistry, charge, current_a) if charge > 0.0 else 1.0
        at_c = WARM_C if low is None else low
        cold = cold_share(chemistry, at_c)
        one_wh = usable_wh(charge, volts, share, chemistry, at_c) * drain
        total_wh += count * one_wh
        told.append(
            said(
                "power.gives",
                count=count,
                charge=Quantity(charge, "Ah"),
                volts=Quantity(volts, "V"),
                share=percent_of(share),
                cold=percent_of(cold, 1) if cold < 1.0 else None,
                drain=percent_of(drain, 1) if drain < 1.0 else None,
                energy=Quantity(count * one_wh, "Wh", 0),
            )
        )
        if number == 0:
            first_ah, first_wh = charge, one_wh
    at = Quantity(WARM_C if low is None else low, "°C")
    by = said("power.given", parts=told, at=at, warm=low is None)
    return Given(total_wh, by, assumed, first_ah, first_wh)


def _consumers(
    rig: Rig, source_v: float | None, uncounted: list[Missing]
) -> tuple[tuple[Consumer, ...], tuple[str, ...]]:
    """What takes current, and the names of what was taken to take none, nobody having said."""
    items = [(item, 1) for place in (*rig.train, *rig.branch) for item in (place.item,)]
    items += [(gear.item, gear.quantity) for gear in rig.gear]
    found: list[Consumer] = []
    taken_none: list[str] = []
    for item, quantity in items:
        taken = item.part.draw(rig.load.cooling_k)
        uncounted += [lacks(item, *ask) for ask in taken.asks]
        if taken.mean_a is None:
            taken_none += [item.name] if taken.taken_none else []
            continue
        assumed = taken.assumed
        own = nominal(item.part.figure("voltage"))
        at = own or source_v or USUAL_V
        if own is None:
            usual = None if source_v else Quantity(USUAL_V, "V")
            assumed = (*assumed, said("draw.runs_at", usual=usual))
        found.append(
            Consumer(
                item.id,
                item.name,
                at,
                taken.mean_a * quantity,
                taken.peak_a * quantity,
                None,
                assumed,
                taken.peak_unknown,
                quantity,
                taken.basis,
                taken.peak_basis,
            )
        )
    return tuple(found), tuple(dict.fromkeys(taken_none))


def _share(rig: Rig, one: Consumer) -> float:
    """What of the battery's energy reaches a device: the converter's loss is that of what it feeds."""
    return (rig.load.supply_share or 1.0) if one.converted else 1.0


def _fed(
    rig: Rig, consumers: tuple[Consumer, ...], volts: list[float], hours: float | None
) -> tuple[Consumer, ...]:
    """The devices with how each is fed: as the plan says, otherwise through the converter where no source of
    these voltages feeds it straight; and with what each takes over the night.

    What a port feeds takes the way of the device whose port it is.
    """
    feeds = {feed.part_id: feed for feed in rig.load.feeds}
    by_id = {one.part_id: one for one in consumers}

    def converted(one: Consumer) -> bool:
        feed = feeds.get(one.part_id)
        if feed is None or feed.by == "port":
            return not any(is_fed_straight(one.voltage_v, source_v) for source_v in volts)
        return feed.by == "converter"

    found: list[Consumer] = []
    for one in consumers:
        feed = feeds.get(one.part_id)
        host = by_id.get(feed.port_of) if feed and feed.by == "port" and feed.port_of is not None else None
        host_feed = feeds.get(host.part_id) if host else None
        if host is None or host is one or (host_feed is not None and host_feed.by == "port"):
            through, port_of = converted(one), None
            fed = said("feed.converter") if through else None
        else:
            through, port_of, fed = converted(host), host.part_id, said("feed.port", host=host.name)
        one = replace(one, converted=through, port_of=port_of, fed=fed)
        taken = None if hours is None else one.mean_a * one.voltage_v * hours / _share(rig, one)
        found.append(replace(one, energy_wh=taken))
    return tuple(found)


def _unfed(rig: Rig, consumers: tuple[Consumer, ...], known: bool) -> list[Missing]:
    """What to enter of devices that are fed through a converter of which nothing is said: of those that the
    plan names, and where every battery's voltage is known of those that none feeds straight.
    """
    planned = {feed.part_id for feed in rig.load.feeds if feed.by == "converter"}
    return [
        wants("converter_for", name=one.name, at=Quantity(one.voltage_v, "V"))
        for one in consumers
        if one.converted and one.port_of is None and (known or one.part_id in planned)
    ]
