"""The cautions that a kind of part, or one part, is never shown without.

Those of a whole rig are server.domain.load.work's. All are common practice of the trade, no source; the page
of cautions says more.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.measure import nominal
from server.domain.parts import Filter, Mount, Part, PowerSource

LIFT_ALONE_KG = 9.1
"""Many keep what they carry alone under 20 lb (common practice, no source)."""


@dataclass(frozen=True)
class Caution:
    """What can hurt someone. `topic` is the heading on the page of cautions that says more."""

    topic: str
    title: str
    sentence: str


SUN = Caution(
    "sun",
    "The Sun",
    "No optics towards the Sun without a certified full-aperture solar filter, fixed in front of the "
    "tube and checked for holes each time. Never one that sits behind the optics: it can crack in the "
    "heat. Cap the finder, and never leave the rig unattended by day.",
)
COUNTERWEIGHTS = Caution(
    "counterweights",
    "Counterweights",
    "They go on before the tube and come off after it, with the safety screw at the end of the bar. Keep "
    "feet and fingers from under them.",
)
BATTERY = Caution(
    "power",
    "Batteries",
    "Fuse a battery at its own terminal. Lithium only with its own protection and charger; lead-acid gives "
    "off gas and wants air.",
)
LITHIUM = Caution(
    "power",
    "Lithium batteries",
    "Fuse it at its own terminal. Use it only with its own protection circuit and its own charger, never "
    "damaged or swollen.",
)
LEAD = Caution(
    "power",
    "Lead-acid batteries",
    "Fuse it at its own terminal. It gives off explosive gas and holds acid: upright, aired, and away "
    "from sparks.",
)
MAINS = Caution(
    "power",
    "Mains",
    "Mains outdoors in the wet needs residual-current protection and gear made for it. Follow the local"
    " electrical code; fixed wiring is work for a licensed electrician.",
)
LIFTING = Caution(
    "lifting",
    "Lifting",
    "Lift it with two people, or take it apart into smaller loads. This is general guidance: ask a "
    "clinician about your own back.",
)


def cautions_of_kind(kind: str) -> tuple[Caution, ...]:
    """Return what the form of a kind shows, before anything is typed."""
    match kind:
        case "filter":
            return (SUN,)
        case "counterweight" | "mount":
            return (COUNTERWEIGHTS,)
        case "power_source":
            return (BATTERY, MAINS)
    return ()


def cautions_of(part: Part) -> tuple[Caution, ...]:
    """Return what one part is shown with."""
    found: list[Caution] = []
    if isinstance(part, Filter) and part.solar:
        found.append(SUN)
    if part.kind == "counterweight" or (isinstance(part, Mount) and part.rated_with != "without"):
        found.append(COUNTERWEIGHTS)
    if isinstance(part, PowerSource):
        found.extend(_power(part))
    masses = (nominal(part.mass_kg), nominal(getattr(part, "mass_with_rings_kg", None)))
    if any(mass is not None and mass > LIFT_ALONE_KG for mass in masses):
        found.append(LIFTING)
    return tuple(found)


def _power(part: PowerSource) -> tuple[Caution, ...]:
    match part.chemistry:
        case "mains":
            return (MAINS,)
        case "lead_acid" | "agm":
            return (LEAD,)
        case "lifepo4" | "lithium_ion":
            return (LITHIUM,)
    return (BATTERY, MAINS)
