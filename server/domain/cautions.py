"""What can hurt someone: the cautions that a kind of part, a part and a rig are never shown without.

All are common practice of the trade, no source; the page of cautions says more.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.measure import nominal
from server.domain.parts import Filter, Mount, Part, PowerSource

HEAVY_ALONE_KG = 9.07
"""20 lb. Many keep what they carry alone below it (common practice, no source)."""


@dataclass(frozen=True)
class SafetyNote:
    """What can hurt someone. `topic` is the heading on the page of cautions that says more."""

    topic: str
    title: str
    sentence: str


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
CAUTIONS = (SUN, LIFTING, COUNTERWEIGHTS, CLUTCHES, LITHIUM, LEAD, MAINS)
"""All of them, in the order in which a rig's are shown."""

_OF_CHEMISTRY: dict[str | None, tuple[SafetyNote, ...]] = {
    "lead_acid": (LEAD,),
    "agm": (LEAD,),
    "lifepo4": (LITHIUM,),
    "lithium_ion": (LITHIUM,),
    "mains": (MAINS,),
    None: (LITHIUM, LEAD, MAINS),
}


def cautions_of_kind(kind: str) -> tuple[SafetyNote, ...]:
    """Return what the form of a kind shows, before anything is typed."""
    match kind:
        case "filter":
            return (SUN,)
        case "counterweight":
            return (COUNTERWEIGHTS,)
        case "mount":
            return (COUNTERWEIGHTS, CLUTCHES)
        case "power_source":
            return _OF_CHEMISTRY[None]
    return ()


def cautions_of(part: Part) -> tuple[SafetyNote, ...]:
    """Return what one part is shown with, on its own page and on every rig that it belongs to."""
    found: list[SafetyNote] = []
    if isinstance(part, Filter) and part.solar:
        found.append(SUN)
    masses = (nominal(part.mass_kg), nominal(getattr(part, "mass_with_rings_kg", None)))
    if any(mass is not None and mass > HEAVY_ALONE_KG for mass in masses):
        found.append(LIFTING)
    if part.kind == "counterweight" or (isinstance(part, Mount) and _weighted(part)):
        found.append(COUNTERWEIGHTS)
    if isinstance(part, Mount) and part.mount_type != "tracker":
        found.append(CLUTCHES)
    if isinstance(part, PowerSource):
        found.extend(_OF_CHEMISTRY[part.chemistry])
    return tuple(found)


def _weighted(mount: Mount) -> bool:
    """Whether a mount is one that weights hang on, as far as anybody said."""
    return mount.mount_type in ("equatorial", None) and mount.rated_with != "without"
