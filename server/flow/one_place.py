"""What one place of a train may become: turned round, another part, another length, another filter."""

from __future__ import annotations

from server.domain.errors import RefusedError
from server.domain.parts import CataloguedPart, Filter, FilterWheel, PathPart
from server.domain.rig import PlacePlan
from server.domain.said import exact_length, said
from server.domain.train import TRAIN_KINDS


def flipped(place: PlacePlan, item: CataloguedPart) -> PlacePlan:
    """The place turned round. Raises RefusedError for a part that is not marked as one that can be."""
    if not isinstance(item.part, PathPart) or not item.part.reversible:
        raise RefusedError(said("refused.not_marked", part=item))
    return place.model_copy(update={"flipped": not place.flipped})


def refuse_over_tube(item: CataloguedPart) -> None:
    """What goes over the front of the tube has no place behind it, where the Sun's light is gathered."""
    if isinstance(item.part, Filter) and item.part.slips_over_tube:
        raise RefusedError(said("refused.over_tube", part=item))


def swapped(place: PlacePlan, old: CataloguedPart, new: CataloguedPart) -> PlacePlan:
    """The place with another part in it. Raises RefusedError for one that cannot stand there."""
    fixed = ("optical_tube", "camera")
    if new.kind not in TRAIN_KINDS:
        raise RefusedError(said("refused.swap_not_of_path", part=new))
    if (old.kind in fixed or new.kind in fixed) and old.kind != new.kind:
        raise RefusedError(said("refused.swap_kind", part=old, kind=old.part.kind_words))
    refuse_over_tube(new)
    if isinstance(new.part, Filter) and new.part.unmounted:
        raise RefusedError(said("refused.no_cell", part=new, thread=False))
    inside = place.inside if isinstance(new.part, FilterWheel) else ()
    if isinstance(new.part, FilterWheel) and new.part.positions is not None:
        room = new.part.positions
        if len(inside) > room:
            raise RefusedError(said("refused.no_room", part=new, room=room, old=old, count=len(inside)))
    return PlacePlan(key=place.key, part_id=new.id, inside=inside)


def set_length(place: PlacePlan, item: CataloguedPart, length_mm: float) -> PlacePlan:
    """The place set to another length. Raises RefusedError outside what it adjusts to."""
    lengths = item.part.settable
    if lengths is None:
        raise RefusedError(said("refused.not_adjustable", part=item))
    low, high = lengths.shortest_mm, lengths.longest_mm
    if not low <= length_mm <= high:
        shortest, longest, length = (exact_length(one) for one in (low, high, length_mm))
        raise RefusedError(
            said("refused.outside", part=item, shortest=shortest, longest=longest, length=length)
        )
    return place.model_copy(update={"set_length_mm": length_mm})


def with_filter(place: PlacePlan, wheel: CataloguedPart, item: CataloguedPart) -> PlacePlan:
    """The place with a filter in it, first in the beam. Raises RefusedError where it holds none or no
    more.
    """
    if not isinstance(wheel.part, FilterWheel):
        raise RefusedError(said("refused.holds_none", part=wheel))
    if not isinstance(item.part, Filter):
        raise RefusedError(said("refused.no_filter", part=item))
    refuse_over_tube(item)
    inside = (item.id, *(i for i in place.inside if i != item.id))
    positions = wheel.part.positions
    if positions is not None and len(inside) > positions:
        raise RefusedError(said("refused.wheel_full", part=wheel, count=positions))
    return place.model_copy(update={"inside": inside})
