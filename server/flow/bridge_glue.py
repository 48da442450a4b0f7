"""Parts that are glued together: two that are one piece in a stack."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from server.domain.errors import RefusedError
from server.domain.parts import CataloguedPart
from server.domain.said import Named, Said, named, said
from server.domain.train import Place
from server.flow.bridge_stock import Way
from server.search.problem import Arc, Piece, Required


@dataclass(frozen=True)
class Composite:
    """One piece made of two: for each of its arcs the two numbers, in order, with the index of each one's
    way.
    """

    members: tuple[tuple[tuple[int, int], tuple[int, int]], ...]


@dataclass(frozen=True)
class Glued:
    """Pieces and required items with every glued pair made one."""

    pieces: list[Piece]
    required: list[Required]
    composites: Mapping[int, Composite]


def glue(
    pairs: tuple[tuple[int, int], ...],
    pieces: list[Piece],
    required: list[Required],
    ways: Mapping[int, tuple[Way, ...]],
    places: Mapping[int, Place],
    items: Mapping[int, CataloguedPart],
) -> Glued:
    """Make each pair of part numbers one piece. A part that must stay is meant where it stands in the gap.

    Two optional parts take one owned copy of each; with a part that must stay the pair must stay, and what it
    is glued to must be owned. Raises RefusedError where a pair cannot be one piece.
    """
    composites: dict[int, Composite] = {}
    taken: set[int] = set()
    for index, (first, second) in enumerate(pairs):
        number = -1 - index
        found = []
        for part_id in (first, second):
            part = _part(part_id, places, items)
            standing = next(
                (r for r in required if r.number in places and places[r.number].item.id == part_id), None
            )
            piece = next((p for p in pieces if p.number == part_id), None)
            if part_id in taken:
                raise RefusedError(said("bridge.glued_twice", part=part))
            if standing is None and (piece is None or piece.shim):
                raise RefusedError(said("bridge.glued_unsearched", part=part))
            if standing is None and piece is not None and not piece.owned:
                raise RefusedError(said("bridge.glued_not_owned", part=part))
            found.append(standing or piece)
        taken |= {first, second}
        one, two = found
        assert one is not None
        assert two is not None
        members = _members(one, two, ways)
        if not members:
            both = (_part(part_id, places, items) for part_id in (first, second))
            raise RefusedError(said("bridge.glued_apart", parts=both))
        whole = [(_arc(a, one, two), _arc(b, one, two)) for a, b in members]
        arcs = tuple(Arc(a.start, b.end, (a.threads[0], b.threads[1])) for a, b in whole)
        composites[number] = Composite(tuple(members))
        length, mass = one.length + two.length, one.mass + two.mass
        # The pair stands in the order of what must stay where the first of them stood.
        seat = min((required.index(each) for each in (one, two) if isinstance(each, Required)), default=0)
        for each in (one, two):
            if isinstance(each, Required):
                required.remove(each)
            else:
                at = pieces.index(each)
                pieces[at] = replace(each, owned=each.owned - 1)
        if isinstance(one, Required) or isinstance(two, Required):
            required.insert(seat, Required(number, arcs, length, mass))
        else:
            pieces.append(Piece(number, arcs, length, owned=1, mass=mass))
    pieces = [piece for piece in pieces if piece.copies]
    return Glued(pieces, required, composites)


def _arc(member: tuple[int, int], one: Piece | Required, two: Piece | Required) -> Arc:
    number, way = member
    return (one if one.number == number else two).arcs[way]


def _members(
    one: Piece | Required, two: Piece | Required, ways: Mapping[int, tuple[Way, ...]]
) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    """The first way in which the second mates behind the first, and the same piece turned round."""
    for i, arc in enumerate(one.arcs):
        for j, other in enumerate(two.arcs):
            if arc.end != other.start:
                continue
            found = [((one.number, i), (two.number, j))]
            turned_i = _turned(ways[one.number], i)
            turned_j = _turned(ways[two.number], j)
            if turned_i is not None and turned_j is not None:
                found.append(((two.number, turned_j), (one.number, turned_i)))
            return found
    return []


def _turned(ways: tuple[Way, ...], index: int) -> int | None:
    """The way that is this one turned round; None where the part cannot be."""
    return next((i for i, way in enumerate(ways) if way.flipped != ways[index].flipped), None)


def _part(part_id: int, places: Mapping[int, Place], items: Mapping[int, CataloguedPart]) -> Named | Said:
    """The part, or its number alone where it is neither in the gap nor among what is searched."""
    standing = next((place.item for place in places.values() if place.item.id == part_id), None)
    item = standing or items.get(part_id)
    return said("bridge.part_number", number=part_id) if item is None else named(item)
