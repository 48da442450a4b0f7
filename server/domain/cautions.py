"""What can hurt someone: the cautions that a kind of part, a part and a rig are never shown without.

All are common practice of the trade, no source; the page of cautions says more.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.domain.measure import nominal
from server.domain.parts import Filter, Mount, Part, PowerSource
from server.domain.said import Said, said

HEAVY_ALONE_KG = 9.0718474
"""20 lb. Many keep what they carry alone below it (common practice, no source)."""


@dataclass(frozen=True)
class SafetyNote:
    """What can hurt someone: its title, by `code`, and the words of its clauses are the phrasebook's.

    `topic` is the heading on the page of cautions that says more.
    """

    code: str
    topic: str
    clauses: tuple[str, ...]

    @property
    def title(self) -> Said:
        """The word or two over it."""
        return said(f"title.{self.code}")

    @property
    def says(self) -> tuple[Said, ...]:
        """Its sentences."""
        return tuple(map(said, self.clauses))


SUN_RULES = ("caution.sun.check", "caution.sun.finder", "caution.sun.watch")
"""What no filter, however good, makes needless."""
FUSE = "caution.power.fuse"
WIRED = (FUSE, "caution.power.wire")
"""What every lead is told with."""

SUN = SafetyNote("caution.sun", "sun", ("caution.sun.optics", "caution.sun.behind", *SUN_RULES))
LIFTING = SafetyNote(
    "caution.lifting",
    "lifting",
    ("caution.lifting.two", "caution.lifting.clinician", "caution.lifting.slope"),
)
COUNTERWEIGHTS = SafetyNote(
    "caution.counterweights", "counterweights", ("caution.weights.order", "caution.weights.under")
)
CLUTCHES = SafetyNote("caution.clutches", "counterweights", ("caution.weights.clutch",))
LITHIUM = SafetyNote("caution.lithium", "power", (*WIRED, "caution.power.lithium"))
LEAD = SafetyNote("caution.lead", "power", (*WIRED, "caution.power.lead"))
MAINS = SafetyNote("caution.mains", "power", ("caution.power.mains",))
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
        found.extend(cautions_of_source(part))
    return tuple(found)


def cautions_of_source(source: PowerSource) -> tuple[SafetyNote, ...]:
    """Return those of its chemistry; of every one while nobody said which it is."""
    return _OF_CHEMISTRY[source.chemistry]


def _weighted(mount: Mount) -> bool:
    """Whether a mount is one that weights hang on, as far as anybody said."""
    return mount.mount_type in ("equatorial", None) and mount.rated_with != "without"
