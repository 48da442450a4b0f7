"""What the planned leads lose, what they carry, and what arrives when the battery is nearly empty."""

from __future__ import annotations

from dataclasses import dataclass, replace

from server.domain.load.sheet import Consumer, Lead, OpenLead
from server.domain.load_plan import Cable
from server.domain.measure import nominal
from server.domain.missing import lacks, wants
from server.domain.parts import CataloguedPart, PowerSource
from server.domain.rig import Rig
from server.domain.said import Missing, Named, Quantity, Said, percent_of, said
from server.mechanics.batteries import USABLE, end_voltage_v
from server.mechanics.cables import (
    area_of_gauge_mm2,
    density_a_mm2,
    drop_v,
    fuse_that_carries_a,
    gauge_for,
    longest_mm,
    lost_w,
    most_a,
)

LOST_SHARE = 0.05
"""A lead that loses more of the voltage is too thin or too long (common practice, no source)."""
HARDLY_SHARE = 0.9
"""A device whose least voltage nobody gave is taken to need so much of its own (common practice, no
source)."""
STRAIGHT = (0.8, 1.35)
"""A battery of so many times a device's voltage is taken to feed it without a converter (common practice, no
source): 11.1 to 14.8 V for one of 12 V."""


@dataclass(frozen=True)
class _Feed:
    """The voltage at the lead's beginning, V: nominal, and at the end of the discharge, with what
    that is by; `missing` names what to enter before the latter is known.
    """

    source_v: float
    end_v: float
    by: Said
    missing: Missing | None = None


def work_leads(
    rig: Rig, consumers: tuple[Consumer, ...], batteries: tuple[CataloguedPart, ...]
) -> tuple[tuple[Lead, ...], tuple[OpenLead, ...]]:
    """The planned leads that can be judged, and what to enter for the others.

    Raises ValueError for figures out of every range.
    """
    items = [*(gear.item for gear in rig.gear), *(at.item for at in (*rig.train, *rig.branch))]
    found: list[Lead] = []
    left: list[OpenLead] = []
    for cable in rig.load.cables:
        item = next((item for item in items if item.id == cable.part_id), None)
        one = next((one for one in consumers if one.part_id == cable.part_id), None)
        if item is None:
            asked = wants("lead_device")
        elif cable.gauge_awg is None and cable.area_mm2 is None:
            asked = wants("lead_wire", part=item)
        elif one is None:
            asked = wants("current", part=item)
        elif one.peak_unknown:
            asked = lacks(item, one.peak_unknown)
        else:
            behind = [other for other in consumers if other.port_of == one.part_id]
            unknown = next((other for other in behind if other.peak_unknown), None)
            if unknown is None:
                found.append(_lead(cable, _with_ports(one, behind), item, _feed(rig, one, batteries)))
                continue
            asked = Missing(
                said(f"lacks.{unknown.peak_unknown}", part=Named(unknown.part_id, unknown.name)),
                unknown.part_id,
                unknown.peak_unknown,
            )
        left.append(OpenLead(cable.part_id, "" if item is None else item.name, asked))
    return tuple(found), tuple(left)


def _with_ports(one: Consumer, behind: list[Consumer]) -> Consumer:
    """A device with the current of what its own ports feed in its peak: its lead carries both."""
    if not behind:
        return one
    more_a = sum(other.peak_a * other.voltage_v for other in behind) / one.voltage_v
    assumed = (*one.assumed, said("draw.with_port", names=[other.name for other in behind]))
    return replace(one, peak_a=one.peak_a + more_a, peak_basis="worked out", assumed=assumed)


