"""What one place of a train may become: turned round, another part, another length, another filter."""

from __future__ import annotations

from server.domain.errors import RefusedError
from server.domain.parts import CataloguedPart, Filter, FilterWheel, PathPart
from server.domain.rig import PlacePlan
from server.domain.train import TRAIN_KINDS


def flipped(place: PlacePlan, item: CataloguedPart) -> PlacePlan:
    """The place turned round. Raises RefusedError for a part that is not marked as one that can be."""
    if not isinstance(item.part, PathPart) or not item.part.reversible:
        raise RefusedError(
            f"{item.name} is not marked as one that can be turned round; change that on the Shelf."
        )
    return place.model_copy(update={"flipped": not place.flipped})


def refuse_over_tube(item: CataloguedPart) -> None:
    """What goes over the front of the tube has no place behind it, where the Sun's light is gathered."""
    if isinstance(item.part, Filter) and item.part.slips_over_tube:
        raise RefusedError(
            f"{item.name} goes over the front of the tube, before all of the train: add it beside the train. "
            "If it has a thread, enter its connections on the Shelf."
        )


def swapped(place: PlacePlan, old: CataloguedPart, new: CataloguedPart) -> PlacePlan:
    """The place with another part in it. Raises RefusedError for one that cannot stand there."""
    fixed = ("optical_tube", "camera")
    if new.kind not in TRAIN_KINDS:
        raise RefusedError(f"{new.name} is not a part of the light path.")
    if (old.kind in fixed or new.kind in fixed) and old.kind != new.kind:
        raise RefusedError(f"{old.name} can only be swapped for another {old.part.kind_words}.")
    refuse_over_tube(new)
    if isinstance(new.part, Filter) and new.part.unmounted:
        raise RefusedError(f"{new.name} has no cell of its own: put it into a filter wheel or drawer.")
    inside = place.inside if isinstance(new.part, FilterWheel) else ()
    if isinstance(new.part, FilterWheel) and new.part.positions is not None:
        room = new.part.positions
        if len(inside) > room:
            raise RefusedError(
                f"{new.name} has room for {room} and {old.name} holds {len(inside)} filters. "
                "Take some out first."
            )
    return PlacePlan(key=place.key, part_id=new.id, inside=inside)


def set_length(place: PlacePlan, item: CataloguedPart, length_mm: float) -> PlacePlan:
    """The place set to another length. Raises RefusedError outside what it adjusts to."""
    lengths = item.part.settable
    if lengths is None:
        raise RefusedError(f"{item.name} is not adjustable.")
    low, high = lengths.shortest_mm, lengths.longest_mm
    if not low <= length_mm <= high:
        raise RefusedError(
            f"{item.name} adjusts from {low:g} to {high:g} mm; {length_mm:g} mm is outside that."
        )
    return place.model_copy(update={"set_length_mm": length_mm})


def with_filter(place: PlacePlan, wheel: CataloguedPart, item: CataloguedPart) -> PlacePlan:
    """The place with a filter in it, first in the beam. Raises RefusedError where it holds none or no
    more.
    """
    if not isinstance(wheel.part, FilterWheel):
        raise RefusedError(f"{wheel.name} holds no filters.")
    if not isinstance(item.part, Filter):
        raise RefusedError(f"{item.name} is not a filter.")
    refuse_over_tube(item)
    inside = (item.id, *(i for i in place.inside if i != item.id))
    positions = wheel.part.positions
    if positions is not None and len(inside) > positions:
        raise RefusedError(
            f"{wheel.name} has {positions} positions and all are full. Take a filter out first."
        )
    return place.model_copy(update={"inside": inside})
