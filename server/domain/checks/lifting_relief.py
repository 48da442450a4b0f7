"""What to do about a load that is too heavy: what of it comes off, or how many should lift it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.domain.checks.lifting_equation import at_least
from server.domain.findings import Remedy
from server.domain.load.lifts import HEAVIEST_PIECE
from server.domain.load.places import place_of
from server.domain.load.sheet import LiftLine, Piece, PlaceName
from server.domain.parts import CataloguedPart, Mount
from server.domain.rig import Rig
from server.domain.workings.case import EDGE_KG, amount, listed, literal, say

MOST_TOGETHER = 4
"""More people than these do not get their hands on one piece of a rig (common practice, no source)."""


@dataclass(frozen=True)
class _Off:
    """Something that comes off a load: what it is called, what is known of its mass, and of what is carried
    of it at once.
    """

    words: str
    mass_kg: float
    one_kg: float


def relieve(rig: Rig, line: LiftLine, limit_kg: float) -> tuple[Remedy, ...]:
    """What to do about a load of which each lifter carries more than a limit (kg), best first."""
    name = literal(line.name)
    many = sum(piece.quantity for piece in line.pieces) > 1
    if line.people > 1:
        return (Remedy(phrase=say(f"{name}: {_together(line, limit_kg)}, or make it lighter.")),)
    if not many:
        found = _without_bar(rig, line, limit_kg)
        # Nothing in the catalogue says whether a tripod, a pier or a chest comes apart.
        sentence = f"{name} counts as one piece: {_together(line, limit_kg)}, or choose a lighter part."
        return (*found, Remedy(phrase=say(sentence)))
    off = _what_comes_off(rig, line, limit_kg)
    if not off:
        return (_of_its_heaviest(rig, line, limit_kg),)
    off_kg = sum(one.mass_kg for one in off)
    least = "at least " if line.missing else ""
    alone = "each" if off_kg > limit_kg + EDGE_KG else "that"
    return (
        Remedy(
            phrase=say(
                f"At least {{over}} must come off {name}: take off {literal(listed([o.words for o in off]))} "
                f"({{off}}) and carry {alone} by itself. {least.capitalize()}{{rest}} is left.",
                over=at_least(line.mass_kg - limit_kg),
                off=amount(off_kg, "mass", 2),
                rest=at_least(line.mass_kg - off_kg, 2),
            )
        ),
        *(
            (Remedy(phrase=say(f"Or leave {name} as it is: {_together(line, limit_kg)}.")),)
            if _people(line, limit_kg) <= MOST_TOGETHER
            else ()
        ),
    )


def _people(line: LiftLine, limit_kg: float) -> int:
    return math.ceil(line.mass_kg / limit_kg - EDGE_KG)


def _together(line: LiftLine, limit_kg: float) -> str:
    """With how many people a load is within a limit, shared evenly."""
    people = _people(line, limit_kg)
    if people > MOST_TOGETHER:
        return "too heavy to lift by hand so: a hoist or a trolley, and people who know how to use it"
    least = "at least " if line.missing or people > 2 else ""
    number = "two" if people == 2 else str(people)
    return f"lift it with {least}{number} people who have agreed on the moves"


def _without_bar(rig: Rig, line: LiftLine, limit_kg: float) -> tuple[Remedy, ...]:
    """Of a mount: whether it is within the limit without its bar, and that it may come in pieces."""
    mount = next((gear.item for gear in rig.gear if gear.item.id == line.pieces[0].part_id), None)
    if mount is None or not isinstance(mount.part, Mount):
        return ()
    found: list[Remedy] = []
    in_pieces = line.pieces[0].label == HEAVIEST_PIECE
    bar_kg = 0.0 if mount.part.bar_mass_kg is None else mount.part.bar_mass_kg.nominal
    name = literal(mount.name)
    if bar_kg > 0.0 and line.mass_kg - bar_kg <= limit_kg + EDGE_KG:
        where = "is in that piece and comes out" if in_pieces else "comes out"
        found.append(
            Remedy(
                phrase=say(
                    f"If the counterweight bar of {name} {where}, take it out first: its mass is {{bar}}, "
                    "and {rest} is left.",
                    bar=amount(bar_kg, "mass", 2),
                    rest=at_least(line.mass_kg - bar_kg, 2),
                )
            )
        )
    heaviest = mount.part.heaviest_piece_kg
    if heaviest is None:
        found.append(
            Remedy(phrase=say(f"If {name} comes apart, enter the mass of its heaviest piece to lift."))
        )
    elif not in_pieces and heaviest.nominal <= limit_kg + EDGE_KG:
        found.append(
            Remedy(
                phrase=say(
                    f"Lift {name} in its pieces, of which the heaviest is {{heaviest}}.",
                    heaviest=amount(heaviest.nominal, "mass", 2),
                )
            )
        )
    return tuple(found)


def _of_its_heaviest(rig: Rig, line: LiftLine, limit_kg: float) -> Remedy:
    """A load of which nothing that comes off would do."""
    heaviest = max(line.pieces, key=_each)
    together = _together(line, limit_kg)
    if heaviest.quantity > 1 and len(line.pieces) == 1 and _each(heaviest) <= limit_kg + EDGE_KG:
        return Remedy(phrase=say(f"Lift {literal(heaviest.name)} one at a time, or {together}."))
    alone, alone_kg = heaviest.name, _each(heaviest)
    tube, kinds = _tube(rig), {gear.item.id: gear.item.kind for gear in rig.gear}
    if tube and any(piece.part_id == tube.id for piece in line.pieces):
        rings = (p for p in line.pieces if p.part_id == tube.id or kinds.get(p.part_id) == "plate_rings")
        in_rings_kg = sum(piece.mass_kg or 0.0 for piece in rings)
        if in_rings_kg > alone_kg + EDGE_KG:
            alone, alone_kg = f"{tube.name} in its rings", in_rings_kg
    if alone_kg > limit_kg + EDGE_KG:
        return Remedy(
            phrase=say(
                f"In {literal(line.name)} {literal(alone)} alone is {{mass}}, so taking the rest off "
                f"is not enough: {together}, or choose a lighter part.",
                mass=amount(alone_kg, "mass", 2),
            )
        )
    return Remedy(
        phrase=say(f"{literal(line.name)}: carry its parts in several loads that are each within it.")
    )


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
    whole = f"{tube.name} with all that rides on it" if tube else "all that rides on the saddle"
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
    behind = f"all that hangs behind {tube.name}" if tube else "all that hangs together"
    guiding = next((f"{piece.name} with its camera" for piece in guides), "")
    found = [*(_off(piece) for piece in others), *_as_one(guides, guiding), *_as_one(hangs, behind)]
    if tube and any(piece.part_id == tube.id for piece in riding):
        return found
    return sorted(found, key=lambda one: -one.mass_kg)[1:]


def _as_one(pieces: list[Piece], words: str) -> list[_Off]:
    """Pieces that come off together, called by these words where they are several."""
    mass_kg = sum(piece.mass_kg or 0.0 for piece in pieces)
    if not pieces:
        return []
    return [_Off(pieces[0].name if len(pieces) == 1 else words, mass_kg, mass_kg)]


def _off(piece: Piece) -> _Off:
    """A piece that comes off by itself, of several alike one after the other."""
    words = piece.name if piece.quantity == 1 else f"{piece.name} ({piece.quantity})"
    return _Off(words, piece.mass_kg or 0.0, _each(piece))


def _each(piece: Piece) -> float:
    return 0.0 if piece.mass_kg is None else piece.mass_kg / piece.quantity