def _feed(rig: Rig, one: Consumer, batteries: tuple[CataloguedPart, ...]) -> _Feed:
    """What feeds a device: of the batteries that may feed it straight the one that ends lowest."""
    device_v = one.voltage_v
    if one.port_of is not None:
        return _Feed(device_v, device_v, said("feed.port_holds", fed=one.fed))
    if one.converted and rig.load.supply_share is not None:
        return _Feed(device_v, device_v, said("feed.converter_holds"))
    planned = next((feed.by for feed in rig.load.feeds if feed.part_id == one.part_id), None)
    if planned == "converter":
        return _Feed(device_v, device_v, said("feed.converter_unknown"), _converter(device_v))
    found: list[_Feed] = []
    for item in batteries:
        part = item.part
        if not isinstance(part, PowerSource):
            continue
        volts = nominal(part.voltage_v)
        if volts is not None and planned != "straight" and not is_fed_straight(device_v, volts):
            continue
        if volts is None or part.chemistry is None:
            lacking = lacks(item, "voltage_v" if volts is None else "chemistry")
            at = device_v if volts is None else volts
            return _Feed(at, at, said("feed.end_unknown"), lacking)
        own = nominal(part.usable_share)
        share = USABLE[part.chemistry] if own is None else own
        end = end_voltage_v(part.chemistry, volts, share)
        by = said("feed.battery", part=item, share=percent_of(share))
        found.append(_Feed(volts, end, by))
    if not found:
        ask = batteries and rig.load.supply_share is None
        return _Feed(device_v, device_v, said("feed.none_like"), _converter(device_v) if ask else None)
    return min(found, key=lambda one: one.end_v)


def _converter(device_v: float) -> Missing:
    """What to enter for a device that no battery feeds straight."""
    return wants("converter", at=Quantity(device_v, "V"))


def is_fed_straight(device_v: float, battery_v: float) -> bool:
    """Whether a battery is taken to feed a device without a converter, by `STRAIGHT`."""
    return STRAIGHT[0] * device_v <= battery_v <= STRAIGHT[1] * device_v


def _lead(cable: Cable, one: Consumer, item: CataloguedPart, feed: _Feed) -> Lead:
    area = cable.area_mm2 or area_of_gauge_mm2(cable.gauge_awg or 0)
    pieces = one.quantity if cable.shared else 1
    wire = said(
        "lead.wire",
        area=Quantity(area, "mm²") if cable.area_mm2 is not None else None,
        gauge=cable.gauge_awg,
        several=one.quantity > 1,
        shared=cable.shared,
        pieces=one.quantity,
    )
    peak_a = one.peak_a / one.quantity * pieces
    least = item.part.figure("least_voltage")
    lost = drop_v(cable.length_mm, area, peak_a)
    allowed = LOST_SHARE * one.voltage_v
    needed = HARDLY_SHARE * one.voltage_v if least is None else least.nominal
    # A device of unknown least voltage is held to the nominal voltage alone: see the check.
    allowed = min(allowed, max(0.0, (feed.source_v if least is None else feed.end_v) - needed))
    fuse = fuse_that_carries_a(peak_a, area)
    bad = lost > allowed or fuse is None
    return Lead(
        part_id=one.part_id,
        name=one.name,
        wire=wire,
        drop_v=lost,
        arrives_v=feed.source_v - lost,
        least_v=None if least is None else least.nominal,
        fuse_a=fuse,
        better_awg=gauge_for(cable.length_mm, peak_a, allowed) if bad and allowed > 0.0 else None,
        longest_mm=longest_mm(area, peak_a, allowed),
        lost_w=lost_w(cable.length_mm, area, peak_a),
        allowed_v=allowed,
        peak_a=peak_a,
        length_mm=cable.length_mm,
        area_mm2=area,
        assumed=one.assumed,
        source_v=feed.source_v,
        device_v=one.voltage_v,
        end_v=feed.end_v,
        end_by=feed.by,
        end_missing=feed.missing,
        at_end_v=feed.end_v - lost,
        least_basis="" if least is None else item.part.basis_of(least),
        borne_a=most_a(area),
        density_a_mm2=density_a_mm2(area, peak_a),
        pieces=pieces,
        peak_basis=one.peak_basis if one.quantity == 1 or not cable.shared else "worked out",
    )
