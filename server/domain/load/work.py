"""The whole load sheet of a rig, for its page and its packing list."""

from __future__ import annotations

from server.domain.checks.case import Case
from server.domain.findings import Finding
from server.domain.guarded import worked_or_none
from server.domain.load.bodies import work_balance
from server.domain.load.lifts import HEAVY_ALONE_KG, sum_trips, work_lifts
from server.domain.load.places import pack, sum_places
from server.domain.load.power import work_power
from server.domain.load.sheet import LoadSheet, SafetyNote
from server.domain.parts import Filter, Mount, PowerSource
from server.domain.rig import Rig

LOAD_CHECKS = ("sun", "sag", "hanging", "payload", "stand", "balance", "lifting", "power")
"""The checks whose findings belong on the page of the load, by the first part of their codes."""

SUN = SafetyNote(
    "sun",
    "The Sun",
    "No optics towards the Sun without a certified full-aperture solar filter, fixed in front of the tube "
    "and checked for holes each time. Never one that sits behind the optics: it can crack in the heat. Cap "
    "or take off the finder and the guide scope. Never leave the rig unattended.",
)
LIFTING = SafetyNote(
    "lifting",
    "Lifting",
    "Lift it with two people who have agreed on the moves, or take it apart into smaller loads. This is "
    "general guidance: ask a clinician about your own back. Figures for lifting hold for healthy people "
    "on a level, dry floor in good light, and not for carrying on a slope at night.",
)
COUNTERWEIGHTS = SafetyNote(
    "counterweights",
    "Counterweights",
    "They go on before the tube and come off after it, with the safety screw at the end of the bar. Keep "
    "feet and fingers from under them.",
)
CLUTCHES = SafetyNote(
    "counterweights",
    "Clutches",
    "Hold the tube with one hand whenever a clutch is loosened: an axis that does not balance swings at "
    "once.",
)
LITHIUM = SafetyNote(
    "power",
    "Lithium batteries",
    "Fuse it at its own terminal. Use it only with its own protection circuit and its own charger, never "
    "damaged or swollen, and do not charge it below freezing.",
)
LEAD = SafetyNote(
    "power",
    "Lead-acid batteries",
    "Fuse it at its own terminal. It gives off explosive gas and holds acid: upright, aired, away from "
    "sparks.",
)
MAINS = SafetyNote(
    "power",
    "Mains",
    "Mains at a damp site needs residual-current protection and gear made for the wet. Follow the local "
    "electrical code; fixed wiring is work for a licensed electrician.",
)
"""All cautions are common practice of the trade, no source."""

CAUTION_OF_CHEMISTRY: dict[str | None, tuple[SafetyNote, ...]] = {
    "lead_acid": (LEAD,),
    "agm": (LEAD,),
    "lifepo4": (LITHIUM,),
    "lithium_ion": (LITHIUM,),
    "mains": (MAINS,),
    None: (LEAD, LITHIUM, MAINS),
}


def work_load(rig: Rig, findings: tuple[Finding, ...]) -> LoadSheet:
    """Work out a rig's load sheet.

    findings: of all checks over the rig; those of the load are kept. Raises ValueError for figures outside
    the range that a formula holds for, in the formula's words.
    """
    case = Case(rig)
    lifts = work_lifts(case)
    return LoadSheet(
        places=sum_places(case),
        balance=work_balance(case),
        lifts=lifts,
        trips=sum_trips(lifts),
        cases=pack(rig),
        cautions=work_cautions(rig),
        power=work_power(rig),
        findings=tuple(f for f in findings if f.code.partition(".")[0] in LOAD_CHECKS),
    )


def work_cautions(rig: Rig) -> tuple[SafetyNote, ...]:
    """What can hurt whoever puts this rig together, the Sun's first: the same wherever the rig is shown."""
    items = [item for place in (*rig.train, *rig.branch) for item in (place.item, *place.inside)]
    items += [gear.item for gear in rig.gear]
    found: list[SafetyNote] = []
    if rig.load.sun or any(isinstance(item.part, Filter) and item.part.solar for item in items):
        found.append(SUN)
    if _is_heavy(rig):
        found.append(LIFTING)
    mount = rig.mount.part if rig.mount is not None else None
    if any(item.kind == "counterweight" for item in items) or (isinstance(mount, Mount) and _weighted(mount)):
        found.append(COUNTERWEIGHTS)
    if isinstance(mount, Mount) and mount.mount_type != "tracker":
        found.append(CLUTCHES)
    for item in items:
        if isinstance(item.part, PowerSource):
            found += CAUTION_OF_CHEMISTRY[item.part.chemistry]
    return tuple(dict.fromkeys(found))


def _is_heavy(rig: Rig) -> bool:
    """Whether any load of the rig is above what is lifted alone, as it is lifted or as one part of it."""
    limit_kg = min(rig.load.lift_limit_kg or HEAVY_ALONE_KG, HEAVY_ALONE_KG)
    lifts = worked_or_none("the lifts", lambda: work_lifts(Case(rig)))
    # What cannot be worked out is not called light.
    return lifts is None or any(line.mass_kg > limit_kg for line in lifts)


def _weighted(mount: Mount) -> bool:
    """Whether a mount is one that weights hang on, as far as anybody said."""
    return mount.mount_type in ("equatorial", None) and mount.rated_with != "without"
