"""What to do about a load that is too heavy: what of it comes off, or how many should lift it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.domain.checks.lifting_equation import at_least
from server.domain.load.lifts import HEAVIEST_PIECE
from server.domain.load.places import place_of
from server.domain.load.sheet import LiftLine, Piece, PlaceName
from server.domain.parts import CataloguedPart, Mount
from server.domain.rig import Rig
from server.domain.said import Named, Said, said
from server.domain.verdicts import Advice
from server.domain.workings.case import EDGE_KG, amount

MOST_TOGETHER = 4
"""More people than these do not get their hands on one piece of a rig (common practice, no source)."""


@dataclass(frozen=True)
class _Off:
    """Something that comes off a load: what it is called, what is known of its mass, and of what is carried
    of it at once.
    """

    what: Named | Said
    mass_kg: float
    one_kg: float


def relieve(rig: Rig, line: LiftLine, limit_kg: float) -> tuple[Advice, ...]:
    """What to do about a load of which each lifter carries more than a limit (kg), best first."""
    many = sum(piece.quantity for piece in line.pieces) > 1
    if line.people > 1:
        return (Advice((said("relief.several", load=line.name, together=_together(line, limit_kg)),)),)
    if not many:
        found = _without_bar(rig, line, limit_kg)
        # Nothing in the catalogue says whether a tripod, a pier or a chest comes apart.
        together = _together(line, limit_kg)
        says = said("relief.one_piece", load=line.name, together=together, first=not found)
        return (*found, Advice((says,)))
    off = _what_comes_off(rig, line, limit_kg)
    if not off:
        return (_of_its_heaviest(rig, line, limit_kg),)
    off_kg = sum(one.mass_kg for one in off)
    says = said(
        "relief.take_off",
        load=line.name,
        parts=[one.what for one in off],
        each=off_kg > limit_kg + EDGE_KG,
        missing=line.missing,
        over=at_least(line.mass_kg - limit_kg),
        off=amount(off_kg, "mass", 2),
        rest=at_least(line.mass_kg - off_kg, 2),
    )
    leave = said("relief.leave", load=line.name, together=_together(line, limit_kg))
    few = _people(line, limit_kg) <= MOST_TOGETHER
    return (Advice((says,)), *((Advice((leave,)),) if few else ()))


def _people(line: LiftLine, limit_kg: float) -> int:
    return math.ceil(line.mass_kg / limit_kg - EDGE_KG)


def _together(line: LiftLine, limit_kg: float) -> Said:
    """With how many people a load is within a limit, shared evenly."""
    people = _people(line, limit_kg)
    if people > MOST_TOGETHER:
        return said("relief.hoist")
    return said("relief.together", people=people, two=people == 2, least=bool(line.missing) or people > 2)


def _without_bar(rig: Rig, line: LiftLine, limit_kg: float) -> tuple[Advice, ...]:
    """Of a mount: whether it is within the limit without its bar, and that it may come in pieces."""
    mount = next((gear.item for gear in rig.gear if gear.item.id == line.pieces[0].part_id), None)
    if mount is None or not isinstance(mount.part, Mount):
        return ()
    found: list[Advice] = []
    in_pieces = line.pieces[0].label == HEAVIEST_PIECE
    bar_kg = 0.0 if mount.part.bar_mass_kg is None else mount.part.bar_mass_kg.nominal
    if bar_kg > 0.0 and line.mass_kg - bar_kg <= limit_kg + EDGE_KG:
        bar, rest = amount(bar_kg, "mass", 2), at_least(line.mass_kg - bar_kg, 2)
        found.append(Advice((said("relief.bar", mount=mount, in_piece=in_pieces, bar=bar, rest=rest),)))
    heaviest = mount.part.heaviest_piece_kg
    if heaviest is None:
        found.append(Advice((said("relief.comes_apart", mount=mount),)))
    elif not in_pieces and heaviest.nominal <= limit_kg + EDGE_KG:
        piece = amount(heaviest.nominal, "mass", 2)
        found.append(Advice((said("relief.in_pieces", mount=mount, heaviest=piece),)))
    return tuple(found)


def _of_its_heaviest(rig: Rig, line: LiftLine, limit_kg: float) -> Advice:
    """A load of which nothing that comes off would do."""
    heaviest = max(line.pieces, key=_each)
    together = _together(line, limit_kg)
    if heaviest.quantity > 1 and len(line.pieces) == 1 and _each(heaviest) <= limit_kg + EDGE_KG:
        one = said("relief.one_at_a_time", part=_named(heaviest), together=together)
        return Advice((one,))
    alone: Named | Said = _named(heaviest)
    alone_kg = _each(heaviest)
    tube, kinds = _tube(rig), {gear.item.id: gear.item.kind for gear in rig.gear}
    if tube and any(piece.part_id == tube.id for piece in line.pieces):
        rings = (p for p in line.pieces if p.part_id == tube.id or kinds.get(p.part_id) == "plate_rings")
        in_rings_kg = sum(piece.mass_kg or 0.0 for piece in rings)
        if in_rings_kg > alone_kg + EDGE_KG:
            alone, alone_kg = said("relief.in_rings", tube=tube), in_rings_kg
    if alone_kg > limit_kg + EDGE_KG:
        mass = amount(alone_kg, "mass", 2)
        says = said("relief.alone", load=line.name, part=alone, together=together, mass=mass)
        return Advice((says,))
    return Advice((said("relief.several_loads", load=line.name),))


def _what_comes_off(rig: Rig, line: LiftLine, limit_kg: float) -> list[_Off]:
    """The fewest things whose taking off brings a load within a limit; nothing where none would do."""
    stack, free = _apart(rig, line)
    loose = [one for one in free if one.one_kg <= limit_kg + EDGE_KG]
    for number in range(len(stack) + 1):
        off = stack[:number]
        if any(one.one_kg > limit_kg + EDGE_KG for one in off):
            return []
        need_kg = line.mass_kg - limit_kg - EDGE_KG - sum(one.mass_kg for one in off)
        if need_kg <= 0.0:
            return off
        if enough := [one for one in loose if one.mass_kg >= need_kg]:
            return [*off, min(enough, key=lambda one: one.mass_kg)]
        found: list[_Off] = []
        for one in sorted(loose, key=lambda one: -one.mass_kg):
            found.append(one)
            if sum(other.mass_kg for other in found) >= need_kg:
                return [*off, *found]
    return []


def _apart(rig: Rig, line: LiftLine) -> tuple[list[_Off], list[_Off]]:
    """What comes off a load: what does one after the other, and what does in any order.

    Tube, weights, mount and tripod are taken down in this order, the tube in its rings with all that rides
    on it, and the last of them stays. Where that is the tube, what hangs behind it comes off as one, a guide
    scope with its camera, and other gear but rings and plates.
    """
    train = {item.id for place in (*rig.train, *rig.branch) for item in (place.item, *place.inside)}
    gear = {one.item.id: one.item for one in rig.gear}
    at: dict[PlaceName, list[Piece]] = {"saddle": [], "bar": [], "stand": [], "ground": []}
    stands: list[Piece] = []
    for piece in line.pieces:
        item = gear.get(piece.part_id)
        if item is not None and item.kind == "support":
            stands.append(piece)
        else:
            where = "saddle" if item is None or piece.part_id in train else place_of(item) or "saddle"
            at["ground" if where == "unplaced" else where].append(piece)
    riding, tube = at["saddle"], _tube(rig)
    whole = said("relief.riding", tube=tube)
    stack = [*_as_one(riding, whole), *(_off(piece) for piece in (*at["bar"], *at["stand"], *stands))]
    free = [_off(piece) for piece in at["ground"] if piece.mass_kg]
    if not stack:
        return [], sorted(free, key=lambda one: -one.mass_kg)[1:]
    if len(stack) > 1 or not riding:
        return stack[:-1], free
    return [], free + _off_the_tube(rig, riding)


def _tube(rig: Rig) -> CataloguedPart | None:
    return None if rig.train.tube is None else rig.train.tube.item


def _off_the_tube(rig: Rig, riding: list[Piece]) -> list[_Off]:
    """What comes off a tube that stands by itself; of gear without a tube all but its heaviest."""
    tube = _tube(rig)
    train = {item.id for place in (*rig.train, *rig.branch) for item in (place.item, *place.inside)}
    kinds = {one.item.id: one.item.kind for one in rig.gear}
    scope = "guide_scope" in kinds.values()
    hangs, guides, others = [], [], []
    for piece in riding:
        kind = kinds.get(piece.part_id, "")
        if (tube and piece.part_id == tube.id) or kind == "plate_rings" or not piece.mass_kg:
            continue
        if piece.part_id in train or (kind == "guide_camera" and not scope):
            hangs.append(piece)
        elif kind in ("guide_scope", "guide_camera"):
            guides.append(piece)
        else:
            others.append(piece)
    behind = said("relief.behind", tube=tube)
    guiding = said("relief.guiding", scope=_named(guides[0]) if guides else None)
    found = [*(_off(piece) for piece in others), *_as_one(guides, guiding), *_as_one(hangs, behind)]
    if tube and any(piece.part_id == tube.id for piece in riding):
        return found
    return sorted(found, key=lambda one: -one.mass_kg)[1:]


def _as_one(pieces: list[Piece], several: Said) -> list[_Off]:
    """Pieces that come off together, and what to call them where they are several."""
    mass_kg = sum(piece.mass_kg or 0.0 for piece in pieces)
    if not pieces:
        return []
    return [_Off(_named(pieces[0]) if len(pieces) == 1 else several, mass_kg, mass_kg)]


def _off(piece: Piece) -> _Off:
    """A piece that comes off by itself, of several alike one after the other."""
    several = said("relief.counted", part=_named(piece), count=piece.quantity)
    return _Off(_named(piece) if piece.quantity == 1 else several, piece.mass_kg or 0.0, _each(piece))


def _named(piece: Piece) -> Named:
    return Named(piece.part_id, piece.name)


def _each(piece: Piece) -> float:
    return 0.0 if piece.mass_kg is None else piece.mass_kg / piece.quantity
