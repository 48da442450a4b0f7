"""What to do about a load that is too heavy: what of it comes off, or how many should lift it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.domain.checks.case import EDGE_KG, amount, listed, literal, say
from server.domain.checks.lifting_equation import at_least
from server.domain.findings import Remedy
from server.domain.load.lifts import HEAVIEST_PIECE
from server.domain.load.sheet import LiftLine, Piece
from server.domain.parts import Mount
from server.domain.rig import Rig

MOST_TOGETHER = 4
"""More people than these do not get their hands on one piece of a rig (common practice, no source)."""


@dataclass(frozen=True)
class _Off:
    """Something that comes off a load as one: what it is called, what is known of its mass."""

    words: str
    mass_kg: float


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
        return (_of_its_heaviest(line, limit_kg),)
    off_kg = sum(one.mass_kg for one in off)
    least = "at least " if line.missing else ""
    alone = "each" if len(off) > 1 and off_kg > limit_kg + EDGE_KG else "that"
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


def _of_its_heaviest(line: LiftLine, limit_kg: float) -> Remedy:
    """A load of which nothing that comes off would do."""
    heaviest = max(line.pieces, key=_each)
    together = _together(line, limit_kg)
    if heaviest.quantity > 1 and len(line.pieces) == 1 and _each(heaviest) <= limit_kg + EDGE_KG:
        return Remedy(phrase=say(f"Lift {literal(heaviest.name)} one at a time, or {together}."))
    if _each(heaviest) > limit_kg + EDGE_KG:
        return Remedy(
            phrase=say(
                f"In {literal(line.name)} {literal(heaviest.name)} alone is {{mass}}, so taking the rest off "
                f"is not enough: {together}, or choose a lighter part.",
                mass=amount(_each(heaviest), "mass", 2),
            )
        )
    return Remedy(
        phrase=say(f"{literal(line.name)}: carry its parts in several loads that are each within it.")
    )


def _what_comes_off(rig: Rig, line: LiftLine, limit_kg: float) -> list[_Off]:
    """The fewest things whose taking off brings a load within a limit; nothing where none would do."""
    need_kg = line.mass_kg - limit_kg - EDGE_KG
    able = [one for one in _loose(rig, line) if one.mass_kg <= limit_kg + EDGE_KG]
    enough = [one for one in able if one.mass_kg >= need_kg]
    if enough:
        return [min(enough, key=lambda one: one.mass_kg)]
    found: list[_Off] = []
    for one in sorted(able, key=lambda one: -one.mass_kg):
        found.append(one)
        if sum(other.mass_kg for other in found) >= need_kg:
            return found
    return []


def _loose(rig: Rig, line: LiftLine) -> list[_Off]:
    """What comes off a load: each piece beside the train, and what hangs behind the tube as one, for no
    joint of it is undone for a lift. Its heaviest piece stays.
    """
    heaviest = max(line.pieces, key=_each)
    train = [item for place in (*rig.train, *rig.branch) for item in (place.item, *place.inside)]
    hangs = {item.id for item in train[1:]} if train and train[0].id == heaviest.part_id else set()
    behind = [piece for piece in line.pieces if piece.part_id in hangs and piece is not heaviest]
    beside = [piece for piece in line.pieces if piece.part_id not in hangs and piece is not heaviest]
    found = [
        _Off(piece.name if piece.quantity == 1 else f"{piece.name} ({piece.quantity})", piece.mass_kg)
        for piece in beside
        if piece.mass_kg
    ]
    hanging_kg = sum(piece.mass_kg or 0.0 for piece in behind)
    if hanging_kg > 0.0:
        words = behind[0].name if len(behind) == 1 else f"all that hangs behind {heaviest.name}"
        found.append(_Off(words, hanging_kg))
    return found


def _each(piece: Piece) -> float:
    return 0.0 if piece.mass_kg is None else piece.mass_kg / piece.quantity
