"""Change a part, and take one out: who entered it may, and a steward of a club may correct it."""

from __future__ import annotations

from collections.abc import Mapping

from server.domain.errors import NotYoursError, PartInUseError, RefusedError, StaleVersionError
from server.domain.observer import Observer
from server.domain.parts import CataloguedPart, Part
from server.domain.said import said
from server.flow.protocols import Store


def change_part(
    store: Store, observer: Observer, part_id: int, revision: int, part: Part, *, correcting: bool
) -> CataloguedPart:
    """Change a part that this observer entered, or (`correcting`) that a steward corrects, which is logged.

    Raises NotYoursError for another's, StaleVersionError.
    """
    item = store.part(part_id)
    demand_unmerged({part_id: item})
    if not (correcting and store.is_steward(observer.id)):
        _demand_own(observer, item, "change")
    if item.revision != revision:
        raise StaleVersionError(said("refused.stale_part", part=item), item.revision)
    if item.entered_by != observer.id:
        store.log_steward(f"corrected the part {item.name}", observer.id, item.entered_by)
    return store.change_part(item.id, part, observer.id)


def remove_part(store: Store, observer: Observer, part_id: int) -> None:
    """Take a part out of the catalogue. Raises NotYoursError, PartInUseError with the rigs that hold it."""
    item = store.part(part_id)
    demand_unmerged({part_id: item})
    _demand_own(observer, item, "remove")
    rigs = store.rigs_using(item.id)
    if rigs:
        names = tuple(dict.fromkeys(rig.name for rig in rigs))
        raise PartInUseError(said("refused.in_use", part=item, rigs=names), names)
    store.remove_part(item.id)


def demand_unmerged(parts: Mapping[int, CataloguedPart]) -> None:
    """Raises RefusedError where one was asked for by a number that leads to another by now."""
    if any(item.id != number for number, item in parts.items()):
        raise RefusedError("This part was merged into another meanwhile. Load the page again.")


def _demand_own(observer: Observer, item: CataloguedPart, verb: str) -> None:
    if item.entered_by != observer.id:
        raise NotYoursError(said("refused.not_yours", part=item, owner=item.entered_by_name, verb=verb))
